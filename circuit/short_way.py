"""The way that most current takes through a lump, and how much of it goes that way.

Notation: R, C cells; N nodes of a mesh; T terminals of a board.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import dijkstra

from circuit.board import Board
from circuit.model import Point
from circuit.neck import Mesh, Neck, disc_nodes
from circuit.outcome import Outcome
from circuit.ways import rounded_off

RIM_MM = 2.0
"""A way through the middle of the dough is preferred: at the rim it counts several times its length."""
LEAST_SHARE = 0.02
"""Where less than this share of the densest current flows the way is no worse for it."""
SMOOTHINGS = 8
LEAST_A = 1e-9


@dataclass(frozen=True)
class Field:
    """The flow between two entries of a lump if 1 A went in at the first and out at the second.

    ohm        resistance between the two
    density    (N,) current through a node, in a unit of its own
    """

    mesh: Mesh
    start: Point
    goal: Point
    ohm: float
    density: NDArray[np.float64]


def flow_between(board: Board, mesh: Mesh, start: Point, goal: Point) -> Field:
    """The flow between two entries; evenly dense where no dough joins them."""
    even = Field(mesh, start, goal, float("inf"), np.ones(len(mesh.at)))
    if board.sheet is None or start not in board.spots or goal not in board.spots or start == goal:
        return even
    a, b = board.spots[start], board.spots[goal]
    current = np.zeros(len(board.spots))
    current[a], current[b] = 1.0, -1.0
    volts = np.asarray(np.linalg.lstsq(board.conductance, current, rcond=None)[0], np.float64)
    if not np.allclose(board.conductance @ volts, current, atol=1e-3):
        return even
    at_cell = board.sheet.potential(volts)[board.sheet.blocks.node]
    inside = (mesh.node >= 0) & ~np.isnan(at_cell)
    member = mesh.node[inside]
    count = np.bincount(member, minlength=len(mesh.at))
    node_V = np.bincount(member, at_cell[inside], len(mesh.at)) / np.maximum(count, 1)
    faces = mesh.faces.tocoo()
    apart = np.hypot(*(mesh.at[faces.row] - mesh.at[faces.col]).T)
    flows = faces.data / apart * abs(node_V[faces.row] - node_V[faces.col])
    density = np.asarray(np.bincount(faces.row, flows, len(mesh.at)), np.float64)
    return Field(mesh, start, goal, float(volts[a] - volts[b]), density)


def way_through(field: Field, at: Point) -> tuple[Point, ...]:
    """The way [mm] that most current takes from entry to entry by way of `at`; empty when there is none.

    It stays in the dough and keeps off its rim where there is room.
    """
    mesh = field.mesh
    inside = mesh.node >= 0
    edges, deepest = mesh.cost.tocoo(), mesh.deepest_mm
    length = np.hypot(*(mesh.at[edges.row] - mesh.at[edges.col]).T)
    share = field.density / max(float(field.density.max()), 1e-300)
    least = np.minimum(share[edges.row], share[edges.col]) + LEAST_SHARE
    rim = 1 + RIM_MM / (0.5 + np.minimum(deepest[edges.row], deepest[edges.col]))
    graph = csr_array(coo_array((length * rim / np.sqrt(least), (edges.row, edges.col)), shape=edges.shape))
    nodes = [nearest_node(mesh, place) for place in (field.start, at, field.goal)]
    if None in nodes:
        return ()
    first, middle, last = (int(node or 0) for node in nodes)
    far, before = dijkstra(graph, directed=True, indices=np.array([middle]), return_predecessors=True)
    if not np.isfinite(far[0][[first, last]]).all():
        return ()
    there, back = _trail(before[0], middle, first), _trail(before[0], middle, last)[::-1]
    way = [tuple(mesh.at[node]) for node in (*there, *back[1:])]
    return rounded_off(inside, mesh.cell_mm, [field.start, *way[1:-1], field.goal], SMOOTHINGS)


def _trail(before: NDArray[np.int32], root: int, node: int) -> list[int]:
    """Nodes from `node` back to the root of a tree of shortest ways."""
    trail = [node]
    while trail[-1] != root:
        trail.append(int(before[trail[-1]]))
    return trail


def nearest_node(mesh: Mesh, place: Point) -> int | None:
    """The node at a place [mm], or the nearest one; None in an empty mesh."""
    if not len(mesh.at):
        return None
    near = disc_nodes(mesh, place, 3.0)
    pool = near if len(near) else np.arange(len(mesh.at))
    return int(pool[np.argmin(np.hypot(*(mesh.at[pool] - place).T))])


def current_across(
    board: Board, outcome: Outcome, inside: NDArray[np.bool_], neck: Neck
) -> tuple[float, ...]:
    """Current [A] from the + side of a neck to the other through each of its lines; (R, C) its lump."""
    if board.sheet is None or not neck.lines:
        return tuple(0.0 for _ in neck.lines)
    volts = board.sheet.potential(np.array([outcome.spot_V[spot] for spot in board.spots]))
    blocks = board.sheet.blocks
    cells = inside & (blocks.node >= 0)
    member, n = blocks.node[cells], len(blocks.at)
    count = np.bincount(member, minlength=n)
    plus = np.bincount(member, neck.plus_side[cells], n) > count / 2
    edges = board.sheet.laplacian.tocoo()
    i, j = edges.row, edges.col
    crossing = (count[i] > 0) & (count[j] > 0) & plus[i] & ~plus[j]
    i, j = i[crossing], j[crossing]
    flow = np.nan_to_num(-edges.data[crossing] * (volts[i] - volts[j]))
    at = (blocks.at[i] + blocks.at[j]) / 2
    off = np.stack([_off_line(at, *line) for line in neck.lines])
    nearest = off.argmin(axis=0)
    return tuple(float(flow[nearest == k].sum()) for k in range(len(neck.lines)))


def _off_line(at: NDArray[np.float64], start: Point, end: Point) -> NDArray[np.float64]:
    """(n,) distance of places (n, 2) from a straight line between two points."""
    p, way = np.array(start), np.subtract(end, start)
    along = np.clip((at - p) @ way / max(float(way @ way), 1e-12), 0, 1)
    return np.asarray(np.hypot(*(at - p - along[:, None] * way).T))

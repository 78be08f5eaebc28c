"""Where a lump would have to be cut, and the way a short takes through it.

Edges between the blocks of a lump weigh what a cut through them costs in mm (Cauchy-Crofton
weights on the 8-neighbourhood, Boykov and Kolmogorov, ICCV 2003, formula from memory). A minimum
cut is then a shortest line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, dijkstra, maximum_flow

from circuit.blocks import Blocks, bodies, cut_into_blocks
from circuit.model import Point

AXIS = np.pi / 8
DIAGONAL = np.pi / 8 / np.sqrt(2)
PER_MM = 1000  # the flow counts in whole micrometres
UNCUTTABLE = 10**8
DISC_MM = 3.0  # entries as discs: with single cells the cheapest cut is often a ring round a leg
MOST_NODES = 5000
TO_RIM_MM = 5.0
"""A straight line may leave a bent cut by this much before the rim (estimated)."""


@dataclass(frozen=True)
class Mesh:
    """A lump as blocks.

    cost  (N, N) sparse int32: cost of a cut between two nodes [micrometres]
    faces (N, N) sparse float: shared border of two nodes [mm]
    """

    blocks: Blocks
    cost: csr_array
    faces: csr_array

    @property
    def node(self) -> NDArray[np.int32]:
        """(R, C) node of each cell, -1 outside the lump."""
        return self.blocks.node

    @property
    def at(self) -> NDArray[np.float64]:
        """(N, 2) middle of each node [mm]."""
        return self.blocks.at

    @property
    def cell_mm(self) -> float:
        """Side of a cell."""
        return self.blocks.cell_mm

    @cached_property
    def depth_mm(self) -> NDArray[np.float64]:
        """(R, C) distance of each cell from the rim of the dough [mm], 0 outside."""
        inside = self.node >= 0
        rows, cols = (np.nonzero(inside.any(axis=axis))[0] for axis in (1, 0))
        found = np.zeros(inside.shape)
        if len(rows):
            box = (slice(rows[0], rows[-1] + 1), slice(cols[0], cols[-1] + 1))
            found[box] = ndimage.distance_transform_edt(np.pad(inside[box], 1))[1:-1, 1:-1] * self.cell_mm
        return found

    @cached_property
    def deepest_mm(self) -> NDArray[np.float64]:
        """(N,) the same of the deepest cell of each node."""
        inside = self.node >= 0
        found = np.zeros(len(self.at))
        np.maximum.at(found, self.node[inside], self.depth_mm[inside])
        return found


@dataclass(frozen=True)
class Neck:
    """A shortest cut: its length [mm], its straight lines, and the cells on the + side (R, C)."""

    length_mm: float
    lines: tuple[tuple[Point, Point], ...]
    plus_side: NDArray[np.bool_]


def build_mesh(mask: NDArray[np.bool_], cell_mm: float, size_mm: float = 1.0) -> Mesh:
    """The blocks of a lump (R, C); `size_mm` grows with large lumps so that there are a few thousand."""
    size_mm = max(size_mm, float(np.sqrt(mask.sum() * cell_mm**2 / MOST_NODES)))
    blocks = cut_into_blocks(mask, cell_mm, size_mm)
    side = blocks.side_mm
    corners = csr_array((blocks.across @ blocks.down + blocks.down @ blocks.across) / (2 * side * side))
    corners.data = np.minimum(corners.data, 1.0)
    corners.setdiag(0)
    faces = csr_array(blocks.across + blocks.down)
    cost = csr_array((AXIS * faces + DIAGONAL * side * corners) * PER_MM).astype(np.int32)
    return Mesh(blocks, cost, faces)


def disc_nodes(mesh: Mesh, at: Point, radius_mm: float) -> NDArray[np.intp]:
    """Nodes of the dough within `radius_mm` that can be reached from `at` without leaving that disc."""
    h = mesh.cell_mm
    rows, cols = mesh.node.shape
    r0, r1 = max(0, int((at[1] - radius_mm) / h)), min(rows, int((at[1] + radius_mm) / h) + 2)
    c0, c1 = max(0, int((at[0] - radius_mm) / h)), min(cols, int((at[0] + radius_mm) / h) + 2)
    window = mesh.node[r0:r1, c0:c1]
    y, x = np.indices(window.shape)
    away = np.hypot((x + c0 + 0.5) * h - at[0], (y + r0 + 0.5) * h - at[1])
    inside = (window >= 0) & (away <= radius_mm)
    if not inside.any():
        return np.array([], np.intp)
    parts, _ = ndimage.label(inside)
    nearest = np.unravel_index(np.argmin(np.where(inside, away, np.inf)), away.shape)
    return np.unique(window[parts == parts[nearest]]).astype(np.intp)


def narrowest(mesh: Mesh, plus: Sequence[Point], minus: Sequence[Point]) -> Neck | None:
    """The shortest cut that keeps the entries `plus` apart from the entries `minus`.

    None when two of them are so close that no cut fits between.
    """
    sources, sinks = _apart(mesh, plus, minus)
    if not len(sources) or not len(sinks) or np.intersect1d(sources, sinks).size:
        return None
    n = mesh.cost.shape[0]
    cost = mesh.cost.tocoo()
    r = np.concatenate([cost.row, np.full(len(sources), n), sinks])
    c = np.concatenate([cost.col, sources, np.full(len(sinks), n + 1)])
    w = np.concatenate([cost.data, np.full(len(sources) + len(sinks), UNCUTTABLE)]).astype(np.int32)
    capacity = csr_array((w, (r, c)), shape=(n + 2, n + 2))
    result = maximum_flow(capacity, n, n + 1)
    if result.flow_value >= UNCUTTABLE:
        return None
    rest = csr_array(capacity - result.flow)
    rest.data[rest.data < 0] = 0
    rest.eliminate_zeros()
    reached = breadth_first_order(rest, n, return_predecessors=False)
    side = np.zeros(n + 2, bool)
    side[reached] = True
    plus_side = (mesh.node >= 0) & side[mesh.node]
    return Neck(result.flow_value / PER_MM, _lines(mesh, side[:n]), plus_side)


def _apart(
    mesh: Mesh, plus: Sequence[Point], minus: Sequence[Point]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Nodes of the two groups of discs; discs shrink where an entry of the other group is near."""

    def discs(own: Sequence[Point], other: Sequence[Point]) -> NDArray[np.intp]:
        nodes, others = [], np.array(other, float).reshape(-1, 2)
        for p in own:
            nearest = float(np.hypot(*(others - p).T).min(initial=np.inf))
            nodes.append(disc_nodes(mesh, p, max(mesh.cell_mm, min(DISC_MM, 0.4 * nearest))))
        return np.unique(np.concatenate(nodes)) if nodes else np.array([], np.intp)

    return discs(plus, minus), discs(minus, plus)


def _lines(mesh: Mesh, side: NDArray[np.bool_]) -> tuple[tuple[Point, Point], ...]:
    """The border between the two sides as straight lines, one for each connected stretch, longest first."""
    faces = mesh.faces.tocoo()
    across = side[faces.row] & ~side[faces.col]
    spots = (mesh.at[faces.row[across]] + mesh.at[faces.col[across]]) / 2
    if not len(spots):
        return ()
    near = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1)) <= 2.1 * mesh.blocks.side_mm
    _, group = bodies(csr_array(near))
    lines = [_line(mesh, spots[group == g]) for g in range(group.max() + 1)]
    return tuple(sorted(lines, key=lambda s: -np.hypot(s[0][0] - s[1][0], s[0][1] - s[1][1])))


def _line(mesh: Mesh, spots: NDArray[np.float64]) -> tuple[Point, Point]:
    """A straight line along the spots (n, 2) [mm], drawn out to the rim of the dough at both ends."""
    centre = spots.mean(axis=0)
    way = np.linalg.svd(spots - centre)[2][0] if len(spots) > 1 else np.array([1.0, 0.0])
    along = (spots - centre) @ way
    ends = []
    for reach, sign in ((along.min(), -1), (along.max(), 1)):
        ends.append(_to_rim(mesh, centre + reach * way, sign * way))
    return ends[0], ends[1]


def _to_rim(mesh: Mesh, at: NDArray[np.float64], way: NDArray[np.float64]) -> Point:
    """From `at` along `way` to where the dough ends, 5 mm at most."""
    rows, cols = mesh.node.shape
    for _ in range(int(TO_RIM_MM / mesh.cell_mm)):
        ahead = at + way * mesh.cell_mm
        r, c = int(ahead[1] / mesh.cell_mm), int(ahead[0] / mesh.cell_mm)
        if not (0 <= r < rows and 0 <= c < cols) or mesh.node[r, c] < 0:
            break
        at = ahead
    return float(at[0]), float(at[1])


def walk(mesh: Mesh, start: Point, goal: Point) -> tuple[Point, ...]:
    """A way [mm] from `start` to `goal` that keeps to the middle of the dough; empty when there is none."""
    a, b = disc_nodes(mesh, start, DISC_MM), disc_nodes(mesh, goal, DISC_MM)
    if not len(a) or not len(b):
        return ()
    edges, deepest = mesh.cost.tocoo(), mesh.deepest_mm
    length = np.hypot(*(mesh.at[edges.row] - mesh.at[edges.col]).T)
    slow = length * (1 + 4 / (0.5 + np.minimum(deepest[edges.row], deepest[edges.col])))
    graph = csr_array(coo_array((slow, (edges.row, edges.col)), shape=edges.shape))
    first = a[np.argmin(np.hypot(*(mesh.at[a] - start).T))]
    last = b[np.argmin(np.hypot(*(mesh.at[b] - goal).T))]
    _, tree = dijkstra(graph, directed=True, indices=np.array([first]), return_predecessors=True)
    before = tree[0]
    if first != last and before[last] < 0:
        return ()
    nodes = [int(last)]
    while nodes[-1] != first:
        nodes.append(int(before[nodes[-1]]))
    inner = [(float(x), float(y)) for x, y in mesh.at[nodes[::-1]][1:-1]]
    return (start, *inner, goal)

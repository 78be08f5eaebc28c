"""Dough as a thin conducting sheet, reduced to the exact conductances between its terminals.

Finite volumes on square blocks: two nodes are joined by (shared border / side) squares' worth of
sheet. The reduction is a Schur complement (Kron reduction, Doerfler and Bullo 2013).

A metal of radius r feeds its ring, eight points, each shared bilinearly between four blocks, so that
an entry may stand anywhere in its block. What the blocks leave out is the difference between the
ring's potential in an endless sheet and on the endless square grid; where one block alone is fed,
that is the well of Peaceman (Soc. Pet. Eng. J. 18 (1978) 183).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, csr_array, diags_array
from scipy.sparse.linalg import SuperLU, splu

from circuit.blocks import WALL, Blocks, bodies, cut_into_blocks, faces_of
from circuit.errors import SculptureError
from circuit.model import Point

Bodies = NDArray[np.bool_] | NDArray[np.int32]

SIDE_MM, MOST_SIDE_MM = 1.0, 1.5
"""Side of a block; the larger where there would be more than MOST_NODES. On thirty random lumps halving to
0.5 mm changed no resistance by more than 0.2 % and 0.5 %; blocks of 2 mm would be 1.2 % off."""
MOST_NODES = 12_000
SNAP_MM = 3.0
FAR = float(np.euler_gamma + 1.5 * np.log(2))
"""Two far nodes of the endless grid of 1 ohm have (ln r + FAR) / pi ohms between them (OEIS A355565)."""
_P = np.pi
NEAR_OHM = np.array(
    [
        [0, 1 / 2, 2 - 4 / _P, 17 / 2 - 24 / _P],
        [1 / 2, 2 / _P, 4 / _P - 1 / 2, 46 / (3 * _P) - 4],
        [2 - 4 / _P, 4 / _P - 1 / 2, 8 / (3 * _P), 1 / 2 + 4 / (3 * _P)],
        [17 / 2 - 24 / _P, 46 / (3 * _P) - 4, 1 / 2 + 4 / (3 * _P), 46 / (15 * _P)],
    ]
)
"""Two near nodes of that grid, by the columns and rows between them (OEIS A355565)."""
_ANGLE = 2 * np.pi * (np.arange(8) + 0.5) / 8
RING = np.stack([np.cos(_ANGLE), np.sin(_ANGLE)], axis=1)
CORNERS = np.array([(0, 0), (0, 1), (1, 0), (1, 1)])


@dataclass(frozen=True)
class Reduction:
    """conductance (T, T) [S]: currents into the terminals are `conductance @ volts`; rows sum to 0."""

    conductance: NDArray[np.float64]


@dataclass(frozen=True)
class Wells:
    """How T terminals feed N nodes.

    own      (T,) node at the terminal
    share    (N, T) share of the terminal's current that goes into each node; columns sum to 1
    squares  (T,) sheet resistance at the terminal beyond that of the blocks, 0 or more
    """

    own: NDArray[np.intp]
    share: NDArray[np.float64]
    squares: NDArray[np.float64]


@dataclass(frozen=True)
class Sheet(Reduction):
    """Dough reduced to its terminals, and the way back from their volts to those of the N nodes.

    laplacian (N, N) conductances between nodes [S]; keep (N,) nodes that some terminal reaches
    """

    blocks: Blocks
    wells: Wells
    laplacian: csc_array
    keep: NDArray[np.bool_]
    _link: NDArray[np.float64]
    _factor: SuperLU

    def potential(self, volts: NDArray[np.float64]) -> NDArray[np.float64]:
        """Volts (N,) at the nodes for those (T,) at the terminals; NaN where no terminal reaches."""
        current = self.conductance @ volts
        at_link = self._link * volts + (1 - self.wells.squares) * current
        found = np.full(len(self.keep), np.nan)
        found[self.keep] = self._factor.solve(self.wells.share[self.keep] @ at_link)
        return found


def reduce_lump(
    body: Bodies,
    square_S: NDArray[np.float64],
    cell_mm: float,
    terminals: Sequence[tuple[Point, float]],
    side_mm: float | None = None,
) -> Reduction:
    """Only the conductances between the terminals: see `lay_sheet`."""
    return Reduction(lay_sheet(body, square_S, cell_mm, terminals, side_mm).conductance)


def lay_sheet(
    body: Bodies,
    square_S: NDArray[np.float64],
    cell_mm: float,
    terminals: Sequence[tuple[Point, float]],
    side_mm: float | None = None,
    homes: Sequence[int] | None = None,
) -> Sheet:
    """Dough with its terminals.

    body (R, C): True in a lump, or the number of the lump above 0, WALL in insulating dough, 0 on the table;
    square_S (R, C): conductance per square [S]; terminals: place [mm] and radius [mm] of the metal, `homes`
    the number of the lump that each goes into (by default whichever is there). Two lumps that meet in the
    raster stay apart; through insulating dough current leaks. Terminals that no dough joins get no
    conductance between them. Raises SculptureError for a terminal farther than 3 mm from its lump.
    """
    if side_mm is None:
        even = float(np.sqrt((body != 0).sum() * cell_mm**2 / MOST_NODES))
        side_mm = float(np.clip(even, SIDE_MM, MOST_SIDE_MM))
    blocks = cut_into_blocks(body, cell_mm, side_mm)
    feed = sink_wells(blocks, terminals, homes)
    sheet = _node_means(blocks, square_S)
    laplacian = _laplacian(blocks, sheet)
    # Each terminal first hangs on its nodes by one square of sheet, which keeps the matrix regular
    # even where two terminals share nodes; the exact well replaces that link afterwards.
    link = sheet[feed.own]
    share = csr_array(feed.share)
    inner = laplacian + share @ diags_array(link) @ share.T
    keep = _reached(laplacian, feed.own)
    factor = splu(
        csc_array(inner[keep][:, keep]),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        panel_size=1,  # a fifth to a third faster than the default on sheets of 20,000 and 160,000 blocks
        options={"SymmetricMode": True},
    )
    drive = feed.share[keep] * link
    joined = np.diag(link) - drive.T @ factor.solve(drive)
    exact = joined @ np.linalg.inv(np.eye(len(link)) - ((1 - feed.squares) / link)[:, None] * joined)
    exact = (exact + exact.T) / 2
    exact -= np.diag(exact.sum(axis=1))
    return Sheet(exact, blocks, feed, laplacian, keep, link, factor)


def sink_wells(
    blocks: Blocks, terminals: Sequence[tuple[Point, float]], homes: Sequence[int] | None = None
) -> Wells:
    """Let terminals (place [mm], radius [mm]) into lumps.

    A place beside its lump moves to the nearest cell of it. Raises SculptureError when that is more than
    3 mm away.
    """
    site = np.floor(blocks.at / blocks.side_mm).astype(np.intp)
    graph = csr_array(blocks.across + blocks.down)
    own = np.zeros(len(terminals), np.intp)
    share = np.zeros((len(blocks.at), len(terminals)))
    squares = np.zeros(len(terminals))
    for t, (place, radius) in enumerate(terminals):
        (r, c), settled = _settle(blocks, place, None if homes is None else homes[t])
        own[t] = blocks.node[r, c]
        fed, weight = _ring_sites(np.array(settled) / blocks.side_mm, radius / blocks.side_mm)
        # A site without dough, or behind a gap, hands its share to the nearest node that is joined:
        # at an edge that is its mirror image, as an edge asks for.
        near = _around(int(own[t]), graph, int(abs(fed - site[own[t]]).sum(axis=1).max()))
        nearest = abs(fed[:, None] - site[near]).sum(axis=2).argmin(axis=1)
        np.add.at(share[:, t], near[nearest], weight)
        on_grid = weight @ _grid_ohms(fed) @ weight / 2
        squares[t] = max(0.0, on_grid - (np.log(radius / blocks.side_mm) + FAR) / (2 * np.pi))
    return Wells(own, share, squares)


def _settle(blocks: Blocks, place: Point, home: int | None) -> tuple[tuple[int, int], Point]:
    """The lump's cell (row, column) at a place [mm], or the nearest one within 3 mm and its middle."""
    h = blocks.cell_mm
    rows, cols = blocks.node.shape

    def is_home(node: NDArray[np.int32]) -> NDArray[np.bool_]:
        body = blocks.body[node]
        return np.asarray((node >= 0) & (body > 0 if home is None else body == home))

    r, c = int(np.floor(place[1] / h)), int(np.floor(place[0] / h))
    if 0 <= r < rows and 0 <= c < cols and is_home(blocks.node[r : r + 1, c]).all():
        return (r, c), place
    reach = int(SNAP_MM / h) + 1
    r0, c0 = max(0, r - reach), max(0, c - reach)
    window = blocks.node[r0 : max(0, r + reach + 1), c0 : max(0, c + reach + 1)]
    ys, xs = np.nonzero(is_home(window)) if len(blocks.body) else ((), ())
    away = np.hypot((np.asarray(xs) + c0 + 0.5) * h - place[0], (np.asarray(ys) + r0 + 0.5) * h - place[1])
    if not len(away) or away.min() > SNAP_MM:
        raise SculptureError(
            "The entry at ({x:.1f}, {y:.1f}) mm lies more than {most:g} mm from "
            "its lump; tap it where it goes into the dough.",
            x=place[0],
            y=place[1],
            most=SNAP_MM,
        )
    k = int(np.argmin(away))
    r, c = int(ys[k]) + r0, int(xs[k]) + c0
    return (r, c), ((c + 0.5) * h, (r + 0.5) * h)


def _ring_sites(middle: NDArray[np.float64], radius: float) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Blocks (S, 2) as (column, row) that a ring feeds, and their shares (S,). Lengths in blocks."""
    at = middle + radius * RING - 0.5
    low = np.floor(at)
    part = np.stack([1 - (at - low), at - low])
    sites = (low[:, None] + CORNERS).reshape(-1, 2).astype(np.intp)
    weight = part[CORNERS[:, 0], :, 0] * part[CORNERS[:, 1], :, 1]
    return sites, weight.T.ravel() / len(RING)


def _grid_ohms(sites: NDArray[np.intp]) -> NDArray[np.float64]:
    """(S, S) ohms between blocks as nodes of the endless grid of 1 ohm."""
    apart = abs(sites[:, None] - sites)
    col, row = apart[..., 0], apart[..., 1]
    size = len(NEAR_OHM)
    far = (np.log(np.maximum(np.hypot(col, row), 1)) + FAR) / np.pi
    return np.asarray(np.where((col < size) & (row < size), NEAR_OHM[col % size, row % size], far))


def _around(own: int, graph: csr_array, reach: int) -> NDArray[np.intp]:
    """The nodes at most `reach` steps from this one, nearest first."""
    found, edge = [own], [own]
    for _ in range(reach):
        beside = [j for i in edge for j in graph.indices[graph.indptr[i] : graph.indptr[i + 1]].tolist()]
        edge = sorted(set(beside) - set(found))
        found += edge
    return np.array(found, np.intp)


def _node_means(blocks: Blocks, square_S: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean conductance per square [S] of each node."""
    mask = blocks.node >= 0
    member = blocks.node[mask]
    n = len(blocks.at)
    return np.asarray(np.bincount(member, square_S[mask], n) / np.bincount(member, minlength=n))


def _laplacian(blocks: Blocks, sheet: NDArray[np.float64]) -> csc_array:
    """(N, N) conductances [S]: border over side, times the harmonic mean of the two sheets."""
    borders = (blocks.across + blocks.down).tocoo()
    inside = blocks.body[borders.row] != WALL
    row, col = borders.row[inside], borders.col[inside]
    a, b = sheet[row], sheet[col]
    g = borders.data[inside] / blocks.side_mm * 2 * a * b / (a + b)
    if (blocks.body == WALL).any():
        i, j, leak = _leaks(blocks, sheet)
        row, col = np.concatenate([row, i, j]), np.concatenate([col, j, i])
        g = np.concatenate([g, leak, leak])
    joined = csc_array(coo_array((g, (row, col)), shape=borders.shape))
    return csc_array(diags_array(np.asarray(joined.sum(axis=0)).ravel()) - joined)


def _leaks(blocks: Blocks, sheet: NDArray[np.float64]) -> tuple[NDArray[Any], ...]:
    """Pairs of nodes (E,), (E,) of which one or both are wall, and the conductances between them [S] (E,).

    A wall may be thinner than a block, so the way from middle to middle counts as it is: from each
    middle straight to the face, each in its own dough.
    """
    faces = faces_of(blocks, WALL)
    i, j = faces.pair.T
    width = np.hypot(*faces.area.T)
    normal = faces.area / np.maximum(width, 1e-12)[:, None]
    least = blocks.cell_mm / 4
    to_i = np.maximum(((faces.at - blocks.at[i]) * normal).sum(axis=1), least)
    to_j = np.maximum(((blocks.at[j] - faces.at) * normal).sum(axis=1), least)
    g = width / (to_i / sheet[i] + to_j / sheet[j])
    some = width > 0
    return i[some], j[some], g[some]


def _reached(laplacian: csc_array, at: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Nodes in the same body as some terminal; the others float and would make the matrix singular."""
    _, part = bodies(laplacian)
    return np.isin(part, part[at])

"""Where a lump would have to be cut so that what should be apart comes apart.

A *pair* is two spots of one lump that a load was meant to part: its ends, the one with the higher volts
first. A cut between two groups of spots takes in every other pair that it parts at little cost; a pair
that has a cheaper cut of its own is left for a later round.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from circuit.board import Board
from circuit.bypasses import Load, Where
from circuit.model import Lump, Point, Sculpture
from circuit.neck import Mesh, Neck, narrowest
from circuit.short_kinds import between_large_pieces, touches_wall

EASY_MM = 2.0
"""All pairs together for so much more cut: nothing else is tried. Estimated."""
BACKWARDS_MM = 10.0
"""A pair the other way round than the dough's volts say must save so much cut. Estimated."""
TOGETHER_MM = 16.0
"""So much cut is saved at least by a pair that is left together without any sign that it was. Estimated."""
UNDECIDED_V = 0.02
"""Below this the dough's own volts say nothing about which end is which."""
ASTRIDE_MM = 0.4
"""So much table or wall on the straight way between two legs: they stand astride a slit. Estimated."""
WAISTED = 1.5
"""Dough so many times wider than a cut on both its sides was meant to be two lumps. Estimated."""
MOST_PAIRS = 12
"""With more pairs in a lump none is weighed by itself: nobody could tell what was meant."""


@dataclass(frozen=True)
class Pair:
    """Two spots that a load was meant to part, the higher volts first."""

    id: str
    high: Point
    low: Point
    astride: bool
    decided: bool


@dataclass(frozen=True)
class Cut:
    """A cut of a lump between two spots, and which loads stand on its two sides."""

    lump: Lump
    mesh: Mesh
    neck: Neck
    start: Point
    goal: Point


def pairs_in(
    board: Board, lump: Lump, loads: Sequence[Load], volts: Mapping[Point, float]
) -> tuple[Pair, ...]:
    """The pairs of a lump."""
    found = []
    for load in loads:
        if load.high is None or load.low is None:
            continue
        if board.lump_at(load.high) == board.lump_at(load.low) == lump.id:
            rise = volts[load.high] - volts[load.low]
            ends = (load.low, load.high) if rise < -UNDECIDED_V else (load.high, load.low)
            astride = stands_astride(board.sculpture, lump, *ends)
            found.append(Pair(load.id, *ends, astride, abs(rise) > UNDECIDED_V))
    return tuple(found)


def stands_astride(sculpture: Sculpture, lump: Lump, a: Point, b: Point) -> bool:
    """Whether the straight way between two spots leaves the lump for a while."""
    h = sculpture.cell_mm
    count = max(2, int(np.hypot(a[0] - b[0], a[1] - b[1]) / (h / 2)))
    share = np.linspace(0, 1, count)
    rows = np.clip(((a[1] + share * (b[1] - a[1])) / h).astype(int), 0, sculpture.grid.shape[0] - 1)
    cols = np.clip(((a[0] + share * (b[0] - a[0])) / h).astype(int), 0, sculpture.grid.shape[1] - 1)
    outside = ~np.isin(sculpture.grid[rows, cols], lump.pieces)
    return bool(outside.sum() * h / 2 >= ASTRIDE_MM)


def look_for_cut(
    lump: Lump, mesh: Mesh, high: Sequence[Point], low: Sequence[Point], pairs: Sequence[Pair]
) -> Cut | None:
    """The shortest cut between two groups of spots that also parts the pairs that belong to it."""
    base = narrowest(mesh, high, low)
    if base is None or not base.lines:
        return None
    best = _with(mesh, high, low, pairs)
    if best is None or best.length_mm > base.length_mm + EASY_MM:
        best = _grown(mesh, high, low, pairs if len(pairs) <= MOST_PAIRS else (), base)
    return Cut(lump, mesh, best, high[0], low[0])


def _with(mesh: Mesh, high: Sequence[Point], low: Sequence[Point], pairs: Sequence[Pair]) -> Neck | None:
    neck = narrowest(mesh, [*high, *(pair.high for pair in pairs)], [*low, *(pair.low for pair in pairs)])
    return neck if neck is not None and neck.lines else None


def _grown(
    mesh: Mesh, high: Sequence[Point], low: Sequence[Point], pairs: Sequence[Pair], base: Neck
) -> Neck:
    """The cut with those pairs taken in that it parts, and those that cost less so than by themselves."""
    group = [pair for pair in pairs if _sides(mesh, base, pair) == (True, False)]
    neck = _with(mesh, high, low, group) or base
    rest = [pair for pair in pairs if pair not in group]
    for pair in sorted(rest, key=lambda pair: not pair.astride):
        options = [(0.0, pair), (0.0 if not pair.decided else BACKWARDS_MM, _turned(pair))]
        tried = [(price, way, _with(mesh, high, low, [*group, way])) for price, way in options]
        costs = [
            (price + trial.length_mm - neck.length_mm, way, trial) for price, way, trial in tried if trial
        ]
        if not costs:
            continue
        cost, way, trial = min(costs, key=lambda item: item[0])
        if cost <= _alone(mesh, neck, pair):
            group.append(way)
            neck = trial
    return neck


def _turned(pair: Pair) -> Pair:
    return replace(pair, high=pair.low, low=pair.high)


def _sides(mesh: Mesh, neck: Neck, pair: Pair) -> tuple[bool, bool]:
    """Whether each of the two spots lies on the + side of the neck."""
    return on_plus_side(mesh, neck, pair.high), on_plus_side(mesh, neck, pair.low)


def on_plus_side(mesh: Mesh, neck: Neck, spot: Point) -> bool:
    """On which side of a neck a spot lies; beside the dough the nearest node counts."""
    rows, cols = mesh.node.shape
    r = min(max(int(spot[1] / mesh.cell_mm), 0), rows - 1)
    c = min(max(int(spot[0] / mesh.cell_mm), 0), cols - 1)
    if mesh.node[r, c] >= 0:
        return bool(neck.plus_side[r, c])
    nearest = int(np.argmin(np.hypot(*(mesh.at - spot).T)))
    return bool(neck.plus_side[mesh.node == nearest].any())


def _alone(mesh: Mesh, neck: Neck, pair: Pair) -> float:
    """What it costs [mm] to leave a pair out of a cut: its own cut, or nothing known of it."""
    high, low = _sides(mesh, neck, pair)
    if high != low:
        return BACKWARDS_MM
    cost = mesh.cost.tocoo()
    side = np.zeros(len(mesh.at), bool)
    side[mesh.node[neck.plus_side]] = True
    kept = side[cost.row] == side[cost.col]
    ends = cost.row[kept], cost.col[kept]
    parted = replace(mesh, cost=csr_array((cost.data[kept], ends), shape=cost.shape))
    own = narrowest(parted, [pair.high], [pair.low])
    own_mm = np.inf if own is None else own.length_mm
    return float(own_mm + EASY_MM if pair.astride else min(own_mm, TOGETHER_MM))


def where_after(board: Board, cut: Cut) -> Where:
    """The body of dough at a spot once the cut is made."""

    def where(spot: Point) -> object:
        lump = board.lump_at(spot)
        return lump if lump != cut.lump.id else (lump, on_plus_side(cut.mesh, cut.neck, spot))

    return where


def is_clear(sculpture: Sculpture, cut: Cut) -> bool:
    """Whether the dough shows that it was meant to be two lumps here: a waist, a wall, or a border."""
    line = cut.neck.lines[0]
    if any(touches_wall(sculpture, end, line) for end in line):
        return True
    if between_large_pieces(sculpture, cut.lump, line):
        return True
    depth, plus = cut.mesh.depth_mm, cut.neck.plus_side
    wide = [2 * float(depth[side & (cut.mesh.node >= 0)].max(initial=0.0)) for side in (plus, ~plus)]
    return min(wide) >= WAISTED * cut.neck.length_mm

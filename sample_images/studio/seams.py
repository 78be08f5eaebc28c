"""Seams between the sides of an invented sculpture, side by side in pairs, and openings in them.

Notation: R, C cells; see `raster`. A pair of sides is (lower id, higher id).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from sample_images.studio.raster import CELL_MM, Floats, Mask, Point, Rng, cell_clip, depth_of, smooth

Pair = tuple[int, int]
Ids = NDArray[np.int32]

SHORTEST_MM = 14.0
"""Sides that meet along less than this count as no neighbours (estimated)."""
SEAM_LEFT_MM = 3.0
"""So much of a seam is left on either side of an opening, at least (estimated)."""
COARSE = 5
"""Cells of the drawing to a cell of the flow, 0.75 mm."""
CROFTON = (np.pi / 8, np.pi / 8 / np.sqrt(2))
"""What a side and a corner of a cell cost a cut (Boykov and Kolmogorov, ICCV 2003, from memory)."""
ENTRY_MM = 1.5
MET = 0.7
"""How much of an opening's width must meet each lump (estimated)."""
CLEARLY = 1.2
"""An opening is narrower by this than any other neck that would do (estimated)."""
BESIDE_MM = 1.25
"""A shortest cut within this of an opening is at it: a cell and a half of the flow."""


@dataclass(frozen=True)
class Seams:
    """Where the sides meet.

    sides (R, C): ids of the sides, 0 none; pair (R, C): 16 lower + higher id of the seam next to a cell
    away  (R, C): mm to the seam; inner (R, C): mm to the outer rim, positive inside
    lengths_mm: how far the sides of each pair meet
    """

    sides: Ids
    pair: Ids
    away: Floats
    inner: Floats
    lengths_mm: dict[Pair, float]

    def of(self, pair: Pair) -> Mask:
        """The cells (R, C) whose nearest seam is this one."""
        return np.asarray(self.pair == 16 * pair[0] + pair[1])

    def line(self, pair: Pair) -> Mask:
        """The cells (R, C) of the seam itself."""
        return self.of(pair) & (self.away < 1.6 * CELL_MM) & (self.sides > 0)


@dataclass(frozen=True)
class Opening:
    """Dough where a seam should be: the short itself.

    kind: code of the short; at: its middle [mm]; reach_mm: dough of the seam within this of `spot` is there
    half_mm: half the width of the seam; where (R, C): the dough that should not be there
    """

    kind: str
    pair: Pair
    at: Point
    spot: Point
    reach_mm: float
    half_mm: float
    where: Mask


def find_seams(sides: Ids) -> Seams:
    """The seams between the sides of an outline."""
    body = sides > 0
    first, then = (np.full(sides.shape, np.inf, np.float32) for _ in range(2))
    near, next_ = (np.zeros(sides.shape, np.int32) for _ in range(2))
    for i in range(1, int(sides.max()) + 1):
        far = cv2.distanceTransform((sides != i).astype(np.uint8), cv2.DIST_L2, 5) * CELL_MM
        best, second = far < first, far < then
        then, next_ = (
            np.where(best, first, np.where(second, far, then)),
            np.where(best, near, np.where(second, i, next_)),
        )
        first, near = np.where(best, far, first), np.where(best, i, near)
    away = np.asarray(np.where(body, then, then - first), np.float32)
    pair = (16 * np.minimum(near, next_) + np.maximum(near, next_)).astype(np.int32)
    lengths = {}
    for key in np.unique(pair[body & (away < 1.6 * CELL_MM)]):
        met = body & (away < 1.6 * CELL_MM) & (pair == key)
        lengths[(int(key) // 16, int(key) % 16)] = float(met.sum()) / 2 * CELL_MM
    long = {p: mm for p, mm in lengths.items() if mm >= SHORTEST_MM}
    return Seams(sides, pair, away, depth_of(body), long)


def find_spot(
    rng: Rng, seams: Seams, pair: Pair, reach_mm: float, at_end: bool, taken: Sequence[Opening]
) -> Point | None:
    """A place on a seam for an opening: at the rim of the sculpture, or well inside the seam."""
    line = seams.line(pair)
    other = (seams.away < 1.6 * CELL_MM) & (seams.sides > 0) & ~line
    alone = cv2.distanceTransform((~other).astype(np.uint8), cv2.DIST_L2, 5) * CELL_MM
    free = line & (alone > reach_mm + SEAM_LEFT_MM)
    free &= (seams.inner < 0.5) if at_end else (seams.inner > reach_mm + SEAM_LEFT_MM)
    ys, xs = np.nonzero(free)
    places = np.stack([_x(xs, line.shape[1]), _x(ys, line.shape[0])], 1)
    for opening in taken:
        apart = np.hypot(*(places - opening.spot).T)
        places = places[apart > opening.reach_mm + reach_mm + 2 * SEAM_LEFT_MM]
    if not len(places):
        return None
    x, y = places[int(rng.integers(len(places)))]
    return float(x), float(y)


def opening_at(seams: Seams, kind: str, pair: Pair, spot: Point, reach_mm: float, half_mm: float) -> Opening:
    """The opening round a place of a seam."""
    where = _across(seams, pair, spot, reach_mm, half_mm)
    where &= seams.of(pair) & (seams.away < max(half_mm, 0.3)) & (seams.sides > 0)
    ys, xs = np.nonzero(where)
    at = (float(_x(xs, where.shape[1]).mean()), float(_x(ys, where.shape[0]).mean()))
    return Opening(kind, pair, at, spot, reach_mm, half_mm, where)


def _across(seams: Seams, pair: Pair, spot: Point, reach_mm: float, half_mm: float) -> Mask:
    """The cells (R, C) whose nearest cell of a seam is within the reach: a strip right across the seam."""
    row, col = cell_clip(spot)
    n = int((2 * reach_mm + half_mm + 4) / CELL_MM)
    box = (slice(max(0, row - n), row + n), slice(max(0, col - n), col + n))
    nearest = ndimage.distance_transform_edt(
        ~seams.line(pair)[box], return_distances=False, return_indices=True
    )
    along = _from(spot, seams.sides.shape)[box]
    out = np.zeros(seams.sides.shape, bool)
    out[box] = along[nearest[0], nearest[1]] < reach_mm
    return out


def is_met(seams: Seams, dough: Mask, opening: Opening) -> bool:
    """Whether the dough of both sides (R, C) meets an opening over most of its width.

    Otherwise the narrowest place is at its mouth, and nobody could say what kind of short it is.
    """
    rim = cv2.dilate(opening.where.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    wide = opening.reach_mm * (1 if opening.kind == "short-round-the-end" else 2)
    met = [float((rim & ~opening.where & dough & (seams.sides == side)).sum()) for side in opening.pair]
    return min(met) * CELL_MM >= MET * wide


def slit_of(
    rng: Rng, seams: Seams, pair: Pair, half_mm: float, openings: Sequence[Opening], outside_mm: float
) -> Mask:
    """The cells (R, C) of gap or wall along a seam, going on outside of the outline.

    Where two lumps are pressed together the gap becomes narrow beside the place.
    """
    half = half_mm * np.clip(1 + 0.2 * smooth(rng, seams.sides.shape, 10), 0.6, 1.5)
    for opening in openings:
        if opening.kind == "short-pressed-together":
            wedge = 0.3 + rng.uniform(0.3, 0.8) * np.maximum(
                _from(opening.spot, half.shape) - opening.reach_mm, 0
            )
            half = np.minimum(half, wedge)
        else:
            near = _from(opening.spot, half.shape) < opening.reach_mm + 2
            half = np.where(near, half_mm, half)
    inside = (seams.sides > 0) | (seams.inner > -outside_mm)
    return np.asarray(seams.of(pair) & (seams.away < half) & inside)


def shortest_is_there(
    seams: Seams, conductive: Mask, openings: Sequence[Opening], pair: Pair, sides_of: dict[Point, int]
) -> bool:
    """Whether the shortest cut between the entries on both sides of a pair runs through its openings.

    A sculpture whose limbs are narrower than the short has a better place to cut; such a one has no
    single truth. `sides_of`: the side of each entry.
    """
    cut = slice(COARSE // 2, None, COARSE)
    side, dough = seams.sides[cut, cut], conductive[cut, cut]
    joined = np.logical_or.reduce([o.where for o in openings])
    open_ = cv2.dilate(joined.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=3)[cut, cut] > 0
    own = np.logical_or.reduce([o.where for o in openings if o.pair == pair])
    away = cv2.distanceTransform((~own).astype(np.uint8), cv2.DIST_L2, 5)[cut, cut] * CELL_MM
    node = np.full(side.shape, -1)
    inside = dough & (side > 0)
    node[inside] = np.arange(int(inside.sum()))
    graph = _cuttable(node, side, open_, own[cut, cut])
    groups = _groups(openings, pair)
    discs: list[NDArray[np.intp]] = []
    for group in groups:
        at = [p for p, s in sides_of.items() if s in group]
        near = np.logical_or.reduce(
            [_from(p, conductive.shape)[cut, cut] < ENTRY_MM for p in at] or [inside & False]
        )
        discs.append(node[near & inside & np.isin(side, list(group))])
    if not len(discs[0]) or not len(discs[1]):
        return False
    ends = _flow_ends(graph, discs[0], discs[1])
    if ends is None:
        return False
    spots = away[inside]
    return bool(len(ends) and spots[ends].max() < BESIDE_MM)


def _groups(openings: Sequence[Opening], pair: Pair) -> tuple[set[int], set[int]]:
    """The sides that go with either side of a pair through the other openings."""
    out = []
    for start in pair:
        group = {start}
        for _ in openings:
            for o in openings:
                if o.pair != pair and group & {*o.pair}:
                    group |= {*o.pair}
        out.append(group)
    return out[0], out[1]


def _cuttable(node: NDArray[np.int_], side: Ids, open_: Mask, own: Mask) -> csr_array:
    """Costs of a cut (N, N) in micrometres between cells that dough joins, dearer in the openings `own`."""
    i, j, w = [], [], []
    n = int(node.max()) + 1
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        a = (slice(0, node.shape[0] - dy), slice(max(0, -dx), node.shape[1] - max(0, dx)))
        b = (slice(dy, None), slice(max(0, dx), node.shape[1] + min(0, dx)))
        joined = (node[a] >= 0) & (node[b] >= 0) & ((side[a] == side[b]) | (open_[a] & open_[b]))
        i.append(node[a][joined])
        j.append(node[b][joined])
        cost = CROFTON[abs(dx * dy)] * COARSE * CELL_MM * 1000
        w.append(np.where((own[a] | own[b])[joined], CLEARLY, 1.0) * cost)
    p, q, c = np.concatenate(i), np.concatenate(j), np.concatenate(w)
    both = (np.concatenate([c, c]), (np.concatenate([p, q]), np.concatenate([q, p])))
    return csr_array(both, shape=(n + 2, n + 2)).astype(np.int32)


def _flow_ends(graph: csr_array, plus: NDArray[np.intp], minus: NDArray[np.intp]) -> NDArray[np.intp] | None:
    """Cells beside the shortest cut; None when the two groups meet."""
    n = graph.shape[0] - 2
    if np.intersect1d(plus, minus).size:
        return None
    rows = np.concatenate([np.full(len(plus), n), minus])
    cols = np.concatenate([plus, np.full(len(minus), n + 1)])
    ties = csr_array((np.full(len(rows), 10**8), (rows, cols)), shape=graph.shape).astype(np.int32)
    capacity = csr_array(graph + ties)
    rest = csr_array(capacity - maximum_flow(capacity, n, n + 1).flow)
    rest.data[rest.data < 0] = 0
    rest.eliminate_zeros()
    side = np.zeros(n + 2, bool)
    side[breadth_first_order(rest, n, return_predecessors=False)] = True
    edges = graph.tocoo()
    return np.unique(edges.row[side[edges.row] & ~side[edges.col]]).astype(np.intp)


def _x(index: NDArray[np.integer], count: int) -> NDArray[np.floating]:
    """Middles of columns (or rows) in mm."""
    return (index + 0.5 - count / 2) * CELL_MM


def _from(at: Point, shape: tuple[int, ...]) -> Floats:
    """Distance (R, C) in mm from a place."""
    x, y = _x(np.arange(shape[1]), shape[1]) - at[0], _x(np.arange(shape[0]), shape[0]) - at[1]
    return np.asarray(np.hypot(x[None, :], y[:, None]), np.float32)


def side_at(seams: Seams, at: Point) -> int:
    """The side at a place, 0 none."""
    return int(seams.sides[cell_clip(at)])

"""Two photos of one sculpture laid on each other by their outlines, the second mirrored if it was flipped.

A search over all turns by cross-correlation (every turn of the second mask against all shifts at once,
by Fourier transforms) gives a few starts; each is refined on distances to the rims, as iterative
closest points on a distance field does (A. W. Fitzgibbon, Image Vis. Comput. 21 (2003) 1145, from memory).

Notation: R, C cells (rows, columns); K layers: all dough, then each colour; points are (x, y) in mm of the
grid of a scene.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft, optimize

from vision.errors import VisionError
from vision.model import Point, Scene, TableView
from vision.raster import Floats
from vision.rims import COLOUR_SHARE, FINE_MM, Doubles, Pair, Shape

SEARCH_MM = 2.5
MOST_OFF = 0.5
"""So far, in radii of the larger shape, the middles may lie apart: dough came to one side (estimated)."""
TURNS = 72
"""Starts every 5 degrees; the refinement draws from further away than that."""
TOLD, UNTOLD = 0.06, 0.15
"""How far the scale may be off: with both scales told (a lens 300 mm above a lump of 15 mm sees it 5 %
larger than the table), and round the scale that the areas give when one was not told."""
STARTS, APART_DEG = 5, 16.0
LIKELY = 0.75
"""A start whose score is a smaller share of the best is left. In 15 pairs of drawn sculptures whose rims were
rippled by 2 mm and that gained or lost a spot of dough, the right one was always the best."""
SLACK = 0.5
"""From this residual on, about 0.9 mm of the outline, a rim counts as truly different, not as noise."""
LEAST_IOU, MOST_RIM_MM, LEAST_ALIKE, GOOD_RIM_MM = 0.65, 2.2, 0.35, 1.3
"""Below, above, below: not the same sculpture; colours may differ where the rim fits well. Of 20 sculptures
against their rippled selves (1 mm) and 20 others: 0.8 and more, 0.9 at most, against rims 1.9 mm and more."""
AS_GOOD = 0.015
"""Two answers whose scores differ by less than this cannot be told apart (estimated)."""


@dataclass(frozen=True)
class Registration:
    """How the second scene lies on the first: first = scale * turn(mirror(second)) + shift, in mm.

    turn_deg   clockwise on the picture; mirrored: x of the second counts backwards before the turn
    iou        intersection over union of the two outlines
    rim_mm     mean distance between the rims
    alike      0 to 1: how much of what both show as dough has the same colour in both
    ambiguous  another way to lay them on each other fits as well
    """

    scale: float
    turn_deg: float
    shift_mm: Point
    mirrored: bool
    iou: float = 1.0
    rim_mm: float = 0.0
    alike: float = 1.0
    ambiguous: bool = False

    @cached_property
    def matrix(self) -> Doubles:
        """(2, 3): from mm of the second scene to mm of the first."""
        turn = math.radians(self.turn_deg)
        c, s = self.scale * math.cos(turn), self.scale * math.sin(turn)
        flip = -1.0 if self.mirrored else 1.0
        return np.array([[c * flip, -s, self.shift_mm[0]], [s * flip, c, self.shift_mm[1]]])

    def to_first(self, at: Point) -> Point:
        """A place [mm] of the second scene on the first."""
        x, y = self.matrix @ [at[0], at[1], 1.0]
        return float(x), float(y)

    def to_second(self, at: Point) -> Point:
        """A place [mm] of the first scene on the second."""
        m = self.matrix
        x, y = np.linalg.solve(m[:, :2], np.array(at) - m[:, 2])
        return float(x), float(y)


def register(first: Scene, second: Scene, mirrored: bool, near: Registration | None = None) -> Registration:
    """Lay the second scene on the first; `mirrored` when it shows the other side.

    The scale is nearly 1 when both scenes have a true one, else free. Colours are compared by their
    place in the palette, which both scenes must share. `near` is how they lie about, where that is known:
    then nothing is searched.

    Raises:
        VisionError: a scene without dough, or the two do not show the same sculpture.
    """
    if not (first.pieces and second.pieces):
        which = "first" if not first.pieces else "second"
        raise VisionError(
            "The {which} photo shows no dough; take it again with the sculpture in it.",
            which=which,
        )
    one, other = Shape.of(first), Shape.of(second)
    told = first.view.true_scale and second.view.true_scale
    middle = 1.0 if told else math.sqrt(one.area_mm2 / other.area_mm2)
    reach = TOLD if told else UNTOLD
    scales = [middle] if told else [middle * (1 + k * reach) for k in (-0.8, -0.4, 0.0, 0.4, 0.8)]
    starts = _starts(one, other, mirrored, scales) if near is None else [near]
    bounds = (middle * (1 - reach), middle * (1 + reach))
    pair = Pair(one, other)
    found = sorted(
        (_judged(pair, _refined(pair, start, bounds)) for start in starts), key=_score, reverse=True
    )
    best = found[0]
    if not same_sculpture(best):
        raise VisionError(
            "The two photos do not seem to show the same sculpture: their outlines lie "
            "{rim_mm:.1f} mm apart on average. Take the second photo again, all of the sculpture "
            "in it.",
            rim_mm=best.rim_mm,
        )
    known = near is not None and near.ambiguous
    return replace(best, ambiguous=known or any(_rival(best, one_, other) for one_ in found[1:]))


def seen_from(found: Registration, view: TableView, new: TableView) -> Registration:
    """The registration for mm of another view of the second photo, which may have another scale."""
    scale = found.scale * view.mm_per_px / new.mm_per_px
    shift = found.to_first(view.to_mm(new.to_px((0.0, 0.0))))
    return replace(found, scale=scale, shift_mm=shift)


def same_sculpture(found: Registration) -> bool:
    """Whether the fit is good enough."""
    colours = found.alike >= LEAST_ALIKE or found.rim_mm <= GOOD_RIM_MM
    return colours and found.iou >= LEAST_IOU and found.rim_mm <= MOST_RIM_MM


def laid_on(values: NDArray[np.int32], second: Scene, first: Scene, found: Registration) -> NDArray[np.int32]:
    """Values of cells of the second scene on the cells of the first, (R, C) of the first; 0 beyond."""
    to_cell = np.vstack([found.matrix, [0, 0, 1]])
    whole = _cells(1 / first.cell_mm) @ to_cell @ np.linalg.inv(_cells(1 / second.cell_mm))
    rows, cols = first.grid.shape
    out = cv2.warpAffine(
        values.astype(np.float32), whole[:2], (cols, rows), flags=cv2.INTER_NEAREST, borderValue=0
    )  # exact: ids stay far below 2^24
    return np.asarray(out, np.int32)


def _cells(per_mm: float) -> Doubles:
    """From mm to (column, row), whole numbers at the middles of cells."""
    return np.array([[per_mm, 0, -0.5], [0, per_mm, -0.5], [0, 0, 1]])


def _placed(
    one: Shape, other: Shape, mirrored: bool, scale: float, turn_deg: float, off: Point
) -> Registration:
    """The registration that puts the middle of the second `off` mm beside that of the first."""
    bare = Registration(scale, turn_deg, (0.0, 0.0), mirrored)
    x, y = bare.to_first(other.middle)
    return replace(bare, shift_mm=(one.middle[0] + off[0] - x, one.middle[1] + off[1] - y))


def _starts(one: Shape, other: Shape, mirrored: bool, scales: Sequence[float]) -> list[Registration]:
    """The best few ways to lay the second on the first, of distinct turns."""
    reach = max(one.radius_mm, other.radius_mm * max(scales)) / SEARCH_MM
    near = np.arange(-math.ceil(MOST_OFF * reach), math.ceil(MOST_OFF * reach) + 1)
    # So wide that over these shifts nothing that leaves on one side meets the other shape on the other.
    n = int(fft.next_fast_len(math.ceil(2 * reach) + int(near[-1]) + 4, real=True))
    shared = [int(k) for k in np.intersect1d(one.colour, other.colour) if k]
    fixed = _planes(one, Registration(1.0, 0.0, (-one.middle[0], -one.middle[1]), False), n, shared)
    images, area = np.conj(fft.rfft2(fixed)), fixed[0].sum()
    found: list[tuple[float, Registration]] = []
    for scale in scales:
        for turn in np.arange(TURNS) * 360 / TURNS:
            bare = Registration(scale, float(turn), (0.0, 0.0), mirrored)
            x, y = bare.to_first(other.middle)
            moved = _planes(other, replace(bare, shift_mm=(-x, -y)), n, shared)
            spectra = images * fft.rfft2(moved)
            over, alike = (fft.irfft2(s, (n, n))[np.ix_(near, near)]
                           for s in (spectra[0], spectra[1:].sum(axis=0)))  # fmt: skip
            score = (over + COLOUR_SHARE * alike) / (area + moved[0].sum() - over)
            row, col = np.unravel_index(int(np.argmax(score)), score.shape)
            off = -float(near[col]) * SEARCH_MM, -float(near[row]) * SEARCH_MM
            best = _placed(one, other, mirrored, scale, float(turn), off)
            found.append((float(score[row, col]), best))
    found.sort(key=lambda f: -f[0])
    out: list[Registration] = []
    for score, start in found:
        if score > LIKELY * found[0][0] and all(_turned(start, other_) > APART_DEG for other_ in out):
            out.append(start)
        if len(out) == STARTS:
            break
    return out


def _turned(a: Registration, b: Registration) -> float:
    """The angle between two turns [degrees]."""
    return abs((a.turn_deg - b.turn_deg + 180) % 360 - 180)


def _planes(shape: Shape, placing: Registration, n: int, colours: Sequence[int]) -> Floats:
    """(K, n, n): all dough, then each of these colours, on cells of SEARCH_MM round the middle."""
    cell = np.array([[1 / SEARCH_MM, 0, n / 2], [0, 1 / SEARCH_MM, n / 2], [0, 0, 1]])
    own = np.array([[FINE_MM, 0, FINE_MM / 2 + shape.corner[0]], [0, FINE_MM, FINE_MM / 2 + shape.corner[1]],
                    [0, 0, 1]])  # fmt: skip
    whole = cell @ np.vstack([placing.matrix, [0, 0, 1]]) @ own
    labels = cv2.warpAffine(shape.colour, whole[:2], (n, n), flags=cv2.INTER_NEAREST, borderValue=0)
    return np.stack([labels > 0, *(labels == k for k in colours)]).astype(np.float32)


def _refined(pair: Pair, start: Registration, bounds: tuple[float, float]) -> Registration:
    """The start moved so that rims lie on rims."""
    one, other = pair.one, pair.other

    def placing(v: Doubles) -> Registration:
        return _placed(one, other, start.mirrored, float(v[0]), float(v[1]) * 10, (float(v[2]), float(v[3])))

    def misfit(v: Doubles) -> Doubles:
        where = placing(v)
        away = zip(pair.rims, pair.away_mm(where.matrix, where.scale), strict=True)
        return np.concatenate([rims.weight * mm for rims, mm in away])

    x, y = start.to_first(other.middle)
    begin = np.array([start.scale, start.turn_deg / 10, x - one.middle[0], y - one.middle[1]])
    begin[0] = np.clip(begin[0], bounds[0] * 1.0001, bounds[1] * 0.9999)
    low, high = (np.array([b, begin[1] + k * 1.5, begin[2] + k * 15, begin[3] + k * 15])
                 for b, k in zip(bounds, (-1, 1), strict=True))  # fmt: skip
    at = begin
    # First what draws from afar, then what leaves parts that truly changed aside.
    for loss in ("soft_l1", "cauchy"):
        found = optimize.least_squares(
            misfit, at, bounds=(low, high), loss=loss, f_scale=SLACK, x_scale=(0.03, 0.3, 1, 1),
            diff_step=(1e-3, 1e-3, 1e-3, 1e-3), max_nfev=30, ftol=1e-5, xtol=1e-5,
        )  # fmt: skip
        at = np.clip(found.x, low + 1e-9, high - 1e-9)
    return placing(at)


def _judged(pair: Pair, at: Registration) -> Registration:
    """The registration with how well it fits."""
    one, other = pair.one, pair.other
    own = np.array([[FINE_MM, 0, FINE_MM / 2], [0, FINE_MM, FINE_MM / 2], [0, 0, 1]])
    here, there = (
        own + np.array([[0, 0, s.corner[0]], [0, 0, s.corner[1]], [0, 0, 0]]) for s in (one, other)
    )
    whole = np.linalg.inv(here) @ np.vstack([at.matrix, [0, 0, 1]]) @ there
    size = one.colour.shape[::-1]
    moved = cv2.warpAffine(other.colour, whole[:2], size, flags=cv2.INTER_NEAREST, borderValue=0)
    both = (one.colour > 0) & (moved > 0)
    area = one.area_mm2 + other.area_mm2 * at.scale**2
    overlap = float(both.sum()) * FINE_MM**2
    alike = float((one.colour[both] == moved[both]).mean()) if both.any() else 0.0
    away = zip(pair.rims, pair.away_mm(at.matrix, at.scale), strict=True)
    rim = sum(float(np.abs(mm[rims.layer == 0]).mean()) for rims, mm in away) / 2
    return replace(at, iou=overlap / max(area - overlap, 1e-9), rim_mm=rim, alike=alike,
                   turn_deg=(at.turn_deg + 180) % 360 - 180)  # fmt: skip


def _score(found: Registration) -> float:
    return found.iou + COLOUR_SHARE * found.alike * found.iou


def _rival(best: Registration, found: Registration, other: Shape) -> bool:
    """Whether another answer is as good, and truly another."""
    a, b = best.to_first(other.middle), found.to_first(other.middle)
    apart = _turned(best, found) > APART_DEG / 2 or math.dist(a, b) > 4
    return apart and _score(found) > _score(best) - AS_GOOD * (1 + COLOUR_SHARE)

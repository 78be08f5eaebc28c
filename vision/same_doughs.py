"""The doughs of one photo found again in another in other light: places to tap, chosen without a helper.

Another light multiplies red, green and blue, so in logarithms all colours move by the same step. That
step is fitted to the whole picture from several starts (mean shift of each colour to what is near it,
the median over colours); then each colour goes to what is there.

Notation: h, w cells of the laid-out photo; P samples; K colours (the table first).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.cluster.vq import vq

from vision.errors import PaletteError
from vision.model import Colour, Photo, Point, Scene, TableView
from vision.palette import doughs_of
from vision.raster import Floats, Mask, opened
from vision.srgb import linear
from vision.straighten import BoxMm, photo_in_mm, straightened

WIDE = 360
"""Cells along the longer side of the laid-out photo."""
PATCH_MM, BORDER = 1.6, 0.06
DARK = 0.02
SPREAD = np.array([0.09, 0.09, 0.45], np.float32)
"""Spread of ln(R/G), ln(B/G) and ln(R+G+B) within one dough in its own shade (estimated on quick photos)."""
FAR, NEAR = 3.0, 1.5
"""Further than so many spreads is another colour; nearer is surely this one."""
TAPS, TABLE_TAPS, LEAST_ROOM_MM, APART_MM = 3, 6, 0.9, 4.0
LEAST_PART = 0.1
"""A part of the sculpture has this share of the largest at least; what is smaller lies about (estimated)."""
MOST_MOVED = 2.5
"""A dough that moved by so many spreads more than the light explains may be another (estimated)."""
LEAST_APART = 1.6
"""Two doughs nearer than so many spreads are easily mistaken for each other (estimated)."""


@dataclass(frozen=True)
class FoundAgain:
    """The palette for the second photo; names of doughs that are doubtful, and of those that are missing."""

    palette: tuple[Colour, ...]
    doubtful: tuple[str, ...]
    missing: tuple[str, ...]


def find_again(
    first: Photo, scene: Scene, palette: Sequence[Colour], second: Photo, second_view: TableView
) -> FoundAgain:
    """Find the doughs of a tapped photo, seen as `scene`, in a second one.

    Raises:
        PaletteError: none of the conductive doughs is there.
    """
    doughs = doughs_of(palette)
    view = scene.view
    known = np.array([_tapped(first, view, colour.taps) for colour in doughs], np.float32)
    area = np.zeros(len(doughs))
    for piece in scene.pieces:
        area[piece.colour - 1] += piece.area_mm2
    box = photo_in_mm(second_view, (second.width, second.height))
    cell_mm = max(box[2] - box[0], box[3] - box[1]) / WIDE
    planes = features(straightened(second, second_view, box, cell_mm))
    table = border_colours(planes)
    old_table = [_tapped(first, view, c.taps) for c in palette if c.role == "table" and c.taps]
    centres = _centres(planes, known, table, old_table, area / area.sum(), cell_mm)
    label = nearest(planes, centres, table)
    sculpture = sculpture_of(label > 0, cell_mm)
    colours: list[Colour] = []
    missing: list[str] = []
    for i, dough in enumerate(doughs, start=1):
        taps = places(label == i, sculpture, planes, centres[i - 1], cell_mm)
        if not taps:
            missing.append(dough.name)
            continue
        px = tuple(px_of(second_view, box, at, cell_mm) for at in taps)
        colours.append(Colour(dough.name, dough.role, px))
    if not any(colour.role == "conductive" for colour in colours):
        raise PaletteError(
            "None of the conductive doughs is found again in the second photo; tap its colours there."
        )
    far = np.stack([np.linalg.norm((planes - t) / SPREAD, axis=2) for t in table]).min(axis=0)
    at = table_places((label == 0) & (far < NEAR) & ~sculpture, cell_mm)
    colours.append(Colour("table", "table", tuple(px_of(second_view, box, p, cell_mm) for p in at)))
    return FoundAgain(tuple(colours), _doubtful(doughs, known, centres, missing), tuple(missing))


def _tapped(photo: Photo, view: TableView, taps: Sequence[Point]) -> Floats:
    """Median colour (3,) at the taps."""
    half, cell = PATCH_MM / 2, 0.2
    found = []
    for x, y in map(view.to_mm, taps):
        patch = straightened(photo, view, (x - half, y - half, x + half, y + half), cell)
        found.append(np.median(features(patch).reshape(-1, 3), axis=0))
    return np.asarray(np.median(found, axis=0), np.float32)


def features(pixels: NDArray[np.uint8]) -> Floats:
    """ln(R/G), ln(B/G), ln(R+G+B) of sRGB (h, w, 3)."""
    light = cv2.GaussianBlur(linear(pixels), (0, 0), 0.8) + np.float32(DARK)
    logs = np.log(light)
    total = np.log(light.sum(axis=2))
    return np.dstack([logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1], total]).astype(np.float32)


def border_colours(planes: Floats) -> Floats:
    """The commonest colours (K, 3) along the border of the photo: the table."""
    rows, cols = planes.shape[:2]
    edge = max(2, round(BORDER * min(rows, cols)))
    inner = np.zeros((rows, cols), bool)
    inner[edge:-edge, edge:-edge] = True
    at = planes[~inner]
    cv2.setRNGSeed(0)  # the same photo has the same table every time
    _, which, centres = cv2.kmeans(
        np.ascontiguousarray(at / SPREAD),
        3,
        None,  # type: ignore[call-overload]
        (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.05),
        1,
        cv2.KMEANS_PP_CENTERS,
    )
    share = np.bincount(which.ravel(), minlength=3) / len(at)
    return np.asarray(centres[share > 0.12] * SPREAD, np.float32)


def _centres(
    planes: Floats,
    known: Floats,
    table: Floats,
    old_table: Sequence[Floats],
    share: NDArray[np.float64],
    cell_mm: float,
) -> Floats:
    """The colours (K, 3) in the second photo: of all steps of light the one that shows the same doughs.

    `share` (K,): how much of all dough each one is in the first photo.
    """
    sample = planes[::3, ::3].reshape(-1, 3)
    away = np.stack([np.linalg.norm((sample - t) / SPREAD, axis=1) for t in table]).min(axis=0)
    sample = sample[away > 1.5]
    if not len(sample):
        return known
    starts = [np.zeros(3, np.float32)]
    starts += [t - old for old in old_table for t in table]
    starts.append(np.median(sample, axis=0) - np.median(known, axis=0))
    starts += [s + np.array([0, 0, k], np.float32) for s in list(starts) for k in (-0.4, 0.4)]
    best, least = known, np.inf
    for step in distinct([fitted(sample, known, start) for start in starts]):
        centres = known + step
        for _ in range(3):
            centres = moved(planes, nearest(planes, centres, table), centres, known)
        label = nearest(planes, centres, table)
        cost = _unlike(label, share, cell_mm) + 0.03 * float(np.abs(step / SPREAD).mean())
        if cost < least:
            best, least = centres, cost
    return best


def distinct(steps: Sequence[Floats]) -> list[Floats]:
    """The steps without those that are nearly the same as one before."""
    out: list[Floats] = []
    for step in steps:
        if all(np.abs((step - other) / SPREAD).max() > 0.5 for other in out):
            out.append(step)
    return out


def _unlike(label: NDArray[np.uint8], share: NDArray[np.float64], cell_mm: float) -> float:
    """How far what was found is from the known shares of doughs in one sculpture."""
    sculpture = sculpture_of(label > 0, cell_mm)
    found = np.bincount(label[sculpture], minlength=len(share) + 1)[1:].astype(float)
    elsewhere = float(((label > 0) & ~sculpture).mean())
    edge = np.concatenate([label[0], label[-1], label[:, 0], label[:, -1]]) > 0
    if found.sum() < 50:
        return 9.0
    return float(np.abs(found / found.sum() - share).sum() + 2 * elsewhere + 2 * edge.mean())


def fitted(sample: Floats, known: Floats, step: Floats) -> Floats:
    """The step (3,) that the light made of all colours, refined from one start."""
    for wide in (3.0, 2.0, 1.5, 1.0, 1.0):
        moves, weights = [], []
        for centre in known:
            d = (sample - centre - step) / SPREAD / wide
            weight = np.exp(-0.5 * (d**2).sum(axis=1))
            if weight.sum() > 1e-3:
                moves.append((weight[:, None] * d).sum(axis=0) / weight.sum() * SPREAD * wide)
                weights.append(min(float(weight.sum()), 0.1 * len(sample)))
        if not moves:
            return step
        step = step + np.average(moves, axis=0, weights=weights).astype(np.float32)
    return step


def nearest(planes: Floats, centres: Floats, table: Floats) -> NDArray[np.uint8]:
    """(h, w): 0 the table or no colour of these, i the i-th dough."""
    colours = (np.concatenate([table, centres]) / SPREAD).astype(np.float32)
    best, far = vq((planes / SPREAD).reshape(-1, 3), colours, check_finite=False)
    dough = (best >= len(table)) & (far < FAR)
    found = np.where(dough, best - len(table) + 1, 0).astype(np.uint8)
    return np.asarray(found.reshape(planes.shape[:2]))


def moved(planes: Floats, label: NDArray[np.uint8], centres: Floats, known: Floats) -> Floats:
    """Each colour half-way to the middle of what it took."""
    out = centres.copy()
    for i in range(len(known)):
        own = planes[label == i + 1]
        if len(own) > 20:
            out[i] = (out[i] + np.median(own, axis=0)) / 2
    return out


def sculpture_of(dough: Mask, cell_mm: float) -> Mask:
    """The large areas of dough, and what lies within a few mm of them."""
    reach = max(1, round(3 / cell_mm))
    solid = cv2.morphologyEx(dough.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    wide = cv2.dilate(solid, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    count, parts, stats, _ = cv2.connectedComponentsWithStats(wide)
    if count < 2:
        return np.zeros(dough.shape, bool)
    area = stats[:, cv2.CC_STAT_AREA]
    kept = area >= LEAST_PART * area[1:].max()
    kept[0] = False
    return np.asarray(kept[parts])


def places(mask: Mask, sculpture: Mask, planes: Floats, centre: Floats, cell_mm: float) -> list[Point]:
    """A few places (column, row) well inside one colour."""
    inside = mask & sculpture
    room = cv2.distanceTransform(np.pad(inside, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    away = np.linalg.norm((planes - centre) / SPREAD, axis=2)
    # Deep inside and of the very colour: dough in its ordinary shade.
    worth = np.minimum(room * cell_mm, 4.0) * np.exp(-0.5 * away)
    worth[room * cell_mm < LEAST_ROOM_MM] = 0
    out: list[Point] = []
    reach = max(1, round(APART_MM / cell_mm))
    while len(out) < TAPS and worth.max() > 0:
        row, col = np.unravel_index(int(np.argmax(worth)), worth.shape)
        out.append((float(col), float(row)))
        cv2.circle(worth, (int(col), int(row)), reach, 0.0, -1)
    return out


def table_places(table: Mask, cell_mm: float) -> list[Point]:
    """Places (column, row) on the table, all over the photo."""
    rows, cols = table.shape
    free = opened(table, 1.5, cell_mm)
    free[:2], free[-2:], free[:, :2], free[:, -2:] = False, False, False, False
    grid = [(c, r) for r in np.linspace(0.04, 0.96, 7) for c in np.linspace(0.04, 0.96, 7)]
    found = [(int(c * (cols - 1)), int(r * (rows - 1))) for c, r in grid]
    usable = [(float(c), float(r)) for c, r in found if free[r, c]]
    usable = usable or [(2.0, 2.0)]
    step = max(1, len(usable) // TABLE_TAPS)
    return usable[::step][:TABLE_TAPS]


def px_of(view: TableView, box: BoxMm, at: Point, cell_mm: float) -> Point:
    """The middle of a cell (column, row) on the photo [px]."""
    return view.to_px((box[0] + (at[0] + 0.5) * cell_mm, box[1] + (at[1] + 0.5) * cell_mm))


def _doubtful(
    doughs: Sequence[Colour], known: Floats, centres: Floats, missing: Sequence[str]
) -> tuple[str, ...]:
    """Doughs that moved otherwise than the rest, or lie too near to another."""
    there = [i for i, dough in enumerate(doughs) if dough.name not in missing]
    step = np.median(centres[there] - known[there], axis=0)
    out = []
    for i in there:
        odd = float(np.linalg.norm((centres[i] - known[i] - step) / SPREAD))
        near = min(
            (float(np.linalg.norm((centres[i] - centres[j]) / SPREAD)) for j in there if j != i), default=9.0
        )
        if odd > MOST_MOVED or near < LEAST_APART:
            out.append(doughs[i].name)
    return tuple(out)

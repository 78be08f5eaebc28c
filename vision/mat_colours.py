"""What a photo of the work mat says of light and colours: gains, the doughs on the pads, blank paper.

Notation: h, w cells of the mat laid flat (rows, columns).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.mat_layout import PAD_RADIUS_MM, PATCH_MM, MatLayout, Pad, PadRole
from vision.model import Nine, Photo, Point, TableView, inverse, project
from vision.srgb import linear
from vision.straighten import straightened

Floats = NDArray[np.float32]

DARK = 0.02
"""Estimated from phone noise."""
CELL_MM = 0.5
CLIPPED, BLACK = 250, 25
"""sRGB values beyond which a grey patch says nothing about the light."""
PAPER_HUE, PAPER_DARK, PAPER_ROUGH = 0.08, 0.5, 0.06
"""How far blank paper may be from blank paper: hue, drop of ln light in a shadow, spread (estimated)."""
DOUGH_HUE, DOUGH_DARK = 0.11, 0.6
"""What differs more than this from the paper beside it is dough (estimated on drawn mats)."""
SHADOW_BESIDE = 0.1
"""With more of the paper beside a pad dark, darkness is a shadow (estimated on drawn mats)."""
LEAST_FILLED = 0.25
TAPS = 5


@dataclass(frozen=True)
class FilledPad:
    """A pad with dough on it: places on the dough [px], and its colour as sRGB, 0 to 255."""

    number: int
    role: PadRole
    taps: tuple[Point, ...]
    colour: tuple[int, int, int]


@dataclass(frozen=True)
class Flat:
    """The mat laid flat in cells of CELL_MM.

    pixels    (h, w, 3) sRGB
    features  (h, w, 3): ln(R+G+B), ln(R/G), ln(B/G) of linear light
    view      photo px to mm of the paper
    size      width and height of the photo [px]
    """

    pixels: NDArray[np.uint8]
    features: Floats
    view: TableView
    size: tuple[int, int]

    def box(self, x: float, y: float, half_mm: float) -> tuple[slice, slice]:
        """Rows and columns of a square round a place [mm]."""
        return (
            slice(max(0, round((y - half_mm) / CELL_MM)), round((y + half_mm) / CELL_MM)),
            slice(max(0, round((x - half_mm) / CELL_MM)), round((x + half_mm) / CELL_MM)),
        )


def laid_flat(photo: Photo, layout: MatLayout, to_mm: NDArray[np.float64], mm_per_px: float) -> Flat:
    """The whole mat laid flat, from the homography (3, 3) of photo px to mm of its paper."""
    size = (photo.width, photo.height)
    upright = to_mm / np.sign(to_mm[2] @ [size[0] / 2, size[1] / 2, 1])
    a, b, c, d, e, f, g, h, i = (float(v) for v in upright.ravel())
    nine: Nine = (a, b, c, d, e, f, g, h, i)
    view = TableView(mm_per_px, project(inverse(nine), (0.0, 0.0)), True, nine)
    pixels = straightened(photo, view, (0.0, 0.0, *layout.size), CELL_MM)
    return Flat(pixels, _features(linear(pixels)), view, size)


def _features(light: Floats) -> Floats:
    dark = light + np.float32(DARK)  # keeps logarithms of dark pixels quiet
    log = np.log(dark)
    level = np.log(dark.sum(axis=-1))
    return np.stack([level, log[..., 0] - log[..., 1], log[..., 2] - log[..., 1]], axis=-1)


def gains_of(flat: Flat, layout: MatLayout) -> tuple[float, float, float] | None:
    """Gains of R, G and B from the patches that are neither clipped, black nor covered in part."""
    found = []
    for (x, y), _ in layout.patches:
        box = flat.box(x + PATCH_MM / 2, y + PATCH_MM / 2, 0.3 * PATCH_MM)
        seen = flat.pixels[box].reshape(-1, 3)
        if not len(seen) or seen.max() >= CLIPPED or seen.min() <= BLACK:
            continue
        f = flat.features[box].reshape(-1, 3)
        if (f[:, 1:].std(axis=0) < PAPER_HUE).all():
            middle = np.median(linear(seen), axis=0)
            found.append(np.log(middle[1] / middle))
    if not found:
        return None
    red, _, blue = np.exp(np.median(found, axis=0))
    return float(red), 1.0, float(blue)


def filled_pad(flat: Flat, pad: Pad) -> FilledPad | None:
    """What lies on a pad, if anything does."""
    x, y = pad.at
    rows, cols = flat.box(x, y, PAD_RADIUS_MM + 2.5)
    f = flat.features[rows, cols]
    high, wide = f.shape[:2]
    far = np.hypot(
        (np.arange(wide) + cols.start + 0.5) * CELL_MM - x,
        ((np.arange(high) + rows.start + 0.5) * CELL_MM - y)[:, None],
    )
    differs = _unlike_paper(f, (far > PAD_RADIUS_MM + 0.7) & (far < PAD_RADIUS_MM + 2.0))
    inside = far < PAD_RADIUS_MM - 1.0
    dough = (differs & inside).astype(np.uint8)
    if dough.sum() < LEAST_FILLED * inside.sum():
        return None
    dough = np.asarray(cv2.morphologyEx(dough, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)), np.uint8)
    spots = _spread_out(dough)
    if not spots:
        return None
    taps = tuple(
        flat.view.to_px(((cols.start + col + 0.5) * CELL_MM, (rows.start + row + 0.5) * CELL_MM))
        for col, row in spots
    )
    r, g, b = (round(float(v)) for v in np.median(flat.pixels[rows, cols][dough > 0], axis=0))
    return FilledPad(pad.number, pad.role, taps, (r, g, b))


def _unlike_paper(f: Floats, beside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where features (h, w, 3) are not those of the paper `beside`, (h, w)."""
    around = f[beside]
    # Words stand on the right, and dough may stick out: the brighter half is paper.
    paper = np.median(around[around[:, 0] >= np.median(around[:, 0])], axis=0)
    hue = np.abs(f[..., 1:] - paper[1:]).max(axis=-1) > DOUGH_HUE
    dark = f[..., 0] < paper[0] - DOUGH_DARK
    left = beside & (np.arange(f.shape[1]) < f.shape[1] / 2)
    # The edge of a shadow goes on beyond the ring; grey and black dough do not.
    shadow = np.mean((dark & ~hue)[left]) > SHADOW_BESIDE
    return np.asarray(hue if shadow else hue | dark, np.bool_)


def _spread_out(mask: NDArray[np.uint8]) -> list[tuple[int, int]]:
    """At most TAPS places (column, row): the deepest first, then each as far from the others as can be."""
    deep = cv2.distanceTransform(cv2.copyMakeBorder(mask, 1, 1, 1, 1, cv2.BORDER_CONSTANT), cv2.DIST_L2, 3)[
        1:-1, 1:-1
    ]
    if not deep.max() > 0:
        return []
    row, col = np.unravel_index(int(np.argmax(deep)), deep.shape)
    spots = [(int(col), int(row))]
    at = np.argwhere(deep > min(2.0, 0.5 * float(deep.max())))
    while len(spots) < TAPS:
        near = np.min([np.hypot(at[:, 1] - c, at[:, 0] - r) for c, r in spots], axis=0)
        best = int(np.argmax(near))
        if near[best] < 1:
            break
        spots.append((int(at[best, 1]), int(at[best, 0])))
    return spots


def blank_paper(flat: Flat, layout: MatLayout) -> tuple[Point, ...]:
    """Places on blank paper [px], inside the frame and in the rim."""
    left, top, right, bottom = layout.work
    inner = _round_a_box((left + 6, top + 6, right - 6, bottom - 6), 24.0)
    # Between the patches and the frame nothing is printed.
    side = [(x, top + 6 + i * (bottom - top - 12) / 5) for x in (left - 2.4, right + 2.4) for i in range(6)]
    about = [(at, flat.features[flat.box(*at, 1.5)].reshape(-1, 3)) for at in (*side, *inner)]
    middles = np.array([np.median(f, axis=0) for _, f in about])
    hue = np.median(middles[: len(side), 1:], axis=0)
    bright = np.quantile(middles[: len(side), 0], 0.75)
    out: list[Point] = []
    for (at, f), middle in zip(about, middles, strict=True):
        plain = (np.abs(middle[1:] - hue) < PAPER_HUE).all() and middle[0] > bright - PAPER_DARK
        if plain and (f.std(axis=0) < PAPER_ROUGH).all():
            x, y = flat.view.to_px(at)
            if 0 <= x <= flat.size[0] and 0 <= y <= flat.size[1]:
                out.append((x, y))
    return tuple(out)


def _round_a_box(box: tuple[float, float, float, float], step_mm: float) -> list[Point]:
    """Places along the sides of a box, its corners included."""
    left, top, right, bottom = box
    across = np.linspace(left, right, max(2, round((right - left) / step_mm) + 1))
    down = np.linspace(top, bottom, max(2, round((bottom - top) / step_mm) + 1))[1:-1]
    sides: Sequence[Point] = [
        *((float(x), y) for y in (top, bottom) for x in across),
        *((x, float(y)) for x in (left, right) for y in down),
    ]
    return list(sides)

"""What the network is shown: planes on a straight grid, made of the photo and of what the helper told.

The network never sees a colour as such but how far each spot is from the colours that the helper
tapped, so that it works with any palette. The same code feeds it when it learns and when it sees.

Notation: h, w cells of `SEEN_MM` (rows, columns); places are (column, row) in those cells, whole
numbers are cell centres.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.srgb import linear

Floats = NDArray[np.float32]
Cells = Sequence[tuple[float, float]]

SEEN_MM = 0.2
"""Side of a cell: a gap of 1 mm is five cells wide."""
SLOTS = 6
"""Dough colours that the network can tell apart at a time."""
PLANES = 4 + 2 + 2 * (SLOTS + 1) + 4
ROUND_TO = 16
"""Rows and columns are filled up to a multiple of this, which the network halves four times."""
_TAP_MM = 1.5
_DARK = 0.02
"""Keeps logarithms of dark pixels quiet (estimated from phone noise)."""
_SPREAD = 0.05
"""Least spread of hue within a dough (estimated)."""
_FAR, _EMPTY, _TAPPED = 3.0, 3.0, -1.5
_SPOT_MM = 0.8


@dataclass(frozen=True)
class Told:
    """What the helper told, in cells: taps on each dough and on the table, legs, leads.

    legs: both feet of each LED, and whether it is seen lit.
    """

    doughs: tuple[Cells, ...]
    table: Cells
    legs: tuple[tuple[tuple[float, float], tuple[float, float], bool], ...]
    leads: Cells


def input_planes(
    pixels: NDArray[np.uint8], told: Told, patches: Sequence[tuple[int, NDArray[np.uint8]]] = ()
) -> tuple[Floats, Floats]:
    """Planes (PLANES, h/2, w/2) for the network and ln light (h, w), from sRGB pixels (h, w, 3).

    h and w must be multiples of ROUND_TO; at most SLOTS doughs. `patches` (k, k, 3) show what was
    tapped elsewhere on the photo: 0 the table, i the i-th of `told.doughs`.
    """
    colours = linear(pixels)
    light = cv2.log(cv2.transform(colours, np.ones((1, 3))) + np.float32(3 * _DARK))
    level, u, v = _features(colours)
    rows, cols = level.shape
    samples = [_samples((level, u, v), taps) for taps in (told.table, *told.doughs)]
    for group, patch in patches:
        planes = _features(linear(patch))
        samples[group] += _samples(planes, [(patch.shape[1] / 2 - 0.5, patch.shape[0] / 2 - 0.5)])
    known = [s for s in samples if s]
    middle = float(np.median([t[0] for s in known for t in s])) if known else float(np.median(level))
    out = np.empty((PLANES, rows, cols), np.float32)
    for i, (dy, dx) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1))):
        np.subtract(light[dy::2, dx::2], np.float32(middle), out=out[i])
    out[4], out[5] = u, v
    for i in range(SLOTS + 1):
        here = samples[i] if i < len(samples) else []
        out[6 + 2 * i], out[7 + 2 * i] = _distance((level, u, v), here)
        if i <= len(told.doughs):
            _show_taps(out[6 + 2 * i], (told.table, *told.doughs)[i])
    out[-4:] = _marks((rows, cols), told)
    np.clip(out[:6], -4, 4, out=out[:6])
    return out, np.asarray(light, np.float32)


def _features(light: Floats) -> tuple[Floats, Floats, Floats]:
    """ln(R+G+B), ln(R/G), ln(B/G) of linear light (h, w, 3) on half as many rows and columns."""
    size = (light.shape[1] // 2, light.shape[0] // 2)
    half = cv2.resize(light, size, interpolation=cv2.INTER_AREA) + np.float32(_DARK)
    r, g, b = cv2.split(cv2.log(half))
    return cv2.log(cv2.transform(half, np.ones((1, 3)))), r - g, b - g  # type: ignore[return-value]


def _samples(planes: tuple[Floats, Floats, Floats], taps: Cells) -> list[tuple[float, ...]]:
    """Median and spread of each plane within 1.5 mm of each tap."""
    reach = int(_TAP_MM / SEEN_MM / 2)
    rows, cols = planes[0].shape
    out = []
    for x, y in taps:
        col, row = round((x - 0.5) / 2), round((y - 0.5) / 2)
        col, row = min(max(col, 0), cols - 1), min(max(row, 0), rows - 1)
        box = (slice(max(0, row - reach), row + reach + 1), slice(max(0, col - reach), col + reach + 1))
        patch = [plane[box] for plane in planes]
        middle = [float(np.median(p)) for p in patch]
        spread = [float(np.median(np.abs(p - m))) * 1.48 for p, m in zip(patch, middle, strict=True)]
        out.append((*middle, *spread))
    return out


def _distance(
    planes: tuple[Floats, Floats, Floats], samples: list[tuple[float, ...]]
) -> tuple[Floats, Floats]:
    """How far each cell is in hue from the nearest sample (squashed), and how much brighter it is."""
    level, u, v = planes
    if not samples:
        return np.full_like(level, _EMPTY), np.zeros_like(level)
    best = np.full_like(level, np.inf)
    for _, mu, mv, _, su, sv in samples:
        a, b = 1 / np.hypot(su, _SPREAD), 1 / np.hypot(sv, _SPREAD)
        np.minimum(
            best,
            ((u - np.float32(mu)) * np.float32(a)) ** 2 + ((v - np.float32(mv)) * np.float32(b)) ** 2,
            out=best,
        )
    brightness = float(np.median([s[0] for s in samples]))
    far = np.minimum(np.log1p(np.sqrt(best)), np.float32(_FAR))
    return far, np.clip(level - np.float32(brightness), -2.5, 2.5)


def _show_taps(plane: Floats, taps: Cells) -> None:
    """Mark the tapped spots themselves, which no distance tells where two colours are alike."""
    reach = round(_SPOT_MM / SEEN_MM / 2)
    for x, y in taps:
        col, row = round((x - 0.5) / 2), round((y - 0.5) / 2)
        rows = slice(max(0, row - reach), max(0, row + reach + 1))
        plane[rows, max(0, col - reach) : max(0, col + reach + 1)] = _TAPPED


def _marks(shape: tuple[int, int], told: Told) -> Floats:
    """Planes (4, rows, cols): near an LED's axis, near a lit one's, near a leg's foot, near a lead."""
    out = np.zeros((4, *shape), np.float32)
    for p, q, lit in told.legs:
        _draw(out[0], p, q, 3.0)
        if lit:
            _draw(out[1], p, q, 6.0)
        _draw(out[2], p, p, 1.2)
        _draw(out[2], q, q, 1.2)
    for at in told.leads:
        _draw(out[3], at, at, 1.2)
    return out


def _draw(plane: Floats, p: tuple[float, float], q: tuple[float, float], size_mm: float) -> None:
    """Raise a plane to exp(-(d / size)^2 / 2) round the segment p q."""
    a = (np.array(p, np.float32) - 0.5) / 2
    b = (np.array(q, np.float32) - 0.5) / 2
    size = size_mm / SEEN_MM / 2
    low, high = np.minimum(a, b) - 3 * size, np.maximum(a, b) + 3 * size
    top, left = max(0, int(low[1])), max(0, int(low[0]))
    bottom, right = min(plane.shape[0], int(high[1]) + 2), min(plane.shape[1], int(high[0]) + 2)
    if top >= bottom or left >= right:
        return
    y, x = np.mgrid[top:bottom, left:right].astype(np.float32)
    d = b - a
    t = np.clip(((x - a[0]) * d[0] + (y - a[1]) * d[1]) / max(float(d @ d), 1e-6), 0, 1)
    far2 = (x - a[0] - t * d[0]) ** 2 + (y - a[1] - t * d[1]) ** 2
    part = plane[top:bottom, left:right]
    np.maximum(part, np.exp(-far2 / np.float32(2 * size * size)), out=part)

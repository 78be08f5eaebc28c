"""LED bodies in what was seen: where, how large, and how sure.

Notation: h, w cells of `Sight` (rows, columns).
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.morphology import reconstruction
from skimage.segmentation import watershed

from vision.sight import Floats, Mask, Sight, Window

SEEN, BLUR_MM = 0.3, 0.4
"""An LED is seen where the chance, blurred so much, is higher (measured on quick photos)."""
SMALLEST_MM2 = 2.5
"""Less is no LED: one of 3 mm shows 7 mm2 (common practice)."""
THINNEST_MM = 0.9
"""Least half width of a body; legs and glints are thinner (estimated)."""
WAIST = 0.7
"""Two bodies where the place between them is narrower than this part of the narrower one (estimated)."""
FROM_DOUGH_MM = 9.0
"""How far out from the dough an LED's body may lie, about its length (common practice)."""
SMALL_MM, SURE_IF_SMALL = 1.2, 0.5
"""A smaller body must be surer: most of the others are glints (measured on quick photos)."""
LOOKS_LARGER = 1.06
"""The photo shows an LED larger than it is, as it is nearer to the lens (estimated)."""


@dataclass(frozen=True)
class Body:
    """The body of an LED.

    mask    (rows, columns) of `window`
    at      (column, row) of its middle
    chance  mean chance that it is an LED
    """

    window: Window
    mask: Mask
    at: tuple[float, float]
    radius_mm: float
    chance: float


def find_bodies(sight: Sight) -> list[Body]:
    """All LED bodies on the dough or next to it."""
    spread = BLUR_MM / sight.unit_mm
    mask = (cv2.GaussianBlur(sight.led, (0, 0), spread) > SEEN).astype(np.uint8)
    count, parts, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    dough = (sight.labels > 0).astype(np.uint8)
    out: list[Body] = []
    for i in range(1, count):
        left, top, wide, high, area = (int(v) for v in stats[i])
        if area * sight.unit_mm**2 < SMALLEST_MM2:
            continue
        window = sight.window((left, top), (left + wide - 1, top + high - 1), 1.0)
        near = sight.window((left, top), (left + wide - 1, top + high - 1), FROM_DOUGH_MM)
        if dough[near].any():
            out += _bodies_in(sight, window, parts[window] == i)
    return out


def _bodies_in(sight: Sight, window: Window, mask: Mask) -> list[Body]:
    """The bodies of a connected area; two that touch are told apart by their waist."""
    solid = _filled(mask)
    depth = cv2.distanceTransform(np.pad(solid, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    out = []
    for part in _parted(solid, np.asarray(depth, np.float32)):
        radius = (float(depth[part].max()) - 0.5) * sight.unit_mm
        area = float(part.sum()) * sight.unit_mm**2
        if radius < THINNEST_MM or area < SMALLEST_MM2:
            continue
        rows, cols = np.nonzero(part)
        at = (float(cols.mean()) + window[1].start, float(rows.mean()) + window[0].start)
        chance = float(sight.led[window][part].mean())
        if radius > SMALL_MM or chance > SURE_IF_SMALL:
            out.append(Body(window, part, at, radius / LOOKS_LARGER, chance))
    return out


def _filled(mask: Mask) -> Mask:
    """A mask without holes."""
    rims, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    out = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(out, rims, -1, 1, cv2.FILLED)
    return out.astype(bool)


def _parted(solid: Mask, depth: Floats) -> list[Mask]:
    """The parts of a solid area on both sides of its waists (Vincent 1993, reconstruction; watershed)."""
    rest = reconstruction(WAIST * depth, depth)  # type: ignore[no-untyped-call]
    peaks = (rest <= WAIST * depth + 1e-6) & (depth > 1.5)
    count, marks = cv2.connectedComponents(peaks.astype(np.uint8), connectivity=8)
    if count <= 2:
        return [solid]
    areas: NDArray[np.int32] = watershed(-depth, marks, mask=solid)  # type: ignore[no-untyped-call]
    return [areas == i for i in range(1, count)]


def in_window(body: Body, window: Window) -> Mask:
    """The body's mask in a larger window."""
    out = np.zeros((window[0].stop - window[0].start, window[1].stop - window[1].start), bool)
    top, left = body.window[0].start - window[0].start, body.window[1].start - window[1].start
    out[top : top + body.mask.shape[0], left : left + body.mask.shape[1]] = body.mask
    return out

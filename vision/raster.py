"""The part of the photo that is looked at, on a grid of known cell size.

Notation: h, w cells of a raster (rows, columns).
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.model import Photo, Point, TableView

Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]

FINE_MM, COARSE_MM = 0.17, 0.5
"""Cells wanted (measured: finer ones cost time and gain nothing)."""
MOST_CELLS = 1_600_000
DARK = 0.02
"""Keeps logarithms of dark pixels quiet (estimated from phone noise)."""

_LINEAR = np.array(
    [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in np.arange(256) / 255.0]
)
"""8-bit sRGB to linear light, IEC 61966-2-1:1999."""


@dataclass(frozen=True)
class Raster:
    """A crop of the photo.

    linear   (h, w, 3) linear RGB, 0 to 1
    features (h, w, 3): ln(R+G+B), ln(R/G), ln(B/G)
    px       photo pixels along a cell; `view` has the crop's corner as its origin
    """

    linear: Floats
    features: Floats
    px: int
    view: TableView

    @property
    def cell_mm(self) -> float:
        """Side of a cell in mm."""
        return self.px * self.view.mm_per_px

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return int(self.linear.shape[0]), int(self.linear.shape[1])

    def cell(self, at: Point) -> tuple[float, float]:
        """A photo point as (column, row) of this raster; whole numbers are cell centres."""
        return (
            (at[0] - self.view.origin_px[0]) / self.px - 0.5,
            (at[1] - self.view.origin_px[1]) / self.px - 0.5,
        )


def crop_box(
    photo: Photo, wanted: Iterable[Point], also: Iterable[Point], margin_px: float
) -> tuple[int, int, int, int]:
    """Left, top, right, bottom [px] of the box round `wanted` with a margin, grown to hold `also`.

    The box holds whole stored pixels, save where the photo ends.
    """
    at = np.array(list(wanted), dtype=float)
    low, high = at.min(axis=0) - margin_px, at.max(axis=0) + margin_px
    rest = np.array(list(also), dtype=float).reshape(-1, 2)
    low = np.minimum(low, (rest - 3).min(axis=0, initial=np.inf))
    high = np.maximum(high, (rest + 3).max(axis=0, initial=-np.inf))
    step = photo.shrink
    left, top = (max(0, math.floor(v / step) * step) for v in low)
    right, bottom = (math.ceil(v / step) * step for v in high)
    return left, top, min(photo.width, right), min(photo.height, bottom)


def cut_rasters(photo: Photo, box: tuple[int, int, int, int], view: TableView) -> tuple[Raster, Raster]:
    """The fine and the coarse raster of a box [px]; coarse cells hold a whole number of fine ones."""
    here = TableView(view.mm_per_px, (float(box[0]), float(box[1])), view.true_scale)
    step = photo.shrink
    left, top, right, bottom = (math.ceil(v / step) for v in box)
    area = (right - left) * (bottom - top)
    stored = max(1, round(FINE_MM / (step * view.mm_per_px)), math.ceil(math.sqrt(area / MOST_CELLS)))
    px = stored * step
    times = max(1, round(COARSE_MM / (px * view.mm_per_px)))
    pad_x, pad_y = -(right - left) % (stored * times), -(bottom - top) % (stored * times)
    crop = cv2.copyMakeBorder(photo.pixels[top:bottom, left:right], 0, pad_y, 0, pad_x, cv2.BORDER_REPLICATE)
    linear = cv2.LUT(_shrunk(crop, stored), _LINEAR.astype(np.float32)).astype(np.float32)
    fine = Raster(linear, _fine_features(linear, px * view.mm_per_px), px, here)
    if times == 1:
        return fine, fine
    small = _shrunk(linear, times)
    return fine, Raster(small, features(small), px * times, here)


def _shrunk(image: NDArray[Any], times: int) -> NDArray[Any]:
    rows, cols = image.shape[0] // times, image.shape[1] // times
    return cv2.resize(image, (cols, rows), interpolation=cv2.INTER_AREA) if times > 1 else image


def features(linear: Floats) -> Floats:
    """ln(R+G+B), ln(R/G) and ln(B/G) of linear colours (..., 3): light and two hues."""
    r, g, b = (linear[..., i] + np.float32(DARK) for i in range(3))
    log_g = np.log(g)
    return np.stack([np.log(r + g + b), np.log(r) - log_g, np.log(b) - log_g], axis=-1).astype(np.float32)


def _fine_features(linear: Floats, cell_mm: float) -> Floats:
    """Features smoothed by 0.15 mm (light) and 0.3 mm (hue: JPEG halves its resolution)."""
    f = features(linear)
    for i, sigma_mm in enumerate((0.15, 0.3, 0.3)):
        f[..., i] = cv2.GaussianBlur(f[..., i], (0, 0), sigma_mm / cell_mm)
    return f


def disc(radius_mm: float, cell_mm: float) -> NDArray[np.uint8]:
    """A round brush of this radius; one cell at least."""
    r = radius_mm / cell_mm
    n = math.floor(r)
    y, x = np.mgrid[-n : n + 1, -n : n + 1]
    return np.asarray(x * x + y * y <= r * r, np.uint8)


def opened(mask: Mask, radius_mm: float, cell_mm: float) -> Mask:
    """What of the mask a disc of this radius can reach from inside."""
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    return cv2.morphologyEx(padded, cv2.MORPH_OPEN, disc(radius_mm, cell_mm))[1:-1, 1:-1].astype(bool)


def dilated(mask: Mask, radius_mm: float, cell_mm: float) -> Mask:
    """The mask widened by this radius."""
    return cv2.dilate(mask.astype(np.uint8), disc(radius_mm, cell_mm)).astype(bool)


def closed(mask: Mask, radius_mm: float, cell_mm: float) -> Mask:
    """The mask with slits and dents narrower than a disc of this radius filled."""
    return cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, disc(radius_mm, cell_mm)).astype(bool)


def far_from(shape: tuple[int, int], at: tuple[float, float]) -> Floats:
    """Distance [cells] of every cell to the place (column, row)."""
    y, x = np.ogrid[: shape[0], : shape[1]]
    return np.hypot(x - at[0], y - at[1]).astype(np.float32)

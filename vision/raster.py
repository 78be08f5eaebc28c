"""Masks on a grid, worked on with a round brush whose radius is told in mm."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]


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

"""8-bit sRGB and linear light (IEC 61966-2-1:1999)."""

import cv2
import numpy as np
from numpy.typing import NDArray

LINEAR = np.array([v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in np.arange(256) / 255])
"""Linear light, 0 to 1, of each 8-bit value."""

_TABLE = LINEAR.astype(np.float32)


def linear(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear light, 0 to 1, of 8-bit sRGB; any shape."""
    if pixels.ndim in (2, 3) and pixels.size:
        return np.asarray(cv2.LUT(pixels, _TABLE), np.float32).reshape(pixels.shape)
    return _TABLE[pixels]

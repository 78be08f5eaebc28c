"""Label images as bytes."""

import cv2
import numpy as np
from numpy.typing import NDArray

from api.errors import InputError


def label_raster(data: bytes) -> NDArray[np.uint8]:
    """(H, W) uint8 from a PNG; raises InputError when it is none."""
    raw = np.frombuffer(data, np.uint8)
    image = cv2.imdecode(raw, cv2.IMREAD_UNCHANGED) if raw.size else None
    if image is None or image.ndim != 2 or image.dtype != np.uint8:
        raise InputError("The label image is no 8-bit greyscale PNG: save it as one.")
    return np.asarray(image, np.uint8)

"""Label rasters turned, shifted and flipped, as second photos show them."""

import math
from collections.abc import Callable

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

Labels = NDArray[np.uint8]
Matrix = NDArray[np.float64]


def motion(
    shape: tuple[int, ...], turn_deg: float, shift_px: tuple[float, float], mirrored: bool, scale: float = 1.0
) -> Matrix:
    """(2, 3): from px of a raster to px of its copy, turned about the middle and then shifted."""
    turn, flip = math.radians(turn_deg), -1 if mirrored else 1
    c, s = scale * math.cos(turn), scale * math.sin(turn)
    linear = np.array([[c * flip, -s], [s * flip, c]])
    middle = np.array([shape[1] / 2, shape[0] / 2])
    return np.column_stack([linear, middle + shift_px - linear @ middle])


def moved(labels: Labels, matrix: Matrix) -> Labels:
    """The raster under that motion."""
    m = matrix.copy()
    m[:, 2] += m[:, :2] @ (0.5, 0.5) - 0.5  # px (x, y) has its middle half a px on
    return np.asarray(cv2.warpAffine(labels, m, labels.shape[::-1], flags=cv2.INTER_NEAREST), np.uint8)


@pytest.fixture(scope="session")
def second_photo() -> Callable[..., tuple[Labels, Matrix]]:
    """A copy of a raster, and the motion that made it; arguments as for `motion`."""

    def copy(labels: Labels, *how: object, **more: object) -> tuple[Labels, Matrix]:
        matrix = motion(labels.shape, *how, **more)  # type: ignore[arg-type]
        return moved(labels, matrix), matrix

    return copy

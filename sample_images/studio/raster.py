"""The grid of mm that all inventions are drawn on.

Notation: R, C cells (rows, columns); X, Y (R, C) mm, x to the right, y down, origin in the middle.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Labels = NDArray[np.uint8]
Point = tuple[float, float]
Rng = np.random.Generator

CELL_MM = 0.15
HALF_X_MM, HALF_Y_MM = 84.0, 72.0


def grid() -> tuple[Floats, Floats]:
    """X, Y (R, C) in mm of the cell centres."""
    x = np.arange(-HALF_X_MM, HALF_X_MM, CELL_MM, dtype=np.float32) + CELL_MM / 2
    y = np.arange(-HALF_Y_MM, HALF_Y_MM, CELL_MM, dtype=np.float32) + CELL_MM / 2
    gx, gy = np.meshgrid(x, y)
    return gx, gy


def grid_shape() -> tuple[int, int]:
    """Rows and columns of the grid."""
    return round(2 * HALF_Y_MM / CELL_MM), round(2 * HALF_X_MM / CELL_MM)


def cell_of(at: Point) -> tuple[int, int]:
    """Row and column of a place in mm."""
    return int((at[1] + HALF_Y_MM) / CELL_MM), int((at[0] + HALF_X_MM) / CELL_MM)


def cell_clip(at: Point) -> tuple[int, int]:
    """Row and column of the cell nearest to a place."""
    return row_and_column(at, grid_shape())


def row_and_column(at: Point, shape: tuple[int, ...]) -> tuple[int, int]:
    """Row and column of the cell nearest to a place, on a grid of that shape."""
    col, row = np.rint(to_cells([at], shape)[0])
    return min(max(int(row), 0), shape[0] - 1), min(max(int(col), 0), shape[1] - 1)


def to_cells(
    points: Sequence[Point] | NDArray[np.floating], shape: tuple[int, ...] | None = None
) -> NDArray[np.float32]:
    """Places (n, 2) as (column, row) of a grid of that shape, cell centres at whole numbers."""
    rows, cols = (shape or grid_shape())[:2]
    p = np.asarray(points, np.float32).reshape(-1, 2)
    x = (p[:, 0] + cols * CELL_MM / 2) / CELL_MM - 0.5
    y = (p[:, 1] + rows * CELL_MM / 2) / CELL_MM - 0.5
    return np.asarray(np.stack([x, y], 1), np.float32)


def depth_of(mask: Mask) -> Floats:
    """Signed distance in mm to the rim of a mask, positive inside."""
    inside = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    outside = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5)
    return np.asarray((inside - outside) * CELL_MM, np.float32)


def smooth(rng: Rng, shape: tuple[int, int], size_mm: float, cell_mm: float = CELL_MM) -> Floats:
    """Noise (R, C) of about unit spread whose humps are `size_mm` wide."""
    step = max(1.0, size_mm / cell_mm / 2.5)
    rows, cols = (int(np.ceil(n / step)) + 4 for n in shape)
    small = cv2.GaussianBlur(rng.standard_normal((rows, cols)).astype(np.float32), (0, 0), 1.2)
    small = small / (small.std() + 1e-6)
    size = (max(shape[1], int(cols * step)), max(shape[0], int(rows * step)))
    return np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_CUBIC)[: shape[0], : shape[1]])


def point(at: NDArray[np.floating]) -> Point:
    """A place as plain numbers."""
    return float(at[0]), float(at[1])


def bent(points: Sequence[Point], steps: int = 10) -> list[Point]:
    """A smooth line through points (Catmull-Rom)."""
    p = np.array([points[0], *points, points[-1]], float)
    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    parts = [
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True)
    ]
    return [(float(x), float(y)) for x, y in np.vstack([*parts, p[-1:]])]

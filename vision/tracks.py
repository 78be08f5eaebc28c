"""The cells that a brush covers along a line.

Notation: R, C cells (rows, columns). Points are (column, row); whole numbers are the middles of cells.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from vision.model import Point
from vision.raster import Mask

Spans = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]


def track(line: Sequence[Point], radius: float, shape: tuple[int, ...]) -> Mask:
    """Cells (R, C) whose middle lies within `radius` cells of the line.

    The brush's stamp along one segment is convex, so it meets each row in one interval: the work is a
    few operations a row, and no cell is asked for its distance.
    """
    edges = np.zeros((shape[0], shape[1] + 1), np.int32)
    for a, b in pairwise(line):
        rows, low, high = _spans(a, b, radius, shape[0])
        first = np.clip(np.ceil(low), 0, shape[1]).astype(np.int64)
        past = np.clip(np.floor(high) + 1, 0, shape[1]).astype(np.int64)
        met = past > first
        edges[rows[met], first[met]] += 1
        edges[rows[met], past[met]] -= 1
    return np.asarray(np.cumsum(edges[:, :-1], axis=1, out=edges[:, :-1]) > 0)


def _spans(a: Point, b: Point, radius: float, count: int) -> Spans:
    """Rows, and the first and last column of the stamp in each."""
    top = max(0, int(np.ceil(min(a[1], b[1]) - radius)))
    rows = np.arange(top, min(count - 1, int(np.floor(max(a[1], b[1]) + radius))) + 1)
    spans = [_disc(a, radius, rows), _disc(b, radius, rows), _strip(a, b, radius, rows)]
    return rows, np.min([s[0] for s in spans], axis=0), np.max([s[1] for s in spans], axis=0)


def _disc(at: Point, radius: float, rows: NDArray[np.int64]) -> tuple[NDArray[np.float64], ...]:
    left = radius**2 - (rows - at[1]) ** 2
    half = np.sqrt(np.maximum(left, 0))
    return np.where(left >= 0, at[0] - half, np.inf), np.where(left >= 0, at[0] + half, -np.inf)


def _strip(a: Point, b: Point, radius: float, rows: NDArray[np.int64]) -> tuple[NDArray[np.float64], ...]:
    """The rectangle beside the segment: 0 <= along <= length, -radius <= across <= radius."""
    length = float(np.hypot(b[0] - a[0], b[1] - a[1]))
    low, high = np.full(len(rows), -np.inf), np.full(len(rows), np.inf)
    if length == 0:
        return high, low
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    dy = rows - a[1]
    # Both are linear in the column: slope * dx + offset within least and most.
    for slope, offset, least, most in ((ux, dy * uy, 0.0, length), (-uy, dy * ux, -radius, radius)):
        if abs(slope) < 1e-12:
            out = (offset < least) | (offset > most)
            low, high = np.where(out, np.inf, low), np.where(out, -np.inf, high)
            continue
        ends = np.sort([(least - offset) / slope, (most - offset) / slope], axis=0)
        low, high = np.maximum(low, ends[0] + a[0]), np.minimum(high, ends[1] + a[0])
    empty = low > high
    return np.where(empty, np.inf, low), np.where(empty, -np.inf, high)

"""Where two ids meet on a grid, and what lies across: lengths, widths and chances finer than a cell.

A *side* is the side of a cell along which two ids meet. For a straight border at any angle the sides,
each taken as a vector across the border, sum to border length times border normal; so a side counts
for the length |step . normal|, with the normal from the sides round it.

Notation: R, C cells (rows, columns); n sides; m samples across. Places are (x, y) in cells, whole
numbers are cell centres.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.raster import Floats, Mask

Doubles = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUND_MM = 1.4
"""How far round a side its fellows tell the normal, with weights that fall to 0 (Epanechnikov 1969).
Measured on straight borders at any angle and circles of 3 to 9 mm: lengths within 1.6 %."""
BEYOND_MM = 1.3
"""So far into the dough on both sides a slit is measured (estimated: chances blur by some 0.4 mm)."""
CORE_MM = 0.5
"""So far beyond the seen sides of a slit the least chance on the way across is looked for (estimated)."""
PASS_MM = 0.4
"""A way that is not so wide on both sides is none (estimated: half the least neck that carries current)."""
SAMPLES = 61
FULL, FALL = 0.97, 0.06
"""Going outwards the dough is reached at this chance, or left again where the chance falls by so much."""


@dataclass(frozen=True)
class Sides:
    """Sides of cells between two ids.

    pair   (n, 2) the two ids, lower first; own (n,) counts the pairs from 0
    at     (n, 2) middle of the side
    step   (n, 2) unit vector along x or y from the first id to the second
    cells  (n, 2) flat index of the cell of the first id, and of the second
    """

    pair: Ints
    own: Ints
    at: Doubles
    step: Doubles
    cells: Ints

    def where(self, kept: Mask) -> "Sides":
        """Some of the sides."""
        return Sides(self.pair[kept], self.own[kept], self.at[kept], self.step[kept], self.cells[kept])


@dataclass(frozen=True)
class Across:
    """What lies across each side, along the normal.

    normal   (n, 2) from the first id to the second
    length   (n,) of the border, in cells
    width    (n,) of what does not conduct, in cells
    least    (n,) least chance of conductive dough on the way
    facing   (n,) whether the normal leads to dough on both sides
    passable (n,) least of `least` within PASS_MM along the border
    """

    normal: Doubles
    length: Doubles
    width: Doubles
    least: Doubles
    facing: Mask
    passable: Doubles


def sides_of(ids: NDArray[np.int32]) -> Sides:
    """All sides between unlike ids above 0, (R, C)."""
    flat = np.arange(ids.size, dtype=np.int64).reshape(ids.shape)
    found = []
    for down, right in ((0, 1), (1, 0)):
        here = (slice(0, ids.shape[0] - down), slice(0, ids.shape[1] - right))
        there = (slice(down, None), slice(right, None))
        a, b = ids[here], ids[there]
        rows, cols = np.nonzero((a != b) & (a > 0) & (b > 0))
        first, second = a[rows, cols], b[rows, cols]
        turned = first > second
        cells = np.stack([flat[here][rows, cols], flat[there][rows, cols]], axis=1)
        cells[turned] = cells[turned][:, ::-1]
        step = np.where(turned, -1.0, 1.0)[:, None] * np.array([[right, down]], float)
        at = np.stack([cols + right / 2, rows + down / 2], axis=1)
        pair = np.stack([np.minimum(first, second), np.maximum(first, second)], axis=1)
        found.append((pair, at, step, cells))
    pair, at, step, cells = (np.concatenate(part) for part in zip(*found, strict=True))
    _, own = np.unique(pair[:, 0].astype(np.int64) << 32 | pair[:, 1], return_inverse=True)
    return Sides(pair.astype(np.int64), own.astype(np.int64).ravel(), at, step, cells)


def fellows(sides: Sides, reach: float) -> tuple[Ints, Doubles]:
    """Pairs (k, 2) of sides of the same two ids within `reach` cells, both ways, with weights (k,)."""
    tree = cKDTree(np.column_stack([sides.at, sides.own * (4 * reach + 4)]))
    near = np.asarray(tree.query_pairs(reach, output_type="ndarray"), np.int64).reshape(-1, 2)
    alone = np.repeat(np.arange(len(sides.at))[:, None], 2, axis=1)
    weight = 1 - ((sides.at[near[:, 0]] - sides.at[near[:, 1]]) ** 2).sum(axis=1) / reach**2
    both = np.concatenate([near, near[:, ::-1], alone])
    return both, np.concatenate([weight, weight, np.ones(len(alone))])


def normals_of(sides: Sides, reach: float) -> tuple[Doubles, Doubles]:
    """Unit normals (n, 2) from first to second id, and the length of border of each side (n,) in cells."""
    near, weight = fellows(sides, reach)
    steps = sides.step[near[:, 1]] * weight[:, None]
    total = np.stack([np.bincount(near[:, 0], steps[:, k], len(sides.at)) for k in (0, 1)], axis=1)
    size = np.hypot(total[:, 0], total[:, 1])
    normal = np.where(size[:, None] > 0.5, total / np.maximum(size, 1e-9)[:, None], sides.step)
    return normal, np.asarray((normal * sides.step).sum(axis=1))


def across(sides: Sides, chance: Floats, apart: Doubles, cell_mm: float) -> Across:
    """What lies across each side; `apart` (n,) [cells] is how far the dough is apart on the grid."""
    normal, length = normals_of(sides, ROUND_MM / cell_mm)
    width, least, facing = through(sides.at, normal, apart, chance, cell_mm)
    near, _ = fellows(sides, PASS_MM / cell_mm)
    passable = least.copy()
    np.minimum.at(passable, near[:, 0], least[near[:, 1]])
    return Across(normal, length, width, least, facing, passable)


def through(
    at: Doubles, normal: Doubles, apart: Doubles, chance: Floats, cell_mm: float
) -> tuple[Doubles, Doubles, Mask]:
    """Width, least chance and facing (see `Across`) at places (n, 2) along normals (n, 2)."""
    half = apart / 2 + BEYOND_MM / cell_mm
    s = half[:, None] * np.linspace(-1, 1, SAMPLES)
    found = sampled(chance, at[:, :1] + s * normal[:, :1], at[:, 1:] + s * normal[:, 1:])
    inner = np.abs(s) <= (apart / 2 + CORE_MM / cell_mm)[:, None]
    least = np.where(inner, found, 1).min(axis=1)
    outside = [np.where(sign * s > apart[:, None] / 2, found, 0) for sign in (-1, 1)]
    facing = np.all([part.max(axis=1) > 0.5 for part in outside], axis=0)
    middle = SAMPLES // 2
    empty = 1 - found
    empty[:, middle:] *= ~_beyond(found[:, middle:])
    empty[:, : middle + 1] *= ~_beyond(found[:, middle::-1])[:, ::-1]
    width = empty.sum(axis=1) * half * 2 / (SAMPLES - 1)
    return width, least.astype(float), np.asarray(facing)


def _beyond(found: Doubles) -> Mask:
    """Samples (n, k) past the place where, going outwards, the dough is reached or left again."""
    most = np.maximum.accumulate(found, axis=1)
    over = (most >= FULL) | ((most > 0.5) & (found < most - FALL))
    return np.asarray(np.logical_or.accumulate(over, axis=1))


def sampled(values: Floats, x: Doubles, y: Doubles) -> Doubles:
    """Values (R, C) at places (n, m), bilinear; beyond the grid its rim goes on."""
    most = 30_000  # OpenCV takes no more rows at a time
    parts = [
        cv2.remap(
            values,
            x[i : i + most].astype(np.float32),
            y[i : i + most].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for i in range(0, len(x), most)
    ]
    return np.concatenate(parts).astype(float) if parts else np.zeros(x.shape)


def territories(mask: Mask) -> tuple[Ints, Floats]:
    """The flat index of the nearest cell of the mask for each cell (R, C), and how far it is [cells]."""
    if not mask.any():
        return np.zeros(mask.shape, np.int64), np.full(mask.shape, np.inf, np.float32)
    # A rim keeps OpenCV's 5 x 5 chamfer distance (Borgefors 1986) right at the border.
    far, number = cv2.distanceTransformWithLabels(
        (~mask).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    of_number = np.zeros(int(number.max()) + 1, np.int64)
    flat = np.flatnonzero(mask)
    of_number[number.ravel()[flat]] = flat
    return of_number[number], np.asarray(far, np.float32)

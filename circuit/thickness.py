"""How high dough is, guessed from its outline.

Dough for a sculpture is rolled by hand and laid down: a roll is about as high as it is wide and has a
round section, and a wide lump is pressed flat with a rounded rim. So the outline alone tells the height,
roughly. How wide the dough is somewhere is the widest disc inside the outline that covers the place
(local thickness: T. Hildebrand and P. Rueegsegger, J. Microsc. 185 (1997) 67, from memory).

Notation: R, C grid cells (rows, columns).
"""

from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from circuit.model import Sculpture

MOST_MM = 20.0
"""Height of dough pressed flat, and so of the thickest roll that keeps its shape. Estimated."""
COARSE_MM = 1.0
"""How finely the widths are looked up. A width changes slowly along a roll."""


def estimated_heights(sculpture: Sculpture) -> NDArray[np.float32]:
    """Heights (R, C) [mm] of all dough of a sculpture, NaN on the table.

    Dough that touches counts as one body, whatever it is made of: pieces that are pressed together have no
    rim where they meet, and a wall stands as high as the lumps that it parts. Only the open outline is round.
    """
    dough = sculpture.grid > 0
    height = height_from_shape(dough, sculpture.cell_mm)
    height[~dough] = np.nan
    return height


def height_from_shape(
    mask: NDArray[np.bool_], cell_mm: float, most_mm: float = MOST_MM
) -> NDArray[np.float32]:
    """Heights (R, C) [mm] of dough with this outline (R, C), 0 outside.

    Where the dough is w wide, w up to `most_mm`, its section is a circle of diameter w. Where it is wider it
    is `most_mm` high, with a rim rounded like that of a roll of that width.
    """
    height = np.zeros(mask.shape, np.float32)
    found = ndimage.find_objects(mask.astype(np.int8))
    if not found:
        return height
    inside = np.pad(mask[found[0]], 1)
    # The outline runs half a cell from the middle of the last cell.
    steps = ndimage.distance_transform_edt(inside)[1:-1, 1:-1]
    depth = np.maximum((steps - 0.5) * cell_mm, 0).astype(np.float32)
    radius = np.minimum(_half_width(depth, cell_mm, most_mm / 2), most_mm / 2)
    deep = np.minimum(depth, radius)
    height[found[0]] = 2 * np.sqrt(deep * (2 * radius - deep))
    return height


def _half_width(depth: NDArray[np.float32], cell_mm: float, most_mm: float) -> NDArray[np.float32]:
    """Radius (R, C) [mm] of the widest disc inside that covers each cell, as far as `most_mm`."""
    step = max(1, round(COARSE_MM / cell_mm))
    side_mm = step * cell_mm
    coarse = np.minimum(_most_of_each(depth, step), most_mm)
    # Of all middles of cells the deepest lies a quarter of a cell from the axis, on the whole, and a disc's
    # middle may stand anywhere in its coarse cell.
    coarse += cell_mm / 4
    slack_mm = side_mm / 2
    reach = int((most_mm + slack_mm) / side_mm)
    rows, cols = coarse.shape
    around = np.pad(coarse, reach)
    widest = coarse.copy()
    for dr, dc in product(range(-reach, reach + 1), repeat=2):
        away = np.hypot(dr, dc) * side_mm - slack_mm
        if away < most_mm:
            disc = around[reach + dr : reach + dr + rows, reach + dc : reach + dc + cols]
            np.maximum(widest, disc, out=widest, where=disc > away)
    fine = np.repeat(np.repeat(widest, step, axis=0), step, axis=1)
    return np.asarray(np.maximum(fine[: depth.shape[0], : depth.shape[1]], depth))


def _most_of_each(values: NDArray[np.float32], step: int) -> NDArray[np.float32]:
    """The greatest value of each coarse cell of step x step cells."""
    rows, cols = (-(-n // step) for n in values.shape)
    whole = np.zeros((rows * step, cols * step), np.float32)
    whole[: values.shape[0], : values.shape[1]] = values
    return np.asarray(whole.reshape(rows, step, cols, step).max(axis=(1, 3)))

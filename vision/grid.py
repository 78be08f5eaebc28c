"""Piece ids on a grid, together with the ground that they were cut from.

Notation: R, C cells (rows, columns).
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from vision.model import TableView
from vision.pieces import Ground, Ids
from vision.raster import Floats, Mask


@dataclass(frozen=True)
class Grid:
    """Piece ids (R, C), the ground they were cut from, and the size of a cell."""

    ids: Ids
    ground: Ground
    cell_mm: float
    view: TableView

    def px(self, row: float, col: float) -> tuple[float, float]:
        """The middle of a cell as a photo point."""
        return self.view.to_px(((col + 0.5) * self.cell_mm, (row + 0.5) * self.cell_mm))


def cropped(grid: Grid, margin_mm: float) -> Grid:
    """The part of a grid that holds pieces, with a margin; seams are left out."""
    some = (grid.ids > 0).view(np.uint8)
    left, top, width, height = cv2.boundingRect(some)
    margin = int(np.ceil(margin_mm / grid.cell_mm))
    rows = slice(max(0, top - margin), top + height + margin)
    cols = slice(max(0, left - margin), left + width + margin)
    ground, view = grid.ground, grid.view
    part = Ground(
        ground.labels[rows, cols],
        ground.body[rows, cols],
        ground.hidden[rows, cols],
        ground.guessed[rows, cols],
        np.zeros((0, 4), np.int64),
        None if ground.cut is None else ground.cut[rows, cols],
        None if ground.chance is None else ground.chance[rows, cols],
    )
    corner = view.to_px((cols.start * grid.cell_mm, rows.start * grid.cell_mm))
    return Grid(grid.ids[rows, cols], part, grid.cell_mm, replace(view, origin_px=corner))


def agreeing(ground: Ground, conductive: Mask) -> Floats:
    """Chances (R, C) of conductive dough, certain where labels were corrected."""
    if ground.chance is None:
        return conductive.astype(np.float32)
    wrong = (ground.chance > 0.5) != conductive
    return np.where(wrong, conductive.astype(np.float32), ground.chance)

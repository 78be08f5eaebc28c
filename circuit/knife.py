"""Cuts as a hand makes them: straight, a knife's width, right down to the table."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from scipy import ndimage

from circuit.board import adjacent, touch
from circuit.lumps import find_lumps, is_conductive
from circuit.model import Point, Sculpture

KNIFE_MM = 1.0
BEYOND_MM = 1.5
"""A cut goes a little further than its ends (estimated)."""


def cut_along(sculpture: Sculpture, lines: Iterable[tuple[Point, Point]]) -> Sculpture:
    """The sculpture with its conductive dough cut along these lines; what hangs on goes on as it did."""
    grid, gone = sculpture.grid.copy(), np.zeros(sculpture.grid.shape, bool)
    for line in lines:
        gone |= _under(sculpture, line)
    conductive = [piece for piece in sculpture.dough_of if is_conductive(sculpture, piece)]
    gone &= np.isin(grid, conductive)
    cut = [int(piece) for piece in np.unique(grid[gone])]
    grid[gone] = 0
    lump_of = {piece: lump.id for lump in find_lumps(sculpture) for piece in lump.pieces}
    dough_of = dict(sculpture.dough_of)
    was = {piece: piece for piece in dough_of}
    for piece in cut:
        parts, count = ndimage.label(grid == piece)
        for number in range(2, count + 1):
            fresh = max(dough_of) + 1
            grid[parts == number] = fresh
            dough_of[fresh], was[fresh] = dough_of[piece], piece
    kept = [joint for joint in sculpture.joints if not set(joint.between) & set(cut)]
    fresh_joints = [
        touch(pair)
        for pair in adjacent(grid)
        if {was[pair[0]], was[pair[1]]} & set(cut)
        and lump_of.get(was[pair[0]], "") == lump_of.get(was[pair[1]])
    ]
    entries = {
        name: replace(entry, piece=_piece(grid, sculpture.cell_mm, entry.at)) if entry.piece in cut else entry
        for name, entry in sculpture.entries.items()
    }
    return replace(sculpture, grid=grid, dough_of=dough_of, joints=(*kept, *fresh_joints), entries=entries)


def _under(sculpture: Sculpture, line: tuple[Point, Point]) -> np.ndarray:
    """(R, C) cells under the knife."""
    (x0, y0), (x1, y1) = line
    long = max(float(np.hypot(x1 - x0, y1 - y0)), 1e-6)
    way = ((x1 - x0) / long, (y1 - y0) / long)
    rows, cols = np.indices(sculpture.grid.shape)
    x, y = (cols + 0.5) * sculpture.cell_mm - x0, (rows + 0.5) * sculpture.cell_mm - y0
    along, aside = x * way[0] + y * way[1], np.abs(y * way[0] - x * way[1])
    inside = (along >= -BEYOND_MM) & (along <= long + BEYOND_MM)
    return np.asarray(inside & (aside <= max(KNIFE_MM, sculpture.cell_mm) / 2))


def _piece(grid: np.ndarray, cell_mm: float, at: Point) -> int | None:
    """What an entry stands in; one that the knife meets hangs free."""
    return int(grid[int(at[1] / cell_mm), int(at[0] / cell_mm)]) or None

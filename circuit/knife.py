"""Cuts as a hand makes them: straight or along a line, a knife's width, right down to the table."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from scipy import ndimage

from circuit.board import adjacent, touch
from circuit.lumps import find_lumps, is_conductive
from circuit.model import Point, Sculpture

KNIFE_MM = 1.0
BEYOND_MM = 1.5
"""A cut goes a little further than its ends (estimated)."""


def cut_along(sculpture: Sculpture, lines: Iterable[Sequence[Point]]) -> Sculpture:
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


def _under(sculpture: Sculpture, line: Sequence[Point]) -> np.ndarray:
    """(R, C) cells under the knife."""
    h = sculpture.cell_mm
    half = max(KNIFE_MM, h) / 2
    under = np.zeros(sculpture.grid.shape, bool)
    for start, end in pairwise(_longer(line)):
        # Only cells near this stretch are asked: a line drawn by a finger has many short ones.
        first = np.maximum(np.floor((np.minimum(start, end) - half) / h), 0).astype(int)
        past = np.minimum(np.ceil((np.maximum(start, end) + half) / h), under.shape[::-1]).astype(int)
        x = (np.arange(first[0], past[0])[None, :] + 0.5) * h - start[0]
        y = (np.arange(first[1], past[1])[:, None] + 0.5) * h - start[1]
        way = np.subtract(end, start)
        share = np.clip((x * way[0] + y * way[1]) / max(float(way @ way), 1e-12), 0.0, 1.0)
        near = np.hypot(x - share * way[0], y - share * way[1]) <= half
        under[first[1] : past[1], first[0] : past[0]] |= near
    return under


def _longer(line: Sequence[Point]) -> list[Point]:
    """The line with both its ends a little further out; the tip of the knife is round."""
    more = BEYOND_MM - KNIFE_MM / 2
    return [_further(line[1], line[0], more), *line[1:-1], _further(line[-2], line[-1], more)]


def _further(start: Point, end: Point, more_mm: float) -> Point:
    """The end of a stretch, moved on along it."""
    x, y = end[0] - start[0], end[1] - start[1]
    share = more_mm / max(float(np.hypot(x, y)), 1e-6)
    return end[0] + x * share, end[1] + y * share


def _piece(grid: np.ndarray, cell_mm: float, at: Point) -> int | None:
    """What an entry stands in; one that the knife meets hangs free."""
    return int(grid[int(at[1] / cell_mm), int(at[0] / cell_mm)]) or None

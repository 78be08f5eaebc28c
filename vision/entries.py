"""Which piece each leg and each lead goes into.

Notation: R, C cells (rows, columns); B bodies.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.grid import Grid, agreeing
from vision.model import Entry, Mark, Piece, Point
from vision.raster import Mask

LEG_MM, WIDER_MM, SHARE = 1.1, 2.2, 0.25
LEAD_MM = 3.0
"""How far a tap may be off, and how much of the dough there must be conductive (measured)."""
FOOT_MM, OUTWARD_MM = 1.6, 0.6
"""Where chances are known: how far round the foot they count, and how far the foot is beyond the tap."""
FOOT_SEEN, FOOT_HIDDEN, FOOT_SURE, OTHER_SHARE = 0.35, 0.22, 0.7, 0.3
"""Mean chance from which a leg is in dough, in plain view and under an LED (few miss it), and from which that
is sure, unless another body has such a share of it. Measured on 1234 legs in 240 rendered scenes."""
LEG_HALF_MM = 0.45
HIDDEN_SHARE = 0.35
LEAST_CELLS = 12
"""A disc of fewer cells says less than the tapped cell alone."""


def find_entries(grid: Grid, pieces: tuple[Piece, ...], marks: Sequence[Mark]) -> Mapping[str, Entry]:
    """Every mark with its piece: legs by the dough round the tap, leads by the nearest conductive dough."""
    roles = {piece.id: piece.role for piece in pieces}
    conducts = np.zeros(int(grid.ids.max(initial=0)) + 1, bool)
    conducts[[i for i, role in roles.items() if role == "conductive"]] = True
    return {mark.name: _entry(grid, conducts, mark) for mark in marks}


def _entry(whole: Grid, conducts: NDArray[np.bool_], mark: Mark) -> Entry:
    grid = _window(whole, mark)
    away, conductive = _away(grid, mark), conducts[grid.ids]
    if grid.ground.chance is not None:
        return _likely_entry(whole, grid, conducts, mark)
    if mark.kind == "lead":
        found = _nearest(grid, conductive, away, LEAD_MM)
    else:
        found = _by_share(grid, conductive, away, mark)
    if found is None:
        found = _insulating(grid, conductive, away)
    return _missed(whole, conducts, mark) if found is None else _hit(grid, mark, found, away)


def _hit(grid: Grid, mark: Mark, piece: int, away: NDArray[np.float64], sure: bool = True) -> Entry:
    here = np.where(grid.ids == piece, away, np.inf)
    return Entry(mark.name, _at(grid, here), piece, None, 0.0, sure)


def _missed(whole: Grid, conducts: NDArray[np.bool_], mark: Mark, sure: bool = True) -> Entry:
    away = _away(whole, mark)
    near = _nearest(whole, conducts[whole.ids], away, np.inf)
    off = float(np.where(whole.ids == near, away, np.inf).min()) if near else 0.0
    return Entry(mark.name, mark.at, None, near, off, sure)


def _likely_entry(whole: Grid, grid: Grid, conducts: NDArray[np.bool_], mark: Mark) -> Entry:
    """The entry of a mark on a ground with chances: the likeliest body round the foot."""
    conductive, away = conducts[grid.ids], _away(grid, mark)
    foot = _away(grid, replace(mark, at=_outward(grid, mark)))
    weight = np.maximum(0, 1 - (foot / FOOT_MM) ** 2)
    chance = agreeing(grid.ground, conductive)
    share = float((weight * chance).sum() / max(float(weight.sum()), 1e-9))
    hidden = float((weight * grid.ground.hidden).sum() / max(float(weight.sum()), 1e-9))
    least = FOOT_SEEN + (FOOT_HIDDEN - FOOT_SEEN) * min(1.0, 2 * hidden)
    bodies = np.bincount(grid.ground.body[conductive], (weight * chance)[conductive])
    if len(bodies) and bodies.max() > 0 and share > least:
        best = int(np.argmax(bodies))
        rest = float(bodies.sum() - bodies[best])
        sure = share > FOOT_SURE and rest < OTHER_SHARE * bodies[best]
        piece = _nearest(grid, conductive & (grid.ground.body == best), away, np.inf)
        if piece is not None:
            return _hit(grid, mark, piece, away, sure)
    if mark.kind == "lead":
        piece = _nearest(grid, conductive, away, LEAD_MM)
        if piece is not None:
            return _hit(grid, mark, piece, away, False)
    sure = share < 1 - FOOT_SURE
    piece = _insulating(grid, conductive, foot)
    return _missed(whole, conducts, mark, sure) if piece is None else _hit(grid, mark, piece, away, sure)


def _outward(grid: Grid, mark: Mark) -> Point:
    """Where the foot of a leg is likeliest: legs are bent outwards, and the tap hits what shows of them."""
    if mark.partner is None:
        return mark.at
    (ax, ay), (bx, by) = (grid.view.to_mm(p) for p in (mark.at, mark.partner))
    step = OUTWARD_MM / max(float(np.hypot(ax - bx, ay - by)), 1e-6)
    return grid.view.to_px((ax + (ax - bx) * step, ay + (ay - by) * step))


def _window(grid: Grid, mark: Mark) -> Grid:
    """The cells that can matter to this mark; the cell nearest to it at least."""
    reach = int(np.ceil(max(LEAD_MM, WIDER_MM) / grid.cell_mm)) + 2
    boxes = []
    for at, size in zip(grid.view.to_mm(mark.at), grid.ids.shape[::-1], strict=True):
        middle = int(np.clip(at / grid.cell_mm, 0, size - 1))
        boxes.append(slice(max(0, middle - reach), middle + reach + 1))
    cols, rows = boxes
    corner = grid.view.to_px((cols.start * grid.cell_mm, rows.start * grid.cell_mm))
    ground = grid.ground
    chance = None if ground.chance is None else ground.chance[rows, cols]
    part = replace(ground, body=ground.body[rows, cols], hidden=ground.hidden[rows, cols], chance=chance)
    return Grid(grid.ids[rows, cols], part, grid.cell_mm, replace(grid.view, origin_px=corner))


def _away(grid: Grid, mark: Mark) -> NDArray[np.float64]:
    """Distance of every cell to the tap in mm."""
    x, y = (v / grid.cell_mm - 0.5 for v in grid.view.to_mm(mark.at))
    rows, cols = np.ogrid[: grid.ids.shape[0], : grid.ids.shape[1]]
    return np.asarray(np.hypot(rows - y, cols - x) * grid.cell_mm)


def _at(grid: Grid, away: NDArray[np.float64]) -> tuple[float, float]:
    row, col = np.unravel_index(int(np.argmin(away)), away.shape)
    return grid.px(float(row), float(col))


def _nearest(grid: Grid, mask: Mask, away: NDArray[np.float64], within_mm: float) -> int | None:
    """The piece in the mask nearest to the tap."""
    d = np.where(mask, away, np.inf)
    best = int(np.argmin(d))
    value = float(d.ravel()[best])
    return int(grid.ids.ravel()[best]) if np.isfinite(value) and value <= within_mm else None


def _by_share(grid: Grid, conductive: Mask, away: NDArray[np.float64], mark: Mark) -> int | None:
    """The commonest body round a leg, if conductive dough is more than a quarter of what is seen there."""
    disc = away <= LEG_MM
    if disc.sum() < LEAST_CELLS:
        return _nearest(grid, conductive, away, grid.cell_mm * 0.75)
    usable = disc & ~grid.ground.hidden & ~_leg(grid, mark)
    if usable.sum() < disc.sum() / 4:
        disc = away <= WIDER_MM
        usable = disc & ~grid.ground.hidden & ~_leg(grid, mark)
    if not usable.any():
        usable = away <= LEG_MM
    inside = usable & conductive
    if inside.sum() <= SHARE * usable.sum():
        # Beside a bright LED the light hides the rim of the dough.
        wide = away <= WIDER_MM
        lit = grid.ground.hidden[wide].mean() > HIDDEN_SHARE
        return _nearest(grid, conductive, away, WIDER_MM) if lit else None
    bodies = np.bincount(grid.ground.body[inside])
    best = int(np.argmax(bodies))
    return _nearest(grid, conductive & (grid.ground.body == best), away, np.inf)


def _leg(grid: Grid, mark: Mark) -> Mask:
    """Cells hidden by the leg itself, from the tap towards the other leg."""
    if mark.partner is None:
        return np.zeros(grid.ids.shape, bool)
    (ax, ay), (bx, by) = (grid.view.to_mm(p) for p in (mark.at, mark.partner))
    length = max(float(np.hypot(bx - ax, by - ay)), 1e-6)
    ux, uy = (bx - ax) / length, (by - ay) / length
    rows, cols = np.ogrid[: grid.ids.shape[0], : grid.ids.shape[1]]
    dx, dy = (cols + 0.5) * grid.cell_mm - ax, (rows + 0.5) * grid.cell_mm - ay
    along, across = dx * ux + dy * uy, dy * ux - dx * uy
    return np.asarray((along >= 0) & (along <= length / 2) & (np.abs(across) <= LEG_HALF_MM))


def _insulating(grid: Grid, conductive: Mask, away: NDArray[np.float64]) -> int | None:
    """The insulating piece that fills most of the disc round the tap."""
    disc = away <= max(LEG_MM, grid.cell_mm * 0.75)
    ids = grid.ids[disc & ~conductive]
    ids = ids[ids > 0]
    if len(ids) * 2 <= disc.sum():
        return None
    return int(np.argmax(np.bincount(ids)))

"""Contacts of a ground with chances: touching, doubtful or gap, with the chance of a touch.

Notation: R, C cells (rows, columns); n sides of cells, see `slits`.
"""

import numpy as np
from numpy.typing import NDArray

from vision.grid import Grid, agreeing, cropped
from vision.model import Contact, ContactKind, Piece
from vision.pieces import Ids
from vision.raster import Floats, Mask, dilated
from vision.slits import (
    ROUND_MM,
    Across,
    Doubles,
    Ints,
    Sides,
    across,
    normals_of,
    sampled,
    sides_of,
    territories,
)

NEAR_MM = 6.0
"""Gaps wider than this are no contacts (estimated: what a pinch of dough can bridge)."""
SURE_GAP, SURE_TOUCH = 0.03, 0.98
"""Least chance of dough on the best way across: below the first a gap is sure, above the second a touch,
as long as no LED hides it."""
TOUCH_AT_HALF, TOUCH_SLOPE = -0.53, 0.53
"""Log odds of a touch from those of the best way across: the best of many chances flatters. Fitted to 479
pairs of bodies in 240 rendered scenes that the network had not learnt from."""
HAIRLINE, HAIRLINE_AT_HALF, HAIRLINE_SHARE, HAIRLINE_REACH_MM = 0.985, -1.1, 0.6, 0.6
"""Between two colours pressed together the dough is surer than the first along two fifths of the border at
least; at a chance of 0.89 a gap is as likely as a touch. From painted slabs: a gap of 0.6 mm takes 0.02, one
of 1 mm 0.16, none 0.001."""
BESIDE_MM = 0.7
"""What is so near to an LED is too narrow for a sure neck."""


def likely_contacts(grid: Grid, of: dict[int, Piece]) -> tuple[Contact, ...]:
    """All contacts of a ground with chances."""
    grid = cropped(grid, NEAR_MM / 2 + BESIDE_MM)
    conducts = _conducts(of)
    body = _body_of(grid, len(conducts))
    touching = _touching(grid, conducts, body)
    slits = _slits(grid, conducts, body)
    return tuple(sorted((*touching, *slits), key=lambda c: c.between))


def _conducts(of: dict[int, Piece]) -> NDArray[np.bool_]:
    """Whether each id of a piece conducts, from 0."""
    out = np.zeros(max(of, default=0) + 1, bool)
    out[[i for i, piece in of.items() if piece.role == "conductive"]] = True
    return out


def _body_of(grid: Grid, count: int) -> Ids:
    """The body of each id of a piece (count,)."""
    out = np.zeros(count, np.int32)
    out[grid.ids.ravel()] = grid.ground.body.ravel()
    return out


def _touching(grid: Grid, conducts: NDArray[np.bool_], body: Ids) -> list[Contact]:
    """Pieces that share a border, but for conductive ones of two bodies."""
    sides = sides_of(grid.ids)
    a, b = sides.pair[:, 0], sides.pair[:, 1]
    sides = sides.where(~(conducts[a] & conducts[b] & (body[a] != body[b])))
    if not len(sides.at):
        return []
    _, length = normals_of(sides, ROUND_MM / grid.cell_mm)
    chance = agreeing(grid.ground, conducts[grid.ids])
    out = []
    for mine in _by_pair(sides):
        col, row = _nearest_to_mean(sides.at[mine])
        first, second = (int(i) for i in sides.pair[mine[0]])
        mm = float(length[mine].sum()) * grid.cell_mm
        at = grid.px(row, col)
        kind: ContactKind = "touching"
        likely, told = True, 1.0
        if conducts[first] and conducts[second]:
            kind, likely, told = _hairline(sides, mine, chance, grid)
        out.append(Contact((first, second), kind, 0.0, mm, at, likely, told))
    return out


def _hairline(sides: Sides, mine: Ints, chance: Floats, grid: Grid) -> tuple[ContactKind, bool, float]:
    """Kind, likely side and confidence of two conductive colours whose border may hide a hairline gap."""
    some = np.zeros(len(sides.at), bool)
    some[mine] = True
    border = sides.where(some)
    seen = ~grid.ground.hidden.ravel()[border.cells].any(axis=1)
    if seen.mean() < 0.5:  # what lies under an LED is told by what is seen beside it
        return "touching", True, 1.0
    normal, _ = normals_of(border, ROUND_MM / grid.cell_mm)
    way = np.linspace(-1, 1, 11)[None] * HAIRLINE_REACH_MM / grid.cell_mm
    x, y = (border.at[seen, k : k + 1] + way * normal[seen, k : k + 1] for k in (0, 1))
    # Place by place along the way, so that the noise of single cells does not count.
    least = float(np.quantile(sampled(chance, x, y), HAIRLINE_SHARE, axis=0).min())
    if least >= HAIRLINE:
        return "touching", True, 1.0
    odds = TOUCH_SLOPE * np.log(max(least, 1e-3) / max(1 - least, 1e-3)) + HAIRLINE_AT_HALF
    return "doubtful", bool(odds > 0), float(1 / (1 + np.exp(-abs(odds))))


def _by_pair(sides: Sides) -> list[Ints]:
    """The indices of the sides of each pair."""
    order = np.argsort(sides.own, kind="stable")
    cuts = np.flatnonzero(np.diff(sides.own[order])) + 1
    return [part for part in np.split(order, cuts) if len(part)]


def _nearest_to_mean(at: Doubles) -> tuple[float, float]:
    """The place (column, row) nearest to the middle of these."""
    best = int(np.argmin(((at - at.mean(axis=0)) ** 2).sum(axis=1)))
    return float(at[best, 0]), float(at[best, 1])


def _slits(grid: Grid, conducts: NDArray[np.bool_], body: Ids) -> list[Contact]:
    """Conductive pieces of two bodies that are at most 6 mm apart, with no sure wall between."""
    conductive = conducts[grid.ids]
    chance = agreeing(grid.ground, conductive)
    source, far = territories(conductive)
    near = far * grid.cell_mm <= NEAR_MM / 2 + grid.cell_mm
    ids = np.where(near, grid.ids.ravel()[source], 0).astype(np.int32)
    sides = sides_of(ids)
    apart = far.ravel()[sides.cells].sum(axis=1).astype(float)
    kept = (body[sides.pair[:, 0]] != body[sides.pair[:, 1]]) & (apart * grid.cell_mm <= NEAR_MM)
    sides, apart = sides.where(kept), apart[kept]
    if not len(sides.at):
        return []
    found = across(sides, chance, apart, grid.cell_mm)
    walled = _walled(grid, conducts, sides, found, apart)
    least, odds = found.least, _odds(found.passable)
    hidden = _hidden_share(grid, sides, found)
    if grid.ground.cut is not None:
        cols, rows = np.rint(sides.at).astype(int).T
        told = grid.ground.cut[rows, cols]
        least, odds = np.where(told, 0, least), np.where(told, -np.inf, odds)
    out = []
    for mine in _by_pair(sides):
        contact = _slit(grid, sides, found, mine, least[mine], odds[mine], walled[mine], hidden[mine])
        if contact is not None:
            out.append(contact)
    return out


def _odds(passable: Doubles) -> Doubles:
    """Log odds (n,) of a touch, from the least chance of dough on each way."""
    p = np.clip(passable, 3e-3, 1 - 3e-3)
    return np.asarray(TOUCH_AT_HALF + TOUCH_SLOPE * np.log(p / (1 - p)))


def _hidden_share(grid: Grid, sides: Sides, found: Across) -> Doubles:
    """How much of half a millimetre on both sides is under an LED or so near that it hides a neck, (n,)."""
    hidden = dilated(grid.ground.hidden, BESIDE_MM, grid.cell_mm).astype(np.float32)
    s = np.linspace(-0.5, 0.5, 5)[None] / grid.cell_mm
    x, y = (sides.at[:, k : k + 1] + s * found.normal[:, k : k + 1] for k in (0, 1))
    return np.asarray(sampled(hidden, x, y).mean(axis=1))


def _walled(grid: Grid, conducts: NDArray[np.bool_], sides: Sides, found: Across, apart: Doubles) -> Mask:
    """Whether insulating dough lies between, (n,)."""
    wall = ((grid.ids > 0) & ~conducts[grid.ids]).astype(np.float32)
    s = np.linspace(-0.5, 0.5, 13) * apart[:, None]
    x, y = (sides.at[:, k : k + 1] + s * found.normal[:, k : k + 1] for k in (0, 1))
    return np.asarray(sampled(wall, x, y).max(axis=1) > 0.5)


def _slit(
    grid: Grid,
    sides: Sides,
    found: Across,
    mine: Ints,
    least: Doubles,
    odds: Doubles,
    walled: Mask,
    hidden: Doubles,
) -> Contact | None:
    """One contact across a slit, a neck or a doubtful wall; None where a wall surely parts the two."""
    a, b = (int(i) for i in sides.pair[mine[0]])
    width, length = found.width[mine], found.length[mine] * grid.cell_mm
    best = int(np.argmax(odds - hidden))  # of two ways the one that is seen
    chance, covered = float(1 / (1 + np.exp(-odds[best]))), float(hidden[best])
    open_ = least > 0.5
    kind: ContactKind = "gap" if least.max() <= SURE_GAP else "doubtful"
    if found.passable[mine[best]] >= SURE_TOUCH and np.isfinite(odds[best]) and covered < 0.5:
        kind = "touching"
    if kind == "gap":
        shut = walled | ~found.facing[mine]
        if shut.all():
            return None
        width = np.where(shut, np.inf, width)
        best = int(np.argmin(width))
    gap_mm = float(width[best]) * grid.cell_mm
    if gap_mm > NEAR_MM:
        return None
    meets = kind != "gap" and bool(open_.any())
    along = open_ if meets else width <= width[best] + 1 / grid.cell_mm
    col, row = _nearest_to_mean(sides.at[mine][open_]) if meets else sides.at[mine[best]]
    likely = chance > 0.5 and meets
    told = chance if likely else 1 - chance
    at, mm = grid.px(float(row), float(col)), float(length[along].sum())
    return Contact((a, b), kind, gap_mm, mm, at, likely, told, covered)

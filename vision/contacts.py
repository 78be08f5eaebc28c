"""Where pieces meet, and where they only nearly do.

Notation: R, C cells (rows, columns). Points are cells (row, column) until the end.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.model import Contact, ContactKind, Piece, TableView
from vision.pieces import Ground, Ids
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
DOUBT_MM = 1.0
"""Gaps narrower than this a photo cannot tell from a crease (estimated)."""
HIDDEN = -1
SURE_GAP, SURE_TOUCH = 0.03, 0.98
"""Least chance of dough on the best way across: below the first a gap is sure, above the second a touch,
as long as no LED hides it."""
TOUCH_AT_HALF, TOUCH_SLOPE = -0.53, 0.53
"""Log odds of a touch from those of the best way across: the best of many chances flatters. Fitted to 479
pairs of bodies in 240 rendered scenes that the network had not learnt from."""
BESIDE_MM = 0.7
"""What is so near to an LED is too narrow for a sure neck."""
SEAM_MM = 2.0
"""A seam under an LED shorter than this is where a wall goes on (estimated)."""


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


def find_contacts(grid: Grid, pieces: tuple[Piece, ...], drawn: bool) -> tuple[Contact, ...]:
    """All contacts, ordered by the ids of their pieces.

    Pieces that share a border touch; conductive ones that do so over less than 2 mm or only under an
    LED are doubtful. Conductive pieces up to 6 mm apart with nothing but table between have a gap. In a
    `drawn` raster nothing is doubtful but what is hidden. A ground with chances tells by these.
    """
    of = {piece.id: piece for piece in pieces}
    if grid.ground.chance is not None:
        return _likely_contacts(grid, of)
    touching = _borders(grid, of, drawn)
    met = {contact.between for contact in touching}
    hidden = [c for c in _hidden(grid, of) if c.between not in met]
    met |= {contact.between for contact in hidden}
    gaps = _gaps(grid, pieces, met, drawn)
    return tuple(sorted((*touching, *hidden, *gaps), key=lambda c: c.between))


def _borders(grid: Grid, of: dict[int, Piece], drawn: bool) -> list[Contact]:
    """Contacts of pieces that share a border."""
    pairs, cells = _sides(grid.ids)
    out = []
    for pair in np.unique(pairs, axis=0):
        at = cells[(pairs == pair).all(axis=1)]
        a, b = int(pair[0]), int(pair[1])
        # Sides and cells of a border: as many for a straight one, two to one for a slanting one.
        count = (len(np.unique(at[:, :2], axis=0)) + len(np.unique(at[:, 2:], axis=0))) / 2
        length = float(np.sqrt(count * len(at))) * grid.cell_mm
        row, col = _middle(at[:, :2])
        kind: ContactKind = "touching"
        if not drawn and of[a].role == of[b].role == "conductive" and _bodies_differ(grid, a, b):
            kind = "doubtful"
        out.append(Contact((a, b), kind, 0.0, length, grid.px(row, col)))
    return out


def _bodies_differ(grid: Grid, a: int, b: int) -> bool:
    return bool(_body(grid, a) != _body(grid, b))


def _body(grid: Grid, piece: int) -> int:
    return int(grid.ground.body.ravel()[np.argmax(grid.ids.ravel() == piece)])


def _sides(ids: Ids) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of unlike ids side by side (n, 2), lower id first, and the two cells (n, 4) in that order."""
    pairs, cells = [], []
    for down, right in ((0, 1), (1, 0)):
        a, b = ids[: ids.shape[0] - down, : ids.shape[1] - right], ids[down:, right:]
        rows, cols = np.nonzero((a != b) & (a > 0) & (b > 0))
        first, second = a[rows, cols], b[rows, cols]
        here, there = np.stack([rows, cols], 1), np.stack([rows + down, cols + right], 1)
        turned = (first > second)[:, None]
        pairs.append(np.stack([np.minimum(first, second), np.maximum(first, second)], 1))
        cells.append(np.hstack([np.where(turned, there, here), np.where(turned, here, there)]))
    return np.concatenate(pairs).astype(np.int64), np.concatenate(cells).astype(np.int64)


def _middle(cells: NDArray[np.int64]) -> tuple[int, int]:
    """The cell (row, column) nearest to the middle of these."""
    best = np.argmin(((cells - cells.mean(axis=0)) ** 2).sum(axis=1))
    return int(cells[best, 0]), int(cells[best, 1])


def _hidden(grid: Grid, of: dict[int, Piece]) -> list[Contact]:
    """Doubtful contacts: two bodies that meet under an LED over more than 2 mm."""
    seams = grid.ground.seams
    out = []
    for a, b in np.unique(np.sort(seams[:, 2:], axis=1), axis=0):
        cells = seams[(seams[:, 2] == a) & (seams[:, 3] == b)][:, :2]
        length = len(np.unique(cells, axis=0)) * grid.cell_mm
        if length < SEAM_MM:
            continue
        row, col = _middle(cells)
        pair = tuple(sorted(_piece_of_body(grid, int(body), row, col) for body in (a, b)))
        if 0 not in pair and all(of[i].role == "conductive" for i in pair):
            out.append(Contact((pair[0], pair[1]), "doubtful", 0.0, length, grid.px(row, col)))
    return out


def _piece_of_body(grid: Grid, body: int, row: int, col: int) -> int:
    """The piece of this body nearest to a cell, 0 when it has none."""
    rows, cols = np.nonzero(grid.ground.body == body)
    if not len(rows):
        return 0
    best = np.argmin((rows - row) ** 2 + (cols - col) ** 2)
    return int(grid.ids[rows[best], cols[best]])


def _gaps(grid: Grid, pieces: tuple[Piece, ...], met: set[tuple[int, int]], drawn: bool) -> list[Contact]:
    """Gaps between conductive pieces of different bodies."""
    reach = int(np.ceil(NEAR_MM / grid.cell_mm)) + 2
    boxes = ndimage.find_objects(grid.ids)
    conductive = [piece.id for piece in pieces if piece.role == "conductive"]
    out = []
    for a in conductive:
        wide = tuple(slice(max(0, s.start - reach), s.stop + reach) for s in boxes[a - 1])
        ids = grid.ids[wide]
        others = [int(b) for b in np.unique(ids) if b > a and int(b) in conductive and (a, int(b)) not in met]
        others = [b for b in others if _bodies_differ(grid, a, b)]
        if not others:
            continue
        # What is only guessed to lie under an LED says nothing about a gap.
        ids = np.where(grid.ground.hidden[wide], HIDDEN, ids)
        far, back = ndimage.distance_transform_edt(ids != a, return_indices=True)
        cut = np.zeros(ids.shape, bool) if grid.ground.cut is None else grid.ground.cut[wide]
        for b in others:
            gap = _gap(grid, (a, b), (wide[0].start, wide[1].start), ids, far, back, cut, drawn)
            if gap is not None:
                out.append(gap)
    return out


def _gap(
    grid: Grid,
    pair: tuple[int, int],
    corner: tuple[int, int],
    ids: Ids,
    far: NDArray[np.float64],
    back: NDArray[np.int32],
    cut: Mask,
    drawn: bool,
) -> Contact | None:
    """The gap between two pieces; None when wall or other dough lies between or it is too wide.

    Across a `cut` of the helper nothing is doubtful.
    """
    rim = (ids == pair[1]) & (cv2.erode((ids == pair[1]).astype(np.uint8), np.ones((3, 3), np.uint8)) == 0)
    rows, cols = np.nonzero(rim & ((far - 1) * grid.cell_mm < NEAR_MM))
    to_row, to_col = back[0][rows, cols], back[1][rows, cols]
    clear, told = np.ones(len(rows), bool), np.zeros(len(rows), bool)
    for share in np.linspace(0, 1, 14)[1:-1]:
        r = np.rint(rows + share * (to_row - rows)).astype(int)
        c = np.rint(cols + share * (to_col - cols)).astype(int)
        clear &= (ids[r, c] <= 0) | (ids[r, c] == pair[0]) | (ids[r, c] == pair[1])
        told |= cut[r, c]
    if not clear.any():
        return None
    rows, cols, to_row, to_col = rows[clear], cols[clear], to_row[clear], to_col[clear]
    d, told = far[rows, cols], told[clear]
    unsure = ~told & ((d - 1) * grid.cell_mm < DOUBT_MM) & (not drawn)
    best = int(np.argmin(np.where(unsure, d, np.inf))) if unsure.any() else int(np.argmin(d))
    gap_mm = max(0.0, float(d[best]) - 1) * grid.cell_mm
    length = int((d <= d[best] + 1 / grid.cell_mm).sum()) * grid.cell_mm
    row, col = corner[0] + (rows[best] + to_row[best]) / 2, corner[1] + (cols[best] + to_col[best]) / 2
    return Contact(pair, "doubtful" if unsure.any() else "gap", gap_mm, length, grid.px(row, col))


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


def _likely_contacts(grid: Grid, of: dict[int, Piece]) -> tuple[Contact, ...]:
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
    out = []
    for mine in _by_pair(sides):
        col, row = _nearest_to_mean(sides.at[mine])
        first, second = (int(i) for i in sides.pair[mine[0]])
        mm = float(length[mine].sum()) * grid.cell_mm
        out.append(Contact((first, second), "touching", 0.0, mm, grid.px(row, col), True))
    return out


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

"""Where pieces meet, and where they only nearly do.

Notation: R, C cells (rows, columns). Points are cells (row, column) until the end.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.grid import Grid
from vision.likely_contacts import NEAR_MM, likely_contacts
from vision.model import Contact, Piece
from vision.pieces import Ids

HIDDEN = -1
SEAM_MM = 2.0
"""A seam under an LED shorter than this is where a wall goes on (estimated)."""


def find_contacts(grid: Grid, pieces: tuple[Piece, ...]) -> tuple[Contact, ...]:
    """All contacts, ordered by the ids of their pieces.

    A ground with chances tells by these. In one drawn by hand pieces that share a border touch, and
    conductive pieces up to 6 mm apart with nothing but table between have a gap; only what an LED hides
    is doubtful.
    """
    of = {piece.id: piece for piece in pieces}
    if grid.ground.chance is not None:
        return likely_contacts(grid, of)
    touching = _borders(grid)
    met = {contact.between for contact in touching}
    hidden = [c for c in _hidden(grid, of) if c.between not in met]
    met |= {contact.between for contact in hidden}
    gaps = _gaps(grid, pieces, met)
    return tuple(sorted((*touching, *hidden, *gaps), key=lambda c: c.between))


def _borders(grid: Grid) -> list[Contact]:
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
        out.append(Contact((a, b), "touching", 0.0, length, grid.px(row, col)))
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


def _gaps(grid: Grid, pieces: tuple[Piece, ...], met: set[tuple[int, int]]) -> list[Contact]:
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
        for b in others:
            gap = _gap(grid, (a, b), (wide[0].start, wide[1].start), ids, far, back)
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
) -> Contact | None:
    """The gap between two pieces; None when wall or other dough lies between or it is too wide."""
    rim = (ids == pair[1]) & (cv2.erode((ids == pair[1]).astype(np.uint8), np.ones((3, 3), np.uint8)) == 0)
    rows, cols = np.nonzero(rim & ((far - 1) * grid.cell_mm < NEAR_MM))
    to_row, to_col = back[0][rows, cols], back[1][rows, cols]
    clear = np.ones(len(rows), bool)
    for share in np.linspace(0, 1, 14)[1:-1]:
        r = np.rint(rows + share * (to_row - rows)).astype(int)
        c = np.rint(cols + share * (to_col - cols)).astype(int)
        clear &= (ids[r, c] <= 0) | (ids[r, c] == pair[0]) | (ids[r, c] == pair[1])
    if not clear.any():
        return None
    rows, cols, to_row, to_col = rows[clear], cols[clear], to_row[clear], to_col[clear]
    d = far[rows, cols]
    best = int(np.argmin(d))
    gap_mm = max(0.0, float(d[best]) - 1) * grid.cell_mm
    length = int((d <= d[best] + 1 / grid.cell_mm).sum()) * grid.cell_mm
    row, col = corner[0] + (rows[best] + to_row[best]) / 2, corner[1] + (cols[best] + to_col[best]) / 2
    return Contact(pair, "gap", gap_mm, length, grid.px(row, col))

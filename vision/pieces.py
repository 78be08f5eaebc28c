"""From a label raster to pieces, completed under what hides them.

A *body* here is conductive dough of one or several colours that is seen to hang together. What
bodies mean for currents is not decided here.

Notation: R, C cells (rows, columns).
"""

from dataclasses import dataclass
from typing import Any, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure, morphology

from vision.model import NOT_DOUGH, Piece, Point, Role, TableView
from vision.raster import Floats, Mask, dilated, opened

Labels = NDArray[np.uint8]
_Value = TypeVar("_Value", bound=np.generic)
Ids = NDArray[np.int32]

CRUMB_MM2 = 1.0
"""Smaller slivers of dough are no pieces (estimated)."""
WIRE_HALF_MM = 1.7
"""Something not dough that is nowhere thicker than twice this counts as a wire (estimated)."""
MOST_POINTS = 200


@dataclass(frozen=True)
class Ground:
    """What lies where, with nothing hidden.

    labels  (R, C) uint8: dough colour, 0 table
    body    (R, C) int32: id of the conductive body, 0 none
    hidden  (R, C) bool: cells under an LED
    guessed (R, C) bool: all completed cells
    seams   (n, 4) int: row, column of cells where two bodies meet under something, and the two bodies
    cut     (R, C) bool: near a cut that the helper drew; None without any
    chance  (R, C) float32: chance that conductive dough lies there; None when labels are taken at their word
    """

    labels: Labels
    body: Ids
    hidden: Mask
    guessed: Mask
    seams: NDArray[np.int64]
    cut: Mask | None = None
    chance: Floats | None = None


def drawn_ground(labels: Labels, conducts: NDArray[np.bool_], cell_mm: float) -> Ground:
    """The ground of a label raster taken at its word; only cells that are not dough are completed."""
    unknown = labels == NOT_DOUGH
    hidden = unknown & dilated(opened(unknown, WIRE_HALF_MM, cell_mm), 0.5, cell_mm)
    filled = nearest(labels, unknown)
    body = parts_of(conducts[filled] & ~hidden)
    return completed(filled, body, hidden, unknown, conducts)


def nearest(values: NDArray[_Value], lost: Mask) -> NDArray[_Value]:
    """Values (R, C) with those of lost cells taken from the nearest cell that is not lost."""
    out = values.copy()
    if lost.any() and not lost.all():
        _, (to_row, to_col) = ndimage.distance_transform_edt(lost, return_indices=True)
        out[lost] = values[to_row[lost], to_col[lost]]
    return out


def parts_of(values: NDArray[Any], background: int = 0) -> Ids:
    """Ids from 1 of the connected cells (sharing sides) of one value, 0 for the background, (R, C)."""
    found = measure.label(values, background=background, connectivity=1)  # type: ignore[no-untyped-call]
    return np.asarray(found, np.int32)


def grown(cores: Ids, conductive: Mask) -> Ids:
    """Each conductive cell gets the core that it hangs together with; without one it is its own body."""
    body = np.where(conductive, cores, 0).astype(np.float32)  # exact up to 2^24 bodies
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    while True:
        spread = np.where(conductive & (body == 0), cv2.dilate(body, cross), body)
        if np.array_equal(spread, body):
            break
        body = spread
    out = body.astype(np.int32)
    orphans = parts_of(conductive & (out == 0))
    return np.where(orphans > 0, orphans + out.max(), out)


def completed(labels: Labels, body: Ids, hidden: Mask, guessed: Mask, conducts: NDArray[np.bool_]) -> Ground:
    """Complete hidden cells: walls run on, the rest comes from nearby, no two bodies get joined."""
    out = nearest(labels, hidden)
    owner = nearest(np.where(conducts[labels], body, 0), hidden).astype(np.int32)
    _lay_walls(out, labels, hidden, conducts)
    owner[~conducts[out]] = 0
    cut_off = _cut_off(out, owner, hidden)
    out[cut_off], owner[cut_off] = 0, 0
    seams = seams_of(owner, hidden)
    if len(seams):
        rows, cols = seams[:, 0], seams[:, 1]
        out[rows, cols] = 0
        owner[rows, cols] = 0
    return Ground(out, owner, hidden, guessed, seams)


def _cut_off(labels: Labels, owner: Ids, hidden: Mask) -> Mask:
    """Completed dough that hangs together with no dough that is seen."""
    parts = parts_of(np.where(labels > 0, labels.astype(np.int64) * (int(owner.max()) + 1) + owner, 0))
    seen = np.zeros(int(parts.max()) + 1, bool)
    seen[parts[~hidden]] = True
    return hidden & ~seen[parts]


def _lay_walls(out: Labels, labels: Labels, hidden: Mask, conducts: NDArray[np.bool_]) -> None:
    """Between two places where the same insulating dough goes under an LED it runs straight on."""
    holes, _ = ndimage.label(hidden)
    for i, box in enumerate(ndimage.find_objects(holes), start=1):
        wide = tuple(slice(max(0, s.start - 1), s.stop + 1) for s in box)
        hole = holes[wide] == i
        rim = cv2.dilate(hole.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool) & ~hidden[wide]
        for label in np.unique(labels[wide][rim]):
            if label == 0 or conducts[label]:
                continue
            mouth = rim & (labels[wide] == label)
            _, arcs = ndimage.label(mouth, np.ones((3, 3)))
            if arcs >= 2:
                hull = morphology.convex_hull_image(mouth)  # type: ignore[no-untyped-call]
                out[wide][hull & hole] = label


def seams_of(owner: Ids, hidden: Mask) -> NDArray[np.int64]:
    """Hidden cells beside another body: (n, 4) row, column, own body, other body."""
    found = []
    for here, there in neighbours(owner.shape):
        a, b = owner[here], owner[there]
        meet = (a != b) & (a > 0) & (b > 0) & (hidden[here] | hidden[there])
        rows, cols = np.nonzero(meet)
        if len(rows):
            r, c = rows + (here[0].start or 0), cols + (here[1].start or 0)
            step_r, step_c = (there[0].start or 0), (there[1].start or 0)
            found.append(np.stack([r, c, a[meet], b[meet]], axis=1))
            found.append(np.stack([rows + step_r, cols + step_c, b[meet], a[meet]], axis=1))
    return np.concatenate(found).astype(np.int64) if found else np.zeros((0, 4), np.int64)


def neighbours(shape: tuple[int, ...]) -> list[tuple[tuple[slice, slice], tuple[slice, slice]]]:
    """Slices of a cell and its right, and its lower neighbour."""
    every = slice(None)
    return [
        ((every, slice(0, shape[1] - 1)), (every, slice(1, None))),
        ((slice(0, shape[0] - 1), every), (slice(1, None), every)),
    ]


def number_pieces(ground: Ground) -> Ids:
    """Ids of pieces (R, C), from 1 in reading order: connected cells of one colour and one body."""
    key = ground.labels.astype(np.int64) * (int(ground.body.max()) + 1) + ground.body
    key[ground.labels == 0] = 0
    return parts_of(key)


def list_pieces(
    grid: Ids, ground: Ground, roles: tuple[Role, ...], cell_mm: float, view: TableView
) -> tuple[Piece, ...]:
    """The pieces of a grid (R, C); `roles` of the dough colours in order."""
    out = []
    area = np.bincount(grid.ravel())
    for i, box in enumerate(ndimage.find_objects(grid), start=1):
        if box is None:
            continue
        mask = grid[box] == i
        r, c = (int(v[0]) for v in np.nonzero(mask))
        colour = int(ground.labels[box][r, c])
        outline = _outline(mask, (box[1].start, box[0].start), cell_mm, view)
        out.append(Piece(i, colour, roles[colour - 1], float(area[i]) * cell_mm**2, outline))
    return tuple(out)


def _outline(mask: Mask, corner: tuple[int, int], cell_mm: float, view: TableView) -> tuple[Point, ...]:
    """The outer rim [px] of one piece, at most 200 points."""
    # Drawn three times as large, so that the rim runs along the outside of the cells.
    large = cv2.resize(mask.astype(np.uint8), None, fx=3, fy=3, interpolation=cv2.INTER_NEAREST)
    lines, _ = cv2.findContours(large, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    line = max(lines, key=len)
    slack = 1.0
    rim = cv2.approxPolyDP(line, slack, closed=True)
    while len(rim) > MOST_POINTS:
        slack *= 1.5
        rim = cv2.approxPolyDP(line, slack, closed=True)
    at = (rim.reshape(-1, 2) + 0.5) / 3 + np.array(corner)
    return tuple(view.to_px((float(x) * cell_mm, float(y) * cell_mm)) for x, y in at)

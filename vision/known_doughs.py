"""The doughs of a workshop found on a new photo, known by name and by the colour they had on the last one.

Nobody has tapped this photo yet, and it may show another sculpture on another table. As in
`same_doughs.py` the light makes all colours move by one step in logarithms; here that step counts as the
likelier the more of the known doughs it shows in one sculpture that lies within the photo. What is
found is a proposal for the helper, never taken as true.

Notation: h, w cells of the laid-out photo; P samples; K doughs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.model import Photo, Point, Role, TableView
from vision.raster import Floats
from vision.same_doughs import (
    SPREAD,
    WIDE,
    border_colours,
    distinct,
    features,
    fitted,
    moved,
    nearest,
    places,
    px_of,
    sculpture_of,
    table_places,
)
from vision.straighten import BoxMm, photo_in_mm, straightened
from vision.table_view import view_without_scale

SURE = 0.6
"""From here on a dough is proposed."""
LEAST_SIDE_PX = 2 * WIDE
"""The photo may be stored smaller, down to this on its longer side."""
ROUNDS = 3
MISSING, ELSEWHERE, FAR_STEP = 0.5, 2.0, 0.05
"""What a dough that is not there, dough beside the sculpture or at the rim, and a change of light by one
spread cost when a step is chosen (estimated on quick photos)."""
LEAST_SHARE = 0.006
"""A dough has this share of the photo at least."""
LIGHT, CLEAR = 1.0, 3.0
"""Moved by so many spreads less than the light explains is no doubt; nor is so far from any other colour."""
SAME_TABLE = 1.5
"""A colour so few spreads from the table's is not told from it (estimated)."""


@dataclass(frozen=True)
class KnownDough:
    """A dough of the workshop, or its table; sRGB, 0 to 255, as the last photo showed it."""

    name: str
    role: Role
    rgb: tuple[int, int, int]


@dataclass(frozen=True)
class FoundDough:
    """Where it seems to be on the new photo [px]; `sure` is 0 to 1. Without taps it has to be asked for."""

    name: str
    role: Role
    taps: tuple[Point, ...]
    sure: float


def find_known(photo: Photo, known: Sequence[KnownDough]) -> tuple[FoundDough, ...]:
    """Each of the known doughs in their order, with taps where it is found sure enough."""
    view = view_without_scale(photo.width)
    box = photo_in_mm(view, (photo.width, photo.height))
    cell_mm = max(box[2] - box[0], box[3] - box[1]) / WIDE
    planes = features(straightened(photo, view, box, cell_mm))
    table = border_colours(planes)
    doughs = [one for one in known if one.role != "table"]
    before = np.array([_colour(one.rgb) for one in doughs], np.float32).reshape(-1, 3)
    tables = [_colour(one.rgb) for one in known if one.role == "table"]
    centres = _centres(planes, before, table, tables, cell_mm)
    label = nearest(planes, centres, table)
    body = sculpture_of(label > 0, cell_mm)
    sure = _sure(before, centres, table, tables, label, body)
    at = [places((label == i), body, planes, centre, cell_mm) for i, centre in enumerate(centres, start=1)]
    found = dict(zip([one.name for one in doughs], zip(at, sure, strict=True), strict=True))
    free = table_places(_plain_table(planes, label, table) & ~body, cell_mm)
    out = []
    for one in known:
        spots, chance = (free, 1.0) if one.role == "table" else found[one.name]
        told = _on_photo(spots, view, box, cell_mm) if chance >= SURE else ()
        out.append(FoundDough(one.name, one.role, told, chance if spots else 0.0))
    return tuple(out)


def _on_photo(at: Sequence[Point], view: TableView, box: BoxMm, cell_mm: float) -> tuple[Point, ...]:
    return tuple(px_of(view, box, p, cell_mm) for p in at)


def _colour(rgb: tuple[int, int, int]) -> Floats:
    """Features (3,) of one sRGB colour."""
    return np.asarray(features(np.full((3, 3, 3), rgb, np.uint8))[1, 1], np.float32)


def _plain_table(planes: Floats, label: NDArray[np.uint8], table: Floats) -> NDArray[np.bool_]:
    far = np.stack([np.linalg.norm((planes - t) / SPREAD, axis=2) for t in table]).min(axis=0)
    return np.asarray((label == 0) & (far < SAME_TABLE))


def _centres(
    planes: Floats, before: Floats, table: Floats, tables: Sequence[Floats], cell_mm: float
) -> Floats:
    """The colours (K, 3) on this photo, by the step of light that shows most of them in one sculpture."""
    sample = planes[::3, ::3].reshape(-1, 3)
    away = np.stack([np.linalg.norm((sample - t) / SPREAD, axis=1) for t in table]).min(axis=0)
    sample = sample[away > SAME_TABLE]
    if not len(sample) or not len(before):
        return before
    starts = [np.zeros(3, np.float32), np.median(sample, axis=0) - np.median(before, axis=0)]
    starts += [t - old for old in tables for t in table]
    starts += [s + np.array([0, 0, k], np.float32) for s in list(starts) for k in (-0.4, 0.4)]
    best, least = before, np.inf
    for step in distinct([fitted(sample, before, start) for start in starts]):
        centres = before + step
        for _ in range(ROUNDS):
            centres = moved(planes, nearest(planes, centres, table), centres, before)
        cost = _unlike(nearest(planes, centres, table), len(before), cell_mm)
        cost += FAR_STEP * float(np.abs(step / SPREAD).mean())
        if cost < least:
            best, least = centres, cost
    return best


def _unlike(label: NDArray[np.uint8], count: int, cell_mm: float) -> float:
    """How little it looks like a sculpture of all these doughs."""
    body = sculpture_of(label > 0, cell_mm)
    share = np.bincount(label[body], minlength=count + 1)[1:] / label.size
    elsewhere = float(((label > 0) & ~body).mean())
    edge = np.concatenate([label[0], label[-1], label[:, 0], label[:, -1]]) > 0
    lacking = float(np.clip(1 - share / LEAST_SHARE, 0, 1).sum()) / count
    return MISSING * lacking + ELSEWHERE * (elsewhere + float(edge.mean()))


def _sure(
    before: Floats,
    centres: Floats,
    table: Floats,
    tables: Sequence[Floats],
    label: NDArray[np.uint8],
    body: NDArray[np.bool_],
) -> list[float]:
    """0 to 1 for each dough (estimated on quick photos).

    Less sure: nothing else, neither a dough that was found nor the table, moved as it did, while it moved
    much; it is near another dough or the table; there is little of it.
    """
    share = np.bincount(label[body], minlength=len(centres) + 1)[1:] / label.size
    moves = [(c - b) / SPREAD for c, b in zip(centres, before, strict=True)]
    of_table = [(t - old) / SPREAD for old in tables for t in table]
    out = []
    for i, centre in enumerate(centres):
        there = [m for j, m in enumerate(moves) if j != i and share[j] >= LEAST_SHARE] + of_table
        odd = min((float(np.linalg.norm(moves[i] - m)) for m in there), default=np.inf)
        odd = min(odd, float(np.linalg.norm(moves[i])))
        others = [other for j, other in enumerate(centres) if j != i] + list(table)
        near = min(float(np.linalg.norm((centre - other) / SPREAD)) for other in others)
        chance = min(1.0, LIGHT / max(odd, 1e-6)) * min(1.0, near / CLEAR) * min(1.0, share[i] / LEAST_SHARE)
        out.append(round(chance, 2))
    return out

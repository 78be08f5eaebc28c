"""What changed between two photos of one sculpture: cuts, joins, dough added or taken, thicker walls.

Notation: R, C cells (rows, columns) of the first scene; points are mm of the first scene until the end.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from vision.model import Contact, Point, Scene
from vision.pieces import Ids, parts_of
from vision.raster import Mask, dilated, opened
from vision.registration import Registration, laid_on
from vision.underside import groups_of

Kind = Literal["cut", "joined", "added", "taken", "wall-thicker"]

LEAST_MM2, LEAST_HALF_MM = 20.0, 1.5
"""Smaller or thinner differences are rims that do not quite meet (estimated)."""
LEAST_LUMP_MM2, MOSTLY = 8.0, 0.5
"""What a lump must have within another, and its share, to be the same or a part of it (estimated)."""
FRESH_MM = 0.8
"""A strip of wall thinner than this may be a rim that does not quite meet (estimated)."""
ROOM_MM = 30.0
"""So far from the sculpture dough may be added (estimated)."""
SURE = 0.85
"""A doubtful contact surer than this counts as it is told."""
THICKER_MM, ALONG_MM, LEAST_LENGTH = 1.2, 3.0, 0.35
"""So much thicker over a third of a wall is a thickened wall; places so near are the same (estimated)."""


@dataclass(frozen=True)
class Change:
    """One thing that changed.

    at      [px] of the second photo
    pieces  of the second scene that it is about
    size    mm2 of dough, or mm of wall; None for cuts and joins
    """

    kind: Kind
    at: Point
    pieces: tuple[int, ...]
    size: float | None = None


def find_changes(first: Scene, second: Scene, found: Registration) -> tuple[Change, ...]:
    """All changes; empty when there is none to be seen. `found` lays the second scene on the first."""
    first, found = _with_room(first, found)
    ids = laid_on(second.grid, second, first, found)
    seen = ~first.guessed & (laid_on(second.guessed.astype(np.int32), second, first, found) == 0)
    return (
        *_parted(first, second, found, ids),
        *_joined(first, second, found, ids),
        *_dough(first, second, found, ids, seen),
        *_walls(first, second, found, _fresh_wall(first, second, ids) & seen),
    )


def _with_room(scene: Scene, found: Registration) -> tuple[Scene, Registration]:
    """The first scene with empty table round it, so that dough beside it has cells, and its registration."""
    n = round(ROOM_MM / scene.cell_mm)
    mm = n * scene.cell_mm
    view = replace(scene.view, origin_px=scene.view.to_px((-mm, -mm)))
    wide = replace(scene, grid=np.pad(scene.grid, n), guessed=np.pad(scene.guessed, n), view=view)
    x, y = found.shift_mm
    return wide, replace(found, shift_mm=(x + mm, y + mm))


def _groups(scene: Scene, eager: bool) -> list[frozenset[int]]:
    """Lumps; `eager`: whatever may touch does, else only what surely does."""
    return groups_of(scene.pieces, [c.between for c in scene.contacts if _closed(c, eager)])


def _closed(contact: Contact, eager: bool) -> bool:
    if contact.kind != "doubtful":
        return contact.kind == "touching"
    if eager:
        return contact.likely or contact.confidence < SURE
    return contact.likely and contact.confidence >= SURE


def _parted(first: Scene, second: Scene, found: Registration, ids: Ids) -> list[Change]:
    """Lumps of the first that are two or more now."""
    now = _groups(second, eager=True)
    out = []
    for lump in _groups(first, eager=False):
        whole = np.isin(first.grid, list(lump))
        parts = [np.isin(ids, list(group)) for group in now]
        inside = [i for i, part in enumerate(parts) if _within(part, whole, first.cell_mm)]
        for a, b in _chain(inside, parts):
            at = _between(parts[a], parts[b], whole)
            pieces = (_any(ids, parts[a] & whole), _any(ids, parts[b] & whole))
            out.append(Change("cut", _px(first, second, found, at), pieces))
    return out


def _joined(first: Scene, second: Scene, found: Registration, ids: Ids) -> list[Change]:
    """Lumps of the first that are one now."""
    before = _groups(first, eager=True)
    out = []
    for lump in _groups(second, eager=False):
        whole = np.isin(ids, list(lump))
        parts = [np.isin(first.grid, list(group)) for group in before]
        inside = [i for i, part in enumerate(parts) if _within(part, whole, first.cell_mm)]
        for a, b in _chain(inside, parts):
            at = _between(parts[a], parts[b], whole)
            out.append(Change("joined", _px(first, second, found, at), (_any(ids, whole),)))
    return out


def _within(part: Mask, whole: Mask, cell_mm: float) -> bool:
    """Whether a lump lies mostly within another."""
    met = int((part & whole).sum())
    return met * cell_mm**2 >= LEAST_LUMP_MM2 and met >= MOSTLY * int(part.sum())


def _chain(inside: Sequence[int], parts: Sequence[Mask]) -> list[tuple[int, int]]:
    """Each part but the first with the nearest one before it."""
    if len(inside) < 2:
        return []
    far = {i: cv2.distanceTransform((~parts[i]).astype(np.uint8), cv2.DIST_L2, 5) for i in inside}
    pairs = sorted(combinations(inside, 2), key=lambda p: float(far[p[0]][parts[p[1]]].min()))
    root = {i: i for i in inside}
    out = []
    for a, b in pairs:
        if root[a] != root[b]:
            old = root[b]
            root = {k: root[a] if v == old else v for k, v in root.items()}
            out.append((a, b))
    return out


def _between(one: Mask, other: Mask, whole: Mask) -> tuple[int, int]:
    """The cell (row, column) half-way where two parts come nearest, in the whole if it can be."""
    a, b = (cv2.distanceTransform((~m).astype(np.uint8), cv2.DIST_L2, 5) for m in (one, other))
    total = a + b + 0.1 * np.abs(a - b)
    total = np.where(whole, total, total + 3)
    row, col = np.unravel_index(int(np.argmin(total)), total.shape)
    return int(row), int(col)


def _dough(first: Scene, second: Scene, found: Registration, ids: Ids, seen: Mask) -> list[Change]:
    """Dough that was added or taken away."""
    before, now = first.grid > 0, ids > 0
    half = LEAST_HALF_MM + found.rim_mm / 2
    out: list[Change] = []
    for kind, where in (("added", now & ~before), ("taken", before & ~now)):
        parts = parts_of(opened(where & seen, half, first.cell_mm))
        for number in range(1, int(parts.max(initial=0)) + 1):
            part = parts == number
            area = float(part.sum()) * first.cell_mm**2
            if area < LEAST_MM2:
                continue
            pieces = (_any(ids, part),) if kind == "added" else ()
            at = _px(first, second, found, _deepest(part))
            out.append(Change("added" if kind == "added" else "taken", at, pieces, area))
    return out


def _deepest(mask: Mask) -> tuple[int, int]:
    room = cv2.distanceTransform(np.pad(mask, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    row, col = np.unravel_index(int(np.argmax(room)), room.shape)
    return int(row), int(col)


def _any(ids: NDArray[np.int32], where: Mask) -> int:
    """The commonest piece there."""
    return int(np.argmax(np.bincount(ids[where]))) if where.any() else 0


def _fresh_wall(first: Scene, second: Scene, ids: Ids) -> Mask:
    """Cells (R, C) that are insulating dough now and were not."""
    old, new = (
        np.isin(grid, [p.id for p in scene.pieces if p.role == "insulating"])
        for grid, scene in ((first.grid, first), (ids, second))
    )
    return opened(new & ~old, FRESH_MM / 2, first.cell_mm)


def _walls(first: Scene, second: Scene, found: Registration, fresh: Mask) -> list[Change]:
    """Walls that are thicker than they were; `fresh` (R, C): insulating dough where there was none."""
    old = [(at, mm) for wall in first.walls for at, mm in zip(wall.at, wall.thickness_mm, strict=True)]
    if not old:
        return []
    tree = KDTree(np.array([first.view.to_mm(at) for at, _ in old]))
    thick = np.array([mm for _, mm in old])
    out = []
    for wall in second.walls:
        at = np.array([found.to_first(second.view.to_mm(p)) for p in wall.at])
        away, which = tree.query(at)
        grown = np.array(wall.thickness_mm) * found.scale - thick[which]
        clear = (away <= ALONG_MM) & (grown > THICKER_MM + found.rim_mm)
        if clear.sum() < max(5, LEAST_LENGTH * len(at)):
            continue
        cells = np.clip((at[clear] / first.cell_mm).astype(int), 0, np.array(fresh.shape[::-1]) - 1)
        near = np.zeros(fresh.shape, np.uint8)
        near[cells[:, 1], cells[:, 0]] = 1
        gained = fresh & dilated(near > 0, ALONG_MM + THICKER_MM, first.cell_mm)
        if gained.sum() * first.cell_mm**2 >= LEAST_MM2 / 2:
            place = wall.at[int(np.argmax(np.where(clear, grown, -np.inf)))]
            out.append(Change("wall-thicker", place, (wall.piece,), float(np.median(grown[clear]))))
    return out


def _px(first: Scene, second: Scene, found: Registration, cell: tuple[int, int]) -> Point:
    at = ((cell[1] + 0.5) * first.cell_mm, (cell[0] + 0.5) * first.cell_mm)
    return second.view.to_px(found.to_second(at))

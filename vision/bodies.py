"""From chances to bodies of conductive dough.

What hangs together by 2 mm of sure dough is one body; narrower or less sure places part it, so that a
doubt has its place between two bodies.

Notation: C classes (0 the table, i the i-th dough colour), R, C cells (rows, columns).
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.segmentation import watershed

from vision.pieces import Ground, Ids, Labels, parts_of
from vision.raster import Floats, Mask, disc
from vision.seen import THINGS, Seen
from vision.slits import territories

CORE_SURE, CORE_HALF_MM = 0.95, 0.7
"""A disc of this radius in which all is so sure: with a rim blurred by 0.3 mm a strip of 2.4 mm has room."""
CORE_MM2 = 5.0
"""A smaller core belongs to its neighbour (estimated: the core of a ball of 4.5 mm)."""
SPECK_MM2 = 1.0
HIDDEN_SURE, DEEPER = np.float32(0.75), np.float32(0.05)
"""Dough under an LED is no surer than this, less so much for each mm, so that bodies part where they join
out of sight only."""


def ground_of(seen: Seen, conducts: NDArray[np.bool_], under: Mask | None = None) -> Ground:
    """The ground (R, C) of what was seen; `conducts` (C,) tells which classes conduct.

    `under` (R, C): cells under an LED, by default where one is seen.
    """
    chance = np.asarray(seen.chance[conducts].sum(axis=0), np.float32)
    labels = _likeliest(seen.chance, chance, conducts)
    hidden = seen.things[THINGS.index("led")] > 0.5 if under is None else under
    body = np.zeros(labels.shape, np.int32)
    box = _box(labels > 0)
    labels[box], body[box] = _parted(labels[box], chance[box], hidden[box], conducts, seen.cell_mm)
    seams = np.zeros((0, 4), np.int64)
    return Ground(labels, body, hidden, (seen.covered > 0.5) | hidden, seams, chance=chance)


def _box(dough: Mask) -> tuple[slice, slice]:
    """Rows and columns that hold all the dough, and one more all round."""
    left, top, width, height = cv2.boundingRect(dough.view(np.uint8))
    return slice(max(0, top - 1), top + height + 1), slice(max(0, left - 1), left + width + 1)


def _parted(
    labels: Labels, chance: Floats, hidden: Mask, conducts: NDArray[np.bool_], cell_mm: float
) -> tuple[Labels, Ids]:
    """Labels without specks, and bodies."""
    labels = _without_specks(labels, cell_mm)
    conductive = conducts[labels]
    # The deeper under the LED the less sure, so that bodies meet in the middle of what it hides.
    depth = cv2.distanceTransform(hidden.astype(np.uint8), cv2.DIST_L2, 3) * np.float32(cell_mm)
    sure = np.where(hidden, np.minimum(chance, HIDDEN_SURE - DEEPER * np.minimum(depth, 3)), chance)
    body = _bodies(_agreeing(sure, conductive), conductive, cell_mm)
    return _tidied(labels, body, conductive, cell_mm)


def _tidied(labels: Labels, body: Ids, conductive: Mask, cell_mm: float) -> tuple[Labels, Ids]:
    """Labels and bodies in which slivers of one colour and body belong to what is beside them."""
    ids = parts_of(labels.astype(np.int32) * (int(body.max()) + 1) + body)
    crumbs = _small(ids, cell_mm) & conductive
    lasting = conductive & ~crumbs
    if not crumbs.any() or not lasting.any():
        return labels, body
    source = territories(lasting)[0][crumbs]
    labels, body = labels.copy(), body.copy()
    labels[crumbs], body[crumbs] = labels.ravel()[source], body.ravel()[source]
    return labels, body


def _small(ids: Ids, cell_mm: float) -> Mask:
    """Cells of ids, from 0, that have less than 1 mm2."""
    return np.asarray((np.bincount(ids.ravel()) * cell_mm**2 < SPECK_MM2)[ids])


def _agreeing(chance: Floats, conductive: Mask) -> Floats:
    """Chances made to agree with what is conductive."""
    wrong = (chance > 0.5) != conductive
    return np.where(wrong, conductive.astype(np.float32), chance)


def _likeliest(chances: Floats, chance: Floats, conducts: NDArray[np.bool_]) -> Labels:
    """The likeliest conductive class where the dough is likelier conductive than not, else of the others."""
    best = []
    for wanted in (False, True):
        label = np.zeros(chance.shape, np.uint8)
        most = np.zeros(chance.shape, np.float32)
        for i in np.flatnonzero(conducts == wanted):
            np.putmask(label, chances[i] > most, np.uint8(i))
            np.maximum(most, chances[i], out=most)
        best.append(label)
    return np.where(chance > 0.5, best[1], best[0])


def _without_specks(labels: Labels, cell_mm: float) -> Labels:
    """Labels in which areas below 1 mm2 of one label are taken from round about."""
    lost = _small(parts_of(labels.astype(np.int16), background=-1), cell_mm)
    if not lost.any() or lost.all():
        return labels
    out = labels.copy()
    out[lost] = labels.ravel()[territories(~lost)[0][lost]]
    return out


def _bodies(chance: Floats, conductive: Mask, cell_mm: float) -> Ids:
    """Bodies (R, C) from 1, grown from their cores so that they meet at necks."""
    level = cv2.convertScaleAbs(chance, alpha=255)
    room = cv2.erode(level, disc(CORE_HALF_MM, cell_mm), borderValue=255)
    cores = _large_cores((room > CORE_SURE * 255) & conductive, conductive, cell_mm)
    some = cores > 0
    ring = some & (cv2.erode(some.view(np.uint8), np.ones((3, 3), np.uint8)) == 0)
    less = cv2.erode(level, disc(CORE_HALF_MM / 2, cell_mm))
    height = room.astype(np.int16) + less + level
    free = conductive & (ring | ~some)
    grown = watershed(-height, np.where(ring, cores, 0), connectivity=1, mask=free)  # type: ignore[no-untyped-call]
    return np.where(some, cores, grown).astype(np.int32)


def _large_cores(core: Mask, conductive: Mask, cell_mm: float) -> Ids:
    """Cores (R, C) from 1: the large ones, and one at least for whatever hangs together."""
    count, cores, stats, _ = cv2.connectedComponentsWithStats(core.view(np.uint8), connectivity=4)
    whole_count, whole = cv2.connectedComponents(conductive.view(np.uint8), connectivity=4)
    area = stats[:, cv2.CC_STAT_AREA]
    first = np.zeros(count, np.int64)
    first[cores.ravel()] = np.arange(cores.size)  # any cell of each core
    of = whole.ravel()[first]
    largest: NDArray[np.int64] = np.zeros(whole_count, np.int64)
    np.maximum.at(largest, of[1:].astype(np.int64), area[1:].astype(np.int64))
    kept = (area * cell_mm**2 >= CORE_MM2) | (area == largest[of])
    kept[0] = False
    number = np.where(kept, np.cumsum(kept), 0)
    out = number[cores]
    bare = np.setdiff1d(np.arange(1, whole_count), of[1:])
    own = np.zeros(whole_count, np.int64)
    own[bare] = number.max() + 1 + np.arange(len(bare))
    return np.asarray(np.where(out > 0, out, own[whole]), np.int32)

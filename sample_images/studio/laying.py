"""Dough, seams, shorts, LEDs and leads of a sculpture with known faults, laid on the grid.

Notation: R, C cells; see `raster`.
"""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from scipy import ndimage

from sample_images.studio.invent import Draft, small_blob
from sample_images.studio.invention import Lamp, Rod
from sample_images.studio.raster import CELL_MM, Labels, Rng
from sample_images.studio.rows import WALLED, Plan
from sample_images.studio.seams import Opening, Pair, Seams, side_at, slit_of
from sample_images.studio.wiring import far_inside, lamps_astride, rods_in, towards

SPECK_MM2 = 4.0
"""Nobody lays a smaller piece (estimated)."""
CLEAR_MM = 5.0
"""No LED stands nearer to an opening (estimated)."""


def lay(draft: Draft, seams: Seams, openings: Sequence[Opening]) -> Labels:
    """Lumps, their patches of other colours, and every seam as a gap or a wall; the dough without seams."""
    rng = draft.rng
    same = rng.random() < 0.4
    for i in range(1, int(seams.sides.max()) + 1):
        here = seams.sides == i
        draft.put(here, 1 if same else 1 + int(rng.integers(0, draft.kinds)), i)
        for _ in range(int(rng.integers(0, 3)) if draft.kinds > 1 else 0):
            ys, xs = np.nonzero(here)
            pick = int(rng.integers(len(ys)))
            at = draft.place(int(ys[pick]), int(xs[pick]))
            patch = small_blob(draft, at, rng.uniform(4, 12)) & here
            draft.labels[patch] = 1 + int(rng.integers(0, draft.kinds))
    whole = draft.labels.copy()
    walled = rng.random() < 0.6
    wall = draft.any_wall()
    for pair in _pairs(seams):
        here = [o for o in openings if o.pair == pair]
        as_wall = here[0].kind in WALLED if here else (walled if rng.random() < 0.7 else rng.random() < 0.5)
        half = here[0].half_mm if here else rng.uniform(1.2, 3.2) if as_wall else rng.uniform(0.7, 2.5)
        half = max([half, *(o.half_mm for o in here)])
        ends = any(o.kind == "short-round-the-end" for o in here)
        outside = rng.uniform(0, 4) if as_wall and not ends and rng.random() < 0.5 else 0.0
        slit = slit_of(rng, seams, pair, half, here, outside)
        draft.put(slit, wall if as_wall else 0, 100 if as_wall else 0)
    _sweep(draft)
    return whole


def _sweep(draft: Draft) -> None:
    """Specks of dough that seams left become what lies round them."""
    for dough in range(1, draft.kinds + 1):
        count, parts, stats, _ = cv2.connectedComponentsWithStats((draft.labels == dough).astype(np.uint8))
        small = stats[:, cv2.CC_STAT_AREA] * CELL_MM**2 < SPECK_MM2
        speck = small[parts] & (draft.labels == dough)
        if count > 1 and speck.any():
            row, col = ndimage.distance_transform_edt(speck, return_distances=False, return_indices=True)
            draft.labels[speck] = draft.labels[row, col][speck]
            draft.solid[speck] = draft.solid[row, col][speck]


def fill(draft: Draft, seams: Seams, opening: Opening, whole: Labels) -> None:
    """Dough where a seam should be: that of the two lumps, or a strip of any colour laid across."""
    rng, where = draft.rng, opening.where
    own = rng.random() < 0.6
    strip = opening.kind == "short-bridge" or not own or rng.random() < 0.3
    draft.labels[where] = whole[where] if own else int(rng.integers(1, draft.kinds + 1))
    draft.solid[where] = seams.sides[where]
    if strip:  # it lies on a little of both lumps
        grown = cv2.dilate(where.astype(np.uint8), np.ones((15, 15), np.uint8)) > 0
        ends = grown & seams.of(opening.pair) & np.isin(draft.solid, opening.pair)
        draft.solid[where | ends] = 101


def _pairs(seams: Seams) -> list[Pair]:
    """All pairs of sides that meet anywhere, however short."""
    met = np.unique(seams.pair[(seams.sides > 0) & (seams.away < 1.6 * CELL_MM)])
    return [(int(k) // 16, int(k) % 16) for k in met]


def fit(
    rng: Rng, draft: Draft, seams: Seams, plan: Plan, openings: Sequence[Opening], mended: Labels
) -> tuple[tuple[Lamp, ...], tuple[Rod, ...]] | None:
    """LEDs across every step of the way, and the leads; None without room."""
    conductive = (mended > 0) & (mended <= draft.kinds)
    room = np.asarray(far_inside(conductive), np.float32)
    clear = np.ones(conductive.shape, bool)
    for o in openings:
        clear &= np.hypot(draft.X - o.spot[0], draft.Y - o.spot[1]) > o.reach_mm + CLEAR_MM
        room[np.hypot(draft.X - o.spot[0], draft.Y - o.spot[1]) < o.reach_mm + 0.5 * CLEAR_MM] = 0
    lamps: list[Lamp] = []
    for count, here, there in zip(plan.leds, plan.way, plan.way[1:], strict=False):
        pair = (min(here, there), max(here, there))
        found = lamps_astride(rng, conductive, seams.sides, room, seams.of(pair) & clear, count, lamps)
        astride = [m for m in found if {side_at(seams, m.long), side_at(seams, m.short)} == {here, there}]
        if len(astride) < (count if len(plan.leds) > 1 or plan.flip else 1):
            return None
        lamps += [towards(m, here, seams.sides) for m in astride]
    rods = rods_in(rng, room, seams.sides, (plan.way[0], plan.way[-1]), lamps)
    if not rods:
        return None
    tint = [str(rng.choice(["red", "blue"])) for _ in lamps]
    lamps = [replace(m, colour=c) for m, c in zip(lamps, tint, strict=True)] if len(plan.leds) > 1 else lamps
    if plan.flip:
        which = int(rng.integers(len(lamps)))
        lamps[which] = replace(lamps[which], long=lamps[which].short, short=lamps[which].long)
    return tuple(lamps), rods

"""Where the legs of an LED likely go into the dough.

Two straight legs are laid from the body to two sides so that they cover as much thin metal as they
can; where nothing is seen of a leg, the narrowest way to dough that conducts counts. Nothing tells which
of them is the long one.

Notation: h, w cells of `Sight` (rows, columns); places are (column, row), whole numbers are cell centres.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.model import Point
from vision.sight import Floats, Mask, Sight, Window
from vision.suggest_leds import Body, in_window

REACH_MM = 13.0
"""How far from the body's rim a leg is followed (estimated)."""
THIN_CELLS = 5
"""What is narrower than half of it differs from the median of its surroundings; a leg is 0.5 mm wide."""
STEP_MM = 0.4
METAL_FROM, METAL_TIMES = 0.003, 100.0
DIFFERS_FROM, DIFFERS_BY = 8.0, 25.0
METAL_PART, THIN_PART = 0.7, 0.3
"""Chance of metal and difference [grey levels] that begin to count, and until they count in full; their
parts in the evidence (measured on quick photos)."""
TURNS = 36
LEAST_TURN = 110.0
"""Least angle between both legs in degrees (estimated)."""
DOUBT = 0.4
"""Evidence along a leg counts by how much it exceeds this."""
IN_DOUGH, OTHER_LUMP = 1.2, 0.4
"""What it adds [mm of leg] that a foot stands deep in dough that conducts, and the other in another lump
(measured on quick photos)."""
SHORTEST_MM = 2.0
INTO_DOUGH_MM = 2.2
"""How far inside the rim of the dough a leg is taken to go in where it is not seen (estimated)."""

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class _Rays:
    """Legs from each start in each direction: (starts, TURNS).

    at     (..., 2): the foot that fits best
    value  evidence for it
    lump   where it stands, 0 none
    """

    at: Vector
    value: Vector
    lump: NDArray[np.int32]


def find_feet(sight: Sight, body: Body) -> tuple[Point, Point] | None:
    """Likely entries [cells] of both legs, in no order; None where there is no dough near."""
    rows, cols = body.window
    window = sight.window((cols.start, rows.start), (cols.stop - 1, rows.stop - 1), REACH_MM)
    mask = in_window(body, window)
    rays = _rays(sight, window, mask, _evidence(sight, window, mask))
    turn = np.arange(TURNS) * 360 / TURNS
    between = np.abs((turn[:, None] - turn[None] + 180) % 360 - 180)
    value = rays.value[:, :, None] + rays.value[:, None, :]
    lumps = rays.lump[:, :, None], rays.lump[:, None, :]
    value = value + OTHER_LUMP * ((lumps[0] != lumps[1]) & (lumps[0] > 0) & (lumps[1] > 0))
    value = value + (between - 180)[None] / 60
    value[:, between < LEAST_TURN] = -np.inf
    start, i, j = np.unravel_index(int(np.argmax(value)), value.shape)
    if not np.isfinite(value[start, i, j]):
        return None
    offset = np.array([window[1].start, window[0].start])
    p, q = rays.at[start, i] + offset, rays.at[start, j] + offset
    return (float(p[0]), float(p[1])), (float(q[0]), float(q[1]))


def _evidence(sight: Sight, window: Window, body: Mask) -> Floats:
    """0 to 1: how much each cell looks like a thin leg."""
    rows, cols = window
    pixels = np.ascontiguousarray(
        sight.pixels[2 * rows.start : 2 * rows.stop, 2 * cols.start : 2 * cols.stop]
    )
    half = cv2.resize(pixels, (body.shape[1], body.shape[0]), interpolation=cv2.INTER_AREA)
    differs = cv2.absdiff(half, cv2.medianBlur(half, THIN_CELLS)).max(axis=2)
    thin = np.clip((differs.astype(np.float32) - DIFFERS_FROM) / DIFFERS_BY, 0, 1)
    metal = np.clip(np.log(np.maximum(sight.metal[window], 1e-6) / METAL_FROM) / np.log(METAL_TIMES), 0, 1)
    other = sight.red[window] + sight.dark[window] + sight.led[window]
    found = (METAL_PART * metal + THIN_PART * thin) * np.clip(1 - other, 0, 1)
    found[body] = 0
    return np.asarray(cv2.dilate(found.astype(np.float32), np.ones((3, 3), np.uint8)), np.float32)


def _rays(sight: Sight, window: Window, body: Mask, evidence: Floats) -> _Rays:
    """The best foot on each ray from several places of the body."""
    starts = _starts(body)
    steps = np.arange(0, REACH_MM + 4, STEP_MM) / sight.unit_mm
    turn = np.arange(TURNS) * 2 * np.pi / TURNS
    way = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    places = starts[:, None, None] + way[None, :, None] * steps[None, None, :, None]
    cols, rows = np.rint(places).astype(int).transpose(3, 0, 1, 2)
    met = (rows >= 0) & (rows < body.shape[0]) & (cols >= 0) & (cols < body.shape[1])
    rows, cols = rows.clip(0, body.shape[0] - 1), cols.clip(0, body.shape[1] - 1)
    on_body = body[rows, cols] & met
    gain = np.where(on_body, 0.0, evidence[rows, cols] - DOUBT) * STEP_MM
    gain[~met] = -1e3
    total = np.cumsum(gain, axis=2)
    lump = sight.lumps[window][rows, cols]
    room = cv2.distanceTransform((sight.lumps[window] > 0).astype(np.uint8), cv2.DIST_L2, 5)
    deep = np.clip(room[rows, cols] * sight.unit_mm / INTO_DOUGH_MM, 0, 1)
    value = total + IN_DOUGH * deep
    value[on_body | ~met] = -1e3
    value[:, :, : int(SHORTEST_MM / STEP_MM)] = -1e3
    best = value.argmax(axis=2)
    pick = (*np.ogrid[: best.shape[0], : best.shape[1]], best)
    good = np.where(value[pick] > -1e2, value[pick], -np.inf)
    return _Rays(places[pick], good, lump[pick])


def _starts(body: Mask) -> Vector:
    """Middle of the body and places spread over it, (n, 2)."""
    rows, cols = np.nonzero(body)
    middle = np.array([cols.mean(), rows.mean()])
    inside = cv2.distanceTransform(np.pad(body, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
    core = np.stack(np.nonzero(inside >= min(2.0, float(inside.max())))[::-1], axis=1).astype(float)
    turn = np.arange(8) * np.pi / 4
    far = core[np.argmax((core - middle) @ np.stack([np.cos(turn), np.sin(turn)]), axis=0)]
    return np.vstack([middle[None], far])

"""Where the red and the black lead likely go into the dough.

A lead is a metal rod in a sleeve of red or black plastic; it goes in at the rod's far end. Where no
rod is seen the end of the red or black wire that lies on the dough is taken.

Notation: h, w cells of `Sight`; places are (column, row).
"""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.graph import MCP_Geometric

from vision.model import Point
from vision.sight import Floats, Mask, Sight

PLASTIC = 0.55
TOUCH_MM = 1.2
LEAST_MM2 = 0.6
SLEEVE_MM = 6.0
THICKEST_MM = 4.0
"""Black plastic thicker than a sleeve is the pack or something else (common practice)."""
OFF_DOUGH_MM = 2.0
NO_ROD_MM = 1.0
"""How far beyond the end of the wire the rod is taken to go in where it is not seen (estimated)."""

CROSSING, ENDING = 0.0, 0.4
"""How far off the middle of the plastic within SLEEVE_MM lies where a wire passes, and where it ends."""
BY_LED, POWER = 0.3, 0.6
"""Metal that touches an LED is more likely a leg; how much the network's chance of metal counts (measured on
quick photos)."""
LARGE_MM2 = 15.0
"""Plastic of a lead shows at least so much: sleeve and some wire (estimated)."""
APART_MM = 4.0
BARE, LEAST_VALUE = 0.2, 0.03
"""What speaks for the end of a wire without a rod; a lead for which less speaks is left out (measured on
quick photos)."""
Lead = Literal["red", "black"]
LEADS: tuple[Lead, Lead] = ("red", "black")

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class _End:
    """Where a lead may go in, and how much speaks for it, 0 to 1."""

    at: Vector
    value: float


_NOWHERE = _End(np.zeros(2), 0.0)


def find_leads(sight: Sight, bodies: Mask) -> dict[Lead, tuple[Point, float]]:
    """Where each lead goes in [cells], and the chance that it is right; a lead not seen is left out.

    bodies (h, w): LEDs, whose legs are no rods
    """
    ends = {}
    for lead, plastic in (("red", sight.red), ("black", sight.dark)):
        wires = _wires(plastic > PLASTIC, sight.unit_mm)
        ends[lead] = [_NOWHERE, *_rods(sight, wires, bodies), *_bare_ends(sight, wires)]
    best, pick = -1.0, (_NOWHERE, _NOWHERE)
    for red in ends["red"]:
        for black in ends["black"]:
            both = red.value > 0 and black.value > 0
            if both and float(np.hypot(*(red.at - black.at))) * sight.unit_mm < APART_MM:
                continue
            if red.value + black.value > best:
                best, pick = red.value + black.value, (red, black)
    found: dict[Lead, tuple[Point, float]] = {}
    for name, end in zip(LEADS, pick, strict=True):
        if end.value > LEAST_VALUE:
            found[name] = (float(end.at[0]), float(end.at[1])), end.value
    return found


def _wires(mask: Mask, unit_mm: float) -> Mask:
    """Plastic no thicker than a sleeve."""
    size = 2 * round(THICKEST_MM / unit_mm / 2) + 1
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    solid = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, brush)
    return np.asarray(mask & ~(cv2.dilate(solid, np.ones((5, 5), np.uint8)) > 0))


def _rods(sight: Sight, wires: Mask, bodies: Mask) -> list[_End]:
    """Far ends of metal that touches the plastic."""
    unit = sight.unit_mm
    metal = sight.bare.astype(np.uint8)
    count, parts, stats, _ = cv2.connectedComponentsWithStats(metal, connectivity=8)
    near, pieces, sizes = _reached(wires, unit)
    from_led = cv2.distanceTransform((~bodies).astype(np.uint8), cv2.DIST_L2, 5) * unit
    to_dough = _to_dough(sight)
    out = []
    for i in range(1, count):
        left, top, wide, high, area = (int(v) for v in stats[i])
        if area * unit**2 < LEAST_MM2:
            continue
        box = (slice(top, top + high), slice(left, left + wide))
        rows, cols = np.nonzero(parts[box] == i)
        rows, cols = rows + top, cols + left
        touching = near[rows, cols]
        if touching.sum() < 2:
            continue
        places = np.stack([cols, rows], axis=1).astype(float)
        joint = places[touching].mean(axis=0)
        far = np.hypot(*(places - joint).T) * unit
        tip = places[far >= far.max() - 0.5].mean(axis=0)
        col, row = np.rint(tip).astype(int)
        chance = float(np.quantile(sight.metal[rows, cols], 0.75))
        width = area * unit**2 / max(float(far.max()), 1.0)
        value = chance**POWER * min(1.0, width / 1.2) * min(1.0, float(far.max()) / 2)
        value *= _goes_on(wires, joint, tip, unit)
        wire = pieces[rows[touching], cols[touching]]
        value *= min(1.0, float(sizes[wire].max()) * unit**2 / LARGE_MM2)
        value *= BY_LED if from_led[rows, cols].min() < TOUCH_MM else 1.0
        value *= 0.2 if to_dough[row, col] > OFF_DOUGH_MM else 1.0
        out.append(_End(tip, value))
    return out


def _reached(wires: Mask, unit_mm: float) -> tuple[Mask, NDArray[np.int32], NDArray[np.int64]]:
    """Cells that touch plastic, the number of its piece there, and the cells of each piece."""
    size = 2 * round(TOUCH_MM / unit_mm) + 1
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    near = cv2.dilate(wires.astype(np.uint8), brush)
    _, pieces = cv2.connectedComponents(near, connectivity=8)
    sizes = np.bincount(pieces[wires], minlength=int(pieces.max()) + 1)
    sizes[0] = 0
    return near > 0, np.asarray(pieces, np.int32), sizes


def _goes_on(wires: Mask, joint: Vector, tip: Vector, unit_mm: float) -> float:
    """0.1 to 1: how well metal goes straight on from the end of a wire, and does not just lie across one."""
    reach = SLEEVE_MM / unit_mm
    col, row = joint
    top, left = max(0, int(row - reach)), max(0, int(col - reach))
    rows, cols = np.nonzero(wires[top : int(row + reach) + 1, left : int(col + reach) + 1])
    offset = np.stack([cols + left, rows + top], axis=1) - joint
    offset = offset[np.hypot(*offset.T) < reach]
    if not len(offset):
        return 0.1
    pull = offset.mean(axis=0) / reach
    way = (tip - joint) / max(float(np.hypot(*(tip - joint))), 1e-6)
    return max(0.1, min(1.0, (float(-pull @ way) - CROSSING) / (ENDING - CROSSING)))


def _to_dough(sight: Sight) -> Floats:
    """Distance to conductive dough in mm."""
    bare = (sight.lumps == 0).astype(np.uint8)
    return np.asarray(cv2.distanceTransform(bare, cv2.DIST_L2, 5) * sight.unit_mm, np.float32)


def _bare_ends(sight: Sight, wires: Mask) -> list[_End]:
    """Ends of wires that lie on the dough or next to it."""
    count, parts, stats, _ = cv2.connectedComponentsWithStats(wires.astype(np.uint8), connectivity=8)
    to_dough = _to_dough(sight)
    out = []
    for i in range(1, count):
        left, top, wide, high, area = (int(v) for v in stats[i])
        if area * sight.unit_mm**2 < 4 * LEAST_MM2:
            continue
        box = (slice(top, top + high), slice(left, left + wide))
        corner = np.array([left, top], float)
        for end, way in _both_ends(parts[box] == i):
            at = end + corner + way * NO_ROD_MM / sight.unit_mm
            col = int(np.clip(round(at[0]), 0, wires.shape[1] - 1))
            row = int(np.clip(round(at[1]), 0, wires.shape[0] - 1))
            if to_dough[row, col] < OFF_DOUGH_MM:
                out.append(_End(np.array([col, row], float), BARE * min(1.0, area * sight.unit_mm**2 / 40)))
    return out


def _both_ends(part: Mask) -> list[tuple[Vector, Vector]]:
    """Both ends of a wire and which way they point."""
    rows, cols = np.nonzero(part)
    cost = np.where(part, 1.0, -1.0)
    out: list[tuple[Vector, Vector]] = []
    start = (int(rows[0]), int(cols[0]))
    for _ in range(3):
        costs, _ = MCP_Geometric(cost).find_costs([start])
        reached = np.where(np.isfinite(costs) & part, costs, -1.0)
        end = np.unravel_index(int(np.argmax(reached)), part.shape)
        near = part & (reached > reached.max() - 12)
        middle = np.array([np.nonzero(near)[1].mean(), np.nonzero(near)[0].mean()])
        here = np.array([end[1], end[0]], float)
        way = (here - middle) / max(float(np.hypot(*(here - middle))), 1e-6)
        out.append((here, way))
        start = (int(end[0]), int(end[1]))
    return out[1:]

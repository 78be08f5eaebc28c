"""Places of a first photo carried over to a second one of the same sculpture, and which are doubtful.

Notation: places are in photo px of their own photo, unless mm is said.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vision.model import Point, Scene, TableView
from vision.registration import Registration, laid_on

Doubt = Literal["outside", "off-dough", "changed"]

NEAR_MM, ROUND_MM = 1.5, 6.0
"""How far off a tap may be from the dough, and how far its surroundings reach (estimated)."""
LEAST_SAME = 0.8
"""A place whose surroundings are less alike than this, seen cells only, may have changed (estimated)."""


@dataclass(frozen=True)
class Carried:
    """A place on the second photo [px] and why it may be wrong; None when it may not."""

    at: Point
    doubt: Doubt | None = None


def carried(at: Point, first: TableView, second: TableView, found: Registration) -> Point:
    """A place of the first photo on the second."""
    return second.to_px(found.to_second(first.to_mm(at)))


def carry(
    places: Mapping[str, Point], first: Scene, second: Scene, found: Registration
) -> Mapping[str, Carried]:
    """All places on the second photo; `found` lays the second scene on the first.

    Nothing is moved to where it would fit better: a doubtful place is for the helper to look at.
    """
    here, there = _roles(first), laid_on(_roles(second), second, first, found)
    seen = ~first.guessed & (laid_on(second.guessed.astype(np.int32), second, first, found) == 0)
    out = {}
    for name, at in places.items():
        px = carried(at, first.view, second.view, found)
        doubt = _doubt(first, first.view.to_mm(at), here, there, seen)
        height, width = second.labels.shape
        if not (0 <= px[0] <= width and 0 <= px[1] <= height):
            px = (min(max(px[0], 0.0), float(width)), min(max(px[1], 0.0), float(height)))
            doubt = "outside"
        out[name] = Carried(px, doubt)
    return out


def _roles(scene: Scene) -> NDArray[np.int32]:
    """(R, C): 0 table, 1 insulating, 2 conductive."""
    table = np.zeros(int(scene.grid.max(initial=0)) + 1, np.int32)
    for piece in scene.pieces:
        table[piece.id] = 2 if piece.role == "conductive" else 1
    return np.asarray(table[scene.grid])


def _doubt(
    scene: Scene,
    at: Point,
    here: NDArray[np.int32],
    there: NDArray[np.int32],
    seen: NDArray[np.bool_],
) -> Doubt | None:
    """What speaks against a place [mm]."""
    x, y = at[0] / scene.cell_mm, at[1] / scene.cell_mm
    reach = math.ceil(ROUND_MM / scene.cell_mm) + 1
    box = tuple(slice(max(0, int(v) - reach), max(0, int(v) + reach)) for v in (y, x))
    here, there, seen = here[box], there[box], seen[box]
    rows, cols = np.ogrid[: here.shape[0], : here.shape[1]]
    far = np.hypot(rows + box[0].start + 0.5 - y, cols + box[1].start + 0.5 - x) * scene.cell_mm
    near = far <= max(NEAR_MM, scene.cell_mm)
    if (here[near] == 2).any() and not (there[near] == 2).any():
        return "off-dough"
    wide = (far <= ROUND_MM) & seen
    if wide.any() and (here[wide] == there[wide]).mean() < LEAST_SAME:
        return "changed"
    return None

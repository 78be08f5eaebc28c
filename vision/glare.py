"""Where an LED hides the dough though it does not look like an LED.

The helper's taps say that an LED lies between two legs. Where the light is so strong that body, dough
and table all turn white, what lies there is only guessed.

Notation: h, w cells (rows, columns).
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.model import Mark, Point
from vision.raster import closed
from vision.seen import THINGS, Seen

SMALL_MM, LARGE_MM = 2.5, 5.0
"""Body radii of the two usual LEDs, 5 mm and 10 mm (common practice, no published source)."""
CORE_MM = 2.5
"""Radius round the middle of the legs in which the body surely hides the dough (estimated)."""
WHITE = 0.8
"""Mean of linear R, G and B above which a photo has lost what was there (estimated)."""
LARGE_SHARE = 0.75
"""Share of a square of 10 mm on one side of the legs that is white or LED where the LED is a large one."""
BRIDGED_MM = 1.2
"""Half of what may lie between white spots of one body (estimated)."""
SMALL_REACH_MM, LARGE_REACH_MM = 9.5, 16.0
"""How far a body lies out across the legs' line: lengths of the two LEDs (common practice)."""


def led_cover(seen: Seen, marks: Sequence[Mark]) -> NDArray[np.bool_]:
    """Cells (h, w) under an LED: seen as such, in the middle of its legs, or burnt out beside it."""
    led = seen.things[THINGS.index("led")] > 0.5
    out: NDArray[np.bool_] = led.copy()
    white = (seen.light > np.log(3 * WHITE)) | led
    done: set[frozenset[Point]] = set()
    for mark in marks:
        if mark.kind != "leg" or mark.partner is None or frozenset((mark.at, mark.partner)) in done:
            continue
        done.add(frozenset((mark.at, mark.partner)))
        _cover(out, white, seen, mark.at, mark.partner)
    return out


def _cover(out: NDArray[np.bool_], white: NDArray[np.bool_], seen: Seen, p: Point, q: Point) -> None:
    """Add what one LED hides, in place."""
    a, b = (np.array(seen.view.to_mm(at)) / seen.cell_mm - 0.5 for at in (p, q))
    middle, apart = (a + b) / 2, float(np.hypot(*(b - a)))
    side = (b - a) / max(apart, 1e-6)
    reach = int(np.ceil((LARGE_REACH_MM + LARGE_MM) / seen.cell_mm))
    top, left = (max(0, int(v) - reach) for v in (middle[1], middle[0]))
    box = (slice(top, int(middle[1]) + reach + 1), slice(left, int(middle[0]) + reach + 1))
    part = white[box]
    if not part.size:
        return
    y, x = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    dx, dy = (x - middle[0]) * seen.cell_mm, (y - middle[1]) * seen.cell_mm
    along, across = np.abs(dx * side[0] + dy * side[1]), np.abs(dy * side[0] - dx * side[1])
    beside = (along < LARGE_MM) & (across < LARGE_MM)
    upper = dy * side[0] - dx * side[1] > 0
    large = max(float(np.mean(part[beside & half])) for half in (upper, ~upper)) > LARGE_SHARE
    radius, length = (LARGE_MM, LARGE_REACH_MM) if large else (SMALL_MM, SMALL_REACH_MM)
    core = np.hypot(along, across) < CORE_MM
    room = (along < radius + 0.5) & (across < length)
    lost = closed((part & room) | core, BRIDGED_MM, seen.cell_mm) & room
    count, parts = cv2.connectedComponents((lost | core).astype(np.uint8), connectivity=8)
    kept = np.zeros(count, bool)
    kept[parts[core]] = True
    kept[0] = False
    out[box] |= kept[parts]

"""How an LED looks: its colour, and whether it is lit.

Notation: h, w cells of a window (rows, columns).
"""

from collections.abc import Mapping
from typing import Literal, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.sight import Floats, Mask, Sight
from vision.suggest_leds import Body, in_window

State = Literal["bright", "dim", "off"]
Kind = TypeVar("Kind", bound=str)

AROUND_MM = 7.0
NEAR_MM, FAR_MM = (0.5, 2.2), (3.5, 7.0)
"""Rings round a body: where its light falls, and where it hardly does (estimated)."""
FREE = 0.3
FEW_NEAR, FEW_FAR = 8, 15
SURE_LIT, SURE_UNLIT = 0.5, 0.6
"""Least chance to tell a colour; unlit bodies are often water-clear (estimated)."""

# Constant and factors of `_light_terms` and `_colour_terms`, fitted to LEDs of quick photos of seeds
# 21000 to 21059 and 22000 to 22199 (logistic regression).
_LIT: Mapping[State, tuple[float, ...]] = {
    "bright": (-2.38, 1.66, -0.20, 0.43, 0.42, 0.40, -0.12, 1.50, 0.54, 0.38, 0.30),
    "dim": (1.23, 0.67, -0.97, 0.64, 0.21, -0.15, 0.16, -0.30, -0.71, -0.21, -0.12),
    "off": (1.15, -2.33, 1.17, -1.07, -0.63, -0.25, -0.04, -1.20, 0.17, -0.17, -0.18),
}
_COLOUR: Mapping[str, tuple[float, ...]] = {
    "blue": (0.17, -2.97, 6.14, -1.04, 2.16, -0.55, 1.20, 0.05, -0.05, -0.42, 0.79),
    "green": (0.01, -1.82, -1.02, -1.46, -1.25, -3.06, -1.14, 0.49, -0.23, 0.25, -1.46),
    "orange": (-0.29, 2.01, -4.94, 1.47, -0.76, 1.40, -0.29, -0.25, 0.09, -0.32, 0.27),
    "red": (-1.20, 2.96, 1.14, 1.95, -0.02, 2.33, 0.58, -0.34, 0.26, 0.52, 0.59),
    "white": (1.25, -0.13, 1.87, -0.46, 0.36, -0.55, 0.57, 0.35, -0.40, 0.97, -1.03),
    "yellow": (0.06, -0.04, -3.19, -0.46, -0.50, 0.43, -0.92, -0.30, 0.33, -0.99, 0.83),
}


def features(sight: Sight, body: Body) -> Floats:
    """What tells colour and light, (15,): of ln of linear R, G, B (with 0.01 more) of

    0-2 the glow round it, against the same dough farther off; 3-5 the median of the body;
    6-8 its most coloured quarter; 9-11 the surroundings; 12, 13 how much is burnt out in one channel,
    in all; 14 the size.
    """
    window = sight.window(
        (body.window[1].start, body.window[0].start),
        (body.window[1].stop - 1, body.window[0].stop - 1),
        AROUND_MM,
    )
    light = sight.light(window) + np.float32(0.01)
    mask = in_window(body, window)
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5) * sight.unit_mm
    inside = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) * sight.unit_mm
    core = inside > min(0.5, 0.4 * float(inside.max()))
    things = sight.led[window] + sight.metal[window] + sight.red[window] + sight.dark[window]
    free = things < FREE
    near = free & (away > NEAR_MM[0]) & (away < NEAR_MM[1])
    far = free & (away > FAR_MM[0]) & (away < FAR_MM[1])
    ln = np.asarray(cv2.log(light), np.float32)
    spots = ln[core]
    spread = spots.max(axis=1) - spots.min(axis=1)
    coloured = spots[spread >= np.quantile(spread, 0.75)].mean(axis=0)
    around = np.median(ln[far] if far.any() else ln.reshape(-1, 3), axis=0)
    burnt = (light[core].max(axis=1) > 0.9).mean(), (light[core].min(axis=1) > 0.85).mean()
    glow = _glow(ln, sight.labels[window], near, far)
    found = [glow, np.median(spots, axis=0), coloured, around, [*burnt, np.log(body.radius_mm)]]
    return np.concatenate(found).astype(np.float32)


def _glow(ln: Floats, labels: NDArray[np.uint8], near: Mask, far: Mask) -> Floats:
    """How much brighter the same dough is near the body than farther off, (3,)."""
    ratios, weights = [], []
    for label in np.unique(labels[near]):
        here, there = near & (labels == label), far & (labels == label)
        if here.sum() >= FEW_NEAR and there.sum() >= FEW_FAR:
            ratios.append(np.percentile(ln[here], 70, axis=0) - np.median(ln[there], axis=0))
            weights.append(min(int(here.sum()), int(there.sum())))
    if not ratios:
        return np.zeros(3, np.float32)
    return np.asarray(np.average(ratios, axis=0, weights=weights), np.float32)


def looks_of(sight: Sight, body: Body) -> tuple[str | None, State]:
    """Colour, None where nothing tells it, and whether it is lit."""
    found = features(sight, body)
    states = _chances(_LIT, _light_terms(found))
    lit = max(states, key=lambda state: states[state])
    colours = _chances(_COLOUR, _colour_terms(found))
    colour = max(colours, key=lambda name: colours[name])
    sure = SURE_LIT if lit != "off" else SURE_UNLIT
    return (colour if colours[colour] >= sure else None), lit


def _chances(weights: Mapping[Kind, tuple[float, ...]], terms: Floats) -> dict[Kind, float]:
    """Chance of each kind by logistic regression (Cox 1958, several kinds)."""
    scores = np.array([w[0] + float(np.dot(w[1:], terms)) for w in weights.values()])
    chance = np.exp(scores - scores.max())
    return dict(zip(weights, (chance / chance.sum()).tolist(), strict=True))


def _light_terms(found: Floats) -> Floats:
    """What tells bright, dim and off, in the order of `_LIT`."""
    glow, body, coloured, around = found[0:3], found[3:6], found[6:9], found[9:12]
    more = float(body.mean() - around.mean())
    terms = [glow.max(), np.ptp(glow), body.max(), body.max() - around.max(), more, max(0.0, more)]
    return np.array([*terms, found[12], found[13], np.ptp(coloured), found[14]], np.float32)


def _colour_terms(found: Floats) -> Floats:
    """What tells colours, in the order of `_COLOUR`: ln R/G and ln B/G of each, and more."""
    hues = [(v[0] - v[1], v[2] - v[1]) for v in (found[0:3], found[3:6], found[6:9], found[9:12])]
    flat = [hue for pair in hues for hue in pair]
    return np.array([*flat, found[13], np.hypot(*hues[2])], np.float32)

"""Random sculptures with one or two faults of every kind, as a case with its label raster.

A sculpture of `faults` without its shorts works; then something goes wrong with it (`mischief`). What every
LED does, before and after, is what ngspice says (`spice`). Of the seeds, even ones have one fault, odd ones
two; in half of them the case tells how each LED looks. 0 to 9999 for choosing, 10000 to 19999 for
judging.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from api.schemas import Case
from circuit import materials
from sample_images.studio.faults import Known, known
from sample_images.studio.hand_over import case_of, label_raster
from sample_images.studio.mischief import OTHERS, Change, changed, short
from sample_images.studio.raster import Rng
from sample_images.studio.rows import KINDS as SHORTS
from sample_images.studio.spice import Flows, Raster, abreast_A, flows

STARVED = "too-many-in-a-row"
MISHAPS = (*SHORTS, *OTHERS, STARVED)
AT_ODDS = {"leads-swapped", "leads-in-one-lump"}
"""These two are about the same leads."""
BASES, TRIES = 12, 6
CELLS = (3, 4, 4, 5, 6)
"""Packs that are tried until the sculpture works with one."""
PLAIN = ("whole", "with-backwards", "one-of-row", "group-of-row", "two-apart", "good-wound")
PLAIN_P = (0.3, 0.25, 0.15, 0.15, 0.1, 0.05)
LIT_A, UNSURE_A = 0.8e-3, (0.35e-3, 0.7e-3)
"""An LED that works has so much at least; between the other two nobody could say whether it is lit."""
DOUGH_OHM = (1.0, 30.0)
"""From a lead to LEDs side by side, when near and when far (estimated)."""
SAFE = 0.95
"""A sculpture that works keeps its LEDs below so much of their safe current."""


@dataclass(frozen=True)
class Mishap:
    """A sculpture that does not work, and the same one with its faults mended.

    raster, mended_raster (H, W) uint8: label rasters as cases have them
    changes: the faults in the order they were made; a row too long for the pack is none of them
    now, then: what flows with the faults, and when they alone are mended
    """

    seed: int
    kinds: tuple[str, ...]
    changes: tuple[Change, ...]
    case: Case
    raster: Raster
    now: Flows
    mended: Case
    mended_raster: Raster
    then: Flows


def mishap(seed: int) -> Mishap:
    """The mishap of a seed. Raises ValueError when none comes out right."""
    kinds = kinds_of(seed)
    for which in range(BASES):
        rng = np.random.default_rng([seed, 78, which])
        base = _base(rng, seed, kinds, which)
        if base is None:
            continue
        for _ in range(TRIES):
            made = _try(rng, seed, kinds, *base)
            if made is not None:
                return made
    raise ValueError(f"no mishap comes of seed {seed} with {' and '.join(kinds)}")


def kinds_of(seed: int) -> tuple[str, ...]:
    """The faults of a seed: all kinds go round, pairs too."""
    turn, count = seed // 2, len(MISHAPS)
    first = MISHAPS[turn % count]
    if seed % 2 == 0:
        return (first,)
    second = MISHAPS[(turn + 1 + turn // count % (count - 1)) % count]
    if {first, second} == AT_ODDS:
        second = "led-backwards"
    return first, second


def tells_seen(seed: int) -> bool:
    """Whether the case of a seed tells how the LEDs look."""
    return seed // 2 % 2 == 0


def label_png(raster: Raster) -> bytes:
    """The label raster (H, W) as a PNG."""
    done, png = cv2.imencode(".png", raster)
    if not done:
        raise ValueError(f"labels of shape {raster.shape} cannot be written as a PNG")
    return png.tobytes()


def _base(
    rng: Rng, seed: int, kinds: tuple[str, ...], which: int
) -> tuple[Known, Case, Raster, Flows] | None:
    """A sculpture that works, but for a row too long if that is wanted; None when it has no single truth."""
    shorts = [kind for kind in kinds if kind in SHORTS]
    if len(shorts) == 2:
        scenario = str(rng.choice(["two-apart", "two-same"]))
    elif STARVED in kinds:
        scenario = str(rng.choice(["one-of-row", "group-of-row", "two-apart"]))
    elif shorts:
        scenario = str(rng.choice(["whole", "one-of-row", "group-of-row"]))
    else:
        scenario = str(rng.choice(PLAIN, p=PLAIN_P))
    try:
        made = known(seed, scenario, shorts[0] if shorts else None, skip=which)
    except ValueError:
        return None
    case, raster = _mended(made), label_raster(made.mended)
    if STARVED in kinds:  # side by side, a red LED leaves little for a blue one
        case = _in_one_colour(case, str(rng.choice(["red", "yellow", "green", "blue"])))
    for cells in (4, 3) if STARVED in kinds else rng.permutation(CELLS):
        case = _with_cells(case, int(cells))
        then = flows(case, raster)
        if then.is_short:
            return None
        works = min(then.led_A.values()) > LIT_A and _is_safe(case, then.led_A)
        if STARVED in kinds:
            most, least = (abreast_A(case, ohm) for ohm in DOUGH_OHM)
            starved = min(then.led_A.values()) < UNSURE_A[0]
            works = starved and min(least.values()) > LIT_A and _is_safe(case, most)
        if works:
            return made, case, raster, then
    return None


def _with_cells(case: Case, cells: int) -> Case:
    pack = {"cells": cells, "emf_V": cells * materials.CELL_V, "internal_ohm": cells * materials.CELL_OHM}
    return case.model_copy(update={"pack": case.pack and case.pack.model_copy(update=pack)})


def _in_one_colour(case: Case, colour: str) -> Case:
    leds = tuple(led.model_copy(update={"colour": colour}) for led in case.leds)
    return case.model_copy(update={"leds": leds})


def _mended(made: Known) -> Case:
    """The case of a known sculpture without any fault."""
    case = case_of(made).model_copy(update={"parts": ()})
    flipped = {part for fault in made.faults if "led-backwards" in fault.codes for part in fault.parts}
    leds = [
        led.model_copy(update={"long_leg": led.short_leg, "short_leg": led.long_leg})
        if led.id in flipped
        else led
        for led in case.leds
    ]
    return case.model_copy(update={"leds": tuple(leds)})


def _is_safe(case: Case, led_A: dict[str, float]) -> bool:
    return all(led_A[led.id] < SAFE * materials.led_by_colour(led.colour).safe_A for led in case.leds)


def _try(
    rng: Rng, seed: int, kinds: tuple[str, ...], made: Known, whole: Case, sound: Raster, then: Flows
) -> Mishap | None:
    """The sculpture with its faults; None when they do not fit, or one of them does no harm."""
    case, raster = whole, sound
    changes: list[Change] = []
    shorts = 0
    for kind in (kind for kind in kinds if kind != STARVED):
        if kind in SHORTS:
            change: Change | None = short(made, shorts)
            shorts += 1
        else:
            change = OTHERS[kind](rng, made, case, raster)
        if change is None or {*change.entries} & {name for c in changes for name in c.entries}:
            return None
        changes.append(change)
        case, raster = changed(case, raster, change)
    now = flows(case, raster)
    alone = [flows(*changed(whole, sound, change)) for change in changes] if len(changes) > 1 else [now]
    starved = STARVED in kinds  # where nothing shines no fault puts a light out
    if not starved and not all(_harms(flow, then) for flow in (now, *alone)):
        return None
    if len(now.lit) == len(now.led_A) or any(UNSURE_A[0] < a < UNSURE_A[1] for a in now.led_A.values()):
        return None
    if tells_seen(seed):
        case = _seen(case, now)
    names = (*(change.kind for change in changes), *([STARVED] if starved else []))
    return Mishap(seed, names, tuple(changes), case, raster, now, whole, sound, then)


def _harms(flow: Flows, then: Flows) -> bool:
    """Whether a light is out that should shine, or the pack is shorted."""
    return not then.lit <= flow.lit or (flow.is_short and not then.is_short)


def _seen(case: Case, now: Flows) -> Case:
    leds = tuple(
        led.model_copy(update={"seen": materials.DEFAULT_BRIGHTNESS.state(now.led_A[led.id])})
        for led in case.leds
    )
    return case.model_copy(update={"leds": leds})

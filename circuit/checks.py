"""What can be checked with bare hands, and what would be seen then.

Notation: H hypotheses; L LEDs; A answers.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuit.lumps import LEADS
from circuit.model import Answer, Brightness, Cause, CauseCode, Check, CheckAction, Led, Sculpture
from circuit.worlds import World

Floats = NDArray[np.float64]

HELPED: tuple[Answer, ...] = ("all", "lights", "same", "unsure")
WRONG, UNSURE = 0.03, 0.05
"""How often an answer is wrong, or none (estimated)."""
PLAIN, RARELY = ("all", "across"), 0.1
"""Whether every light is on, or dough goes across, is plain to see: much rarer told wrongly (estimated)."""
CLEARLY = 1.6
"""A light gets clearly brighter, or dimmer, by this share of its current: Stevens' law makes 17 % of it in
how bright it looks (estimated)."""
HALF = 2.0
"""A light is as it should be when its current is no less than by this share (estimated)."""
SOFT, ON_SOFT = 0.25, 0.08
"""How far from clear an answer is still likely, in ln of a current (estimated)."""
LOOK_SOFT, LOOK_WRONG = 0.45, 0.02
"""The same for how a light is said to look, and how often it is told wrongly (estimated)."""


ABOUT_LEDS: tuple[CauseCode, ...] = ("led-backwards", "led-dead", "leg-loose")


@dataclass(frozen=True)
class Kind:
    """A kind of check: a helper's time (estimated), the answers to it, and what is mended by doing it."""

    seconds: float
    answers: tuple[Answer, ...]
    mends: tuple[CauseCode, ...] = ()


KINDS: Mapping[CheckAction, Kind] = {
    "turn": Kind(12.0, HELPED, ("led-backwards",)),
    "touch-beside-leads": Kind(20.0, ("bright", "dim", "dark", "unsure")),
    "look-underneath": Kind(10.0, ("all", "across", "nothing", "unsure"), ("short-underneath",)),
    "swap-pack": Kind(25.0, HELPED, ("pack-flat",)),
    "press-in": Kind(8.0, HELPED, ("lead-loose", "leg-loose")),
    "pull-out": Kind(8.0, ("change", "same", "unsure")),
    "pinch-apart": Kind(8.0, HELPED, ("contact-closed",)),
    "press-together": Kind(8.0, HELPED, ("contact-open",)),
    "swap-led": Kind(20.0, HELPED, ("led-dead",)),
    "knead": Kind(45.0, HELPED, ("dough-dry",)),
}
"""Another LED goes into the same holes, the same way round, so that it tells whether the old one is dead."""


def mended_by(check: Check, cause: Cause) -> bool:
    """Whether doing a check mends a cause."""
    if cause.code not in KINDS[check.action].mends:
        return False
    return check.action == "look-underneath" or cause.parts == check.parts


def checks_for(sculpture: Sculpture, causes: Sequence[Cause], lit: Mapping[str, bool]) -> Iterator[Check]:
    """All checks that may tell something about these causes.

    `lit`: whether an LED shines as it should, as far as that is known.
    """
    here = dict.fromkeys((cause.code, cause.parts) for cause in causes)
    at = {cause.parts: cause.at for cause in causes}

    def check(action: CheckAction, parts: tuple[str, ...]) -> Check:
        kind = KINDS[action]
        spots = tuple(sculpture.entries[lead].at for lead in LEADS) if action == "touch-beside-leads" else ()
        return Check(action, parts, at[parts], kind.seconds, kind.answers, to_at=spots)

    for action, kind in KINDS.items():
        for code, parts in here:
            if code in kind.mends and action != "look-underneath":
                yield check(action, parts)
    first = next((cause for cause in causes if cause.code == "short-underneath"), None)
    if first is not None:
        kind = KINDS["look-underneath"]
        yield Check("look-underneath", ("pack",), first.at, kind.seconds, kind.answers)
    of_leds = dict.fromkeys(parts for code, parts in here if code in ABOUT_LEDS)
    for parts in of_leds:
        if not lit.get(parts[0], False):
            yield check("touch-beside-leads", parts)
        elif len(sculpture.leds) > 1:
            yield check("pull-out", parts)


def tried(check: Check, world: World, mended: bool) -> World:
    """A world while a check is done; what the check mends is mended in it, if there was anything to mend."""
    own = frozenset(check.parts)
    if check.action == "turn" and not mended:
        return replace(world, turned=world.turned | own)
    if check.action == "touch-beside-leads":
        return replace(world, probe=check.parts[0], loose=world.loose - own, resting=world.resting - own)
    if check.action == "pull-out":
        return replace(world, out=check.parts[0])
    return world


def chances(
    check: Check,
    sculpture: Sculpture,
    before: Floats,
    during: Floats,
    across: NDArray[np.bool_],
    should_A: Floats,
) -> Floats:
    """Chance of each answer under each hypothesis (A, H).

    before, during  currents of the LEDs (H, L) as things are, and while the check is done
    across          (H,) whether something goes across underneath
    should_A        (L,) currents when nothing hidden is wrong
    """
    led_ids = [led.id for led in sculpture.leds]
    own = [i for i, led in enumerate(led_ids) if led in check.parts]
    look = sculpture.brightness
    on = [
        _above(during[:, i], max(look.dim_A, current / HALF), ON_SOFT)
        for i, current in enumerate(should_A)
        if current >= look.dim_A
    ]
    everything = np.prod(on, axis=0) if on else np.ones(len(before))
    if check.action == "look-underneath":
        told = [across * everything, across * (1 - everything), 1.0 - across]
    elif check.action == "touch-beside-leads":
        bright, dim = _above(during[:, own[0]], look.bright_A), _above(during[:, own[0]], look.dim_A)
        told = [bright, np.maximum(dim - bright, 0.0), 1 - dim]
    elif check.action == "pull-out":
        rest = [i for i in range(len(led_ids)) if i not in own]
        changed = _changed(before[:, rest], during[:, rest], look.dim_A).max(axis=1, initial=0.0)
        told = [changed, 1 - changed]
    else:
        which = own or list(range(len(led_ids)))
        better = _better(before[:, which], during[:, which], look.dim_A).max(axis=1, initial=0.0)
        told = [everything, better * (1 - everything), (1 - better) * (1 - everything)]
    sure = np.array(told)
    plain = np.array([answer in PLAIN for answer in check.answers[:-1]])
    wrong = WRONG * (1 - (1 - RARELY) * (plain @ sure))
    share = np.where(plain, RARELY, 1.0)
    noisy = (1 - UNSURE - wrong) * sure + wrong * (share / share.sum())[:, None]
    return np.vstack([noisy, np.full(len(before), UNSURE)])


def _above(current_A: Floats, limit_A: float, soft: float = SOFT) -> Floats:
    """How likely a current counts as above a limit."""
    return _chance(np.log(np.maximum(current_A, 1e-9) / limit_A), soft)


def _chance(x: Floats, soft: float) -> Floats:
    return np.asarray(1 / (1 + np.exp(-np.clip(x / soft, -40, 40))))


def _better(before_A: Floats, after_A: Floats, dim_A: float) -> Floats:
    ratio = np.log(np.maximum(after_A, 1e-9) / np.maximum(before_A, dim_A / 3))
    return _above(after_A, dim_A) * _chance(ratio - np.log(CLEARLY), SOFT)


def _changed(before_A: Floats, after_A: Floats, dim_A: float) -> Floats:
    return np.maximum(_better(before_A, after_A, dim_A), _better(after_A, before_A, dim_A))


def look_chance(leds: Sequence[Led], look: Brightness, current_A: Floats) -> Floats:
    """Chance that the LEDs look as they are said to look, under each hypothesis (H,).

    `current_A` (H, L). An LED of which nothing is said looks as it looks.
    """
    product = np.ones(len(current_A))
    for i, led in enumerate(leds):
        if led.seen is None:
            continue
        bright = _above(current_A[:, i], look.bright_A, LOOK_SOFT)
        dim = np.maximum(_above(current_A[:, i], look.dim_A, LOOK_SOFT), bright)
        told = {"bright": bright, "dim": dim - bright, "off": 1 - dim}[led.seen]
        product *= (1 - 3 * LOOK_WRONG) * told + LOOK_WRONG
    return product

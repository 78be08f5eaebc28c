"""The search for what the photo cannot show: suspects, the next check, and what the answers leave over.

A hypothesis is a set of at most two hidden causes, each at one severity. It is weighed by how common its
causes are and by how well the solved circuit explains what is seen lit, and then by every answer.

Notation: H hypotheses; L LEDs.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from circuit.belief import Test, choose, expected_bits, groups_alike
from circuit.causes import Mode, modes_of
from circuit.checks import chances, checks_for, look_chance, mended_by, tried
from circuit.errors import SculptureError
from circuit.model import Answered, Cause, Check, Enquiry, Suspect
from circuit.worlds import World, Worlds

Floats = NDArray[np.float64]

NAMED = 0.95
"""A cause this likely is named (estimated)."""
LIKELY = 0.7
"""So likely is enough when no check is left that would tell more (estimated)."""
SURE = 0.8
"""Once every light is on, a cause beside another is named only if it is so likely (estimated)."""
LEAST = 1e-4
"""Hypotheses less likely than this are let go."""
MOST, FEW, MANY_SPOTS = 120, 20, 40
MOST_USEFUL, MOST_CAUSES = 24, 16
"""So many hypotheses are looked at in full, pairs of so many modes; checks are about so many causes."""
MOST_ASKED = 2
"""A check is asked at most so often."""
OVERHEAD_S = 60.0
"""What every check takes besides: to say it, to look, to tap the answer (estimated)."""
LEAST_BITS = 0.02
"""A check that tells less is not worth a child's patience (estimated)."""
MOST_OTHERS = 4


@dataclass(frozen=True)
class Hypothesis:
    """What may be wrong: causes at one severity each; `left` are those not mended yet by a check."""

    modes: tuple[Mode, ...]
    left: tuple[Mode, ...]

    @property
    def world(self) -> World:
        """What is really there now."""
        world = World()
        for mode in self.left:
            world = world.and_also(mode.world)
        return world

    @property
    def causes(self) -> tuple[Cause, ...]:
        """What was wrong from the beginning."""
        return tuple(mode.cause for mode in self.modes)


@dataclass(frozen=True)
class Belief:
    """Hypotheses with their weights (H,), which sum to 1."""

    hypotheses: tuple[Hypothesis, ...]
    weights: Floats


def enquire(worlds: Worlds, answered: Sequence[Answered] = ()) -> Enquiry:
    """Suspects and the next check; `answered` is what was checked so far.

    Raises SculptureError for an answer to a check that this sculpture does not have.
    """
    belief, shines = _known(worlds, answered)
    return _summed_up(worlds, belief, answered, shines)


def _known(worlds: Worlds, answered: Sequence[Answered]) -> tuple[Belief, dict[str, bool]]:
    """What is believed after all answers, and which LEDs shine as far as is known."""
    belief = _first(worlds, modes_of(worlds.board, worlds.placing, worlds.flips))
    shines = {led.id: led.seen not in (None, "off") for led in worlds.board.sculpture.leds}
    for told in answered:
        belief = _after(worlds, belief, told, shines)
    return belief, shines


def likeliest_flip(worlds: Worlds, answered: Sequence[Answered] = ()) -> tuple[int, float]:
    """Which doubtful place is most likely other than taken, by all that is seen, and how likely that is.

    The place is an index into `worlds.flips`, which must hold at least one.
    """
    belief, _ = _known(worlds, answered)
    chance = [0.0] * len(worlds.flips)
    for h, weight in zip(belief.hypotheses, belief.weights.tolist(), strict=True):
        for mode in h.modes:
            if mode.world.other is not None:
                chance[mode.world.other] += weight
    best = int(np.argmax(chance))
    return best, chance[best]


# ---------------------------------------------------------------- what may be wrong


def _first(worlds: Worlds, modes: Sequence[Mode]) -> Belief:
    """Single and double causes, weighed by what is seen lit."""
    singles = [Hypothesis((mode,), (mode,)) for mode in modes]
    alone = _fit(worlds, singles)
    useful = _useful(worlds, modes)[: MOST_USEFUL if _most(worlds) == MOST else 0]
    pairs = [
        Hypothesis((a, b), (a, b))
        for a, b in combinations(useful, 2)
        if a.cause != b.cause and not (set(a.cause.parts) & set(b.cause.parts) & set(worlds.led_ids))
    ]
    fit = np.concatenate([alone, _fit(worlds, pairs)])
    odds = [float(np.prod([mode.odds for mode in h.modes])) for h in (*singles, *pairs)]
    return _kept([*singles, *pairs], np.array(odds) * fit, _most(worlds))


def _fit(worlds: Worlds, hypotheses: Sequence[Hypothesis]) -> Floats:
    """Chance of what is seen lit, under each hypothesis (H,).

    Where nothing is said at all, what is known is that something is not as it should be.
    """
    if not hypotheses:
        return np.zeros(0)
    sculpture = worlds.board.sculpture
    current = worlds.led_A([h.world for h in hypotheses])
    if any(led.seen is not None for led in sculpture.leds):
        return look_chance(sculpture.leds, sculpture.brightness, current)
    should = [sculpture.brightness.state(float(current)) for current in worlds.should_A]
    told = tuple(replace(led, seen=own) for led, own in zip(sculpture.leds, should, strict=True))
    return 1 - look_chance(told, sculpture.brightness, current)


def _useful(worlds: Worlds, modes: Sequence[Mode]) -> list[Mode]:
    """Modes that change what any LED does that looks other than it should; all where nothing is said."""
    leds = worlds.board.sculpture.leds
    if all(led.seen is None for led in leds):
        return sorted(modes, key=lambda mode: -mode.odds)[:MOST_USEFUL]
    plain = worlds.led_A([World()])[0]
    alone = worlds.led_A([mode.world for mode in modes])
    look = worlds.board.sculpture.brightness
    found = []
    for mode, current in zip(modes, alone, strict=True):
        for i, led in enumerate(leds):
            if led.seen is None:
                continue
            one, pair = (led,), np.array([[plain[i]], [current[i]]])
            before, after = look_chance(one, look, pair)
            if after > 2 * before:
                found.append(mode)
                break
    return sorted(found, key=lambda mode: -mode.odds)


def _most(worlds: Worlds) -> int:
    """So many hypotheses; few where there are many spots, as time grows with their cube."""
    return MOST if len(worlds.board.spots) <= MANY_SPOTS else FEW


def _kept(hypotheses: Sequence[Hypothesis], weights: Floats, most: int) -> Belief:
    """The likely ones, with weights that sum to 1."""
    total = weights.sum()
    weights = weights / total if total > 0 else np.full(len(weights), 1 / max(1, len(weights)))
    order = np.argsort(-weights, kind="stable")[:most]
    order = order[weights[order] >= LEAST * weights[order].max(initial=0.0)]
    kept = weights[order]
    return Belief(tuple(hypotheses[i] for i in order), kept / kept.sum() if len(kept) else kept)


# ---------------------------------------------------------------- checks and their answers


def _possible(
    worlds: Worlds, belief: Belief, shines: Mapping[str, bool], most: int | None = None
) -> list[Check]:
    """Checks that may tell something about what is left, or about the likeliest causes of it."""
    total: dict[Cause, float] = {}
    for h, weight in zip(belief.hypotheses, belief.weights.tolist(), strict=True):
        for mode in h.left:
            total[mode.cause] = total.get(mode.cause, 0.0) + weight
    likely = sorted(total, key=lambda cause: -total[cause])[:most]
    return list(checks_for(worlds.board.sculpture, likely, shines))


def _chances(worlds: Worlds, belief: Belief, check: Check) -> Floats:
    """Chance of each answer under each hypothesis (A, H)."""
    before = [h.world for h in belief.hypotheses]
    during = [_while(check, h) for h in belief.hypotheses]
    across = np.array([bool(world.across) for world in before])
    current = worlds.led_A([*before, *during])
    count = len(before)
    return chances(check, worlds.board.sculpture, current[:count], current[count:], across, worlds.should_A)


def _while(check: Check, hypothesis: Hypothesis) -> World:
    mended = _mended(check, hypothesis)
    return tried(check, mended.world, mended.left != hypothesis.left)


def _mended(check: Check, hypothesis: Hypothesis) -> Hypothesis:
    left = tuple(mode for mode in hypothesis.left if not mended_by(check, mode.cause))
    return replace(hypothesis, left=left)


def _after(worlds: Worlds, belief: Belief, told: Answered, shines: dict[str, bool]) -> Belief:
    """What an answer leaves over; what the check has mended stays mended."""
    check = _asked(worlds, belief, told, shines)
    if check is None:
        return belief
    chance = _chances(worlds, belief, check)[check.answers.index(told.answer)]
    hypotheses = belief.hypotheses
    if told.answer in ("all", "lights", "across"):
        shines |= {part: True for part in check.parts if part in shines}
        hypotheses = tuple(_mended(check, h) for h in hypotheses)
        if told.answer == "all":
            chance = chance * np.array([not h.left for h in hypotheses])
    elif told.answer == "same" and check.action != "turn":
        hypotheses = tuple(_mended(check, h) for h in hypotheses)
    weights = belief.weights * chance
    return _kept(hypotheses, weights if weights.any() else belief.weights, MOST)


def _asked(worlds: Worlds, belief: Belief, told: Answered, shines: Mapping[str, bool]) -> Check | None:
    """The check that was done; None when nothing is left that it could tell about."""
    for check in _possible(worlds, belief, shines):
        if _same(check, told):
            if told.answer not in check.answers:
                raise SculptureError(
                    "The check {action} cannot be answered by {answer}: choose one of {names}.",
                    action=told.action,
                    answer=told.answer,
                    names=", ".join(check.answers),
                )
            return check
    return None


# ---------------------------------------------------------------- what is known now


def _summed_up(
    worlds: Worlds, belief: Belief, answered: Sequence[Answered], shines: Mapping[str, bool]
) -> Enquiry:
    suspects, told = _suspects(belief), tuple(answered)
    named, chance = _likeliest(belief)
    if chance >= NAMED:
        return Enquiry(suspects, None, (), told, "named", named)
    if told and told[-1].answer == "all":
        return Enquiry(suspects, None, (), told, "named", _sure_of(named, belief))
    often = Counter((a.action, a.parts) for a in told)
    possible = _possible(worlds, belief, shines, MOST_CAUSES)
    possible = [check for check in possible if often[check.action, check.parts] < MOST_ASKED]
    tests = [
        Test(check.seconds + OVERHEAD_S, _chances(worlds, belief, check), _undone(check, belief))
        for check in possible
    ]
    asked = [
        replace(check, bits=expected_bits(belief.weights, test))
        for check, test in zip(possible, tests, strict=True)
    ]
    worth = _worth_asking(asked, told)
    alike = _alike(belief, tests)
    if not worth:
        if chance >= LIKELY:
            return Enquiry(suspects, None, (), told, "named", named)
        return Enquiry(suspects, None, (), told, "cannot-tell", (), alike)
    first = worth[choose(belief.weights, [tests[i] for i in worth], NAMED, _says(belief)) or 0]
    rest = sorted((i for i in worth if i != first), key=lambda i: -asked[i].bits / asked[i].seconds)
    others = tuple(asked[i] for i in rest[:MOST_OTHERS])
    untold = not told and all(led.seen is None for led in worlds.board.sculpture.leds)
    return Enquiry(suspects, asked[first], others, told, "asking", (), alike, untold)


def _worth_asking(asked: Sequence[Check], told: Sequence[Answered]) -> list[int]:
    """Which of these checks may come next.

    One that nobody could tell about comes again at once: if it has helped, the next would get the praise.
    Otherwise the same is only asked again when nothing else is left.
    """
    worth = [i for i, check in enumerate(asked) if check.bits >= LEAST_BITS]
    if told and told[-1].answer == "unsure":
        again = [i for i in worth if _same(asked[i], told[-1]) and "all" in asked[i].answers]
        if again:
            return again
    fresh = [i for i in worth if not any(_same(asked[i], a) and a.answer != "unsure" for a in told)]
    return fresh or worth


def _same(check: Check, told: Answered) -> bool:
    return (check.action, check.parts) == (told.action, told.parts)


def _undone(check: Check, belief: Belief) -> NDArray[np.bool_]:
    """Hypotheses of which nothing is left once the check is done, so that its answer says so."""
    says_so = "all" in check.answers
    return np.array([says_so and not _mended(check, h).left for h in belief.hypotheses], bool)


def _suspects(belief: Belief) -> tuple[Suspect, ...]:
    """Every cause with the chance that it is there."""
    total: dict[Cause, float] = {}
    for h, weight in zip(belief.hypotheses, belief.weights.tolist(), strict=True):
        for cause in h.causes:
            total[cause] = total.get(cause, 0.0) + weight
    return tuple(Suspect(c, p) for c, p in sorted(total.items(), key=lambda item: -item[1]))


def _names(h: Hypothesis) -> frozenset[tuple[str, ...]]:
    """What a hypothesis says, as far as it matters: between which lumps a short is, a look will show."""
    return frozenset(map(_name, h.causes))


def _name(cause: Cause) -> tuple[str, ...]:
    return (cause.code,) if cause.code == "short-underneath" else (cause.code, *cause.parts)


def _says(belief: Belief) -> NDArray[np.intp]:
    """A number for each hypothesis (H,), the same for those that say the same."""
    numbers: dict[frozenset[tuple[str, ...]], int] = {}
    return np.array([numbers.setdefault(_names(h), len(numbers)) for h in belief.hypotheses], np.intp)


def _likeliest(belief: Belief) -> tuple[tuple[Cause, ...], float]:
    """The likeliest set of causes, at any severity, and its chance."""
    total: dict[frozenset[tuple[str, ...]], float] = {}
    for h, weight in zip(belief.hypotheses, belief.weights.tolist(), strict=True):
        total[_names(h)] = total.get(_names(h), 0.0) + weight
    if not total:
        return (), 0.0
    best = max(total, key=lambda key: total[key])
    return next(h.causes for h in belief.hypotheses if _names(h) == best), total[best]


def _sure_of(named: tuple[Cause, ...], belief: Belief) -> tuple[Cause, ...]:
    """Those of the named causes that were there almost surely, or else the likeliest of them.

    Of two that were mended one after the other, one may have been there and the other not.
    """
    chance = {
        cause: sum(
            weight
            for h, weight in zip(belief.hypotheses, belief.weights.tolist(), strict=True)
            if _name(cause) in _names(h)
        )
        for cause in named
    }
    return tuple(cause for cause in named if chance[cause] >= min(SURE, max(chance.values())))


def _alike(belief: Belief, tests: Sequence[Test]) -> tuple[tuple[Cause, ...], ...]:
    """Sets of likely causes that no check tells apart."""
    found: list[tuple[Cause, ...]] = []
    for group in groups_alike(tests, len(belief.hypotheses)):
        causes = tuple(dict.fromkeys(c for i in group for c in belief.hypotheses[i].causes))
        if len({(c.code, c.parts) for c in causes}) > 1 and causes not in found:
            found.append(causes)
    return tuple(found)

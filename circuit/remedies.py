"""Remedies by what-if: plans of up to three things to do, each solved before it is offered.

A plan comes before another when it lights more; of those that light as many, the one that is worth most:
light counted in seconds, less a helper's time, damage and risk. A plan that makes a hazard is never offered.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain, combinations

from circuit.board import Board, Placing
from circuit.choices import dimmer_choices, leg_choices
from circuit.lumps import LEADS
from circuit.model import Remedy, Sculpture, State, Step
from circuit.outcome import Outcome, is_over
from circuit.plans import Bench, Choice, cost_of, seconds_of

LIGHT_WORTH: Mapping[State, float] = {"bright": 1.0, "dim": 0.6, "off": 0.0}
LIGHT_S = 60.0
"""So many seconds of work a light is worth (estimated)."""
ABOUT_S = 15.0
MOST_CHOICES, FEW, MANY_SPOTS = 16, 6, 40
"""So many choices are combined; few where there are many spots, as time grows with their cube."""
MOST_REMEDIES = 5
MOST_DARK = 4
MOST_STEPS = 3
MOST_ROUNDS = 3
"""So often are choices added to the plans that light most; each time LEDs that are still dark get theirs."""
LEAST_GAIN = 0.05
NEARLY = 0.9
"""Share of its safe current from which an LED counts as over it: the sums may be off by some per cent."""
SURELY = 1.25
"""A light is sure with this share of the current that makes it dim (estimated)."""
SHORT_A = 0.25
"""So much from the pack is a short (estimated); twelve bright LEDs take less."""


@dataclass(frozen=True)
class Base:
    """Where plans may start: the board after these cuts, with everything that may be done on it.

    start  the sculpture before the cuts, a lead moved already where that comes first
    """

    start: Sculpture
    cuts: tuple[Step, ...]
    board: Board
    placing: Placing
    choices: Sequence[Choice]

    @property
    def parts_a_short(self) -> bool:
        """Whether a short is cut, or a wire taken out, to come here."""
        return any(step.action in ("cut", "take-out") for step in self.cuts)


@dataclass(frozen=True, eq=False)
class Plan:
    """Things to do on a base, with what comes of it."""

    base: Base
    bench: Bench
    chosen: tuple[Choice, ...]
    outcome: Outcome

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps in order."""
        return (*self.base.cuts, *(step for choice in self.chosen for step in choice.steps))

    @property
    def doing(self) -> frozenset[object]:
        """What is done, whatever the spot in a lump: two plans that differ only there are one to a reader."""
        return frozenset((step.action, step.parts, step.at, step.to, step.line) for step in self.steps)

    @cached_property
    def lit(self) -> int:
        """How many LEDs shine for sure; with both legs in one lump one only glows by what the dough drags."""
        least_A = SURELY * self.outcome.board.sculpture.brightness.dim_A
        placing, home = self.bench.placed(self.chosen), self.outcome.board.lump_at
        return sum(
            current >= least_A and home(placing[f"{led}.long"]) != home(placing[f"{led}.short"])
            for led, current in self.outcome.led_A.items()
        )

    @cached_property
    def by_hand(self) -> "Plan":
        """The same with its outcome when cuts are made straight and gaps are filled in truth."""
        sketched = self.base.cuts or any(choice.join for choice in self.chosen)
        return replace(self, outcome=self.bench.drawn(self.chosen)) if sketched else self

    @property
    def worth(self) -> float:
        """Lights, a dim one counted less."""
        return sum(LIGHT_WORTH[state] for state in self.outcome.states.values())

    @property
    def key(self) -> tuple[int, int]:
        """Plans are sorted by this; those worth about as much stay in order."""
        return -self.lit, round((cost_of(self.steps) - LIGHT_S * self.worth) / ABOUT_S)


def rank(now: Outcome, bases: Sequence[Base], later: Callable[[], Iterable[Base]]) -> tuple[Remedy, ...]:
    """The best plans, best first. `now` is the outcome as the sculpture stands.

    `later` gives bases that take longer to find; they are only asked for when some LED stays dark.
    """
    safe: list[Plan] = []
    best: list[Plan] = []
    for plans in chain(_rounds(now, lambda: bases), _rounds(now, later)):
        safe += plans
        best = _best(safe, now)
        if _lights_all(best, now):
            break
    return tuple(_remedy(plan) for plan in best)


def _rounds(now: Outcome, start: Callable[[], Iterable[Base]]) -> Iterator[list[Plan]]:
    """Sound plans on these bases, then on bases with more choices, as long as that lights more."""
    bases, lit = list(start()), -1
    for _ in range(MOST_ROUNDS):
        plans = [plan for base in bases for plan in _plans(base)]
        safe = _sound(now, plans)
        yield safe
        most = max((plan.lit for plan in plans), default=-1)
        if most <= lit:
            break
        lit = most
        bases = list(_with_more(now, bases, safe, plans))


def _lights_all(best: Sequence[Plan], now: Outcome) -> bool:
    return bool(best) and best[0].lit == len(now.states)


def _best(safe: Sequence[Plan], now: Outcome) -> list[Plan]:
    """The best plans that also keep their promise when they are carried out by hand."""
    best: list[Plan] = []
    short_of: list[Plan] = []
    offered: set[frozenset[object]] = set()
    for plan in sorted(safe, key=lambda plan: plan.key):
        if len(best) == MOST_REMEDIES:
            break
        if plan.doing not in offered and _useful(plan, now) and not _wasteful(plan, safe):
            done = plan.by_hand
            if done.lit >= plan.lit and not _hazard(now, done):
                best.append(done)
                offered.add(plan.doing)
            elif not burning(now, done) and (plan.base.parts_a_short or not _shorted(done)):
                short_of.append(done)
    # A short is cut even where a straight cut does not part or light all that it should.
    return best or sorted(short_of, key=lambda plan: plan.key)[:1]


def _plans(base: Base) -> Iterator[Plan]:
    """All plans of up to three of the choices that do most alone."""
    large = len(base.board.spots) > MANY_SPOTS
    choices = base.choices[:MOST_CHOICES] if large else base.choices
    spots = [moved for choice in choices for moved in choice.move]
    bench = Bench(base.start, base.cuts, base.board, base.placing, spots)
    alone = [
        Plan(base, bench, (choice,), outcome)
        for choice, outcome in zip(choices, bench.solve([(c,) for c in choices]), strict=True)
    ]
    # Sorting is stable: of those that do nothing alone, what was found to be wrong comes first.
    most = FEW if large else MOST_CHOICES
    single = [plan.chosen[0] for plan in sorted(alone, key=lambda plan: -plan.lit)[:most]]
    single.sort(key=list(choices).index)
    clash = {(a, b) for a, b in combinations(single, 2) if a.in_the_way_of(b)}
    picked = [
        chosen
        for size in range(0 if base.cuts else 1, MOST_STEPS + 1)
        for chosen in combinations(single, size)
        if clash.isdisjoint(combinations(chosen, 2))
    ]
    for chosen, outcome in zip(picked, bench.solve(picked), strict=True):
        yield Plan(base, bench, chosen, outcome)


def _with_more(
    now: Outcome, bases: Sequence[Base], safe: Sequence[Plan], plans: Sequence[Plan]
) -> Iterator[Base]:
    """Bases with more choices: legs moved of LEDs that stay dark, and of those that get too much.

    They start from what lights most so far, once only what is safe and once anything.
    """
    for base in bases:
        own = [plan for plan in plans if plan.base is base]
        good = [plan for plan in safe if plan.base is base]
        starts = dict.fromkeys(min(some, key=lambda plan: plan.key) for some in (good, own) if some)
        more: list[Choice] = []
        for plan in starts:
            states, placing = plan.outcome.states, plan.bench.placed(plan.chosen)
            dark = [led for led, state in states.items() if state == "off"][:MOST_DARK]
            over = burning(now, plan)[:MOST_DARK]
            more += [*leg_choices(base.board, placing, dark), *dimmer_choices(base.board, placing, over)]
        if more:
            kept = {choice for plan in starts for choice in plan.chosen}
            few = [c for c in base.choices if c in kept or c.turn or c.join or c.swap_leads]
            yield Base(base.start, base.cuts, base.board, base.placing, [*few, *more])


# ---------------------------------------------------------------- what is offered


def _sound(now: Outcome, plans: Sequence[Plan]) -> list[Plan]:
    """Plans that make no hazard that is not there already."""
    return [plan for plan in plans if not _hazard(now, plan)]


def _hazard(now: Outcome, plan: Plan) -> bool:
    """An LED that comes over its safe current or power, or a short of the pack."""
    return bool(burning(now, plan)) or _shorted(plan)


def burning(now: Outcome, plan: Plan) -> list[str]:
    """LEDs that come near the most they bear, or over it, and were not over it before."""
    then, before = plan.outcome, now.led_A
    leds = then.board.sculpture.leds
    return [
        led.id
        for led in leds
        if is_over(then, led, NEARLY) and not is_over(now, led) and then.led_A[led.id] > before[led.id]
    ]


def _shorted(plan: Plan) -> bool:
    spots, outcome = plan.bench.placed(plan.chosen), plan.outcome
    plus, minus = (outcome.board.lump_at(spots[lead]) for lead in LEADS)
    return (plus is not None and plus == minus) or outcome.pack_A > SHORT_A


def _useful(plan: Plan, now: Outcome) -> bool:
    before = sum(LIGHT_WORTH[state] for state in now.states.values())
    return plan.base.parts_a_short or plan.worth > before + LEAST_GAIN


def _wasteful(plan: Plan, plans: Sequence[Plan]) -> bool:
    """Whether a part of the plan does as much."""
    own = set(plan.chosen)
    return any(
        other.base is plan.base and set(other.chosen) < own and other.lit >= plan.lit
        and other.worth >= plan.worth - LEAST_GAIN
        for other in plans
    )  # fmt: skip


def _remedy(plan: Plan) -> Remedy:
    seconds = sum(seconds_of(step) for step in plan.steps)
    outcome = plan.outcome
    return Remedy(plan.steps, seconds, outcome.states, outcome.led_A, outcome.pack_A)

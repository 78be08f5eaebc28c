"""A helper looks for hidden faults: as Doughsight asks, or in the order that everybody knows.

The helper does on the true sculpture (`hidden`) what is asked; what works stays done. Answers are wrong or
missing now and then.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from circuit.checks import KINDS
from circuit.model import Answer, Answered, Check, CheckAction, Enquiry
from sample_images.studio.hidden import CLEARLY, Puzzle, Rng, clearly_less
from sample_images.studio.hidden_truth import Hidden

WRONG, UNSURE = 0.03, 0.05
PLAIN, RARELY = ("all", "across"), 0.1
"""Whether every light is on, or dough goes across, is plain: so much rarer told wrongly (estimated)."""
TELL_S = 10.0
"""To say how the lights look (estimated)."""
MOST_CHECKS = 15
MOST_IN_ORDER = 60
Ask = Callable[[Sequence[Answered]], Enquiry | None]
Names = frozenset[tuple[str, ...]]


@dataclass
class Helper:
    """A helper at the sculpture: `left` are the faults that are still there."""

    puzzle: Puzzle
    rng: Rng
    left: tuple[Hidden, ...] = field(init=False)

    def __post_init__(self) -> None:
        self.left = self.puzzle.faults

    @property
    def all_well(self) -> bool:
        """Whether every light is as it should be."""
        now = self.puzzle.truth.led_A(self.left)
        return not any(clearly_less(now[led], a) for led, a in self.puzzle.should_A.items())

    def does(
        self, action: CheckAction, parts: Sequence[str], answers: Sequence[Answer]
    ) -> tuple[Answer, Answer]:
        """What the helper then says, and what would be right; what helps stays done."""
        left = self.left
        right = self._sees(action, tuple(parts), answers)
        chance = self.rng.random()
        if chance < UNSURE:
            if action in ("look-underneath", "turn"):
                self.left = left  # who cannot tell parts nothing, and turns the LED back
            return "unsure", right
        rarely = RARELY if right in PLAIN else 1.0
        if chance < UNSURE + WRONG * rarely:
            wrong = [a for a in answers if a not in (right, "unsure")]
            odds = np.array([RARELY if a in PLAIN else 1.0 for a in wrong])
            if self.rng.random() < odds.sum():
                return wrong[int(self.rng.choice(len(wrong), p=odds / odds.sum()))], right
        return right, right

    def _sees(self, action: CheckAction, parts: tuple[str, ...], answers: Sequence[Answer]) -> Answer:
        truth, look = self.puzzle.truth, self.puzzle.sculpture.brightness
        if "all" in answers and self.all_well:  # it was not told last time
            return "all"
        before = truth.led_A(self.left)
        if action == "touch-beside-leads":
            now = truth.led_A(self.left, probe=parts[0])[parts[0]]
            return "bright" if now >= look.bright_A else "dim" if now >= look.dim_A else "dark"
        if action == "pull-out":
            during = truth.led_A(self.left, out=parts[0])
            rest = [led for led in before if led != parts[0]]
            return "change" if any(self._other(before[i], during[i]) for i in rest) else "same"
        then = self._after(action, parts)
        after = truth.led_A(then)
        which = [led for led in before if led in parts] or list(before)
        brighter = any(self._brighter(before[led], after[led]) for led in which)
        everything = not any(clearly_less(after[led], a) for led, a in self.puzzle.should_A.items())
        if action == "look-underneath":
            found = len(then) < len(self.left)
            self.left = then
            told: Answer = "nothing" if not found else "all" if everything and brighter else "across"
        else:
            if brighter or action != "turn":  # an LED that does not light when turned is turned back
                self.left = then
            told = "same" if not brighter else "all" if everything else "lights"
        return told if told in answers else "lights"

    def _after(self, action: CheckAction, parts: tuple[str, ...]) -> tuple[Hidden, ...]:
        """The faults that are there once it is done."""
        if action == "turn":
            turned = Hidden("led-backwards", parts)
            return tuple(f for f in self.left if f != turned) if turned in self.left else (*self.left, turned)
        mends = MENDED[action]
        own = action not in ("look-underneath", "pinch-apart", "press-together")
        return tuple(f for f in self.left if f.code not in mends or (own and f.parts != parts))

    def _brighter(self, before_A: float, after_A: float) -> bool:
        look = self.puzzle.sculpture.brightness
        clear = CLEARLY * float(np.exp(self.rng.normal(0, 0.1)))
        return after_A >= look.dim_A and after_A > clear * max(before_A, look.dim_A / 3)

    def _other(self, before_A: float, after_A: float) -> bool:
        return self._brighter(before_A, after_A) or self._brighter(after_A, before_A)


MENDED: Mapping[CheckAction, tuple[str, ...]] = {
    "look-underneath": ("short-underneath",),
    "swap-pack": ("pack-flat",),
    "press-in": ("lead-loose", "leg-loose"),
    "pinch-apart": ("contact-closed",),
    "press-together": ("contact-open",),
    "swap-led": ("led-dead",),
    "knead": ("dough-dry",),
}


@dataclass(frozen=True)
class Dialogue:
    """How it went: the checks with their answers, seconds, and whether the true faults were named, or mended.

    state: how the enquiry ended; `capped` when it never did
    named: what was named at the end; right when it is all that was still there, and nothing that never was
    slips: answers that were wrong; suspects: the likeliest at the end
    looked: it was asked first how the lights look; counts as a check, and is in `seconds`
    """

    checks: tuple[Answered, ...]
    slips: int
    seconds: float
    state: str
    named: Names
    right: bool
    suspects: tuple[tuple[str, float], ...] = ()
    looked: bool = False

    @property
    def count(self) -> int:
        """How many checks it took."""
        return len(self.checks) + self.looked


def asked(puzzle: Puzzle, ask: Ask, read_so: Names = frozenset()) -> Dialogue:
    """The dialogue in which the enquiry says what to check; `read_so`: what the reading names, if nothing is
    asked."""
    helper = Helper(puzzle, np.random.default_rng([puzzle.seed, 80]))
    done: list[Answered] = []
    slips, seconds, state = 0, 0.0, "not asked"
    named: Names = read_so
    suspects: tuple[tuple[str, float], ...] = ()
    while True:
        enquiry = ask(done)
        if enquiry is None:
            break
        state = enquiry.state
        named = frozenset(Hidden(c.code, c.parts).name for c in enquiry.named)
        suspects = tuple(
            (f"{s.cause.code} {' '.join(s.cause.parts)}", round(s.probability, 3))
            for s in enquiry.suspects[:4]
        )
        check: Check | None = enquiry.next_check
        if state != "asking" or check is None:
            break
        if len(done) == MOST_CHECKS:
            state = "capped"
            break
        said, right = helper.does(check.action, check.parts, check.answers)
        slips += said not in (right, "unsure")
        done.append(Answered(check.action, check.parts, said))
        seconds += check.seconds
    true, left = ({f.name for f in faults} for faults in (puzzle.faults, helper.left))
    good = bool(named) and left <= named <= true
    return Dialogue(tuple(done), slips, seconds, state, named, good, suspects)


def in_order(puzzle: Puzzle) -> Dialogue:
    """Turn dark LEDs, look for shorts, swap the pack, press the leads; then the rest; until all is well.

    Whenever something helps, but not enough, it begins again with what is still dark. Trade practice, no
    published source.
    """
    helper = Helper(puzzle, np.random.default_rng([puzzle.seed, 80]))
    done: list[Answered] = []
    seconds, slips, going = 0.0, 0, True
    while going and len(done) < MOST_IN_ORDER:
        for action, parts in _order(helper):
            answers = KINDS[action].answers
            said, right = helper.does(action, parts, answers)
            slips += said not in (right, "unsure")
            done.append(Answered(action, parts, said))
            seconds += KINDS[action].seconds
            if helper.all_well and said == right:
                going = False
            if not going or right in ("lights", "across") or len(done) >= MOST_IN_ORDER:
                break
    return Dialogue(tuple(done), slips, seconds, "mended", frozenset(), helper.all_well)


def _order(helper: Helper) -> list[tuple[CheckAction, tuple[str, ...]]]:
    sculpture, now = helper.puzzle.sculpture, helper.puzzle.truth.led_A(helper.left)
    should = helper.puzzle.should_A
    dark = [led for led, a in now.items() if clearly_less(a, should[led])] or list(now)
    off = [led for led in dark if now[led] < sculpture.brightness.dim_A] or dark
    letters = helper.puzzle.truth.letters
    doubts = dict.fromkeys(
        (j.likely_touching, tuple(sorted(letters[p] for p in j.between)))
        for j in sculpture.joints
        if j.kind == "doubtful"
    )
    homes = sorted({letters[e.piece] for e in sculpture.entries.values() if e.piece is not None})
    order: list[tuple[CheckAction, tuple[str, ...]]] = [("turn", (led,)) for led in off]
    order.append(("look-underneath", ("pack",)))
    order += [("pinch-apart", pair) for touching, pair in doubts if not touching]
    order += [("swap-pack", ("pack",)), ("press-in", ("pack",))]
    order += [("press-together", pair) for touching, pair in doubts if touching]
    order += [("press-in", (led,)) for led in dark]
    order += [("swap-led", (led,)) for led in dark]
    order += [("knead", (letter,)) for letter in homes]
    return order

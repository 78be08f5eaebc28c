"""Sculptures that work, with one or two faults that no photo shows, and what a helper tells of their lights.

What really flows is for `hidden_truth` to say; of `circuit` only the odds of faults and the letters of lumps
are used. Seeds 0 to 9999 are for choosing, 10000 to 19999 for judging.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations

import numpy as np
from scipy import ndimage

from circuit.causes import PRIORS
from circuit.lumps import find_lumps
from circuit.model import CauseCode, Joint, Sculpture, State
from sample_images.studio.faults import known
from sample_images.studio.hand_over import sculpture_of
from sample_images.studio.hidden_truth import Hidden, Truth, beside_leads, cell_at, nearest
from sample_images.studio.rows import GOOD

Rng = np.random.Generator

DOUBLE = 0.15
"""Share of puzzles with two faults."""
NOTHING_TOLD, TOLD_WRONGLY = 0.2, 0.03
CLEARLY = 1.6
"""A light gets clearly brighter by this share of its current (estimated)."""
CONTACT_ODDS = 0.15
"""Odds that a doubtful contact is other than taken."""
PER_SCULPTURE = 10
LEAST_LEDS, SKIPS = 3, 4
"""With one or two lights to try, no order is much better than another."""


@dataclass(frozen=True)
class Puzzle:
    """A sculpture as a helper enters it, and the faults that it has.

    seen: what is told of every LED; should_A: what flows when nothing is wrong
    """

    seed: int
    sculpture: Sculpture
    truth: Truth
    faults: tuple[Hidden, ...]
    should_A: Mapping[str, float]
    told: str

    @property
    def kind(self) -> str:
        """What the fault is called; all double ones are of one kind."""
        return self.faults[0].code if len(self.faults) == 1 else "two at once"


def puzzle(seed: int) -> Puzzle | None:
    """The puzzle of a seed, ten to a sculpture; None when no fault of it can be seen."""
    truth = _base(seed // PER_SCULPTURE)
    return None if truth is None else hidden_in(truth, seed)


def hidden_in(truth: Truth, seed: int) -> Puzzle | None:
    """A sculpture that works with faults of a seed; None when none of eight can be seen."""
    rng = np.random.default_rng([seed, 79])
    sculpture = _doubtful(rng, truth.sculpture, truth.letters)
    should = truth.led_A(())
    for _ in range(8):
        faults = _drawn(rng, sculpture, truth.letters, 2 if rng.random() < DOUBLE else 1)
        if faults and all(_shows(truth, (fault,), should) for fault in faults):
            break
    else:
        return None
    sculpture, told = _as_told(rng, sculpture, truth.led_A(faults))
    return Puzzle(seed, sculpture, truth, faults, should, told)


def truth_of(sculpture: Sculpture) -> Truth:
    """What flows in a sculpture."""
    letters = {piece: lump.id for lump in find_lumps(sculpture) for piece in lump.pieces}
    return Truth(sculpture, letters, beside_leads(sculpture))


@lru_cache(maxsize=2)
def _base(seed: int) -> Truth | None:
    """A sculpture that works: half of them abreast, half in a row, one in ten wound up; of several lights."""
    scenario = GOOD[2] if seed % 10 == 9 else GOOD[seed % 2]
    for skip in range(SKIPS):
        try:
            sculpture = sculpture_of(known(seed, scenario, skip=skip))
        except ValueError:
            continue
        if len(sculpture.leds) < LEAST_LEDS:
            continue
        truth = truth_of(sculpture)
        if min(truth.led_A(()).values()) > 1.2 * sculpture.brightness.dim_A:
            return truth
    return None


def clearly_less(now_A: float, should_A: float) -> bool:
    """Whether a light looks darker than it should."""
    return now_A * CLEARLY < should_A


def _shows(truth: Truth, faults: Sequence[Hidden], should: Mapping[str, float]) -> bool:
    """Whether a light changes its state because of these faults."""
    state = truth.sculpture.brightness.state
    now = truth.led_A(faults)
    return any(state(now[i]) != state(a) and clearly_less(now[i], a) for i, a in should.items())


def told_when_asked(made: Puzzle, unsure: float) -> Puzzle:
    """The puzzle when somebody asks how the lights look; so often nobody can tell."""
    rng = np.random.default_rng([made.seed, 81])
    now = made.truth.led_A(made.faults)
    sculpture, told = _as_told(rng, made.sculpture, now, unsure)
    return replace(made, sculpture=sculpture, told=f"{made.told}, asked: {told}")


def _as_told(
    rng: Rng, sculpture: Sculpture, now: Mapping[str, float], nothing: float = NOTHING_TOLD
) -> tuple[Sculpture, str]:
    """The sculpture with what is seen lit: nothing in so many cases, one light told wrongly in 3 %."""
    states: dict[str, State] = {
        led: sculpture.brightness.state(a * float(np.exp(rng.normal(0, 0.1)))) for led, a in now.items()
    }
    kind, chance = "right", rng.random()
    if chance < nothing:
        return sculpture, "nothing"
    if chance < nothing + TOLD_WRONGLY:
        kind, led = "one wrong", str(rng.choice(list(states)))
        others: list[State] = ["bright", "dim", "off"]
        states[led] = others[(others.index(states[led]) + int(rng.integers(1, 3))) % 3]
    return replace(sculpture, leds=tuple(replace(led, seen=states[led.id]) for led in sculpture.leds)), kind


# ---------------------------------------------------------------- what may go wrong


def _doubtful(rng: Rng, sculpture: Sculpture, letters: Mapping[int, str]) -> Sculpture:
    """In three of ten sculptures a contact that the eyes are not sure of."""
    joints = list(sculpture.joints)
    wired = {e.piece for e in sculpture.entries.values()}
    both = [i for i, j in enumerate(joints) if set(j.between) <= wired and j.kind != "doubtful"]
    pick = [i for i in both if _parts_them(sculpture, joints, i, letters)]
    if not pick or rng.random() > 0.3:
        return sculpture
    i = int(rng.choice(pick))
    pair, touching = set(joints[i].between), joints[i].kind == "touching"
    sure = float(rng.uniform(0.6, 0.95))
    joints = [
        replace(j, kind="doubtful", gap_mm=0.3, likely_touching=touching, confidence=sure)
        if j is joints[i] or (touching and set(j.between) == pair)
        else j
        for j in joints
    ]
    return replace(sculpture, joints=tuple(joints))


def _parts_them(sculpture: Sculpture, joints: Sequence[Joint], i: int, letters: Mapping[int, str]) -> bool:
    """Whether a gap is between two lumps, or a touch the only one that holds two pieces together."""
    a, b = joints[i].between
    conducts = {p for p, d in sculpture.dough_of.items() if sculpture.doughs[d].conductive}
    if not {a, b} <= conducts:
        return False
    if joints[i].kind == "gap":
        return letters[a] != letters[b]
    met, new = {a}, {a}
    while new:
        new = {
            q
            for j in joints
            if j.closed and set(j.between) != {a, b} and set(j.between) <= conducts
            for p, q in (j.between, j.between[::-1])
            if p in met and q not in met
        }
        met |= new
    return b not in met


def _drawn(rng: Rng, sculpture: Sculpture, letters: Mapping[int, str], count: int) -> tuple[Hidden, ...]:
    """So many different faults, as often as they occur."""
    of_leds: tuple[CauseCode, ...] = ("led-backwards", "led-dead", "leg-loose")
    of_all: tuple[CauseCode, ...] = ("pack-flat", "lead-loose", "short-underneath")
    wired = [letters[e.piece] for e in sculpture.entries.values() if e.piece is not None]
    options = [(code, led.id, PRIORS[code].odds) for led in sculpture.leds for code in of_leds]
    options += [(code, "pack", PRIORS[code].odds) for code in of_all]
    options += [("dough-dry", x, PRIORS["dough-dry"].odds) for x in sorted(set(wired)) if wired.count(x) > 1]
    doubt = next((i for i, joint in enumerate(sculpture.joints) if joint.kind == "doubtful"), None)
    if doubt is not None:
        closes = not sculpture.joints[doubt].likely_touching
        options.append(("contact-closed" if closes else "contact-open", str(doubt), CONTACT_ODDS))
    odds = np.array([o for _, _, o in options])
    picks = rng.choice(len(options), count, replace=False, p=odds / odds.sum())
    if len({options[i][1] for i in picks}) < count and not any(options[i][1] == "pack" for i in picks):
        return ()
    made = [_made(rng, sculpture, letters, *options[i][:2]) for i in picks]
    return tuple(f for f in made if f is not None) if all(made) else ()


def _made(
    rng: Rng, sculpture: Sculpture, letters: Mapping[int, str], code: CauseCode, about: str
) -> Hidden | None:
    if code in ("led-backwards", "led-dead"):
        return Hidden(code, (about,))
    if code == "leg-loose":
        return Hidden(code, (about,), ohm=float(np.inf if rng.random() < 0.7 else rng.uniform(1200, 5000)))
    if code == "lead-loose":
        return Hidden(code, (about,), ohm=float(np.inf if rng.random() < 0.3 else rng.uniform(120, 700)))
    if code == "pack-flat":
        if rng.random() < 0.35:
            return Hidden(code, (about,), ohm=float(np.inf))
        share = rng.uniform(3.0, 4.5) / 6.0
        return Hidden(code, (about,), ohm=float(rng.uniform(5, 25)), share=float(share))
    if code == "dough-dry":
        return Hidden(code, (about,), share=float(1 / rng.uniform(8, 25)))
    if code == "short-underneath":
        return _short(rng, sculpture, letters)
    joint = sculpture.joints[int(about)]
    pair = tuple(sorted({letters[piece] for piece in joint.between}))
    if code == "contact-open":
        return Hidden(code, pair, joint=int(about))
    cells = [nearest(sculpture.grid == piece, cell_at(sculpture, joint.at)) for piece in joint.between]
    return Hidden(code, pair, ohm=float(rng.uniform(4, 25)), cells=tuple(cells), joint=int(about))


def _short(rng: Rng, sculpture: Sculpture, letters: Mapping[int, str]) -> Hidden | None:
    """A strip of dough underneath, from a lump to one that lies within 8 mm of it."""
    pieces = sorted({e.piece for e in sculpture.entries.values() if e.piece is not None})
    of = {
        x: np.isin(sculpture.grid, [p for p in letters if letters[p] == x])
        for x in {letters[p] for p in pieces}
    }
    options = []
    for a, b in combinations(sorted(of), 2):
        away = ndimage.distance_transform_edt(~of[a]) * sculpture.cell_mm
        if away[of[b]].min() < 8:
            options.append((a, b, away))
    if not options:
        return None
    a, b, away = options[int(rng.integers(len(options)))]
    rows, cols = np.nonzero(of[b] & (away < away[of[b]].min() + 6))
    i = int(rng.integers(len(rows)))
    there = int(rows[i]), int(cols[i])
    return Hidden(
        "short-underneath", (a, b), ohm=float(rng.uniform(4, 40)), cells=(nearest(of[a], there), there)
    )

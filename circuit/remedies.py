"""Remedies by what-if: single actions and plans of up to three, each solved before it is offered."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np

from circuit.board import Board, Placing, piece_at
from circuit.lumps import LEADS
from circuit.model import Finding, Joint, Point, Remedy, State, Step
from circuit.outcome import Outcome
from circuit.plans import Bench, Choice, seconds_of

LIGHT_WORTH: Mapping[State, float] = {"bright": 1.0, "dim": 0.6, "off": 0.0}
LANDING_DEPTH_MM = 3.0  # a leg this far inside the dough holds, estimated
CLEAR_OF_OTHERS_MM = 5.0
LED_SPAN_MM = 40.0  # two legs of about 25 mm, bent apart, common practice, no published source
MOST_CHOICES = 12
MOST_REMEDIES = 5
MOST_STEPS = 3
LEAST_GAIN = 0.05
SAME_SECONDS = 15.0
OVER_SAFE = 1.1


def turn_choices(findings: Sequence[Finding]) -> Iterator[Choice]:
    """Turn what stands backwards, swap the leads, close a switch."""
    for finding in findings:
        if finding.code == "switch-open":
            yield Choice((Step("close", finding.parts, finding.at),), close=finding.parts[0])
        elif finding.code in ("led-backwards", "part-backwards"):
            yield Choice((Step("turn", finding.parts, finding.at),), turn=finding.parts)
        elif finding.code == "leads-swapped":
            yield Choice((Step("swap-leads", ("pack",), finding.at),), swap_leads=True)


def join_choices(gaps: Sequence[tuple[Finding, Joint]]) -> Iterator[Choice]:
    """Fill a gap."""
    for finding, joint in gaps:
        step = Step("join", (), finding.at, to_at=finding.at, facts=finding.facts)
        yield Choice((step,), join=joint)


def move_choices(
    board: Board, placing: Placing, findings: Sequence[Finding], rows: Sequence[tuple[str, ...]]
) -> list[Choice]:
    """Move a leg or lead that hangs free, one of two legs in one lump, or a whole row side by side."""
    landings = Landings(board)
    wired = [board.lumps[home].id for home in sorted(set(board.home.values()))]
    found = []
    for finding in findings:
        if finding.code in ("leg-out", "leg-in-insulator"):
            names = finding.parts
        elif finding.code == "legs-in-one-lump":
            names = (f"{finding.parts[0]}.short", f"{finding.parts[0]}.long")
        else:
            continue
        for name in names:
            here = board.lump_at(placing[name])
            # Into a lump that nothing else goes into, no leg need be moved.
            for lump in wired:
                spot = None if lump == here else landings.near(lump, board.sculpture.entries[name].at)
                if spot is not None and _reaches(board, placing, name, spot):
                    found.append(Choice((_move(board, name, lump, spot),), move=((name, spot),)))
    for row in rows:
        found += _side_by_side(board, placing, row, landings)
    return found


def _move(board: Board, name: str, lump: str, spot: Point) -> Step:
    sculpture = board.sculpture
    piece = piece_at(sculpture, spot)
    facts = {"dough": sculpture.doughs[sculpture.dough_of[piece]].name if piece else ""}
    return Step("move", (name,), sculpture.entries[name].at, lump, spot, facts=facts)


def _reaches(board: Board, placing: Placing, name: str, spot: Point) -> bool:
    """Whether the other leg of the LED still reaches when this one goes to `spot`; a lead always does."""
    part, _, leg = name.partition(".")
    other = {"long": "short", "short": "long"}.get(leg)
    if other is None:
        return True
    there = placing[f"{part}.{other}"] or board.sculpture.entries[f"{part}.{other}"].at
    return float(np.hypot(spot[0] - there[0], spot[1] - there[1])) <= LED_SPAN_MM


def _side_by_side(board: Board, placing: Placing, row: Sequence[str], landings: "Landings") -> list[Choice]:
    """Ways to set a row side by side: all its LEDs across one pair of lumps, with the leads in these two.

    The pair is that of the leads, or the two lumps of one of the LEDs; LEDs must reach across.
    """
    plus, minus = board.lump_at(placing["pack.plus"]), board.lump_at(placing["pack.minus"])
    ends = {
        led: (board.lump_at(placing[f"{led}.long"]), board.lump_at(placing[f"{led}.short"])) for led in row
    }
    pairs = dict.fromkeys([(plus, minus), *ends.values()])
    found = []
    for high, low in pairs:
        if high is None or low is None:
            continue
        guide = next((led for led in row if ends[led] == (high, low)), row[0])
        moves = _onto_pair(board, placing, row, (high, low), guide, landings)
        if moves:
            steps = tuple(_move(board, name, lump, spot) for name, lump, spot in moves)
            found.append(Choice(steps, move=tuple((name, spot) for name, _, spot in moves)))
    return found


def _onto_pair(
    board: Board,
    placing: Placing,
    row: Sequence[str],
    pair: tuple[str, str],
    guide: str,
    landings: "Landings",
) -> list[tuple[str, str, Point]]:
    """Moves (entry, lump, spot) that set leads and LEDs across a pair of lumps; none if one cannot reach.

    New places are sought beside the LED `guide`.
    """
    moves: list[tuple[str, str, Point]] = []
    taken: list[Point] = []

    def put(name: str, lump: str, near: Point) -> Point | None:
        here = placing[name]
        if here is not None and board.lump_at(here) == lump:
            return here
        spot = landings.near(lump, near, taken)
        if spot is not None:
            taken.append(spot)
            moves.append((name, lump, spot))
        return spot

    entries = board.sculpture.entries
    for lead, lump in zip(LEADS, pair, strict=True):
        if put(lead, lump, entries[lead].at) is None:
            return []
    for led in row:
        high = put(f"{led}.long", pair[0], entries[f"{guide}.long"].at)
        low = None if high is None else put(f"{led}.short", pair[1], high)
        if high is None or low is None or np.hypot(high[0] - low[0], high[1] - low[1]) > LED_SPAN_MM:
            return []
    return moves


class Landings:
    """Spots where a leg can go into a lump: well inside it, clear of the other entries."""

    def __init__(self, board: Board) -> None:
        self._board = board

    def near(self, lump_id: str, at: Point, taken: Sequence[Point] = ()) -> Point | None:
        """The best spot [mm] of a lump near `at`, None when the lump has no room."""
        sculpture, h = self._board.sculpture, self._board.sculpture.cell_mm
        depth = self._board.mesh(lump_id).depth_mm
        deep = depth >= min(LANDING_DEPTH_MM, 0.7 * float(depth.max()))
        rows, cols = np.nonzero(deep & (depth > 0))
        x, y = (cols + 0.5) * h, (rows + 0.5) * h
        free = np.ones(len(x), bool)
        for other in (*(entry.at for entry in sculpture.entries.values() if entry.at != at), *taken):
            free &= np.hypot(x - other[0], y - other[1]) >= CLEAR_OF_OTHERS_MM
        if not free.any():
            return None
        k = np.flatnonzero(free)[np.argmin(np.hypot(x[free] - at[0], y[free] - at[1]))]
        return float(x[k]), float(y[k])


def cut_steps(shorts: Sequence[Finding]) -> tuple[Step, ...]:
    """What undoes each short: a cut, or a wire taken out."""
    found = []
    for short in shorts:
        if short.code == "short-wire":
            found.append(Step("take-out", short.parts[:1], short.at))
        else:
            facts = {**short.facts, "cut_mm": short.cut_mm or 0.0, "code": short.code}
            found.append(Step("cut", (), short.at, line=short.cut, facts=facts))
    return tuple(found)


def rank(
    now: Outcome, clear: Board, placing: Placing, cuts: tuple[Step, ...], choices: Sequence[Choice]
) -> tuple[Remedy, ...]:
    """The best plans, best first: most light, then least time. Cuts come first in every plan.

    `now` is the outcome as the sculpture stands; `clear` the board with the cuts made.
    """
    spots = tuple(spot for choice in choices for _, spot in choice.move)
    bench = Bench(clear, placing, spots)
    alone = dict(zip(choices, bench.solve([(choice,) for choice in choices]), strict=True))
    single = sorted(choices, key=lambda choice: -_worth(alone[choice]))[:MOST_CHOICES]
    picks = [
        picked
        for size in range(0 if cuts else 1, MOST_STEPS + 1)
        for picked in combinations(range(len(single)), size)
        if not _clash([single[i] for i in picked])
    ]
    outcomes = bench.solve([[single[i] for i in picked] for picked in picks])
    plans = [
        (_worth(outcome), sum(single[i].seconds for i in picked), frozenset(picked), outcome)
        for picked, outcome in zip(picks, outcomes, strict=True)
    ]
    # Plans that take about as long stay in the order of the choices: what is in place stays.
    plans.sort(key=lambda p: (-round(p[0], 3), round(p[1] / SAME_SECONDS)))
    best: list[Remedy] = []
    for worth, _, chosen, outcome in plans:
        useful = bool(cuts) or worth > _worth(now) + LEAST_GAIN
        wasteful = any(smaller < chosen and w >= worth - LEAST_GAIN for w, _, smaller, _ in plans)
        if useful and not wasteful and len(best) < MOST_REMEDIES:
            best.append(_remedy(cuts, [single[i] for i in sorted(chosen)], outcome))
    return tuple(best)


def _clash(plan: Sequence[Choice]) -> bool:
    """Whether two choices of a plan change one part."""
    return sum(len(c.touches) for c in plan) > len(frozenset[str]().union(*(c.touches for c in plan)))


def _worth(outcome: Outcome) -> float:
    """What an outcome is worth in lights; an LED over its safe current costs one."""
    leds = outcome.states
    danger = sum(outcome.led_A[led.id] > OVER_SAFE * led.safe_A for led in outcome.board.sculpture.leds)
    return sum(LIGHT_WORTH[state] for state in leds.values()) - 0.2 * danger


def _remedy(cuts: tuple[Step, ...], plan: Sequence[Choice], outcome: Outcome) -> Remedy:
    steps = (*cuts, *(step for choice in plan for step in choice.steps))
    seconds = sum(seconds_of(step) for step in steps)
    return Remedy(steps, seconds, outcome.states, outcome.led_A, outcome.pack_A)

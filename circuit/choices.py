"""What might be done: turns, moves, joins and cuts, gathered from the findings and from the network."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from circuit.board import Board, Placing, piece_at
from circuit.findings import gap_facts
from circuit.lumps import LEADS, ends, legs, middle, piece_area_mm2
from circuit.model import Finding, Joint, Point, Step
from circuit.outcome import Outcome
from circuit.plans import Choice

ROOM_MM = ((3.0, 5.0), (1.5, 5.0), (1.2, 3.0))
"""How far inside the dough a leg goes, and how far from the others; the best first (estimated)."""
LED_SPAN_MM = 40.0  # two legs of about 25 mm, bent apart, common practice, no published source
LANDING_STEP_MM = 1.0
LARGE_MM2, MOST_BARE = 100.0, 3
MOST_DARK = 8


def turn_choices(board: Board, findings: Sequence[Finding], outcome: Outcome) -> Iterator[Choice]:
    """Turn what stands backwards, or is dark for another reason; swap the leads; close a switch."""
    for finding in findings:
        if finding.code == "switch-open":
            yield Choice((Step("close", finding.parts, finding.at),), close=finding.parts[0])
    if any(state == "off" for state in outcome.states.values()):
        at = board.sculpture.entries["pack.plus"].at
        yield Choice((Step("swap-leads", ("pack",), at),), swap_leads=True)
    told = {f.parts[0]: f.at for f in findings if f.code in ("led-backwards", "part-backwards")}
    if len(told) > 1:
        yield Choice(tuple(Step("turn", (part,), at) for part, at in told.items()), turn=tuple(told))
    dark = [led for led in board.sculpture.leds if outcome.states[led.id] == "off" and led.id not in told]
    dark = dark[:MOST_DARK]
    at_of = {led.id: middle(*(board.sculpture.entries[leg].at for leg in legs(led))) for led in dark}
    for part, at in (told | at_of).items():
        yield Choice((Step("turn", (part,), at),), turn=(part,))


def join_choices(board: Board, places: Sequence[Joint]) -> Iterator[Choice]:
    """Fill a gap."""
    for joint in places:
        facts = gap_facts(board.sculpture, joint)
        yield Choice((Step("join", (), joint.at, to_at=joint.at, facts=facts),), join=joint)


def take_out_choices(board: Board) -> Iterator[Choice]:
    """Take out a wire, or a switch that is on."""
    entries = board.sculpture.entries
    for part in board.sculpture.parts:
        if part.kind in ("wire", "switch") and part.closed:
            step = Step("take-out", (part.id,), middle(*(entries[end].at for end in ends(part))))
            yield Choice((step,), take_out=part.id)


def move_choices(
    board: Board, placing: Placing, findings: Sequence[Finding], rows: Sequence[tuple[str, ...]]
) -> list[Choice]:
    """Move a leg or lead that hangs free, one of two legs in one lump, or a whole row side by side."""
    landings = Landings(board, placing)
    found: list[Choice] = []
    for finding in findings:
        if finding.code in ("leg-out", "leg-in-insulator"):
            # Once they are swapped, it is the other lead that hangs.
            names = LEADS if finding.parts[0] in LEADS else finding.parts
        elif finding.code == "legs-in-one-lump":
            names = (f"{finding.parts[0]}.short", f"{finding.parts[0]}.long")
        else:
            continue
        for name in names:
            found += _anywhere(board, placing, name, landings)
    for row in rows:
        found += _side_by_side(board, placing, row, row, landings)
    return found


def leg_choices(board: Board, placing: Placing, leds: Sequence[str]) -> list[Choice]:
    """Move either leg of these LEDs to any other lump, or both so that they stand beside another LED."""
    landings = Landings(board, placing)
    others = [led.id for led in board.sculpture.leds]
    return [
        choice
        for led in leds
        for leg in ("long", "short")
        for choice in _anywhere(board, placing, f"{led}.{leg}", landings)
    ] + [choice for led in leds for choice in _side_by_side(board, placing, (led,), [led, *others], landings)]


def lead_choices(board: Board, placing: Placing) -> list[Choice]:
    """Move either lead to any other lump."""
    landings = Landings(board, placing)
    return [choice for lead in LEADS for choice in _anywhere(board, placing, lead, landings)]


def lead_past_choices(board: Board, placing: Placing, leds: Sequence[str]) -> list[Choice]:
    """Move a lead within its lump to where a leg of one of these LEDs is that is in the same lump."""
    landings = Landings(board, placing)
    found = []
    for led in leds:
        for lead, leg in zip(reversed(LEADS), (f"{led}.short", f"{led}.long"), strict=True):
            lump, goal = _lump_at(board, placing[lead]), placing[leg]
            if lump is None or goal is None or lump != _lump_at(board, goal):
                continue
            spot = landings.near(lump, goal, lead)
            if spot is not None:
                found.append(Choice((_move(board, lead, lump, spot),), move=((lead, spot),)))
    return found


def _anywhere(board: Board, placing: Placing, name: str, landings: "Landings") -> Iterator[Choice]:
    here = _lump_at(board, placing[name])
    at = board.sculpture.entries[name].at
    for lump in _goals(board):
        spot = None if lump == here else landings.near(lump, at, name)
        if spot is not None and _reaches(board, placing, name, spot):
            yield Choice((_move(board, name, lump, spot),), move=((name, spot),))


def _lump_at(board: Board, spot: Point | None) -> str | None:
    """Letter of the lump at a spot, which need not be one of the board's."""
    if spot is None or spot in board.home:
        return board.lump_at(spot)
    piece = piece_at(board.sculpture, spot)
    return next((lump.id for lump in board.lumps if piece in lump.pieces), None)


def _goals(board: Board) -> list[str]:
    """Lumps that a leg may go into: those with entries, and a few large ones without."""
    wired = {board.lumps[home].id for home in board.home.values()}
    area = piece_area_mm2(board.sculpture)
    size = {lump.id: float(area[list(lump.pieces)].sum()) for lump in board.lumps if lump.id not in wired}
    bare = sorted((one for one in size if size[one] >= LARGE_MM2), key=lambda one: -size[one])
    return [*sorted(wired), *bare[:MOST_BARE]]


def dimmer_choices(board: Board, placing: Placing, leds: Sequence[str]) -> Iterator[Choice]:
    """Move a leg of an LED that gets too much current away from its lead, so that more dough lies between."""
    landings = Landings(board, placing)
    for led in leds:
        spots = {leg: placing[f"{led}.{leg}"] for leg in ("long", "short")}
        for (leg, here), other, lead in zip(spots.items(), reversed(spots.values()), LEADS, strict=True):
            lump, away = _lump_at(board, here), placing[lead]
            if here is None or other is None or lump is None or away is None:
                continue
            name = f"{led}.{leg}"
            spot = landings.far(lump, name, away, other)
            if spot is not None:
                yield Choice((_move(board, name, lump, spot),), move=((name, spot),))


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


def _side_by_side(
    board: Board, placing: Placing, row: Sequence[str], guides: Sequence[str], landings: "Landings"
) -> list[Choice]:
    """Ways to set a row side by side: all its LEDs across one pair of lumps, with the leads in these two.

    The pair is that of the leads, or the two lumps of one of the LEDs `guides`; LEDs must reach across.
    """
    plus, minus = _lump_at(board, placing["pack.plus"]), _lump_at(board, placing["pack.minus"])
    ends = {
        led: (_lump_at(board, placing[f"{led}.long"]), _lump_at(board, placing[f"{led}.short"]))
        for led in guides
    }
    pairs = dict.fromkeys([(plus, minus), *ends.values()])
    found = []
    for high, low in pairs:
        if high is None or low is None or high == low:
            continue
        guide = next((led for led in guides if ends[led] == (high, low)), row[0])
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
        if here is not None and _lump_at(board, here) == lump:
            return here
        spot = landings.near(lump, near, name, taken)
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
    """Spots where a leg can go into a lump: well inside it, clear of the other entries.

    Clear of where they are now, and of where `placing` has them.
    """

    def __init__(self, board: Board, placing: Placing) -> None:
        self._board = board
        now = [(name, entry.at) for name, entry in board.sculpture.entries.items()]
        self._standing = dict.fromkeys([*now, *placing.items()])
        self._inside: dict[tuple[str, float], NDArray[np.float64]] = {}

    def near(self, lump_id: str, at: Point, name: str, taken: Sequence[Point] = ()) -> Point | None:
        """The best spot [mm] of a lump near `at` for this leg or lead, None when the lump has no room."""
        found = self._free(lump_id, name, taken)
        if not len(found):
            return None
        return _point(found[np.argmin(np.hypot(*(found - at).T))])

    def far(self, lump_id: str, name: str, away: Point, other: Point) -> Point | None:
        """The spot farthest from `away` that a leg of an LED reaches with its other leg at `other`."""
        found = self._free(lump_id, name, ())
        found = found[np.hypot(*(found - other).T) <= LED_SPAN_MM]
        if not len(found):
            return None
        return _point(found[np.argmax(np.hypot(*(found - away).T))])

    def _free(self, lump_id: str, name: str, taken: Sequence[Point]) -> NDArray[np.float64]:
        """Spots (n, 2) of a lump that are clear of all entries but this one, and of what is taken.

        Where there is no good one, a shallow or a crowded one has to do.
        """
        standing = [spot for own, spot in self._standing if spot is not None and own != name]
        others = dict.fromkeys([*standing, *taken])
        for depth_mm, clear_mm in ROOM_MM:
            found = self._deep(lump_id, depth_mm)
            for other in others:
                found = found[np.hypot(*(found - other).T) >= clear_mm]
            if len(found):
                break
        return found

    def _deep(self, lump_id: str, depth_mm: float) -> NDArray[np.float64]:
        """Spots (n, 2) of a lump at least so far inside it."""
        if (lump_id, depth_mm) not in self._inside:
            depth, h = self._board.mesh(lump_id).depth_mm, self._board.sculpture.cell_mm
            deep = (depth >= min(depth_mm, 0.7 * float(depth.max()))) & (depth > 0)
            step = max(1, round(LANDING_STEP_MM / h))
            rows, cols = np.nonzero(deep[::step, ::step])
            if not len(rows):
                (rows, cols), step = np.nonzero(deep), 1
            spots = np.stack([(cols * step + 0.5) * h, (rows * step + 0.5) * h], axis=1)
            self._inside[lump_id, depth_mm] = spots
        return self._inside[lump_id, depth_mm]


def _point(at: NDArray[np.float64]) -> Point:
    return float(at[0]), float(at[1])


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

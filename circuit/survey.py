"""All findings of a sculpture as it stands, and where remedies may start from."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from circuit import findings as find
from circuit.board import Board, Placing, lay_out, led_spots, own_placing, piece_at
from circuit.choices import (
    cut_steps,
    join_choices,
    lead_choices,
    lead_past_choices,
    move_choices,
    take_out_choices,
    turn_choices,
)
from circuit.cuts import stands_astride
from circuit.lumps import LEADS
from circuit.model import Finding, Joint, Step
from circuit.outcome import Outcome, operate
from circuit.plans import Choice
from circuit.remedies import Base
from circuit.shorts import Shorts, find_shorts
from circuit.weaknesses import idle_parts, open_switches

MOST_MOVED, MOST_PAST = 4, 2
"""So many sculptures with a lead moved to another lump, or with a leg moved, are looked at anew; and so many
with a lead moved past a light."""


@dataclass(frozen=True)
class Survey:
    """A sculpture as it stands and what keeps its lights off, shorts apart from the rest.

    places  gaps that could be filled; before: what was done to come here
    """

    board: Board
    placing: Placing
    short: Shorts
    rest: tuple[Finding, ...]
    places: tuple[Joint, ...]
    before: tuple[Step, ...] = ()


def survey(board: Board, placing: Placing, now: Outcome, before: tuple[Step, ...] = ()) -> Survey:
    """What keeps lights off: shorts, and all else once these are cut."""
    short = find_shorts(board, placing, now)
    clear, own, after = short.board, short.placing, short.after
    places = find.gap_places(clear, own)
    rest = (
        *find.hang_free(board.sculpture),
        *find.one_lump(clear, own, after),
        *find.backwards(clear, own, after),
        *find.gaps(clear, own, after, places),
        *find.in_a_row(clear, own, after),
        *open_switches(clear, own, after),
        *idle_parts(clear, after),
    )
    return Survey(board, placing, short, rest, tuple(places), before)


def bases(seen: Survey) -> list[Base]:
    """Where remedies may start: from the sculpture with its shorts cut, or as it is with a lead moved."""
    clear, own = seen.short.board, seen.short.placing
    choices = [
        *turn_choices(clear, seen.rest, seen.short.after),
        *join_choices(clear, seen.places),
        *take_out_choices(clear),
        *move_choices(clear, own, seen.rest, find.rows(clear, own)),
    ]
    found = [Base(seen.board.sculpture, (*seen.before, *cut_steps(seen.short.findings)), clear, own, choices)]
    if seen.short.findings and not seen.before:
        alike = [choice for choice in choices if choice.turn or choice.move]
        moves = lead_choices(seen.board, seen.placing)
        found.append(Base(seen.board.sculpture, (), seen.board, seen.placing, [*moves, *alike]))
    return found


def moved_bases(seen: Survey) -> Iterator[Base]:
    """Bases with something moved first, looked at anew: a lead, or a leg that hides a short."""
    for choice in _lead_moves(seen):
        yield from bases(_after(seen, choice))
    for choice in _leg_moves(seen):
        after = _after(seen, choice)
        if after.short.findings:
            yield from bases(after)


def _lead_moves(seen: Survey) -> list[Choice]:
    """A lead that hangs, or one of two in one lump, moved to another lump or past a light."""
    hanging = [lead for lead in LEADS if seen.placing[lead] is None]
    if hanging:
        return [c for c in lead_choices(seen.board, seen.placing) if c.move[0][0] in hanging][:MOST_MOVED]
    if not any(finding.level == "stop" for finding in seen.short.findings):
        return []
    beside = lead_past_choices(seen.board, seen.placing, _astride(seen))
    return [*lead_choices(seen.board, seen.placing)[:MOST_MOVED], *beside[:MOST_PAST]]


def _leg_moves(seen: Survey) -> list[Choice]:
    """Legs that hang, or that share a lump without a slit between them, moved to another lump.

    None where no light stands astride: then there is no sign of a short to be hidden.
    """
    astride = _astride(seen)
    if not astride:
        return []
    hidden = [
        finding
        for finding in seen.rest
        if finding.code in ("leg-out", "leg-in-insulator", "legs-in-one-lump")
        and not {*finding.parts} & {*LEADS, *astride}
    ]
    return move_choices(seen.board, seen.placing, hidden, ())[:MOST_MOVED]


def _astride(seen: Survey) -> list[str]:
    """LEDs with both legs in one lump, but a slit or a wall between them: a short may be what joins them."""
    board, found = seen.board, []
    for led, (a, b) in led_spots(board.sculpture, seen.placing).items():
        if a is None or b is None or board.lump_at(a) != board.lump_at(b):
            continue
        if stands_astride(board.sculpture, board.lumps[board.home[a]], a, b):
            found.append(led)
    return found


def _after(seen: Survey, choice: Choice) -> Survey:
    """The sculpture with these entries moved, surveyed anew."""
    sculpture = seen.board.sculpture
    entries = dict(sculpture.entries)
    for name, spot in choice.move:
        entries[name] = replace(entries[name], at=spot, piece=piece_at(sculpture, spot) or None)
    sculpture = replace(sculpture, entries=entries)
    board, placing = lay_out(sculpture), own_placing(sculpture)
    return survey(board, placing, operate(board, placing), choice.steps)


def watched(findings: Sequence[Finding]) -> tuple[Step, ...]:
    """What makes thin walls last."""
    return tuple(
        Step("thicken-wall", (), finding.at, facts=finding.facts)
        for finding in findings
        if finding.code == "thin-wall"
    )

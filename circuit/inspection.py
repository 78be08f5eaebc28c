"""The whole chain: from a sculpture to findings, remedies and suspects."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from circuit import findings as find
from circuit.arrangements import arrangements
from circuit.board import Board, Placing
from circuit.checking import check
from circuit.choices import cut_steps, join_choices, lead_choices, move_choices, turn_choices
from circuit.doubts import otherwise
from circuit.enquiry import enquire
from circuit.lumps import find_lumps, lump_of_entries
from circuit.materials import hours_until_flat
from circuit.model import Answered, Enquiry, Finding, Inspection, Joint, Remedy, Sculpture
from circuit.outcome import Outcome, led_results, part_results
from circuit.readings import Reading, looks_darker, read
from circuit.remedies import Base, rank
from circuit.shorts import Shorts, find_shorts
from circuit.trace import trace_legs
from circuit.weaknesses import idle_parts, open_switches, too_near, weaknesses

LEVELS = ("stop", "fix", "watch")
DIMMING = ("too-many-in-a-row", "long-way")
"""What makes lights dim, but may well be meant."""


def inspect(
    sculpture: Sculpture,
    on_stage: Callable[[str], None] = lambda _: None,
    answered: Sequence[Answered] = (),
) -> Inspection:
    """All that can be found out about a sculpture; `answered`: what was checked so far.

    Raises SculptureError for a sculpture that contradicts itself.
    """
    check(sculpture)
    on_stage("sums")
    reading = read(sculpture)
    sculpture, board, placing, now = reading.sculpture, reading.board, reading.placing, reading.outcome
    on_stage("shorts")
    short = find_shorts(board, placing, now)
    clear, after = short.board, short.after
    places = find.gap_places(clear, short.placing)
    rest = [
        *find.hang_free(sculpture),
        *find.one_lump(clear, short.placing, after),
        *find.backwards(clear, short.placing, after),
        *find.gaps(clear, short.placing, after, places),
        *find.in_a_row(clear, short.placing, after),
    ]
    traces = trace_legs(board, placing)
    clear_traces = trace_legs(clear, short.placing) if short.findings else traces
    rest += [*open_switches(clear, short.placing, after), *idle_parts(clear, after)]
    notes = weaknesses(clear, short.placing, after, clear_traces, rest)
    differ = list(find.otherwise_seen(sculpture, now, bool(short.findings)))
    on_stage("remedies")
    remedies: tuple[Remedy, ...] = ()
    if short.findings or any(state != "bright" for state in now.states.values()):
        remedies = rank(now, _bases(board, placing, short, rest, places))
    lumps = find_lumps(sculpture)
    found = [*find.bare_metal(sculpture), *short.findings, *rest, *differ, *too_near(sculpture)]
    return Inspection(
        lumps=lumps,
        entries=lump_of_entries(sculpture, lumps),
        leds=led_results(sculpture, now.led_A, now.legs_V),
        pack_A=now.pack_A,
        terminal_V=now.terminal_V,
        findings=_in_order(found),
        notes=_in_order(notes),
        remedies=_lettered(sculpture, remedies),
        otherwise=otherwise(sculpture),
        parts=part_results(now),
        entry_V=_entry_volts(placing, now),
        hours=hours_until_flat(sculpture.pack, now.pack_A),
        traces=traces,
        arrangements=arrangements(board, now),
        enquiry=_enquiry(reading, answered, bool(differ), rest + list(short.findings)),
        other_way=reading.joints,
    )


def _enquiry(
    reading: Reading, answered: Sequence[Answered], differs: bool, found: Sequence[Finding]
) -> Enquiry | None:
    """The search for what cannot be seen, where the photo does not explain it or nothing is told."""
    leds = reading.sculpture.leds
    told = any(led.seen is not None for led in leds)
    explained = any(finding.level != "watch" and finding.code not in DIMMING for finding in found)
    if not leds or not (answered or differs or looks_darker(reading) or not (told or explained)):
        return None
    return enquire(reading.board, reading.placing, reading.flips, answered)


def _bases(
    board: Board, placing: Placing, short: Shorts, rest: Sequence[Finding], places: Sequence[Joint]
) -> list[Base]:
    """Where remedies may start: from the sculpture with its shorts cut, or as it is with a lead moved."""
    clear, own = short.board, short.placing
    choices = [
        *turn_choices(clear, rest, short.after),
        *join_choices(clear, places),
        *move_choices(clear, own, rest, find.rows(clear, own)),
    ]
    bases = [Base(cut_steps(short.findings), clear, own, choices)]
    if short.findings:
        turns = [choice for choice in choices if choice.turn]
        bases.append(Base((), board, placing, [*lead_choices(board, placing), *turns]))
    return bases


def _entry_volts(placing: Placing, now: Outcome) -> dict[str, float]:
    """Volts in the dough at every entry, counted from the black lead's."""
    black = placing["pack.minus"]
    zero = 0.0 if black is None else now.spot_V[black]
    return {name: now.spot_V[spot] - zero for name, spot in placing.items() if spot is not None}


def _in_order(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """Hazards first, then what keeps a light off, then what may go wrong; otherwise as found."""
    return tuple(sorted(found, key=lambda finding: LEVELS.index(finding.level)))


def _lettered(sculpture: Sculpture, remedies: Sequence[Remedy]) -> tuple[Remedy, ...]:
    """The remedies with the letters that lumps have now, before any cut."""
    of_piece = {piece: lump.id for lump in find_lumps(sculpture) for piece in lump.pieces}
    h = sculpture.cell_mm
    done = []
    for remedy in remedies:
        steps = []
        for step in remedy.steps:
            if step.action == "move" and step.to_at is not None:
                x, y = step.to_at
                step = replace(step, to=of_piece.get(int(sculpture.grid[int(y / h), int(x / h)])))
            steps.append(step)
        done.append(replace(remedy, steps=tuple(steps)))
    return tuple(done)

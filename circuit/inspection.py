"""The whole chain: from a sculpture to findings, remedies and suspects."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from circuit import findings as find
from circuit.arrangements import arrangements
from circuit.board import Placing
from circuit.checking import check
from circuit.doubts import otherwise
from circuit.enquiry import enquire
from circuit.lumps import find_lumps, lump_of_entries
from circuit.materials import hours_until_flat
from circuit.model import Answered, Enquiry, Finding, Inspection, Remedy, Sculpture
from circuit.outcome import Outcome, led_results, part_results
from circuit.plans import seconds_of
from circuit.readings import Reading, differs, read
from circuit.remedies import rank
from circuit.survey import Survey, bases, moved_bases, survey, watched
from circuit.trace import trace_legs
from circuit.weaknesses import too_near, weaknesses

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
    reading = read(sculpture, answered)
    sculpture, board, placing, now = reading.sculpture, reading.board, reading.placing, reading.outcome
    on_stage("shorts")
    seen = survey(board, placing, now)
    short, rest = seen.short, list(seen.rest)
    traces = trace_legs(board, placing)
    clear_traces = trace_legs(short.board, short.placing) if short.findings else traces
    notes = weaknesses(short.board, short.placing, short.after, clear_traces, rest)
    differ = list(find.otherwise_seen(sculpture, now, bool(short.findings)))
    near = too_near(sculpture)
    on_stage("remedies")
    remedies = _remedies(seen, now, near)
    lumps = find_lumps(sculpture)
    found = [*find.bare_metal(sculpture), *short.findings, *rest, *differ, *near]
    return Inspection(
        lumps=lumps,
        entries=lump_of_entries(sculpture, lumps),
        leds=led_results(sculpture, now.led_A, now.legs_V),
        pack_A=now.pack_A,
        terminal_V=now.terminal_V,
        findings=_in_order(found),
        notes=_in_order(notes),
        remedies=_lettered(sculpture, remedies),
        otherwise=otherwise(reading.flips),
        parts=part_results(now),
        entry_V=_entry_volts(placing, now),
        hours=hours_until_flat(sculpture.pack, now.pack_A),
        traces=traces,
        arrangements=arrangements(board, now),
        enquiry=_enquiry(reading, answered, rest + list(short.findings)),
        other_way=reading.joints,
    )


def _enquiry(reading: Reading, answered: Sequence[Answered], found: Sequence[Finding]) -> Enquiry | None:
    """The search for what cannot be seen, where the photo does not explain it or nothing is told.

    It starts from how the sculpture looks: that a contact is other than it looks is one of the suspects.
    """
    looks = reading.first or reading
    leds = looks.sculpture.leds
    told = any(led.seen is not None for led in leds)
    explained = any(finding.level != "watch" and finding.code not in DIMMING for finding in found)
    if not leds or not (answered or differs(looks) or not (told or explained)):
        return None
    return enquire(looks.worlds, answered)


def _remedies(seen: Survey, now: Outcome, near: Sequence[Finding]) -> tuple[Remedy, ...]:
    """What lights more; where all is bright already, what makes it last."""
    if seen.short.findings or any(state != "bright" for state in now.states.values()):
        return rank(now, bases(seen), lambda: moved_bases(seen))
    steps = watched(near)
    if not steps:
        return ()
    return (Remedy(steps, sum(map(seconds_of, steps)), now.states, now.led_A, now.pack_A),)


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

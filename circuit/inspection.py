"""The whole chain: from a sculpture to findings, remedies and suspects."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from circuit import findings as find
from circuit.board import lay_out, own_placing
from circuit.checking import check
from circuit.doubts import otherwise
from circuit.lumps import find_lumps, lump_of_entries
from circuit.model import Finding, Inspection, Remedy, Sculpture
from circuit.outcome import led_results, operate
from circuit.remedies import cut_steps, join_choices, move_choices, rank, turn_choices
from circuit.shorts import find_short, short_findings
from circuit.suspects import next_check, weigh

LEVELS = ("stop", "fix", "watch")


def inspect(sculpture: Sculpture, on_stage: Callable[[str], None] = lambda _: None) -> Inspection:
    """All that can be found out about a sculpture.

    Raises SculptureError for a sculpture that contradicts itself.
    """
    check(sculpture)
    on_stage("sums")
    board, placing = lay_out(sculpture), own_placing(sculpture)
    now = operate(board, placing)
    on_stage("shorts")
    short = find_short(board, placing, now.spot_V)
    shorts = short_findings(board, short, placing) if short else []
    clear = lay_out(short.cleared) if short else board
    after = operate(clear, placing) if short else now
    on_stage("remedies")
    gaps = find.gaps(clear, placing, after)
    rest = [
        *find.hang_free(sculpture),
        *find.one_lump(clear, placing),
        *find.backwards(clear, placing, after),
        *(finding for finding, _ in gaps),
        *find.in_a_row(clear, placing, after),
    ]
    differ = list(find.otherwise_seen(sculpture, now.states, bool(shorts)))
    hints = [*differ, *find.near_touches(sculpture)]
    choices = [
        *turn_choices(rest),
        *join_choices(gaps),
        *move_choices(clear, placing, rest, find.rows(clear, placing)),
    ]
    wanted = shorts or any(state != "bright" for state in now.states.values())
    remedies = rank(now, clear, placing, cut_steps(shorts), choices) if wanted else ()
    suspects = weigh(board, placing, now) if differ else ()
    lumps = find_lumps(sculpture)
    return Inspection(
        lumps=lumps,
        entries=lump_of_entries(sculpture, lumps),
        leds=led_results(sculpture, now.led_A, now.legs_V),
        pack_A=now.pack_A,
        terminal_V=now.terminal_V,
        findings=_in_order([*find.bare_metal(sculpture), *shorts, *rest, *hints]),
        remedies=_lettered(sculpture, remedies),
        otherwise=otherwise(sculpture),
        suspects=tuple((s.cause, s.parts, s.probability) for s in suspects),
        next_check=next_check(suspects),
    )


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

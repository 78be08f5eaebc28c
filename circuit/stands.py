"""How a sculpture stands while its shorts are taken away one after the other, and what is told of each."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from circuit.board import Board, Placing, divide, lay_out, without
from circuit.bypasses import Load, Where, joined, joins_of, live, loads_of
from circuit.cuts import Cut
from circuit.lumps import ends, listed, mask_of
from circuit.model import Finding, Level, Point, Sculpture
from circuit.outcome import Outcome, operate
from circuit.short_kinds import dough_at, kind_of, led_beside, middle_of, width_of
from circuit.short_way import Field, current_across, flow_between, way_through

THREAD_MM = 1.0
LEAST_A = 1e-6


@dataclass(frozen=True)
class Stand:
    """How things stand in a round of the search."""

    board: Board
    placing: Placing
    outcome: Outcome

    @cached_property
    def loads(self) -> dict[str, Load]:
        """What takes current for a purpose."""
        return loads_of(self.board, self.placing)

    @cached_property
    def joins(self) -> dict[str, tuple[Point, Point]]:
        """Wires and the like."""
        return joins_of(self.board, self.placing)

    @cached_property
    def where(self) -> Where:
        """The body of dough at a spot, wires taken into account."""
        return joined(self.board.lump_at, self.joins.values())

    @cached_property
    def live(self) -> frozenset[str]:
        """Loads between lead and lead."""
        return live(self.loads.values(), self.placing, self.where)

    @property
    def lit(self) -> frozenset[str]:
        """LEDs that shine."""
        return frozenset(led for led, state in self.outcome.states.items() if state != "off")


@dataclass(frozen=True)
class Found:
    """One short, or two in one lump that one cut removes, and how things stand without it."""

    findings: tuple[Finding, ...]
    then: Stand


def again(stand: Stand, sculpture: Sculpture) -> Stand:
    """How things stand on the changed sculpture."""
    gone = {part.id for part in stand.board.sculpture.parts} - {part.id for part in sculpture.parts}
    placing = {name: spot for name, spot in stand.placing.items() if name.rpartition(".")[0] not in gone}
    board = lay_out(sculpture)
    return Stand(board, placing, operate(board, placing))


def made(first: Stand, now: Stand, cut: Cut, level: Level, parts: tuple[str, ...]) -> Found:
    """The cut made, with a finding for each of its lines."""
    sculpture = now.board.sculpture
    field = flow_between(now.board, cut.mesh, cut.start, cut.goal)
    shares = current_across(first.board, first.outcome, mask_of(sculpture, cut.lump), cut.neck)
    findings: list[Finding] = []
    for line, share_A in zip(cut.neck.lines, shares, strict=True):
        # Beside a real neck, a thread of dough this thin is most likely an edge seen wrongly.
        if findings and width_of(line) < THREAD_MM:
            continue
        at = middle_of(line)
        path = way_through(field, at)
        code = kind_of(sculpture, cut.mesh, line)
        facts = _facts(first, now, cut, at, abs(share_A), field)
        findings.append(Finding(code, level, parts, at, path, line, width_of(line), facts))
    return Found(tuple(findings), again(now, divide(sculpture, cut.lump, cut.neck)))


def _facts(
    first: Stand, now: Stand, cut: Cut, at: Point, share_A: float, field: Field
) -> dict[str, str | float]:
    """What the words may need; volts and amperes are those before anything was cut."""
    volts = first.outcome.spot_V
    between = abs(volts.get(cut.start, 0.0) - volts.get(cut.goal, 0.0))
    facts: dict[str, str | float] = {
        "dough": dough_at(now.board.sculpture, cut.lump, at),
        "lump": first.board.lump_at(cut.start) or "",
        "pack_A": first.outcome.pack_A,
        "share_A": share_A,
        "volts_V": between,
        "way_ohm": between / share_A if share_A > LEAST_A else field.ohm,
    }
    beside = led_beside(now.board.sculpture, now.placing, at)
    return facts | ({"beside": beside} if beside else {})


def taken_out(first: Stand, now: Stand, wires: Sequence[str], level: Level, parts: tuple[str, ...]) -> Found:
    """The wires taken out, with a finding for each."""
    findings = []
    sculpture = now.board.sculpture
    for part in [part for part in now.board.sculpture.parts if part.id in wires]:
        a, b = (now.board.sculpture.entries[end].at for end in ends(part))
        share_A, volts_V = abs(first.outcome.part_A[part.id]), abs(first.outcome.part_V[part.id])
        facts: dict[str, str | float] = {
            "part_kind": part.kind,
            "crosses": listed(parts),
            "lump": first.board.lump_at(a) or "",
            "pack_A": first.outcome.pack_A,
            "share_A": share_A,
            "volts_V": volts_V,
            "way_ohm": volts_V / share_A if share_A > LEAST_A else part.ohm,
        }
        at = middle_of((a, b))
        findings.append(Finding("short-wire", level, (part.id, *parts), at, (a, b), facts=facts))
        sculpture = without(sculpture, part.id)
    return Found(tuple(findings), again(now, sculpture))

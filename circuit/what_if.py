"""What if: an LED turned or pulled out, a leg or lead moved, the dough cut, the pack with other cells.

Changes are made in their order; taking one back is leaving it out. What comes out is what an inspection of
the changed sculpture would find.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import pairwise

import networkx as nx
import numpy as np

from circuit.board import Board, Placing, lay_out, own_placing, piece_at
from circuit.bypasses import joins_of
from circuit.errors import ChangeError
from circuit.findings import bare_metal, hang_free
from circuit.knife import cut_along
from circuit.lumps import LEADS, ends, is_conductive, legs, listed, middle
from circuit.model import Finding, Pack, Point, Sculpture
from circuit.outcome import Outcome, operate
from circuit.weaknesses import overloaded

MOST_CELLS = 6
MOST_BOARDS = 4
"""So many of one sculpture are remembered, each some megabytes: taking a change back finds its board."""
LEAST_CUT_MM = 0.5
"""A shorter line is a tap and no cut (estimated)."""

Line = tuple[Point, ...]


@dataclass(frozen=True)
class Turn:
    """An LED, or another part, turned round: its two ends change places."""

    part: str


@dataclass(frozen=True)
class PullOut:
    """An LED, or another part, pulled out."""

    part: str


@dataclass(frozen=True)
class PutBack:
    """What was pulled out, back where it was."""

    part: str


@dataclass(frozen=True)
class Move:
    """A leg or lead (`L1.long`, `pack.plus`) put in somewhere else [mm]; beside the dough it hangs free."""

    entry: str
    to: Point


@dataclass(frozen=True)
class CutLine:
    """The conductive dough cut along a line [mm]."""

    line: Line


@dataclass(frozen=True)
class Cells:
    """The pack with so many cells, 1 to 6."""

    count: int


Change = Turn | PullOut | PutBack | Move | CutLine | Cells


@dataclass(frozen=True)
class WhatIf:
    """What comes of some changes.

    sculpture  with all changes made; its entries hold what was pulled out, too
    out        parts that are pulled out
    free       legs and leads that hang free, without those of parts pulled out; hazards: what nobody should
               build
    """

    sculpture: Sculpture
    outcome: Outcome
    out: tuple[str, ...]
    free: tuple[Finding, ...]
    hazards: tuple[Finding, ...]


@dataclass(frozen=True)
class _Made:
    """Changes added up.

    place_of  entry -> the name of the entry that used to be where it is now
    moved     that name -> where this place is now
    """

    pack: Pack
    place_of: Mapping[str, str]
    moved: Mapping[str, Point] = field(default_factory=dict)
    cuts: tuple[Line, ...] = ()
    out: tuple[str, ...] = ()


class Trials:
    """What-ifs of one sculpture: all that leave dough and places alike share a board."""

    def __init__(self, sculpture: Sculpture) -> None:
        self._sculpture = sculpture
        self._board = lru_cache(MOST_BOARDS)(self._lay)

    @cached_property
    def now(self) -> WhatIf:
        """How things stand without any change."""
        return self.what_if()

    def what_if(self, changes: Sequence[Change] = ()) -> WhatIf:
        """What comes of these changes. Raises ChangeError for one that cannot be made."""
        made = _Made(self._sculpture.pack, {name: name for name in self._sculpture.entries})
        for change in changes:
            made = _with(self._sculpture, made, change)
        laid = self._board(made.cuts, tuple(sorted(made.moved.items())))
        there = laid.sculpture.entries
        entries = {name: replace(there[place], name=name) for name, place in made.place_of.items()}
        sculpture = replace(laid.sculpture, entries=entries, pack=made.pack)
        board = Board(sculpture, laid.lumps, laid.spots, laid.home, laid.sheet)
        own = own_placing(sculpture)
        placing = {name: None if _part_of(name) in made.out else spot for name, spot in own.items()}
        outcome = operate(board, placing)
        free = tuple(one for one in hang_free(sculpture) if _part_of(one.parts[0]) not in made.out)
        hazards = [
            *(one for one in bare_metal(sculpture) if one.parts[0] not in made.out),
            *_short(board, placing, outcome),
            *overloaded(board, outcome),
        ]
        return WhatIf(sculpture, outcome, made.out, free, tuple(hazards))

    def _lay(self, cuts: tuple[Line, ...], moved: tuple[tuple[str, Point], ...]) -> Board:
        """The board with these cuts made and these entries elsewhere."""
        sculpture = self._sculpture
        entries = dict(sculpture.entries)
        for name, at in moved:
            piece = piece_at(sculpture, at) or None
            entries[name] = replace(entries[name], at=at, piece=piece, near=None, off_mm=0.0)
        sculpture = replace(sculpture, entries=entries)
        return lay_out(cut_along(sculpture, cuts) if cuts else sculpture)


def what_if(sculpture: Sculpture, changes: Sequence[Change] = ()) -> WhatIf:
    """What comes of these changes. Raises ChangeError for one that cannot be made."""
    return Trials(sculpture).what_if(changes)


# ---------------------------------------------------------------- changes added up


def _with(sculpture: Sculpture, made: _Made, change: Change) -> _Made:
    """One change more. Raises ChangeError when it cannot be made."""
    match change:
        case Turn(part):
            one, two = _ends_of(sculpture, part)
            places = made.place_of
            return replace(made, place_of={**places, one: places[two], two: places[one]})
        case PullOut(part):
            _ends_of(sculpture, part)
            if part in made.out:
                raise ChangeError(
                    "{part} is pulled out already: put it back, or choose another.",
                    part=part,
                )
            return replace(made, out=(*made.out, part))
        case PutBack(part):
            if part not in made.out:
                raise ChangeError(
                    "{part} is not pulled out, so it cannot be put back: pull it out first.",
                    part=part,
                )
            return replace(made, out=tuple(other for other in made.out if other != part))
        case Move(entry, to):
            _check_move(made, entry)
            return replace(made, moved={**made.moved, made.place_of[entry]: to})
        case CutLine(line):
            _check_cut(sculpture, line)
            return replace(made, cuts=(*made.cuts, line))
        case Cells(count):
            return replace(made, pack=_with_cells(sculpture.pack, count))


def _ends_of(sculpture: Sculpture, part: str) -> tuple[str, str]:
    """Names of the two entries of an LED or another part."""
    named = {led.id: legs(led) for led in sculpture.leds} | {one.id: ends(one) for one in sculpture.parts}
    if part not in named:
        if not named:
            raise ChangeError("There is no {part} here: say first where the LEDs are.", part=part)
        raise ChangeError(
            "There is no {part} here: choose one of {names}.", part=part, names=", ".join(named)
        )
    return named[part]


def _part_of(entry: str) -> str:
    return entry.rpartition(".")[0]


def _check_move(made: _Made, entry: str) -> None:
    if entry not in made.place_of:
        raise ChangeError(
            "There is no leg or lead {entry} here: choose one of {names}.",
            entry=entry,
            names=", ".join(made.place_of),
        )
    if _part_of(entry) in made.out:
        raise ChangeError(
            "{part} is pulled out: put it back before its legs are moved.",
            part=_part_of(entry),
        )


def _check_cut(sculpture: Sculpture, line: Line) -> None:
    """The line must be one, and meet conductive dough."""
    long_mm = sum(float(np.hypot(b[0] - a[0], b[1] - a[1])) for a, b in pairwise(line))
    if long_mm < LEAST_CUT_MM:
        raise ChangeError(
            "The cut is {long_mm:.1f} mm long: draw a line across the dough.",
            long_mm=long_mm,
        )
    for a, b in pairwise(line):
        stretch_mm = float(np.hypot(b[0] - a[0], b[1] - a[1]))
        for share in np.linspace(0.0, 1.0, int(stretch_mm / sculpture.cell_mm) + 2):
            spot = (float(a[0] + share * (b[0] - a[0])), float(a[1] + share * (b[1] - a[1])))
            if is_conductive(sculpture, piece_at(sculpture, spot) or None):
                return
    raise ChangeError("The cut meets no conductive dough: draw it across the dough.")


def _with_cells(pack: Pack, count: int) -> Pack:
    """The pack with so many of the same cells."""
    if pack.kind == "block":
        raise ChangeError("A 9 V block has its cells in one case: none can be added or taken away.")
    if not 1 <= count <= MOST_CELLS:
        raise ChangeError(
            "A pack of {count} cells is not known here: take 1 to {most}.",
            count=count,
            most=MOST_CELLS,
        )
    share = count / pack.cells
    return replace(pack, cells=count, emf_V=pack.emf_V * share, internal_ohm=pack.internal_ohm * share)


# ---------------------------------------------------------------- hazards


def _short(board: Board, placing: Placing, outcome: Outcome) -> Iterator[Finding]:
    """Both leads in one lump, or joined by wires.

    Where dough would have to be cut is for an inspection to say: it takes longer.
    """
    plus, minus = (placing[lead] for lead in LEADS)
    if plus is None or minus is None:
        return
    start, goal = board.lump_at(plus), board.lump_at(minus)
    facts: dict[str, str | float] = {
        "lump": start or "",
        "pack_A": outcome.pack_A,
        "emf_V": board.sculpture.pack.emf_V,
    }
    if start == goal:
        yield Finding("leads-in-one-lump", "stop", ("pack",), middle(plus, minus), facts=facts)
        return
    joins = joins_of(board, placing)
    graph: nx.Graph[str | None] = nx.Graph()
    graph.add_edges_from(
        (board.lump_at(a), board.lump_at(b), {"part": part}) for part, (a, b) in joins.items()
    )
    if start in graph and goal in graph and nx.has_path(graph, start, goal):
        way = nx.shortest_path(graph, start, goal)
        parts = tuple(graph[a][b]["part"] for a, b in pairwise(way))
        facts["crosses"] = listed(parts)
        facts["part_kind"] = next(one.kind for one in board.sculpture.parts if one.id == parts[0])
        yield Finding("short-wire", "stop", parts, middle(*joins[parts[0]]), facts=facts)

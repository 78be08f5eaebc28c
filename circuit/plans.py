"""Plans: things to do, as data, and any number of them solved together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from circuit.board import (
    Board,
    Placing,
    bridge,
    closed,
    lay_out,
    nearest_spots,
    swapped,
    tied,
    turned,
    without,
)
from circuit.knife import cut_along
from circuit.model import Action, Joint, Point, Sculpture, Step
from circuit.outcome import Outcome, operate_many

Spots = Sequence[tuple[str, Point]]


@dataclass(frozen=True)
class Effort:
    """What doing something costs: a helper's seconds, damage to the sculpture, and the risk that it fails.

    Damage and risk are worth seconds, too, so that plans can be compared.
    """

    seconds: float
    damage_s: float
    risk_s: float


EFFORTS: Mapping[Action, Effort] = {
    "turn": Effort(12.0, 0.0, 1.0),
    "swap-leads": Effort(12.0, 0.0, 1.0),
    "cut": Effort(15.0, 8.0, 4.0),
    "move": Effort(12.0, 3.0, 2.0),
    "join": Effort(12.0, 5.0, 4.0),
    "take-out": Effort(8.0, 3.0, 1.0),
    "close": Effort(2.0, 0.0, 0.0),
    "thicken-wall": Effort(15.0, 5.0, 4.0),
}
"""Estimated."""
SECONDS_PER_MM = 0.2  # a leg that goes far takes the whole LED along, estimated
DAMAGE_PER_MM = 0.3  # of a cut, estimated
LEGS_APART_MM = 4.0  # nearer than this, legs of two LEDs may touch, estimated
JOIN_OHM = 10.0
"""A pinch of dough across a gap, for a first look; what is offered is drawn and solved. Estimated."""


@dataclass(frozen=True, eq=False)
class Choice:
    """Something to do: its steps, and the changes it makes to the placing or to the sculpture."""

    steps: tuple[Step, ...]
    turn: tuple[str, ...] = ()
    move: tuple[tuple[str, Point], ...] = ()
    swap_leads: bool = False
    join: Joint | None = None
    close: str | None = None
    take_out: str | None = None

    @property
    def touches(self) -> frozenset[str]:
        """What it changes, so that a plan does not change one thing twice; turning does not move."""
        moved = [name for name, _ in self.move]
        return frozenset(
            [*moved, *(f"{part} turned" for part in self.turn), *(["leads swapped"] * self.swap_leads)]
        )

    def in_the_way_of(self, other: "Choice") -> bool:
        """Whether both change the same thing, or put a leg into the same place."""
        near = (
            np.hypot(a[0] - b[0], a[1] - b[1]) < LEGS_APART_MM for _, a in self.move for _, b in other.move
        )
        return bool(self.touches & other.touches) or any(near)


def seconds_of(step: Step) -> float:
    """A helper's time for one step."""
    far = (
        0.0 if step.to_at is None else float(np.hypot(step.at[0] - step.to_at[0], step.at[1] - step.to_at[1]))
    )
    return EFFORTS[step.action].seconds + SECONDS_PER_MM * far


def cost_of(steps: Sequence[Step]) -> float:
    """Time, damage and risk of some steps together, in seconds."""
    total = 0.0
    for step in steps:
        effort = EFFORTS[step.action]
        long_mm = float(step.facts.get("cut_mm", 0.0)) if step.action == "cut" else 0.0
        total += seconds_of(step) + effort.damage_s + effort.risk_s + DAMAGE_PER_MM * long_mm
    return total


class Bench:
    """Solves plans together: all that leave the dough alike share a board."""

    def __init__(
        self, start: Sculpture, cuts: Sequence[Step], clear: Board, placing: Placing, spots: Spots
    ) -> None:
        """`start` is the sculpture before the cuts, `clear` the board after them."""
        self._placing, self._spots = placing, spots
        self._start, self._cuts = start, cuts
        self._sculpture = clear.sculpture
        self._plain = lay_out(clear.sculpture, spots) if spots else clear
        self._letter = {piece: lump.id for lump in self._plain.lumps for piece in lump.pieces}

    def solve(self, plans: Sequence[Sequence[Choice]]) -> list[Outcome]:
        """The outcome of each plan; a gap that is filled counts as so many ohms between two lumps."""
        lots: dict[tuple[Choice, ...], list[int]] = {}
        for i, plan in enumerate(plans):
            lots.setdefault(_changes(plan), []).append(i)
        found: dict[int, Outcome] = {}
        for changes, members in lots.items():
            placings = [self.placed(plans[i]) for i in members]
            found |= dict(zip(members, operate_many(self._quick(changes), placings), strict=True))
        return [found[i] for i in range(len(plans))]

    def drawn(self, plan: Sequence[Choice]) -> Outcome:
        """The outcome of a plan with its cuts made straight and its gaps filled, as a hand does it."""
        changes = _changes(plan)
        sculpture = self._by_hand
        for choice in changes:
            if choice.join is not None:
                sculpture = bridge(sculpture, choice.join)
            if choice.close is not None:
                sculpture = closed(sculpture, choice.close)
        board = lay_out(sculpture, self._spots) if changes else self._board_by_hand
        placing = self.placed(plan)
        free = {name: at if at in board.spots else None for name, at in placing.items()}
        return operate_many(board, [free])[0]

    @cached_property
    def _by_hand(self) -> Sculpture:
        """The sculpture with its cuts made by hand."""
        lines = [step.line for step in self._cuts if step.action == "cut" and step.line is not None]
        if not lines:
            return self._sculpture
        sculpture = cut_along(self._start, lines)
        for step in self._cuts:
            if step.action == "take-out":
                sculpture = without(sculpture, step.parts[0])
        return sculpture

    @cached_property
    def _board_by_hand(self) -> Board:
        return self._plain if self._by_hand is self._sculpture else lay_out(self._by_hand, self._spots)

    def _quick(self, changes: tuple[Choice, ...]) -> Board:
        """The board with these switches closed and gaps bridged."""
        board = self._plain
        for choice in changes:
            if choice.close is not None:
                board = _switched(board, choice.close)
            if choice.join is not None:
                one, two = (self._letter[piece] for piece in choice.join.between)
                board = tied(board, nearest_spots(board, one, two), JOIN_OHM)
        return board

    def placed(self, plan: Sequence[Choice]) -> Placing:
        """Where everything is once the plan is carried out, one thing after the other."""
        placing = self._placing
        for choice in plan:
            for part in choice.turn:
                placing = turned(placing, part)
            placing = {**placing, **dict(choice.move)}
            if choice.swap_leads:
                placing = swapped(placing)
            if choice.take_out is not None:
                placing = {**placing, f"{choice.take_out}.a": None}
        return placing


def _changes(plan: Sequence[Choice]) -> tuple[Choice, ...]:
    return tuple(choice for choice in plan if choice.join or choice.close)


def _switched(board: Board, switch: str) -> Board:
    return Board(closed(board.sculpture, switch), board.lumps, board.spots, board.home, board.sheet)

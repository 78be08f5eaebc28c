"""Plans: things to do, as data, and any number of them solved together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from circuit.board import Board, Placing, bridge, closed, lay_out, swapped, turned
from circuit.model import Joint, Point, Step
from circuit.outcome import Outcome, operate_many

# Seconds of a helper's time, estimated.
SECONDS = {
    "turn": 12.0,
    "swap-leads": 12.0,
    "cut": 15.0,
    "move": 12.0,
    "join": 12.0,
    "take-out": 8.0,
    "close": 2.0,
}
SECONDS_PER_MM = 0.2  # a leg that goes far takes the whole LED along, estimated


@dataclass(frozen=True, eq=False)
class Choice:
    """Something to do: its steps, and the changes it makes to the placing or to the sculpture."""

    steps: tuple[Step, ...]
    turn: tuple[str, ...] = ()
    move: tuple[tuple[str, Point], ...] = ()
    swap_leads: bool = False
    join: Joint | None = None
    close: str | None = None

    @property
    def seconds(self) -> float:
        """A helper's time for it."""
        return sum(seconds_of(step) for step in self.steps)

    @property
    def touches(self) -> frozenset[str]:
        """The parts it changes, so that a plan does not change one twice."""
        return frozenset(part.split(".")[0] for step in self.steps for part in step.parts)


def seconds_of(step: Step) -> float:
    """A helper's time for one step."""
    far = (
        0.0 if step.to_at is None else float(np.hypot(step.at[0] - step.to_at[0], step.at[1] - step.to_at[1]))
    )
    return SECONDS.get(step.action, 15.0) + SECONDS_PER_MM * far


class Bench:
    """Solves plans together: all that leave the dough alike share a board."""

    def __init__(self, clear: Board, placing: Placing, spots: tuple[Point, ...]) -> None:
        self._placing, self._spots = placing, spots
        self._clear = clear.sculpture
        plain = lay_out(clear.sculpture, spots) if spots else clear
        self._boards: dict[tuple[Choice, ...], Board] = {(): plain}

    def solve(self, plans: Sequence[Sequence[Choice]]) -> list[Outcome]:
        """The outcome of each plan."""
        lots: dict[tuple[Choice, ...], list[int]] = {}
        for i, plan in enumerate(plans):
            changes = tuple(choice for choice in plan if choice.join or choice.close)
            lots.setdefault(changes, []).append(i)
        found: dict[int, Outcome] = {}
        for changes, members in lots.items():
            placings = [self._placed(plans[i]) for i in members]
            found |= dict(zip(members, operate_many(self._board(changes), placings), strict=True))
        return [found[i] for i in range(len(plans))]

    def _board(self, changes: tuple[Choice, ...]) -> Board:
        """The board with these gaps filled and switches closed."""
        if changes not in self._boards:
            sculpture = self._clear
            for choice in changes:
                if choice.join is not None:
                    sculpture = bridge(sculpture, choice.join)
                if choice.close is not None:
                    sculpture = closed(sculpture, choice.close)
            self._boards[changes] = lay_out(sculpture, self._spots)
        return self._boards[changes]

    def _placed(self, plan: Sequence[Choice]) -> Placing:
        placing = self._placing
        for choice in plan:
            for part in choice.turn:
                placing = turned(placing, part)
            placing = {**placing, **dict(choice.move)}
            if choice.swap_leads:
                placing = swapped(placing)
        return placing

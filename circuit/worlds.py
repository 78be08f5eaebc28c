"""What every LED would do if something were wrong that the photo does not show, or while something is tried.

Notation: W worlds; L LEDs; T terminals.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from circuit.board import Board, Placing, tied, turned
from circuit.doubts import Flip
from circuit.lumps import LEADS, legs
from circuit.model import Pack, Point, Sculpture
from circuit.outcome import led_currents

Floats = NDArray[np.float64]
Names = frozenset[str]
NONE: Names = frozenset()

DRY = 0.1
"""Share of its conductance that dough has left when it has dried out (estimated)."""
RESTING_OHM = 2000.0
"""A leg that only rests against the dough (estimated)."""


@dataclass(frozen=True)
class World:
    """How things really are, besides what the photo shows.

    turned   LEDs that stand the other way round; dead: that never shine; loose: a leg of which hangs free;
             resting: a leg of which only rests against the dough
    across   what goes from lump to lump underneath: two spots, and the ohms of it
    dry      letters of dry lumps
    other    index of the doubtful place that is other than taken, None where none is
    emf      share of the volts that the pack has left; ohm: what pack and leads have more than they should,
             infinite where the way is open
    probe    LED whose legs are held to the dough beside the two leads; out: LED that is pulled out
    """

    turned: Names = NONE
    dead: Names = NONE
    loose: Names = NONE
    resting: Names = NONE
    across: frozenset[tuple[Point, Point, float]] = frozenset()
    dry: Names = NONE
    other: int | None = None
    emf: float = 1.0
    ohm: float = 0.0
    probe: str | None = None
    out: str | None = None

    def and_also(self, more: "World") -> "World":
        """Both things wrong at once."""
        return World(
            self.turned ^ more.turned,
            self.dead | more.dead,
            self.loose | more.loose,
            self.resting | more.resting,
            self.across | more.across,
            self.dry | more.dry,
            self.other if more.other is None else more.other,
            self.emf * more.emf,
            self.ohm + more.ohm,
        )

    @property
    def of_network(self) -> Hashable:
        """What must be alike for two worlds to be solved together."""
        return self.across, self.dry, self.other, self.emf, self.ohm, self.resting


class Worlds:
    """Solves worlds, each but once.

    board, placing  the sculpture as the photo shows it
    flips           the doubtful places, each with the sculpture with it the other way
    """

    def __init__(self, board: Board, placing: Placing, flips: Sequence[Flip] = ()) -> None:
        self.board, self.placing, self.flips = board, placing, flips
        self._known: dict[World, Floats] = {}
        self.led_ids = [led.id for led in board.sculpture.leds]
        self._legs = {led.id: legs(led) for led in board.sculpture.leds}

    @cached_property
    def should_A(self) -> Floats:
        """Current of every LED (L,) [A] when nothing hidden is wrong."""
        return np.asarray(self.led_A([World()])[0])

    def led_A(self, worlds: Sequence[World]) -> Floats:
        """Current of every LED in every world (W, L) [A]."""
        lots: dict[Hashable, list[World]] = {}
        for world in dict.fromkeys(worlds):
            if world not in self._known:
                lots.setdefault(world.of_network, []).append(world)
        if lots:
            boards = [(self._board(ws[0]), [self._placed(w) for w in ws]) for ws in lots.values()]
            for members, currents in zip(lots.values(), led_currents(boards), strict=True):
                self._known |= dict(zip(members, currents, strict=True))
        return np.array([self._known[world] for world in worlds]).reshape(len(worlds), len(self.led_ids))

    def _board(self, world: World) -> Board:
        """The board of a world: its dough, pack and contacts."""
        board = self.board if world.other is None else self.flips[world.other].board
        sculpture = board.sculpture
        pack = replace(
            sculpture.pack,
            emf_V=sculpture.pack.emf_V * world.emf,
            internal_ohm=sculpture.pack.internal_ohm + (0.0 if np.isinf(world.ohm) else world.ohm),
        )
        board = replace(
            board,
            sculpture=_with(sculpture, pack, world.resting),
            home=self.board.home,
            lumps=self.board.lumps,
        )
        for letter in world.dry:
            own = [i for i, place in enumerate(board.spots) if board.lump_at(place) == letter]
            board = _dried(board, own)
        for one, two, ohm in world.across:
            board = tied(board, (one, two), ohm)
        return board

    def _placed(self, world: World) -> Placing:
        placing = dict(self.placing)
        if np.isinf(world.ohm):
            placing[LEADS[0]] = None
        for led in world.turned:
            placing = dict(turned(placing, led))
        if world.probe is not None:
            placing |= zip(self._legs[world.probe], (self.placing[lead] for lead in LEADS), strict=True)
        gone = world.dead | (world.loose - {world.probe}) | ({world.out} - {None})
        return placing | {leg: None for led in gone if led is not None for leg in self._legs[led]}


def _with(sculpture: Sculpture, pack: Pack, resting: Names) -> Sculpture:
    leds = tuple(
        replace(led, diode=replace(led.diode, rs_ohm=led.diode.rs_ohm + RESTING_OHM))
        if led.id in resting
        else led
        for led in sculpture.leds
    )
    return replace(sculpture, pack=pack, leds=leds)


def _dried(board: Board, own: Sequence[int]) -> Board:
    """The board with the conductances between these terminals a share of what they were."""
    if board.sheet is None:
        return board
    out = board.conductance.copy()
    out[np.ix_(own, own)] *= DRY
    np.fill_diagonal(out, 0.0)
    np.fill_diagonal(out, -out.sum(axis=1))
    return replace(board, sheet=replace(board.sheet, conductance=out))

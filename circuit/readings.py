"""The reading of the photo that explains what is seen lit: a doubtful contact may be other than it looks."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from circuit.board import Board, Placing, lay_out, own_placing
from circuit.checks import look_chance
from circuit.doubts import Flip, flips
from circuit.enquiry import likeliest_flip
from circuit.model import Answered, Sculpture
from circuit.outcome import Outcome, operate
from circuit.worlds import Worlds

LIKELIER = 0.5
MOST_READINGS = 3
HARDLY = 0.25
"""A look with less than this chance is not what the sums say (estimated)."""


@dataclass(frozen=True)
class Reading:
    """A sculpture with its doubtful contacts as they most likely are, solved.

    first   the reading as the sculpture looks, where this one is another
    joints  indices of the contacts that were taken the other way than they look, because that explains
            what is seen lit
    """

    board: Board
    placing: Placing
    outcome: Outcome
    joints: tuple[int, ...] = ()
    first: "Reading | None" = None

    @cached_property
    def flips(self) -> tuple[Flip, ...]:
        """What is still doubtful."""
        return flips(self.sculpture)

    @cached_property
    def worlds(self) -> Worlds:
        """What every LED would do if something hidden were wrong, solved once for all who ask."""
        return Worlds(self.board, self.placing, self.flips)

    @property
    def sculpture(self) -> Sculpture:
        """The sculpture as it is read."""
        return self.board.sculpture


def read(sculpture: Sculpture, answered: Sequence[Answered] = ()) -> Reading:
    """The likeliest reading: as it looks, unless what is seen lit or was checked speaks for another."""
    first = reading = as_it_looks(sculpture)
    for _ in range(MOST_READINGS):
        if not _differs(reading) or not reading.flips:
            break
        known = answered if reading is first else ()
        best, chance = likeliest_flip(reading.worlds, known)
        if chance <= LIKELIER:
            break
        flip = reading.flips[best]
        joints = (*reading.joints, *flip.joints)
        reading = replace(_as_laid_out(flip.board), joints=joints, first=first)
    return reading


def as_it_looks(sculpture: Sculpture) -> Reading:
    """The sculpture with its doubtful contacts as they look."""
    return _as_laid_out(lay_out(sculpture))


def _as_laid_out(board: Board) -> Reading:
    placing = own_placing(board.sculpture)
    return Reading(board, placing, operate(board, placing))


def differs(reading: Reading) -> bool:
    """Whether an LED looks other than the sums say: on or off, or clearly darker."""
    return _differs(reading) or _looks_darker(reading)


def _differs(reading: Reading) -> bool:
    """Whether an LED that should be dark shines, or the other way round."""
    states = reading.outcome.states
    return any(
        led.seen is not None and (led.seen == "off") != (states[led.id] == "off")
        for led in reading.sculpture.leds
    )


def _looks_darker(reading: Reading) -> bool:
    """Whether LEDs are seen clearly darker than the sums say."""
    sculpture = reading.sculpture
    look, chance = sculpture.brightness, 1.0
    for led in sculpture.leds:
        current = reading.outcome.led_A[led.id]
        darker = led.seen == "off" or (led.seen == "dim" and current > look.bright_A)
        if darker and current > look.dim_A:
            chance *= float(look_chance((led,), look, np.array([[current]]))[0])
    return chance < HARDLY

"""Wires, switches, resistors, buzzers and motors in a case, and what a report says of ways and volts."""

from typing import Literal, Self

from pydantic import BaseModel, model_validator

from api.errors import InputError
from api.fields import Id, NotNegative, Positive, Spot, State, Strict

PartKind = Literal["wire", "switch", "resistor", "buzzer", "motor"]


class PartEntry(Strict):
    """A part other than an LED, and where its two ends go in; `a` is the red wire of a buzzer.

    closed    whether a switch is on; a switch is taken to be on
    works_mA  least current at which a buzzer or a motor works
    """

    id: Id
    kind: PartKind
    a: Spot
    b: Spot
    ohm: NotNegative | None = None
    closed: bool | None = None
    works_mA: Positive | None = None

    @model_validator(mode="after")
    def _makes_sense(self) -> Self:
        if self.a == self.b:
            raise InputError(
                "The {kind} {id} has both ends at {at}: tap its ends one by one",
                kind=self.kind,
                id=self.id,
                at=list(self.a),
            )
        if self.closed is not None and self.kind != "switch":
            raise InputError(
                "The {kind} {id} has closed, which only a switch has: take it out",
                kind=self.kind,
                id=self.id,
            )
        if self.works_mA is not None and self.kind not in ("buzzer", "motor"):
            raise InputError(
                "The {kind} {id} has works_mA, which only a buzzer or a motor has: take it out",
                kind=self.kind,
                id=self.id,
            )
        return self


class PartOut(BaseModel):
    """Current from a to b through another part, the volts over it, and whether it works.

    `works` of a wire, a switch or a resistor means that current passes.
    """

    id: str
    kind: PartKind
    current_mA: float
    volts_V: float
    works: bool


class TraceOut(BaseModel):
    """The finger-walk of one leg to the lead it wants, without crossing a light.

    reaches  leads that can be reached so
    lumps    lumps that can be reached so: without `wanted` among `reaches`, the proof that there is no way
    path     the walk, empty when there is none
    crosses  LEDs on the way with the fewest lights, when no way is free
    """

    leg: str
    wanted: str
    reaches: list[str]
    lumps: list[str]
    path: list[Spot]
    crosses: list[str]


class ArrangedLed(BaseModel):
    """What an LED would do in an arrangement."""

    id: str
    current_mA: float
    state: State


class ArrangementOut(BaseModel):
    """What the LEDs of this sculpture would do as built, in a row, or side by side."""

    way: Literal["as-built", "in-a-row", "side-by-side"]
    leds: list[ArrangedLed]
    pack_mA: float

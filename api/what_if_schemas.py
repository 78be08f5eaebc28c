"""What-ifs in the public formats: changes that are tried on a sculpture, and what comes of them."""

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.fields import Id, Spot, Strict
from api.part_schemas import PartOut
from api.schemas import FindingOut, LedOut, PackOut


class TurnEntry(Strict):
    """An LED, or another part, turned round."""

    do: Literal["turn"]
    part: Id


class PullOutEntry(Strict):
    """An LED, or another part, pulled out; or put back where it was."""

    do: Literal["pull-out", "put-back"]
    part: Id


class MoveEntry(Strict):
    """A leg or lead (`L1.long`, `pack.plus`) put in at another place of the photo."""

    do: Literal["move"]
    entry: Annotated[str, Field(max_length=20)]
    to: Spot


class CutEntry(Strict):
    """The dough cut along a line on the photo."""

    do: Literal["cut"]
    points: Annotated[tuple[Spot, ...], Field(max_length=200)]


class CellsEntry(Strict):
    """The pack with so many cells."""

    do: Literal["cells"]
    count: Annotated[int, Field(ge=1, le=6)]


ChangeEntry = Annotated[
    TurnEntry | PullOutEntry | MoveEntry | CutEntry | CellsEntry, Field(discriminator="do")
]


class WhatIfEntry(Strict):
    """What is tried, in its order; without changes the answer is how things stand."""

    changes: Annotated[tuple[ChangeEntry, ...], Field(max_length=60)] = ()


class LedChangeOut(BaseModel):
    """An LED as it is now and as it would be then; `out`: it is pulled out then."""

    id: str
    now: LedOut
    then: LedOut
    out: bool = False


class PackChangeOut(BaseModel):
    """The pack as it is now and as it would be then, with its cells then."""

    cells: int
    now: PackOut
    then: PackOut


class WhatIfOut(BaseModel):
    """What comes of the changes.

    parts    other parts then; out: parts pulled out
    free     legs and leads that hang free then; hazards: what nobody should build so
    """

    leds: list[LedChangeOut]
    parts: list[PartOut]
    pack: PackChangeOut
    out: list[str]
    free: list[FindingOut]
    hazards: list[FindingOut]

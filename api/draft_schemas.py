"""Drafts: what a helper has told so far, half-tapped LEDs included, as the page keeps it (js/job.js, `Job`).

A draft is not a case: nothing in it need be complete. All of it is bounded, and unknown fields are refused.
"""

from copy import copy
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, create_model

from api.fields import Finite, Id, Name, Positive, Role, Spot, State, Strict
from api.part_schemas import PartKind
from api.schemas import Case, LineEntry, StrokeEntry

Byte = Annotated[int, Field(ge=0, le=255)]
Text = Annotated[str, Field(max_length=40)]
"""A name while it is being typed: it may be empty."""
Side = Annotated[Finite, Field(ge=0)]


class DraftDough(Strict):
    """A dough of the palette; `id` is the name it had first, kept when it is renamed."""

    id: Text | None = None
    name: Text
    role: Role
    taps: Annotated[tuple[Spot, ...], Field(max_length=200)] = ()
    rgb: tuple[Byte, Byte, Byte] | None = None
    pad: Annotated[int, Field(ge=1, le=6)] | None = None


class DraftSize(Strict):
    """What tells the size, as far as it is tapped: two places and mm, or another thing of known size."""

    kind: Literal["points", "mat", "card", "corners", "coin"] | None = None
    points: Annotated[tuple[Spot, ...], Field(max_length=40)] = ()
    mm: Side | None = None
    sides_mm: Annotated[tuple[Side | None, ...], Field(max_length=2)] | None = None


class DraftLed(Strict):
    """An LED; a leg that is not tapped yet is null.

    order  set while it is not known which leg is the long one: still to be asked, or nobody could tell
    """

    id: Id
    colour: Name = "red"
    long_leg: Spot | None = None
    short_leg: Spot | None = None
    seen: State | None = None
    order: Literal["ask", "guess"] | None = None


class DraftPart(Strict):
    """Another part; an end that is not tapped yet is null."""

    id: Id
    kind: PartKind
    a: Spot | None = None
    b: Spot | None = None
    closed: bool | None = None
    ohm: Side | None = None
    works_mA: Positive | None = None


def _all_optional() -> type[Strict]:
    """`Case` with every field optional and no rule between fields."""
    fields: dict[str, Any] = {}
    for name, field in Case.model_fields.items():
        loose = copy(field)
        loose.default, loose.default_factory = None, None
        fields[name] = (field.annotation | None if field.annotation else None, loose)
    return create_model("Told", __base__=Strict, **fields)


Told = _all_optional()
"""Fields of a case that the page keeps though it does not edit them."""


class DraftJob(Strict):
    """All that was told so far."""

    palette: Annotated[tuple[DraftDough, ...], Field(max_length=24)] = ()
    size: DraftSize = DraftSize()
    plus: Spot | None = None
    minus: Spot | None = None
    leds: Annotated[tuple[DraftLed, ...], Field(max_length=60)] = ()
    parts: Annotated[tuple[DraftPart, ...], Field(max_length=30)] = ()
    strokes: Annotated[tuple[StrokeEntry, ...], Field(max_length=60)] = ()
    cuts: Annotated[tuple[LineEntry, ...], Field(max_length=60)] = ()
    joins: Annotated[tuple[LineEntry, ...], Field(max_length=30)] = ()
    rotation: Annotated[Finite, Field(ge=-360, le=360)] = 0.0
    base: Told = Told()  # type: ignore[valid-type]


class DraftEntry(Strict):
    """What a page sends: the job, and the inspection of exactly this job if there is one."""

    job: DraftJob
    inspection: Annotated[str, Field(max_length=40)] | None = None


class NewDraftEntry(DraftEntry):
    """The first of it, with the id of a kept photo."""

    photo: Annotated[str, Field(max_length=40)]


class DraftPhoto(BaseModel):
    """The photo of a draft; width and height in pixels, upright."""

    id: str
    width: int
    height: int


class DraftAnswer(BaseModel):
    """A kept draft. `revision` counts its changes; `job` has the fields that were sent, no others."""

    id: str
    photo: DraftPhoto
    job: dict[str, Any]
    revision: int
    inspection: str | None

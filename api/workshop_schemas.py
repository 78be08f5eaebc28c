"""Workshops, sculptures and challenges in the public formats."""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from api.fields import Name, Plain, Role, Strict
from api.wording.sentences import Age

Short = Annotated[str, Field(max_length=60), Plain]
Nickname = Annotated[str, Field(max_length=24), Plain]
"""A bench number or a nickname; the page warns at two words."""
Bench = Annotated[str, Field(min_length=1, max_length=24), Plain]
"""The same where it must not be empty."""
Day = Annotated[date, Field(ge=date(2000, 1, 1), le=date(2199, 12, 31))]
Count = Annotated[int, Field(ge=1, le=200)]
Byte = Annotated[int, Field(ge=0, le=255)]


class LedStock(Strict):
    """How many LEDs of a colour there are."""

    colour: Name
    count: Annotated[int, Field(ge=0, le=10_000)]


class Kit(Strict):
    """What was handed out."""

    cells: Annotated[int, Field(ge=1, le=8)] = 4
    leds: Annotated[tuple[LedStock, ...], Field(max_length=20)] = ()


class DoughOfDay(Strict):
    """A dough as it looks today: its colour as sRGB."""

    name: Name
    role: Role
    rgb: tuple[Byte, Byte, Byte]


class LightsLit(Strict):
    """At least so many lights are lit."""

    rule: Literal["lights-lit"]
    at_least: Count


class DoughVolume(Strict):
    """At most so much dough of a colour."""

    rule: Literal["dough-volume"]
    dough: Name
    at_most_cm3: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]


class SideBySide(Strict):
    """No two lights in a row."""

    rule: Literal["side-by-side"]


class LightColours(Strict):
    """Lights of at least so many colours are lit."""

    rule: Literal["light-colours"]
    at_least: Annotated[int, Field(ge=2, le=12)] = 2


class NothingToWatch(Strict):
    """No finding is left, not even one of level watch."""

    rule: Literal["nothing-to-watch"]


class TimeLimit(Strict):
    """Finished within so many minutes after the sculpture was begun."""

    rule: Literal["time-limit"]
    minutes: Annotated[float, Field(gt=0, le=1440, allow_inf_nan=False)]


Rule = Annotated[
    LightsLit | DoughVolume | SideBySide | LightColours | NothingToWatch | TimeLimit,
    Field(discriminator="rule"),
]


class Challenge(Strict):
    """What was asked of the makers."""

    title: Short = ""
    rules: Annotated[tuple[Rule, ...], Field(max_length=20)] = ()


class WorkshopEntry(Strict):
    """What the helper tells of a workshop."""

    name: Annotated[str, Field(min_length=1, max_length=60), Plain]
    day: Day
    place: Short = ""
    age: Age = "9-12"
    kit: Kit = Kit()
    doughs: Annotated[tuple[DoughOfDay, ...], Field(max_length=24)] = ()
    challenge: Challenge = Challenge()
    keep_days: Annotated[int | None, Field(ge=1, le=3650)] = 30

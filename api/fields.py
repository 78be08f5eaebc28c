"""What the public formats share: kinds of numbers, names, and the base that refuses unknown fields."""

import unicodedata
from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from api.errors import InputError

Finite = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Spot = tuple[Finite, Finite]
Role = Literal["conductive", "insulating", "table"]
State = Literal["bright", "dim", "off"]
Name = Annotated[str, Field(min_length=1, max_length=40)]
Id = Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{1,12}$")]


def plain_text(value: object) -> object:
    """Text without characters that do not show: controls, zero-width ones, ones that turn the direction.

    One line, no space at its ends, and letters composed the same way however they were typed (NFC).
    """
    if not isinstance(value, str):
        return value
    spaced = "".join(" " if one.isspace() else one for one in value)
    shown = "".join(one for one in spaced if unicodedata.category(one) not in ("Cc", "Cf", "Cs"))
    return " ".join(unicodedata.normalize("NFC", shown).split())


Plain = BeforeValidator(plain_text)
"""For a text that people type: its bounds hold for what shows (put it behind them)."""

MOST_REVISION = 2**31 - 1
"""Databases count changes in 32 bits."""


def utc(time: datetime) -> datetime:
    """A time as it is kept (`records/clock.py`), saying that it is UTC."""
    return time.replace(tzinfo=UTC)


KeptTime = Annotated[datetime, AfterValidator(utc)]
"""In answers: a browser takes a time that does not say so for its own."""


class Strict(BaseModel):
    """What all parts of a case share: unknown fields are refused by name."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _mm_or_shape(value: object) -> object:
    """One sentence for whatever is neither, where a choice of types would make several."""
    if value == "shape":
        return value
    try:
        mm = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        mm = 0.0
    if isinstance(value, bool) or not 0 < mm < float("inf"):
        shown = value if isinstance(value, str | int | float) else type(value).__name__
        raise InputError(
            'The thickness_mm is {shown}: give mm above 0, or "shape" to have it estimated from the outline',
            shown=str(shown)[:40],
        )
    return mm


Thickness = Annotated[Positive | Literal["shape"], BeforeValidator(_mm_or_shape)]
"""Height of dough in mm, or `shape`: estimated from the outline."""

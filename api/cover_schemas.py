"""What is to be covered on a photo, in the public formats. All in pixels of the upright photo."""

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.fields import Finite, Spot, Strict

Box = tuple[Finite, Finite, Finite, Finite]
"""Left, top, right, bottom."""
MOST_WIDTH_PX = 2000


class BoxArea(Strict):
    """All within a box."""

    kind: Literal["box"]
    box: Box


class StrokeArea(Strict):
    """All that a round brush went over."""

    kind: Literal["stroke"]
    points: Annotated[tuple[Spot, ...], Field(min_length=1, max_length=500)]
    width_px: Annotated[float, Field(ge=1, le=MOST_WIDTH_PX, allow_inf_nan=False)]


Area = Annotated[BoxArea | StrokeArea, Field(discriminator="kind")]


class CoverEntry(Strict):
    """Areas to be blurred, and the only part to be kept; None: all of it."""

    areas: Annotated[tuple[Area, ...], Field(max_length=100)] = ()
    frame: Box | None = None


class CoverAnswer(BaseModel):
    """The photo afterwards: as large as before, and the part of it that is shown.

    `warnings` tell what was looked at and lies under a cover: the answers stay, the photo shows it no more.
    """

    id: str
    width: int
    height: int
    frame: Annotated[list[int], Field(min_length=4, max_length=4)] | None
    warnings: list[str]

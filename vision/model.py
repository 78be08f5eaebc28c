"""The words of `vision`: what goes in with a photo and what comes out of it.

Notation: H, W photo pixels (rows, columns); R, C grid cells (rows, columns).
Points are (x, y). Photo points are in pixels of the upright photo, origin at the
top left corner of the top left pixel. Grid points are in mm, origin at the top
left corner of the grid.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
Nine = tuple[float, float, float, float, float, float, float, float, float]
Role = Literal["conductive", "insulating", "table"]
ContactKind = Literal["touching", "doubtful", "gap"]

NOT_DOUGH = 255
"""Label of a pixel that is no colour of the palette: an LED, a lead, a hand."""


@dataclass(frozen=True)
class Photo:
    """An upright photo without metadata.

    pixels     (ceil(H / shrink), ceil(W / shrink), 3) uint8 sRGB, read-only
    shrink     photo pixels along the side of a stored one; the photo point p lies at p / shrink - 0.5
               in terms of stored pixel centres
    full_size  width and height [px] as displayed; taken from `pixels` when not told
    """

    pixels: NDArray[np.uint8]
    shrink: int = 1
    full_size: tuple[int, int] | None = None

    @property
    def width(self) -> int:
        """Width as displayed, in photo pixels."""
        return self.full_size[0] if self.full_size else int(self.pixels.shape[1]) * self.shrink

    @property
    def height(self) -> int:
        """Height as displayed, in photo pixels."""
        return self.full_size[1] if self.full_size else int(self.pixels.shape[0]) * self.shrink


@dataclass(frozen=True)
class Colour:
    """One colour of the palette with the places [px] where the helper tapped it."""

    name: str
    role: Role
    taps: tuple[Point, ...]


@dataclass(frozen=True)
class Mark:
    """A place [px] where a metal part goes into the dough.

    `partner` is the other leg of the same LED, so that its body is known to lie between.
    `lit` says whether the LED is seen lit; `tint` is its light as linear RGB, 0 to 1.
    """

    name: str
    kind: Literal["lead", "leg"]
    at: Point
    partner: Point | None = None
    lit: bool = False
    tint: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Stroke:
    """What the helper painted over the photo: `colour` lies within `width_mm` / 2 of the line [px].

    `colour` is the name of a palette colour, `table`, or `not-dough`.
    """

    colour: str
    points: tuple[Point, ...]
    width_mm: float


@dataclass(frozen=True)
class Line:
    """A line [px] that the helper drew: a cut parts the dough along it, a join makes it hang together."""

    kind: Literal["cut", "join"]
    points: tuple[Point, ...]


Correction = Stroke | Line


@dataclass(frozen=True)
class Alike:
    """Two colours of the palette that cannot be told apart in this light.

    delta_e   CIEDE2000 difference of their medians
    worst_at  the tapped place [px] where they are most alike
    """

    first: str
    second: str
    delta_e: float
    worst_at: Point


@dataclass(frozen=True)
class TableView:
    """How photo pixels lie on the table, and where the grid begins in the photo [px].

    mm_per_px   the scale in the middle of the photo
    true_scale  False when nobody told the scale; then mm are relative
    homography  rows of the 3x3 matrix from homogeneous photo px to table mm, scaled so that its third
                coordinate is above 0 all over the photo; None when the scale is the same everywhere.
                Make it with `table_view.perspective_view`, which checks it
    """

    mm_per_px: float
    origin_px: Point
    true_scale: bool
    homography: Nine | None = None

    def to_mm(self, at: Point) -> Point:
        """A photo point [px] as a grid point [mm]."""
        if self.homography is None:
            return (
                (at[0] - self.origin_px[0]) * self.mm_per_px,
                (at[1] - self.origin_px[1]) * self.mm_per_px,
            )
        (x, y), (x0, y0) = project(self.homography, at), self._corner_mm
        return (x - x0, y - y0)

    def to_px(self, at: Point) -> Point:
        """A grid point [mm] as a photo point [px]."""
        if self._back is None:
            return (at[0] / self.mm_per_px + self.origin_px[0], at[1] / self.mm_per_px + self.origin_px[1])
        x0, y0 = self._corner_mm
        return project(self._back, (at[0] + x0, at[1] + y0))

    def mm_per_px_at(self, at: Point) -> float:
        """The scale at a photo point [px]: root of the area in mm2 that a pixel covers there."""
        if self.homography is None:
            return self.mm_per_px
        m, (x, y) = self.homography, at
        return math.sqrt(abs(_determinant(m)) / abs(m[6] * x + m[7] * y + m[8]) ** 3)

    @cached_property
    def _corner_mm(self) -> Point:
        return (0.0, 0.0) if self.homography is None else project(self.homography, self.origin_px)

    @cached_property
    def _back(self) -> Nine | None:
        return None if self.homography is None else inverse(self.homography)


def project(matrix: Nine, at: Point) -> Point:
    """A point through a homography given by rows."""
    a, b, c, d, e, f, g, h, i = matrix
    x, y = at
    w = g * x + h * y + i
    return ((a * x + b * y + c) / w, (d * x + e * y + f) / w)


def inverse(matrix: Nine) -> Nine:
    """The homography back, by its adjugate over its determinant."""
    a, b, c, d, e, f, g, h, i = matrix
    k = 1 / _determinant(matrix)
    return (
        k * (e * i - f * h),
        k * (c * h - b * i),
        k * (b * f - c * e),
        k * (f * g - d * i),
        k * (a * i - c * g),
        k * (c * d - a * f),
        k * (d * h - e * g),
        k * (b * g - a * h),
        k * (a * e - b * d),
    )


def _determinant(matrix: Nine) -> float:
    a, b, c, d, e, f, g, h, i = matrix
    return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)


@dataclass(frozen=True)
class Piece:
    """A connected area of one dough colour.

    `colour` counts the dough colours of the palette from 1 (table entries are not counted),
    as in the label raster. `outline` [px] is the outer rim. `below`: only a photo of the underside shows it.
    """

    id: int
    colour: int
    role: Role
    area_mm2: float
    outline: tuple[Point, ...]
    below: bool = False


@dataclass(frozen=True)
class Contact:
    """Where two pieces meet, with the gap and the length of the shared border in mm, and its middle [px].

    likely      of a doubtful contact: whether it more likely touches
    confidence  0.5 to 1: chance that it is as told, a doubtful one as `likely` says
    hidden      0 to 1: how much of the place that decides lies under an LED
    below       told by a photo of the underside
    """

    between: tuple[int, int]
    kind: ContactKind
    gap_mm: float
    length_mm: float
    at: Point
    likely: bool = False
    confidence: float = 1.0
    hidden: float = 0.0
    below: bool = False


@dataclass(frozen=True)
class Wall:
    """Insulating dough between two pieces of conductive dough, or two arms of one.

    thickness_mm  distance of the two conductive sides through the wall, along its length
    at            [px] where that was measured, in the middle of the wall
    thinnest_mm, thinnest_at  the least of them over a millimetre of wall, and its place
    """

    piece: int
    between: tuple[int, int]
    thickness_mm: tuple[float, ...]
    at: tuple[Point, ...]
    thinnest_mm: float
    thinnest_at: Point


@dataclass(frozen=True)
class Entry:
    """A mark found on the pieces.

    `piece` is None when the part misses the dough; `near` is then the nearest conductive
    piece and `off_mm` how far away it is. `at` [px] is a point of the piece (or the tap).
    """

    name: str
    at: Point
    piece: int | None
    near: int | None
    off_mm: float
    sure: bool = True


@dataclass(frozen=True)
class LedSeen:
    """What looks like an LED on the photo: a suggestion, never taken as true.

    at          [px] the middle of its body
    colour      red, orange, yellow, green, blue or white; None when nothing tells it
    confidence  0 to 1: chance that there is an LED
    feet        [px] where its legs likely go in, in no order: a photo does not show which leg is long
    """

    at: Point
    radius_mm: float
    colour: str | None
    lit: Literal["bright", "dim", "off"]
    confidence: float
    feet: tuple[Point, Point] | None = None

    @property
    def size_mm(self) -> int:
        """3, 5 or 10: the usual diameters (common practice); the bounds are measured on quick photos."""
        return 3 if self.radius_mm < 1.9 else 5 if self.radius_mm < 3.5 else 10


@dataclass(frozen=True)
class LeadSeen:
    """Where the red or the black lead seems to go in [px]: a suggestion, never taken as true."""

    colour: Literal["red", "black"]
    at: Point
    confidence: float


@dataclass(frozen=True)
class Suggestions:
    """LEDs and leads for the helper to confirm."""

    leds: tuple[LedSeen, ...] = ()
    leads: tuple[LeadSeen, ...] = ()


@dataclass(frozen=True)
class Scene:
    """All that the photo shows.

    labels  (H, W) uint8: 0 table, i the i-th dough colour, NOT_DOUGH something else
    grid    (R, C) int32: id of the piece in each grid cell, 0 none; what lies under an
            LED, a leg or a wire is completed from its surroundings
    guessed (R, C) bool: cells so completed
    cell_mm side of a grid cell
    alike   colours that cannot be told apart in this light
    walls   how thick insulating dough is where it keeps conductive dough apart
    confidence  (R, C) float32, 0 to 1: how sure the piece of each cell is; None when nobody judged it
    suggestions  LEDs and leads that seem to be there beside those told
    """

    labels: NDArray[np.uint8]
    grid: NDArray[np.int32]
    guessed: NDArray[np.bool_]
    cell_mm: float
    view: TableView
    pieces: tuple[Piece, ...]
    contacts: tuple[Contact, ...]
    entries: Mapping[str, Entry]
    alike: tuple[Alike, ...] = ()
    confidence: NDArray[np.float32] | None = None
    walls: tuple[Wall, ...] = ()
    suggestions: Suggestions | None = None

"""The words of `vision`: what goes in with a photo and what comes out of it.

Notation: H, W photo pixels (rows, columns); R, C grid cells (rows, columns).
Points are (x, y). Photo points are in pixels of the upright photo, origin at the
top left corner of the top left pixel. Grid points are in mm, origin at the top
left corner of the grid.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
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
class TableView:
    """How photo pixels lie on the table: `mm_per_px`, and where the grid begins in the photo [px].

    `true_scale` is False when nobody told the scale; then mm are relative.
    """

    mm_per_px: float
    origin_px: Point
    true_scale: bool

    def to_mm(self, at: Point) -> Point:
        """A photo point [px] as a grid point [mm]."""
        return ((at[0] - self.origin_px[0]) * self.mm_per_px, (at[1] - self.origin_px[1]) * self.mm_per_px)

    def to_px(self, at: Point) -> Point:
        """A grid point [mm] as a photo point [px]."""
        return (at[0] / self.mm_per_px + self.origin_px[0], at[1] / self.mm_per_px + self.origin_px[1])


@dataclass(frozen=True)
class Piece:
    """A connected area of one dough colour.

    `colour` counts the dough colours of the palette from 1 (table entries are not counted),
    as in the label raster. `outline` [px] is the outer rim.
    """

    id: int
    colour: int
    role: Role
    area_mm2: float
    outline: tuple[Point, ...]


@dataclass(frozen=True)
class Contact:
    """Where two pieces meet, with the gap and the length of the shared border in mm, and its middle [px]."""

    between: tuple[int, int]
    kind: ContactKind
    gap_mm: float
    length_mm: float
    at: Point


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


@dataclass(frozen=True)
class Scene:
    """All that the photo shows.

    labels  (H, W) uint8: 0 table, i the i-th dough colour, NOT_DOUGH something else
    grid    (R, C) int32: id of the piece in each grid cell, 0 none; what lies under an
            LED, a leg or a wire is completed from its surroundings
    guessed (R, C) bool: cells so completed
    cell_mm side of a grid cell
    """

    labels: NDArray[np.uint8]
    grid: NDArray[np.int32]
    guessed: NDArray[np.bool_]
    cell_mm: float
    view: TableView
    pieces: tuple[Piece, ...]
    contacts: tuple[Contact, ...]
    entries: Mapping[str, Entry]

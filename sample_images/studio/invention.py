"""What an invented sculpture is made of, as data; `invent` makes one, `quick` and `traced` take photos."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.raster import CELL_MM, HALF_X_MM, HALF_Y_MM, Labels, Mask, Point, cell_clip


@dataclass(frozen=True)
class Stuff:
    """A dough: its linear colour (3,), whether it conducts."""

    name: str
    rgb: tuple[float, float, float]
    conducts: bool


@dataclass(frozen=True)
class Lamp:
    """An LED: feet of its legs, the middle of its base and of its head, radius [mm]."""

    colour: str
    long: Point
    short: Point
    base: Point
    head: Point
    radius_mm: float
    lit: str


@dataclass(frozen=True)
class Rod:
    """A lead: where it goes in, and the line of rod, sleeve and wire from there on [mm]."""

    at: Point
    rod_end: Point
    sleeve_end: Point
    wire: tuple[Point, ...]
    red: bool


@dataclass(frozen=True)
class Thing:
    """Something else on the table or on the dough: a closed outline [mm], colour, height [mm]."""

    outline: tuple[Point, ...]
    rgb: tuple[float, float, float]
    top_mm: float
    on_top: bool


@dataclass(frozen=True)
class Invention:
    """One sculpture.

    labels (R, C) uint8: 0 table, i the i-th of `doughs`, underneath whatever lies on top
    solid  (R, C) uint8: id of the body of dough that was shaped by itself, 0 none
    clumsy depth in mm of the creases between bodies that are pressed together
    """

    seed: int
    fault: str
    fault_at: Point | None
    doughs: tuple[Stuff, ...]
    labels: Labels
    solid: Labels
    lamps: tuple[Lamp, ...]
    rods: tuple[Rod, ...]
    pack: tuple[Point, float, float, float] | None
    things: tuple[Thing, ...]
    clumsy: float
    lump_of: dict[str, int | None] = field(default_factory=dict)


def conducting(labels: Labels, doughs: Sequence[Stuff]) -> Mask:
    """Cells of conductive dough, (R, C)."""
    table = np.zeros(256, bool)
    table[1 : len(doughs) + 1] = [d.conducts for d in doughs]
    return np.asarray(table[labels])


def lumps_of(made: Invention) -> dict[str, int | None]:
    """The conductive body in which each entry is, None where it misses."""
    bodies = bodies_of(made)
    out: dict[str, int | None] = {}
    for name, at in entries_of(made).items():
        row, col = cell_clip(at)
        out[name] = int(bodies[row, col]) or None
    return out


def entries_of(made: Invention) -> dict[str, Point]:
    """All entries by name, in mm."""
    out: dict[str, Point] = {}
    for rod in made.rods:
        out["pack.plus" if rod.red else "pack.minus"] = rod.at
    for i, lamp in enumerate(made.lamps, start=1):
        out[f"L{i}.long"], out[f"L{i}.short"] = lamp.long, lamp.short
    return out


def bodies_of(made: Invention) -> NDArray[np.int32]:
    """Connected bodies of conductive dough (R, C), 0 none; the numbers are those of `lump_of`."""
    conductive = conducting(made.labels, made.doughs)
    return np.asarray(cv2.connectedComponents(conductive.astype(np.uint8), connectivity=4)[1], np.int32)


def between(bodies: NDArray[np.int32], one: int, other: int) -> tuple[float, Point]:
    """The narrowest distance in mm between two bodies, and the place in mm half-way."""
    far = [cv2.distanceTransform((bodies != i).astype(np.uint8), cv2.DIST_L2, 5) for i in (one, other)]
    least = float(far[0][bodies == other].min())
    total = far[0] + far[1] + 0.01 * np.abs(far[0] - far[1])
    row, col = np.unravel_index(int(np.argmin(total)), total.shape)
    at = ((int(col) + 0.5) * CELL_MM - HALF_X_MM, (int(row) + 0.5) * CELL_MM - HALF_Y_MM)
    return (least - 1) * CELL_MM, at


def narrowest(made: Invention) -> tuple[float, Point]:
    """The narrowest distance in mm between the lumps of the two leads, and where it is."""
    plus, minus = made.lump_of["pack.plus"], made.lump_of["pack.minus"]
    if plus is None or minus is None or plus == minus:
        return 0.0, made.fault_at or (0.0, 0.0)
    return between(bodies_of(made), plus, minus)

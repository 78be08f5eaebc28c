"""Whether a sculpture makes sense at all, before any sum is done with it."""

import math
from collections.abc import Iterator

import numpy as np

from circuit.errors import SculptureError
from circuit.lumps import LEADS, ends, legs
from circuit.model import Dough, Led, Part, Sculpture

Quantity = tuple[str, float]


def check(sculpture: Sculpture) -> None:
    """Raise SculptureError when the sculpture contradicts itself, or holds what is no usable number."""
    _check_grid(sculpture)
    _check_pieces(sculpture)
    for what, value in _positive(sculpture):
        if not 0 < value < math.inf:
            raise SculptureError(f"{what} is {value:g}; give a number above 0.")
    for what, value in _not_negative(sculpture):
        if not 0 <= value < math.inf:
            raise SculptureError(f"{what} is {value:g}; give 0 or a number above it.")
    for name, entry in sculpture.entries.items():
        if not all(map(math.isfinite, entry.at)):
            raise SculptureError(f"The entry {name} is at {entry.at}; give its place in mm.")
    if sculpture.brightness.dim_A > sculpture.brightness.bright_A:
        raise SculptureError("An LED is bright at less current than dim; swap the two.")


def _check_grid(sculpture: Sculpture) -> None:
    if sculpture.grid.ndim != 2 or not sculpture.grid.size:
        raise SculptureError(f"The grid has the shape {sculpture.grid.shape}; give rows and columns.")
    height = sculpture.height_mm
    if height is None:
        return
    if height.shape != sculpture.grid.shape:
        raise SculptureError(
            f"The heights have the shape {height.shape}, the grid {sculpture.grid.shape}; make them alike."
        )
    wrong = height[~np.isnan(height) & ~((height > 0) & (height < np.inf))]
    if wrong.size:
        raise SculptureError(f"A height is {wrong.flat[0]:g} mm; give heights above 0.")


def _check_pieces(sculpture: Sculpture) -> None:
    own = [leg for led in sculpture.leds for leg in legs(led)]
    own += [end for part in sculpture.parts for end in ends(part)]
    missing = [name for name in (*LEADS, *own) if name not in sculpture.entries]
    if missing:
        raise SculptureError(f"The entry {missing[0]} is missing; say where it goes in.")
    unknown = {int(i) for i in np.unique(sculpture.grid)} - {0} - set(sculpture.dough_of)
    if unknown:
        raise SculptureError(f"Piece {min(unknown)} lies on the grid but has no dough; name its dough.")
    for piece, dough in sculpture.dough_of.items():
        if piece < 1 or not 0 <= dough < len(sculpture.doughs):
            raise SculptureError(f"Piece {piece} is of dough {dough}, which is not there; correct it.")
    for name, entry in sculpture.entries.items():
        for named in (entry.piece, entry.near):
            if named is not None and named not in sculpture.dough_of:
                raise SculptureError(f"The entry {name} names piece {named}, which is not there; correct it.")
    for joint in sculpture.joints:
        if not sculpture.dough_of.keys() >= {*joint.between}:
            raise SculptureError(f"A joint is between pieces {joint.between}, one of which is not there.")


def _positive(sculpture: Sculpture) -> Iterator[Quantity]:
    yield "The side of a cell in mm", sculpture.cell_mm
    for dough in sculpture.doughs:
        yield from _of_dough(dough)
    yield "The voltage of the pack", sculpture.pack.emf_V
    yield "The drop_n of metal in dough", sculpture.electrode.drop_n
    if sculpture.electrode.drop_i0_A is not None:
        yield "The drop_i0_A of metal in dough", sculpture.electrode.drop_i0_A
    for led in sculpture.leds:
        yield f"The saturation current of LED {led.id}", led.diode.is_A
        yield f"The ideality of LED {led.id}", led.diode.n
    yield "The current at which an LED is dim", sculpture.brightness.dim_A
    yield "The current at which an LED is bright", sculpture.brightness.bright_A


def _of_dough(dough: Dough) -> Iterator[Quantity]:
    yield f"The resistivity of {dough.name} in ohm m", dough.resistivity_ohm_m
    yield f"The thickness of {dough.name} in mm", dough.thickness_mm


def _not_negative(sculpture: Sculpture) -> Iterator[Quantity]:
    yield "The resistance in the pack", sculpture.pack.internal_ohm
    yield "The resistance at a leg", sculpture.electrode.leg_ohm
    yield "The resistance at a lead", sculpture.electrode.lead_ohm
    for led in sculpture.leds:
        yield from _of_led(led)
    for part in sculpture.parts:
        yield from _of_part(part)
    for joint in sculpture.joints:
        yield f"The gap between pieces {joint.between[0]} and {joint.between[1]} in mm", joint.gap_mm


def _of_led(led: Led) -> Iterator[Quantity]:
    yield f"The resistance in LED {led.id}", led.diode.rs_ohm
    yield f"The greatest current of LED {led.id}", led.safe_A


def _of_part(part: Part) -> Iterator[Quantity]:
    yield f"The resistance of {part.id}", part.ohm
    yield f"The current at which {part.id} works", part.works_A

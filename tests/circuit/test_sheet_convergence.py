"""How fast the sheet comes nearer the truth as its blocks, and the cells with them, get smaller."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from circuit.sheet import reduce_lump

METAL = 1e7
LEG = 0.3
SIDES = (2.0, 1.0, 0.5)
CELLS_PER_SIDE = 4
Measure = Callable[..., float]
Grid = NDArray[np.floating[Any]]
Mask = NDArray[np.bool_]


def order(error_at: Callable[[float], float]) -> float:
    """p in error ~ side^p, by least squares over SIDES."""
    errors = [abs(error_at(side)) for side in SIDES]
    return float(np.polyfit(np.log(SIDES), np.log(errors), 1)[0])


def axes(width: float, height: float, cell: float) -> tuple[Grid, Grid]:
    """x and y [mm] of the middles of the cells of a picture."""
    rows, cols = np.indices((round(height / cell), round(width / cell)))
    return (cols + 0.5) * cell, (rows + 0.5) * cell


def bend(x: Grid, y: Grid) -> tuple[Mask, Mask]:
    dough, end = (x < 20) | (y < 20), (x > 100) | (y > 100)
    return dough, end & ((x < 20) | (y < 20))


def three_squares(x: Grid, y: Grid) -> tuple[Mask, Mask]:
    dough = (x < 40) | (y < 44)
    return dough, (y < 4) | (y > 84)


def with_a_hole(x: Grid, y: Grid) -> tuple[Mask, Mask]:
    return (abs(x - 40) > 12) | (abs(y - 36) > 12), (x < 4) | (x > 76)


CORNERS = {
    "bend": (bend, (104, 104), [(102, 10), (10, 102)], 8 + 1 - 2 * math.log(2) / math.pi),
    "L of three squares": (three_squares, (80, 88), [(40, 2), (20, 86)], math.sqrt(3)),
    "square with a hole": (with_a_hole, (80, 72), [(2, 36), (78, 36)], 1.27538),
}


@pytest.mark.parametrize("name", CORNERS)
def test_with_corners_that_stick_in_the_order_is_four_thirds(name: str, ohms: Measure) -> None:
    """The potential at a corner of 270 degrees goes as r^(2/3), its energy as r^(4/3). FACTS 1.4.

    Contacts are strips of a very good conductor. Values: FACTS 1.1m, 1.1n, 1.3.
    """
    shape, size, places, exact = CORNERS[name]

    def error(side: float) -> float:
        cell = side / CELLS_PER_SIDE
        dough, metal = shape(*axes(*size, cell))
        sheet = np.where(metal, METAL, 1.0)
        g = reduce_lump(dough, sheet, cell, [(p, LEG) for p in places], side).conductance
        return ohms(g) / exact - 1

    assert order(error) == pytest.approx(4 / 3, abs=0.1)


def test_without_such_corners_the_order_is_two(four_point: Measure) -> None:
    """Four legs at the corners of a square: R(AB, CD) = ln 2 / pi. FACTS 1.1j."""
    places = [(0.1, 0.1), (79.9, 0.1), (79.9, 79.9), (0.1, 79.9)]

    def error(side: float) -> float:
        cell = side / CELLS_PER_SIDE
        mask = np.ones((round(80 / cell), round(80 / cell)), bool)
        g = reduce_lump(mask, np.ones(mask.shape), cell, [(p, LEG) for p in places], side).conductance
        return four_point(g, 0, 1, 3, 2) / (math.log(2) / math.pi) - 1

    assert order(error) == pytest.approx(2, abs=0.2)


def test_where_the_height_changes_the_order_is_two(ohms: Measure) -> None:
    """A bar that gets e^3 times as high along its length: the integral of dx / height. Any textbook."""
    length, width, rise = 80.0, 20.0, 3.0
    exact = length / width * (1 - math.exp(-rise)) / rise

    def error(side: float) -> float:
        cell = side / CELLS_PER_SIDE
        x, _ = axes(length + 8, width, cell)
        sheet = np.where((x < 4) | (x > length + 4), METAL, np.exp(rise * (x - 4) / length))
        ends = [((2.0, 10.0), LEG), ((length + 6, 10.0), LEG)]
        return ohms(reduce_lump(np.ones(sheet.shape, bool), sheet, cell, ends, side).conductance) / exact - 1

    assert order(error) == pytest.approx(2, abs=0.2)


@pytest.mark.parametrize("seed", range(500, 508))
def test_at_the_usual_blocks_halving_changes_little(
    seed: int, invent: Callable[..., Any], ohms: Measure
) -> None:
    """The rule for the side was chosen for 1 %; what halving it changes stays below half of that."""
    lump = invent(seed)
    usual, halved = (
        reduce_lump(lump.mask, np.ones(lump.mask.shape), lump.cell_mm, lump.terminals, side).conductance
        for side in (None, 0.5)
    )
    for i in range(len(usual)):
        for j in range(i):
            assert ohms(usual, i, j) == pytest.approx(ohms(halved, i, j), rel=0.005)

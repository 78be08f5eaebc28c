"""Minimum cuts: length in mm whatever the direction; hairline gaps stay gaps."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import ndimage

from circuit.neck import build_mesh, narrowest, walk

CELL = 0.25
NECK_CELLS = 28


def dumbbell(degrees: float) -> tuple[np.ndarray, tuple[float, float], tuple[float, float]]:
    """Two 40 mm squares joined by a neck of 7 mm, turned."""
    mask = np.zeros((240, 400), bool)
    mask[40:200, 20:180] = mask[40:200, 220:380] = True
    mask[106 : 106 + NECK_CELLS, 180:220] = True
    turned = ndimage.rotate(mask.astype(float), degrees, order=1) > 0.5
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))

    def moved(x: float, y: float) -> tuple[float, float]:
        dx, dy = x - mask.shape[1] / 2, y - mask.shape[0] / 2
        rows, cols = turned.shape
        return (dx * cos + dy * sin + cols / 2) * CELL, (dy * cos - dx * sin + rows / 2) * CELL

    return turned, moved(60, 70), moved(340, 70)


@pytest.mark.parametrize("degrees", [0, 20, 30, 45, 70, 90])
def test_a_cut_is_as_long_as_the_neck_is_wide(degrees: float) -> None:
    mask, plus, minus = dumbbell(degrees)
    neck = narrowest(build_mesh(mask, CELL), [plus], [minus])
    assert neck is not None
    assert neck.length_mm == pytest.approx(NECK_CELLS * CELL, rel=0.12)
    (line,) = neck.lines
    assert math.dist(*line) == pytest.approx(NECK_CELLS * CELL, abs=1.0)


def test_a_hairline_gap_stays_a_gap() -> None:
    mask = np.ones((80, 160), bool)
    mask[:, 81] = False
    mesh = build_mesh(mask, CELL)
    assert walk(mesh, (5, 10), (35, 10)) == ()
    mask[40:44, 81] = True
    neck = narrowest(build_mesh(mask, CELL), [(5, 10)], [(35, 10)])
    assert neck is not None
    assert neck.length_mm < 2.5


def test_the_walk_stays_in_the_dough_and_goes_through_the_neck() -> None:
    mask, plus, minus = dumbbell(30)
    way = walk(build_mesh(mask, CELL), plus, minus)
    assert way[0] == plus and way[-1] == minus
    assert all(mask[int(y / CELL), int(x / CELL)] for x, y in way)
    steps = [math.dist(a, b) for a, b in pairwise(way)]
    assert max(steps) < 4


def test_no_cut_fits_between_entries_at_one_place() -> None:
    mask = np.ones((40, 40), bool)
    assert narrowest(build_mesh(mask, CELL), [(5.0, 5.0)], [(5.05, 5.0)]) is None

"""Two doughs on one grid: what leaks through insulating dough, against closed forms."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from circuit.blocks import WALL
from circuit.sheet import reduce_lump

CELL = 0.25
LEG = 0.3
TIGHT = 1e-5  # of the conductance of the other dough, which thereby does not count


@pytest.mark.parametrize("turn", [0, 30])
@pytest.mark.parametrize("thick", [1.3, 2.0, 3.7])
def test_a_wall_between_two_slabs(thick: float, turn: float, ohms: Callable[..., float]) -> None:
    """Slab, wall, slab in a row: R = thickness / (width x conductance), all else is next to nothing."""
    width, length = 30.0, 40.0
    n = round(60 / CELL)
    rows, cols = (np.indices((n, n)) + 0.5) * CELL - 30
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    along, across = cols * cos + rows * sin, rows * cos - cols * sin
    body = np.where(along < 0, 1, 2).astype(np.int32)
    body[abs(along) < thick / 2] = WALL
    body[(abs(along) > length / 2) | (abs(across) > width / 2)] = 0
    sheet = np.where(body == WALL, TIGHT, 1.0)
    ends = [((s * 12 * cos + 30, s * 12 * sin + 30), LEG) for s in (-1, 1)]
    g = reduce_lump(body, sheet, CELL, ends).conductance
    drawn = (body == WALL).sum() * CELL**2 / width  # cells round the thickness
    assert ohms(g) == pytest.approx(drawn / width / TIGHT, rel=0.02)


@pytest.mark.parametrize("thick", [2.0, 3.7])
def test_a_round_wall(thick: float, ohms: Callable[..., float]) -> None:
    """A ring of wall round a disc: R = ln(b/a) / (2 pi x conductance). FACTS 1.1b."""
    n = round(80 / CELL)
    rows, cols = (np.indices((n, n)) + 0.5) * CELL - 40
    r = np.hypot(rows, cols)
    inner, outer = 20 - thick / 2, 20 + thick / 2
    body = np.where(r < inner, 1, np.where(r < outer, WALL, np.where(r < 38, 2, 0))).astype(np.int32)
    sheet = np.where(body == WALL, TIGHT, 1.0)
    g = reduce_lump(body, sheet, CELL, [((40, 40), LEG), ((40, 69), LEG)]).conductance
    exact = math.log(outer / inner) / (2 * math.pi * TIGHT)
    assert ohms(g) == pytest.approx(exact, rel=0.02)

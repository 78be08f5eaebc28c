"""Heights guessed from an outline: round rolls, flat slabs, balls. All exact values are plain geometry."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from circuit.lumps import square_conductance
from circuit.model import Sculpture
from circuit.thickness import MOST_MM, estimated_heights, height_from_shape

CELL = 0.25


def along_and_across(turn: float, size_mm: float = 100.0) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(R, C) mm along and across a line through the middle of a square grid, turned by degrees."""
    n = round(size_mm / CELL)
    y, x = (np.indices((n, n)) + 0.5) * CELL - size_mm / 2 - 0.03
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return x * cos + y * sin, y * cos - x * sin


@pytest.mark.parametrize("turn", [0, 17, 45])
@pytest.mark.parametrize(("wide", "within"), [(3, 0.06), (5, 0.06), (8, 0.03), (12, 0.03), (16, 0.03)])
def test_a_roll_has_the_section_of_a_circle(wide: float, within: float, turn: float) -> None:
    """Area pi w^2 / 4. The width itself is known to half a cell only."""
    u, v = along_and_across(turn)
    height = height_from_shape((abs(v) < wide / 2) & (abs(u) < 45), CELL)
    section = height[abs(u) < 15].sum() * CELL**2 / 30
    assert section == pytest.approx(math.pi * wide**2 / 4, rel=within)


def test_a_wide_slab_is_flat_with_a_round_rim() -> None:
    u, v = along_and_across(0)
    wide, most = 40.0, 12.0
    height = height_from_shape((abs(v) < wide / 2) & (abs(u) < 45), CELL, most)
    depth = wide / 2 - abs(v)
    middle = abs(u) < 15
    assert height[middle & (depth > most / 2)] == pytest.approx(most)
    rim = middle & (depth > CELL) & (depth < most / 2)
    assert height[rim] == pytest.approx(2 * np.sqrt(depth[rim] * (most - depth[rim])), abs=CELL)
    section = height[middle].sum() * CELL**2 / 30
    assert section == pytest.approx(math.pi * most**2 / 4 + (wide - most) * most, rel=0.01)


@pytest.mark.parametrize("wide", [6.0, 11.0, 18.0])
def test_a_round_spot_is_a_ball(wide: float) -> None:
    """Volume pi d^3 / 6."""
    height = height_from_shape(np.hypot(*along_and_across(0)) < wide / 2, CELL)
    assert height.sum() * CELL**2 == pytest.approx(math.pi * wide**3 / 6, rel=0.05)


@pytest.mark.parametrize("turn", [0, 30])
def test_a_tapering_roll_grows_with_its_width(turn: float) -> None:
    """6 mm wide at one end and 18 mm at the other: everywhere the section of a circle."""
    u, v = along_and_across(turn)
    width = 12 + 12 * u / 80
    height = height_from_shape((abs(v) < width / 2) & (abs(u) < 40), CELL)
    for at in (-25, -10, 0, 10, 25):
        section = height[abs(u - at) < 2].sum() * CELL**2 / 4
        assert section == pytest.approx(math.pi * (12 + 12 * at / 80) ** 2 / 4, rel=0.05)


def test_a_thin_arm_stays_low_beside_a_thick_body() -> None:
    u, v = along_and_across(0)
    body, arm = (abs(u) < 10) & (abs(v) < 30), (u > 0) & (u < 45) & (abs(v) < 3)
    height = height_from_shape(body | arm, CELL)
    assert height[(abs(u) < 2) & (abs(v) < 20)] == pytest.approx(20, abs=2 * CELL)
    assert height[(u > 20) & (u < 35)].max() == pytest.approx(6, abs=CELL)


def test_the_edge_of_the_picture_is_an_edge() -> None:
    mask = np.ones((40, 200), bool)
    whole = height_from_shape(np.pad(mask, 7), CELL)
    assert np.array_equal(height_from_shape(mask, CELL), whole[7:-7, 7:-7])
    assert whole.max() == pytest.approx(10, abs=CELL)


def test_no_dough_has_no_height() -> None:
    assert not height_from_shape(np.zeros((3, 4), bool), CELL).any()


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([0.2, 0.25, 0.5]))
def test_dough_is_high_exactly_where_it_is(seed: int, cell_mm: float) -> None:
    noise = ndimage.gaussian_filter(np.random.default_rng(seed).normal(size=(90, 120)), 6)
    mask = noise > 0
    height = height_from_shape(mask, cell_mm)
    assert np.array_equal(height > 0, mask)
    assert height.max() <= MOST_MM
    # No place is lower than the ball that fits around it, nor higher than the widest ball of all.
    depth = ndimage.distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1] * cell_mm
    assert (height <= 2 * depth.max()).all()
    assert (height[mask] >= 2 * np.minimum(depth[mask] - cell_mm / 2, MOST_MM / 2) * (1 - 1e-6)).all()


def test_pieces_that_touch_have_no_rim_between_them(draw: Callable[..., Sculpture]) -> None:
    """A wall two mm thick stands as high as the two lumps that it parts."""
    rows = ("......................", *9 * (".aaaaaaaaa#bbbbbbbbbb.",), "......................")
    marks = ["." * 22 for _ in rows]
    marks[5] = "..P..1.......q....M..."
    sculpture = draw("\n".join(rows), "\n".join(marks))
    height = estimated_heights(sculpture)
    assert np.array_equal(np.isnan(height), sculpture.grid == 0)
    middle = height[sculpture.grid.shape[0] // 2]
    assert np.nanmax(middle) == pytest.approx(18, abs=sculpture.cell_mm)
    wall = np.isin(
        sculpture.grid, [p for p, d in sculpture.dough_of.items() if sculpture.doughs[d].name == "#"]
    )
    assert height[wall].max() == pytest.approx(18, abs=sculpture.cell_mm)


def test_heights_make_the_sheet(draw: Callable[..., Sculpture]) -> None:
    """Conductance per square = height / resistivity, cell by cell."""
    sculpture = draw("aaaaaaaa aaaaaaaa aaaaaaaa", "P1....qM ........ ........")
    height = estimated_heights(sculpture)
    (dough,) = sculpture.doughs
    square = square_conductance(replace(sculpture, height_mm=height))
    assert square == pytest.approx(height * 1e-3 / dough.resistivity_ohm_m)

"""Thickness of walls of known geometry: straight, slanting, tapered and round, blurred as a network sees."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from vision.bodies import ground_of
from vision.grid import Grid
from vision.model import Colour, Wall
from vision.pieces import drawn_ground, list_pieces, number_pieces
from vision.seen import THINGS, Seen
from vision.table_view import view_from_mm_per_px
from vision.walls import find_walls

CELL_MM, SIDE, BLUR_MM = 0.2, 240, 0.3
CONDUCTS = np.array([False, True, False])
COLOURS = (Colour("aqua", "conductive", ()), Colour("wheat", "insulating", ()))
Plane = NDArray[np.float64]


def plane(angle: float = 0) -> tuple[Plane, Plane]:
    """Distance in mm from the middle across a direction and along it, (SIDE, SIDE) each."""
    x, y = np.meshgrid(*[(np.arange(SIDE) - (SIDE - 1) / 2) * CELL_MM + 0.03] * 2)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return c * x + s * y, c * y - s * x


def soft(depth: Plane) -> Plane:
    """Cover of what reaches so deep inside (SIDE, SIDE) mm, blurred."""
    return np.asarray(ndtr(depth / BLUR_MM))


def walls_of(conductive: Plane, insulating: Plane) -> tuple[Wall, ...]:
    chance = np.stack([np.clip(1 - conductive - insulating, 0, 1), conductive, insulating])
    chance += np.abs(np.random.default_rng(2).normal(0, 0.01, chance.shape))
    chance /= chance.sum(axis=0)
    things = np.zeros((len(THINGS), SIDE, SIDE), np.float32)
    view = view_from_mm_per_px(CELL_MM)
    seen = Seen(chance.astype(np.float32), things, np.zeros((SIDE, SIDE), np.float32), CELL_MM, view)
    ground = ground_of(seen, CONDUCTS)
    ids = number_pieces(ground)
    roles = tuple(colour.role for colour in COLOURS)
    return find_walls(Grid(ids, ground, CELL_MM, view), list_pieces(ids, ground, roles, CELL_MM, view))


def box(u: Plane, v: Plane) -> Plane:
    """Depth inside of a box of 30 x 24 mm."""
    return np.minimum(15 - np.abs(u), 12 - np.abs(v))


def length_of(at: Sequence[tuple[float, float]]) -> float:
    steps = np.diff(np.array(at), axis=0)
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum()) * CELL_MM


@pytest.mark.parametrize("angle", [0.0, 10.0, 30.0, 45.0])
@pytest.mark.parametrize("thick_mm", [1.0, 2.0, 5.0])
def test_a_straight_wall_has_its_thickness_all_along(thick_mm: float, angle: float) -> None:
    u, v = plane(angle)
    body, wall = soft(box(u, v)), soft(thick_mm / 2 - np.abs(u))
    (found,) = walls_of(body * (1 - wall), body * wall)
    assert found.thinnest_mm == pytest.approx(thick_mm, abs=0.15)
    inner = [t for t, p in zip(found.thickness_mm, found.at, strict=True) if away(p) < 10]
    assert len(inner) > 20
    assert inner == pytest.approx([thick_mm] * len(inner), abs=0.15)
    assert 21 < length_of(found.at) < 28


def away(at: tuple[float, float]) -> float:
    """How far from the middle in mm."""
    return math.hypot(at[0] - SIDE / 2, at[1] - SIDE / 2) * CELL_MM


def test_a_tapered_wall_is_thinnest_at_its_thin_end() -> None:
    u, v = plane(20)
    half = 1.5 + v / 16  # 1.5 mm at one end, 4.5 mm at the other
    body, wall = soft(box(u, v)), soft((half - np.abs(u)) / math.hypot(1, 1 / 16))
    (found,) = walls_of(body * (1 - wall), body * wall)
    assert found.thinnest_mm == pytest.approx(1.6, abs=0.25)
    c, s = math.cos(math.radians(20)), math.sin(math.radians(20))
    for thick, (x, y) in zip(found.thickness_mm, found.at, strict=True):
        along = c * (y - SIDE / 2) * CELL_MM - s * (x - SIDE / 2) * CELL_MM
        if abs(along) < 10:
            assert thick == pytest.approx(2 * (1.5 + along / 16), abs=0.15)


def test_a_ring_keeps_its_inside_apart_all_round() -> None:
    u, v = plane()
    r = np.hypot(u, v)
    wall = soft(1.25 - np.abs(r - 9))
    (found,) = walls_of(soft(18 - r) * (1 - wall), wall)
    assert found.thickness_mm == pytest.approx([2.5] * len(found.thickness_mm), abs=0.15)
    assert length_of(found.at) == pytest.approx(2 * math.pi * 9, rel=0.05)


def test_a_wall_between_two_arms_of_one_piece_is_measured() -> None:
    u, v = plane(15)
    body, wall = soft(box(u, v)), soft(np.minimum(0.9 - np.abs(u), v + 6))
    (found,) = walls_of(body * (1 - wall), body * wall)
    assert found.between[0] == found.between[1]
    assert found.thinnest_mm == pytest.approx(1.8, abs=0.15)


def test_table_beside_the_wall_counts_as_distance() -> None:
    u, v = plane()
    body = soft(box(u, v))
    gap, wall = soft(1.5 - np.abs(u)), soft(0.8 - np.abs(u - 0.7))
    (found,) = walls_of(body * (1 - gap), body * wall)
    assert found.thinnest_mm == pytest.approx(3.0, abs=0.15)


def test_insulating_dough_with_nothing_behind_it_is_no_wall() -> None:
    u, v = plane()
    assert walls_of(soft(8 - np.abs(u + 9)) * (np.abs(v) < 9), soft(3 - np.hypot(u - 3, v))) == ()


def test_a_drawn_wall_is_measured_in_whole_cells() -> None:
    labels = np.ones((30, 40), np.uint8)
    labels[:, 18:22] = 2
    conducts = np.zeros(256, bool)
    conducts[1] = True
    ground = drawn_ground(labels, conducts, 1.0)
    ids = number_pieces(ground)
    view = view_from_mm_per_px(1.0)
    pieces = list_pieces(ids, ground, ("conductive", "insulating"), 1.0, view)
    (found,) = find_walls(Grid(ids, ground, 1.0, view), pieces)
    assert found.thinnest_mm == pytest.approx(4, abs=0.1)
    assert found.thinnest_at[0] == pytest.approx(20, abs=0.6)

"""Two outlines laid on each other, against the closed-form fit of known places.

S. Umeyama, IEEE Trans. Pattern Anal. Mach. Intell. 13 (1991) 376, as scikit-image has it.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from skimage.transform import estimate_transform

from vision.errors import VisionError
from vision.model import Colour, Scene, TableView
from vision.registration import Registration, laid_on, register, seen_from
from vision.scene import scene_from_labels

MM = 0.5
PALETTE = (
    Colour("teal", "conductive", ()),
    Colour("amber", "insulating", ()),
    Colour("plum", "conductive", ()),
)
Copy = Callable[..., tuple[Any, Any]]


def bean(seed: int = 0) -> Any:
    """A blob of 60 mm with arms, a wall through it and a spot, on 100 x 90 mm."""
    rng = np.random.default_rng(seed)
    out = np.zeros((180, 200), np.uint8)
    turn = np.linspace(0, 2 * math.pi, 120, endpoint=False)
    r = 46 + sum(rng.normal(0, 9 / k) * np.cos(k * turn + rng.uniform(0, 6)) for k in range(1, 6))
    rim = np.stack([100 + r * np.cos(turn), 90 + 0.7 * r * np.sin(turn)], 1)
    cv2.fillPoly(out, [np.rint(rim).astype(np.int32)], 1)
    wall = np.zeros_like(out)
    cv2.line(wall, (95, 0), (112, 179), 1, 7)
    out[(wall > 0) & (out > 0)] = 2
    cv2.circle(out, (70, 84), 9, 3, -1)
    return out


def scene(labels: Any, true: bool = True, mm: float = MM) -> Scene:
    return scene_from_labels(labels, PALETTE, [], TableView(mm, (0.0, 0.0), true))


def reference(matrix: Any, one: Scene, other: Scene, mirrored: bool) -> Any:
    """(3, 3): from mm of the second scene to mm of the first, fitted to known places by Umeyama's formula."""
    px = np.array([(x, y) for x in (60, 100, 140) for y in (60, 90, 130)], float)
    there = px @ matrix[:, :2].T + matrix[:, 2]
    a = np.array([one.view.to_mm((float(x), float(y))) for x, y in px])
    b = np.array([other.view.to_mm((float(x), float(y))) for x, y in there])
    flip = np.diag([-1.0 if mirrored else 1.0, 1.0, 1.0])
    return np.asarray(estimate_transform("similarity", b @ flip[:2, :2], a).params) @ flip


def apart(found: Registration, truth: Any, other: Scene) -> tuple[float, float]:
    """Largest distance [mm] over the corners of the scene, and the difference of the turns [degrees]."""
    high, wide = (n * other.cell_mm for n in other.grid.shape)
    corners = np.array([(0, 0, 1), (wide, 0, 1), (0, high, 1), (wide, high, 1)], float)
    off = np.hypot(*((corners @ found.matrix.T) - (corners @ truth.T)[:, :2]).T).max()
    turn = [math.atan2(m[1, 1], m[0, 1]) for m in (found.matrix, truth)]
    return float(off), abs(math.degrees((turn[0] - turn[1] + math.pi) % (2 * math.pi) - math.pi))


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    seed=st.integers(0, 30),
    turn=st.floats(-180, 180),
    shift=st.tuples(st.floats(-12, 12), st.floats(-12, 12)),
    mirrored=st.booleans(),
)
def test_any_turn_shift_and_flip_is_found(
    second_photo: Copy, seed: int, turn: float, shift: tuple[float, float], mirrored: bool
) -> None:
    first = bean(seed)
    copy, matrix = second_photo(first, turn, shift, mirrored)
    one, other = scene(first), scene(copy)
    found = register(one, other, mirrored)
    off, degrees = apart(found, reference(matrix, one, other, mirrored), other)
    assert off < 0.5
    assert degrees < 1
    assert found.iou > 0.95
    assert not found.ambiguous


@pytest.mark.parametrize("scale", [0.88, 1.0, 1.12])
def test_without_a_told_scale_it_is_found_as_well(second_photo: Copy, scale: float) -> None:
    copy, matrix = second_photo(bean(), 140, (3, -5), True, scale)
    one, other = scene(bean()), scene(copy, true=False)
    found = register(one, other, True)
    assert found.scale == pytest.approx(1 / scale, rel=0.01)
    off, _ = apart(found, reference(matrix, one, other, True), other)
    assert off < 1.0


def test_dough_that_was_added_does_not_pull_it_away(second_photo: Copy) -> None:
    more = bean()
    cv2.circle(more, (150, 60), 14, 3, -1)
    copy, matrix = second_photo(more, 75, (4, 2), False)
    one, other = scene(bean()), scene(copy)
    found = register(one, other, False)
    off, _ = apart(found, reference(matrix, one, other, False), other)
    assert off < 1.5


def test_places_go_there_and_back() -> None:
    found = Registration(1.1, 33.0, (4.0, -7.0), True)
    for at in ((0.0, 0.0), (31.0, 8.0)):
        assert found.to_second(found.to_first(at)) == pytest.approx(at)
    ends = np.array([found.to_first((0.0, 0.0)), found.to_first((10.0, 0.0)), found.to_first((0.0, 10.0))])
    a, b = ends[1] - ends[0], ends[2] - ends[0]
    assert a[0] * b[1] - a[1] * b[0] == pytest.approx(-121)  # mirrored: the area turns over


def test_cells_are_laid_on_cells(second_photo: Copy) -> None:
    copy, _ = second_photo(bean(), 90, (0, 0), False)
    one, other = scene(bean()), scene(copy)
    laid = laid_on(other.grid, other, one, register(one, other, False))
    assert ((laid > 0) == (one.grid > 0)).mean() > 0.98


def bar(spot: bool) -> Any:
    out = np.zeros((180, 200), np.uint8)
    cv2.rectangle(out, (50, 70), (150, 110), 1, -1)
    if spot:
        cv2.circle(out, (70, 90), 12, 2, -1)
    return out


def test_colours_decide_between_the_two_ends_of_a_bar(second_photo: Copy) -> None:
    copy, matrix = second_photo(bar(True), 170, (0, 0), True)
    one, other = scene(bar(True)), scene(copy)
    found = register(one, other, True)
    assert not found.ambiguous
    assert apart(found, reference(matrix, one, other, True), other)[0] < 0.6
    plain, _ = second_photo(bar(False), 170, (0, 0), True)
    assert register(scene(bar(False)), scene(plain), True).ambiguous


def test_another_sculpture_is_refused() -> None:
    ring = np.zeros((180, 200), np.uint8)
    cv2.circle(ring, (100, 90), 60, 1, 14)
    with pytest.raises(VisionError, match=r"same sculpture: .*\.$"):
        register(scene(bean()), scene(ring), False)


def test_a_photo_without_dough_is_refused() -> None:
    with pytest.raises(VisionError, match="second photo shows no dough"):
        register(scene(bean()), scene(np.zeros((50, 60), np.uint8)), True)


def test_what_is_known_already_is_only_refined(second_photo: Copy) -> None:
    """Known in mm of another scale, off by a degree and a millimetre: the place is the same as by search."""
    first = bean(3)
    copy, _ = second_photo(first, 40.0, (5.0, -3.0), False)
    one, there, now = scene(first), scene(copy, False, 0.8), scene(copy)
    rough = register(one, there, mirrored=False)
    rough = replace(
        rough,
        turn_deg=rough.turn_deg + 1,
        shift_mm=(rough.shift_mm[0] + 1, rough.shift_mm[1]),
        ambiguous=True,
    )
    near = seen_from(rough, there.view, now.view)
    known, searched = (register(one, now, mirrored=False, near=start) for start in (near, None))
    assert apart(known, np.vstack([searched.matrix, [0, 0, 1]]), now)[0] < 0.1
    assert known.ambiguous and not searched.ambiguous

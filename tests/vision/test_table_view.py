"""The scale of a photo."""

import math

import pytest

from vision.errors import ScaleError
from vision.table_view import view_from_mm_per_px, view_from_points, view_without_scale


def test_two_points_and_their_distance_make_the_scale() -> None:
    view = view_from_points((10, 20), (310, 420), 85.6)
    assert view.mm_per_px == pytest.approx(85.6 / 500)  # a 3-4-5 triangle
    assert view.true_scale
    assert view.to_px(view.to_mm((7.0, 9.0))) == pytest.approx((7.0, 9.0))


def test_without_a_scale_the_frame_is_200_mm_wide() -> None:
    view = view_without_scale(4000)
    assert (view.mm_per_px, view.true_scale) == (200 / 4000, False)


@pytest.mark.parametrize(
    ("first", "second", "mm", "words"),
    [
        ((5, 5), (5, 5), 80, "0.0 pixels apart"),
        ((5, 5), (9, 5), 80, "4.0 pixels apart"),
        ((5, 5), (100, 5), 0, "0 mm"),
        ((5, 5), (100, 5), -3, "-3 mm"),
        ((5, 5), (100, 5), math.nan, "nan mm"),
        ((math.nan, 5), (100, 5), 80, "no places"),
        ((5, 5), (100, 5), 1e6, "mm per pixel"),
        ((5, 5), (1000, 5), 1e-3, "mm per pixel"),
    ],
)
def test_what_makes_no_scale_is_refused(
    first: tuple[float, float], second: tuple[float, float], mm: float, words: str
) -> None:
    with pytest.raises(ScaleError, match=words):
        view_from_points(first, second, mm)


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_mm_per_px_must_make_sense(value: float) -> None:
    with pytest.raises(ScaleError, match="mm per pixel"):
        view_from_mm_per_px(value)

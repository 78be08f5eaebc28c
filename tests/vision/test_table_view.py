"""The scale of a photo: two points, a card (ISO/IEC 7810:2019 ID-1, from memory), paper (ISO 216), a coin.

The camera is a pinhole (any textbook on projective geometry), made here from focal length, tilt and
distance. Taps are off by 0.5 px, normally distributed.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from vision.errors import ScaleError
from vision.model import Point, TableView
from vision.table_view import (
    tilt_deg,
    view_from_card,
    view_from_coin,
    view_from_corners,
    view_from_mm_per_px,
    view_from_points,
    view_without_scale,
)

SIZE = (4000, 3000)
FRAME_MM = 300.0
TAP_PX = 0.5
TILTS = (0.0, 5.0, 10.0, 15.0, 20.0)


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


def camera(tilt: float, towards: float, roll: float) -> NDArray[np.float64]:
    """Table mm to photo px, (3, 3); the frame is about 300 mm wide, its middle looks at (0, 0)."""
    a, b, c = (math.radians(v) for v in (tilt, towards, roll))
    lean = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
    turn, spin = (
        np.array([[math.cos(v), -math.sin(v), 0], [math.sin(v), math.cos(v), 0], [0, 0, 1]]) for v in (b, c)
    )
    focal = 0.75 * SIZE[0]
    away = np.array([[0.0], [0.0], [focal * FRAME_MM / SIZE[0]]])
    lens = np.array([[focal, 0, SIZE[0] / 2], [0, focal, SIZE[1] / 2], [0, 0, 1]])
    return np.asarray(lens @ np.hstack([(spin @ turn @ lean @ turn.T)[:, :2], away]), np.float64)


def seen_at(to_px: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Places (N, 2) in mm as photo px."""
    far = np.column_stack([places, np.ones(len(places))]) @ to_px.T
    return np.asarray(far[:, :2] / far[:, 2:], np.float64)


def tapped(to_px: NDArray[np.float64], places: NDArray[np.float64], seed: int) -> list[Point]:
    """Places as a helper taps them."""
    noise = np.random.default_rng(seed).normal(0, TAP_PX, places.shape)
    return [(float(x), float(y)) for x, y in seen_at(to_px, places) + noise]


def worst_length(view: TableView, to_px: NDArray[np.float64], seed: int, reach: float = 75.0) -> float:
    """The largest error, as a share, of 60 lengths of 15 mm and more within 150 x 120 mm."""
    rng = np.random.default_rng(seed)
    ends = rng.uniform((-reach, -0.8 * reach), (reach, 0.8 * reach), (2, 60, 2))
    found = [[view.to_mm((float(x), float(y))) for x, y in seen_at(to_px, end)] for end in ends]
    return max(
        abs(math.dist(a, b) / math.dist(p, q) - 1)
        for a, b, p, q in zip(*found, *ends.tolist(), strict=True)
        if math.dist(p, q) >= 15
    )


def rectangle(wide: float, high: float, at: Point) -> NDArray[np.float64]:
    return np.array([(0, 0), (wide, 0), (wide, high), (0, high)], float) + at


@pytest.mark.parametrize("tilt", TILTS)
def test_a_card_beside_the_sculpture_gives_true_lengths(tilt: float) -> None:
    worst = []
    for i in range(12):
        to_px = camera(tilt, 30.0 * i, 7.0 * i)
        lying = rectangle(85.60, 53.98, (-140, 20)) if i % 2 else rectangle(53.98, 85.60, (-130, -40))
        order = np.roll(np.arange(4), i)[:: -1 if i % 3 else 1]  # any first corner, either way round
        view = view_from_card(tapped(to_px, lying[order], i), SIZE)
        worst.append(worst_length(view, to_px, i))
    print(f"card, tilt {tilt:g}: worst length {100 * max(worst):.2f} %")
    assert max(worst) < 0.02


@pytest.mark.parametrize("tilt", TILTS)
def test_a_sheet_under_the_sculpture_gives_true_lengths(tilt: float) -> None:
    worst = []
    for i in range(12):
        to_px = camera(tilt, 30.0 * i, 5.0 * i)
        view = view_from_corners(tapped(to_px, rectangle(210, 148, (-105, -74)), i), (210, 148), SIZE)  # A5
        assert tilt_deg(view, SIZE) == pytest.approx(tilt, abs=2.5 if tilt < 5 else 0.7)
        worst.append(worst_length(view, to_px, i))
    print(f"sheet, tilt {tilt:g}: worst length {100 * max(worst):.2f} %")
    assert max(worst) < 0.003


def test_two_taps_on_a_card_are_its_long_edge() -> None:
    view = view_from_card([(100, 100), (100, 956)], SIZE)
    assert (view.mm_per_px, view.homography) == (pytest.approx(0.1), None)


def rim(mm: float, at: Point, count: int) -> NDArray[np.float64]:
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False)
    return np.stack([np.cos(angle), np.sin(angle)], axis=1) * mm / 2 + at


@pytest.mark.parametrize("tilt", TILTS)
def test_a_coin_gives_lengths_close_to_it(tilt: float) -> None:
    worst = []
    for i in range(12):
        to_px = camera(tilt, 30.0 * i, 5.0 * i)
        view = view_from_coin(tapped(to_px, rim(25.0, (40, 0), 6 + i), i), 25.0)
        # Round the coin: farther away the nearer and the farther side differ, which no coin tells.
        ends = np.random.default_rng(i).uniform((25, -15), (55, 15), (2, 40, 2))
        found = [[view.to_mm((float(x), float(y))) for x, y in seen_at(to_px, end)] for end in ends]
        for a, b, p, q in zip(*found, *ends.tolist(), strict=True):
            if math.dist(p, q) > 8:
                worst.append(abs(math.dist(a, b) / math.dist(p, q) - 1))
    print(f"coin, tilt {tilt:g}: worst length close to it {100 * max(worst):.2f} %")
    assert max(worst) < 0.02 + 0.0015 * tilt  # what a pinhole adds over 15 mm at this tilt


def test_two_taps_across_a_coin() -> None:
    assert view_from_coin([(100, 100), (200, 100)], 25.0).mm_per_px == pytest.approx(0.25)


SQUARE: list[Point] = [(100, 100), (900, 100), (900, 700), (100, 700)]


@pytest.mark.parametrize(
    ("corners", "sides", "words"),
    [
        (SQUARE[:3], (80, 60), "has 3 corners"),
        ([SQUARE[i] for i in (0, 2, 1, 3)], (80, 60), "not in order"),
        ([*SQUARE[:3], (700, 300)], (80, 60), "too far inwards"),
        ([*SQUARE[:3], (500, 402)], (80, 60), "no rectangle"),
        ([*SQUARE[:3], (900, 697)], (80, 60), "3.0 pixels apart"),
        ([*SQUARE[:3], (math.inf, 5)], (80, 60), "no place"),
        (SQUARE, (80, 0), "80 and 0 mm"),
        (SQUARE, (math.nan, 60), "nan and 60 mm"),
        (SQUARE, (80, 6), "60 degrees"),
        ([(400, 100), (600, 100), (900, 700), (100, 700)], (80, 60), "60 degrees"),
        (SQUARE, (8e4, 6e4), "mm per pixel"),
        (SQUARE, (0.08, 0.06), "mm per pixel"),
    ],
)
def test_corners_of_no_rectangle_are_refused(
    corners: list[Point], sides: tuple[float, float], words: str
) -> None:
    with pytest.raises(ScaleError, match=words):
        view_from_corners(corners, sides, (1000, 800))


@pytest.mark.parametrize("count", [0, 1, 3, 5])
def test_a_card_has_two_or_four_taps(count: int) -> None:
    with pytest.raises(ScaleError, match=f"has {count} taps"):
        view_from_card([(100.0 * i, 50.0 * i * i) for i in range(count)], SIZE)


@pytest.mark.parametrize(
    ("taps", "mm", "words"),
    [
        (SQUARE[:1], 25, "has 1 taps"),
        (SQUARE, 25, "has 4 taps"),
        ([*SQUARE, (500, 60)], 0, "0 mm"),
        ([*SQUARE, (100, 101)], 25, "1.0 pixels apart"),
        ([(100, 100), (200, 100), (300, 100), (400, 100), (500, 100)], 25, "ellipse|60 degrees"),
        ([(100, 100), (200, 104), (300, 100), (400, 102), (500, 100), (250, 99)], 25, "ellipse|60 degrees"),
        (SQUARE[:2], 25e4, "mm per pixel"),
    ],
)
def test_taps_on_no_coin_are_refused(taps: list[Point], mm: float, words: str) -> None:
    with pytest.raises(ScaleError, match=words):
        view_from_coin(taps, mm)

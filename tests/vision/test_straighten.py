"""The photo laid flat and labels put back on it, against pictures that are known as formulas.

The camera is a pinhole (any textbook on projective geometry); its homography is made here from focal
length, tilt and height, independently of the code under test.
"""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from vision.errors import ScaleError
from vision.model import Photo, TableView, inverse, project
from vision.straighten import grid_shape, on_photo, photo_in_mm, straightened, view_of_grid
from vision.table_view import perspective_view, tilt_deg, view_from_mm_per_px

SIZE = (1200, 900)
FLAT = view_from_mm_per_px(0.1)


def pinhole(
    tilt: float, towards: float = 0.0, roll: float = 0.0, mm_per_px: float = 0.1
) -> NDArray[np.float64]:
    """Photo px to table mm, (3, 3), of a pinhole whose axis is `tilt` degrees off the vertical."""
    focal = 0.75 * SIZE[0]
    a, b, c = (math.radians(v) for v in (tilt, towards, roll))
    lean = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
    turn, spin = (
        np.array([[math.cos(v), -math.sin(v), 0], [math.sin(v), math.cos(v), 0], [0, 0, 1]]) for v in (b, c)
    )
    rotation = spin @ turn @ lean @ turn.T
    away = np.array([[0.0], [0.0], [focal * mm_per_px]])
    lens = np.array([[focal, 0, SIZE[0] / 2], [0, focal, SIZE[1] / 2], [0, 0, 1]])
    to_px = lens @ np.hstack([rotation[:, :2], away])
    return np.asarray(np.linalg.inv(to_px) / np.linalg.inv(to_px)[2, 2], np.float64)


VIEWS = [
    FLAT,
    *(perspective_view(pinhole(t, d, r), SIZE) for t, d, r in ((0, 0, 0), (15, 30, 0), (30, 200, 40))),
]


@pytest.mark.parametrize("view", VIEWS)
def test_there_and_back(view: TableView) -> None:
    moved = replace(view, origin_px=(310.0, 222.0))
    for at in ((0.0, 0.0), (310.0, 222.0), (1100.5, 850.25)):
        assert moved.to_px(moved.to_mm(at)) == pytest.approx(at, abs=1e-7)
    assert moved.to_mm((310.0, 222.0)) == pytest.approx((0, 0), abs=1e-9)
    assert hash(moved) != hash(view) and replace(moved, origin_px=view.origin_px) == view


def test_the_homography_back_is_its_inverse() -> None:
    m = VIEWS[-1].homography
    assert m is not None
    assert np.array(m).reshape(3, 3) @ np.array(inverse(m)).reshape(3, 3) == pytest.approx(
        np.eye(3), abs=1e-9
    )


@pytest.mark.parametrize(("tilt", "towards", "roll"), [(0, 0, 0), (10, 45, 0), (20, 120, 77), (45, 10, 5)])
def test_lengths_tilt_and_scale_of_a_pinhole(tilt: float, towards: float, roll: float) -> None:
    true = pinhole(tilt, towards, roll)
    view = perspective_view(true, SIZE)
    to_px = inverse(tuple(true.ravel()))
    for a, b in (((-20.0, -10.0), (30.0, 25.0)), ((0.0, 15.0), (1.0, -20.0))):
        measured = math.dist(view.to_mm(project(to_px, a)), view.to_mm(project(to_px, b)))
        assert measured == pytest.approx(math.dist(a, b), rel=1e-9)
    assert tilt_deg(view, SIZE) == pytest.approx(tilt, abs=1e-4)
    # On the axis of the lens a pixel is distance / focal wide, and longer by 1 / cos(tilt) one way.
    assert view.mm_per_px == pytest.approx(0.1 / math.sqrt(math.cos(math.radians(tilt))), rel=1e-6)
    middle = (SIZE[0] / 2, SIZE[1] / 2)
    assert view.mm_per_px_at(middle) == pytest.approx(view.mm_per_px, rel=1e-9)
    x, y = view.to_mm(middle)
    x2, y2 = view.to_mm((middle[0] + 1, middle[1]))
    assert y2 == pytest.approx(y, abs=2e-3) and x2 > x  # the table is turned upright


def test_the_local_scale_is_the_area_of_a_pixel() -> None:
    view = VIEWS[-1]
    square = np.array([view.to_mm(p) for p in ((300, 200), (301, 200), (301, 201), (300, 201))], np.float64)
    x, y = square.T
    area = abs(x @ np.roll(y, 1) - y @ np.roll(x, 1)) / 2
    assert view.mm_per_px_at((300.5, 200.5)) == pytest.approx(math.sqrt(area), rel=1e-4)


@pytest.mark.parametrize(
    ("matrix", "words"),
    [
        (pinhole(70), "more than 60 degrees"),
        (pinhole(0) @ np.diag([-1.0, 1, 1]), "mirrored"),
        (np.zeros((3, 3)), "no plane"),
        (np.full((3, 3), math.nan), "no plane"),
        (pinhole(10, mm_per_px=20.0), "mm per pixel"),
    ],
)
def test_planes_beyond_reason_are_refused(matrix: NDArray[np.float64], words: str) -> None:
    with pytest.raises(ScaleError, match=words):
        perspective_view(matrix, SIZE)


def waves(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """A smooth picture of the table (..., 3), 0 to 255, of places in mm."""
    bands = [np.sin(x / 3 + y / 7), np.cos(x / 5 - y / 4), np.sin((x + 2 * y) / 9)]
    return np.asarray(np.stack([127 + 100 * b for b in bands], axis=-1), np.float64)


def shot(view: TableView, shrink: int = 1) -> Photo:
    """The photo of `waves` with each stored pixel the mean of `shrink` x `shrink` photo pixels."""
    x, y = np.meshgrid(np.arange(SIZE[0]) + 0.5, np.arange(SIZE[1]) + 0.5)
    if view.homography is None:
        mm = np.stack([x, y]) * view.mm_per_px
    else:
        m = np.array(view.homography).reshape(3, 3)
        mm = np.tensordot(m, np.stack([x, y, np.ones_like(x)]), 1)
        mm = mm[:2] / mm[2]
    picture = waves(*mm)
    small = cv2.resize(picture, (SIZE[0] // shrink, SIZE[1] // shrink), interpolation=cv2.INTER_AREA)
    return Photo(np.rint(small).astype(np.uint8), shrink, SIZE)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize(
    ("shrink", "cell_mm"), [(1, 0.2), (1, 0.35), (2, 0.2), (2, 0.3), (1, 0.07), (4, 0.2)]
)
def test_the_table_comes_out_straight(view: TableView, shrink: int, cell_mm: float) -> None:
    x0, y0, x1, y1 = photo_in_mm(view, SIZE)
    middle = view.to_mm((SIZE[0] / 2 + 37, SIZE[1] / 2 - 21))
    box = (middle[0] - 17.3, middle[1] - 12.1, middle[0] + 22.7, middle[1] + 14.9)
    assert x0 < box[0] and y0 < box[1] and box[2] < x1 and box[3] < y1
    got = straightened(shot(view, shrink), view, box, cell_mm)
    assert got.shape == (*grid_shape(box, cell_mm), 3)
    rows, cols = got.shape[:2]
    corner = (0.0, 0.0) if view.homography is None else project(view.homography, (0, 0))
    x, y = np.meshgrid(
        box[0] + corner[0] + (np.arange(cols) + 0.5) * cell_mm,
        box[1] + corner[1] + (np.arange(rows) + 0.5) * cell_mm,
    )
    # A quarter of a cell aside would change the picture by up to 100 / 3 * cell / 4.
    assert np.abs(got - waves(x, y)).mean() < 1.0
    assert np.abs(got - waves(x, y)).max() < 4.0


@pytest.mark.parametrize("view", [VIEWS[0], VIEWS[2]])
def test_noise_is_averaged_where_the_photo_is_finer(view: TableView) -> None:
    noise = np.random.default_rng(1).normal(128, 20, (SIZE[1], SIZE[0], 3)).clip(0, 255).astype(np.uint8)
    centre = view.to_mm((600, 450))
    box = (centre[0] - 15, centre[1] - 15, centre[0] + 15, centre[1] + 15)
    for cell_mm in (0.3, 0.45):
        spread = float(straightened(Photo(noise), view, box, cell_mm).std())
        assert spread < 1.25 * 20 * view.mm_per_px / cell_mm  # the mean of n values spreads 1 / sqrt(n)


def test_cells_beyond_the_photo_repeat_its_rim() -> None:
    photo = Photo(np.full((90, 120, 3), 77, np.uint8))
    view = view_from_mm_per_px(1.0)
    assert (straightened(photo, view, (-30, -30, 200, 200), 0.5) == 77).all()
    assert (straightened(photo, view, (500, 500, 600, 600), 2.5) == 77).all()


@pytest.mark.parametrize("view", VIEWS)
def test_the_grid_counts_from_its_corner(view: TableView) -> None:
    box = (11.0, 7.0, 31.0, 37.0)
    grid = view_of_grid(view, box)
    assert grid.to_px((0, 0)) == pytest.approx(view.to_px((11, 7)))
    assert grid.to_px((5, 9)) == pytest.approx(view.to_px((16, 16)))
    assert grid.to_mm(view.to_px((20, 20))) == pytest.approx((9, 13))


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("kind", [np.uint8, np.float32, np.int32, np.bool_])
def test_labels_go_back_to_where_they_were_seen(view: TableView, kind: type) -> None:
    centre = view.to_mm((600, 450))
    box = (centre[0] - 70, centre[1] - 20, centre[0] + 15, centre[1] + 15)  # sticks out on the left
    rows, cols = grid_shape(box, 0.5)
    values = (np.arange(rows * cols).reshape(rows, cols) % 250 + 1).astype(kind)
    got = on_photo(values, view, box, 0.5, SIZE)
    assert got.shape == (SIZE[1], SIZE[0]) and got.dtype == values.dtype
    grid, right = view_of_grid(view, box), 0
    places = np.random.default_rng(2).integers((0, 0), SIZE, (400, 2))
    for x, y in places:
        col, row = (math.floor(v / 0.5) for v in grid.to_mm((x + 0.5, y + 0.5)))
        inside = 0 <= row < rows and 0 <= col < cols
        right += got[y, x] == (values[row, col] if inside else 0)
    assert right >= 0.985 * len(places)  # places close to the rim of a cell may round the other way
    assert np.mean(got != 0) == pytest.approx(75 * 35 / (120 * 90), rel=0.1)


def test_a_box_beside_the_photo_leaves_it_empty() -> None:
    labels = np.ones((40, 40), np.uint8)
    for view in (FLAT, VIEWS[2]):
        assert not on_photo(labels, view, (500, 500, 520, 520), 0.5, SIZE).any()

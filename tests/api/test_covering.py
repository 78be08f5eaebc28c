"""What is covered on a photo is gone: no pixel of the result depends on it."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from api.cover_schemas import Area, BoxArea, StrokeArea
from api.covering import BLOCK_PX, NO_COLOUR, checked_frame, covered_mask, without
from api.errors import InputError
from vision.model import Photo
from vision.photo import encode_jpeg, open_photo

WIDTH, HEIGHT = 403, 301
FACE = BoxArea(kind="box", box=(100.5, 60, 170, 140.2))
BRUSH = StrokeArea(kind="stroke", points=((250, 200), (300, 150), (330, 220)), width_px=30)


def noise(seed: int) -> NDArray[np.uint8]:
    return np.random.default_rng(seed).integers(0, 256, (HEIGHT, WIDTH, 3), dtype=np.uint8)


def scene(seed: int, areas: tuple[Area, ...]) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """A table with another content under the areas for each seed."""
    mask = covered_mask(areas, WIDTH, HEIGHT)
    table = cv2.GaussianBlur(noise(0), (0, 0), 9)
    return np.where(mask[..., None], noise(seed), table).astype(np.uint8), mask


@pytest.mark.parametrize("areas", [(FACE,), (BRUSH,), (FACE, BRUSH)])
def test_two_contents_give_the_same_picture(areas: tuple[Area, ...]) -> None:
    (one, mask), (other, _) = scene(1, areas), scene(2, areas)
    assert (one != other).any()
    assert (without(one, mask, None) == without(other, mask, None)).all()


def test_not_even_the_file_of_the_camera_leaks_it() -> None:
    """Content up to the rim, then through JPEG as a phone writes it: the rest of each block knew of it."""
    drawn = BoxArea(kind="box", box=(100, 60, 170, 140))
    mask = covered_mask((drawn,), WIDTH, HEIGHT)
    done = []
    for seed in (1, 2):
        photo = cv2.GaussianBlur(noise(0), (0, 0), 9)
        photo[60:140, 100:170] = noise(seed)[60:140, 100:170]
        kept = open_photo(encode_jpeg(Photo(photo))).pixels
        done.append(encode_jpeg(Photo(without(kept, mask, None))))
    assert done[0] == done[1]


def test_outside_the_frame_nothing_is_left() -> None:
    frame = checked_frame((83, 41, 300.5, 200), WIDTH, HEIGHT)
    left, top, right, bottom = frame
    assert left >= 83 and top >= 41 and right <= 300 and bottom <= 200
    nothing = np.zeros((HEIGHT, WIDTH), bool)
    inside = noise(3)[top:bottom, left:right]
    done = []
    for seed in (1, 2):
        photo = noise(seed)
        photo[top:bottom, left:right] = inside
        done.append(without(photo, nothing, frame))
    assert (done[0] == done[1]).all()
    assert (done[0][top:bottom, left:right] == inside).all()
    outside = np.ones((HEIGHT, WIDTH), bool)
    outside[top:bottom, left:right] = False
    assert len(np.unique(done[0][outside], axis=0)) == 1, "one flat colour"


def test_a_cover_takes_no_colour_from_outside_the_frame() -> None:
    frame = (80, 40, 304, 200)
    mask = covered_mask((BoxArea(kind="box", box=(60, 60, 170, 140)),), WIDTH, HEIGHT)
    inside = np.full((160, 224, 3), (10, 200, 30), np.uint8)
    done = []
    for seed in (1, 2):
        photo = noise(seed)
        photo[40:200, 80:304] = inside
        done.append(without(photo, mask, frame))
    assert (done[0] == done[1]).all()


def test_what_is_not_covered_stays_as_it_is() -> None:
    photo, mask = scene(1, (FACE, BRUSH))
    assert (without(photo, mask, None)[~mask] == photo[~mask]).all()
    assert not mask[0, 0] and mask.mean() < 0.2


def test_all_that_was_drawn_is_covered_and_whole_blocks_only() -> None:
    mask = covered_mask((FACE,), WIDTH, HEIGHT)
    rows, columns = np.where(mask)
    assert rows.min() % BLOCK_PX == 0 and columns.min() % BLOCK_PX == 0
    assert columns.min() <= 100 - BLOCK_PX and columns.max() >= 170 + BLOCK_PX - 1
    assert columns.min() > 100 - 3 * BLOCK_PX and columns.max() < 170 + 3 * BLOCK_PX
    stroke = covered_mask((BRUSH,), WIDTH, HEIGHT)
    for x, y in ((250, 200), (275, 175), (300, 150), (300 - 10, 150 - 10)):
        assert stroke[y, x]


def test_a_cover_shows_as_tiles() -> None:
    photo = np.full((HEIGHT, WIDTH, 3), 120, np.uint8)
    done = without(photo, covered_mask((FACE,), WIDTH, HEIGHT), None)
    assert set(np.unique(done)) == {113, 120, 127}


def test_a_photo_covered_all_over_is_grey() -> None:
    whole = BoxArea(kind="box", box=(-1e9, -1e9, 1e9, 1e9))
    done = without(noise(1), covered_mask((whole,), WIDTH, HEIGHT), None)
    assert (done == NO_COLOUR).all()


def test_a_frame_never_grows() -> None:
    before = (80, 40, 304, 200)
    assert checked_frame((0, 0, WIDTH, HEIGHT), WIDTH, HEIGHT, before) == before
    assert checked_frame((0, 0, WIDTH, HEIGHT), WIDTH, HEIGHT) == (0, 0, WIDTH, HEIGHT)


@pytest.mark.parametrize(
    "frame", [(100, 100, 150, 250), (300, 20, 100, 250), (-50, 0, 20, 250), (1e300, 0, 9, 9)]
)
def test_too_small_a_frame_is_refused(frame: tuple[float, float, float, float]) -> None:
    with pytest.raises(InputError, match="Draw it larger"):
        checked_frame(frame, WIDTH, HEIGHT)


@pytest.mark.parametrize(
    "area",
    [
        BoxArea(kind="box", box=(500, 10, 600, 90)),
        BoxArea(kind="box", box=(50, 60, 50, 60)),
        StrokeArea(kind="stroke", points=((1e300, -1e300),), width_px=5),
    ],
)
def test_an_area_beside_the_photo_is_refused(area: Area) -> None:
    with pytest.raises(InputError, match="outside the photo"):
        covered_mask((FACE, area), WIDTH, HEIGHT)

"""Small pictures of photos: of the part that is shown, for those who may see the photo, gone with it."""

import io
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from api import thumbs
from api.opened import forget_opened
from api.thumbs import LARGER_PX, SHORT_PX, forget_thumbs, small_jpeg, thumbs_in_memory

WIDE = (2000, 1500)


@pytest.fixture(autouse=True)
def _none_before() -> None:
    forget_thumbs()


def picture(size: tuple[int, int] = WIDE) -> bytes:
    """Red, its right half blue."""
    image = Image.new("RGB", size, (200, 30, 30))
    image.paste((30, 30, 200), (size[0] // 2, 0, *size))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=90)
    return out.getvalue()


def opened(jpeg: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(jpeg))
    image.load()
    return image


def test_the_shorter_side_is_small() -> None:
    assert opened(small_jpeg(picture(), None)).size == (320, SHORT_PX)
    assert opened(small_jpeg(picture(), None, LARGER_PX)).size == (960, LARGER_PX)
    assert opened(small_jpeg(picture((150, 400)), None)).size == (150, 400)  # never made larger


@pytest.mark.parametrize("frame", [(1000, 0, 2000, 1500), (1200, 200, 1800, 700), (1100, 40, 1180, 112)])
def test_only_the_part_that_is_shown(frame: tuple[int, int, int, int]) -> None:
    shown = opened(small_jpeg(picture(), frame))
    wide, high = frame[2] - frame[0], frame[3] - frame[1]
    assert min(shown.size) == min(SHORT_PX, wide, high)
    assert shown.width / shown.height == pytest.approx(wide / high, rel=0.02)
    red, _, blue = shown.resize((1, 1)).getpixel((0, 0))  # type: ignore[misc]
    assert blue > 180
    assert red < 60


def test_they_are_made_once_bounded_and_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    first = small_jpeg(picture(), None)
    assert small_jpeg(picture(), None) is first
    monkeypatch.setattr(thumbs, "MOST_BYTES", 3 * len(first))
    for n in range(6):
        small_jpeg(picture(), (0, 0, 2000 - n, 1500))
    assert thumbs_in_memory() in (2, 3)
    forget_opened()  # what whoever deletes a photo calls
    assert thumbs_in_memory() == 0


def test_over_the_web(client: TestClient) -> None:
    # One that no other test has deleted: for a while such a picture is not remembered.
    photo_id = client.post("/photos", files={"photo": picture((404, 303))}).json()["id"]
    answer = client.get(f"/photos/{photo_id}/small.jpg")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/jpeg")
    assert answer.headers["cache-control"] == "private, no-store"
    assert opened(answer.content).size == (320, 240)
    assert thumbs_in_memory() == 1
    assert opened(client.get(f"/photos/{photo_id}/small.jpg?size=wide").content).size == (404, 303)
    client.delete(f"/photos/{photo_id}")
    assert thumbs_in_memory() == 0
    gone: Any = client.get(f"/photos/{photo_id}/small.jpg")
    assert (gone.status_code, list(gone.json())) == (404, ["error"])

"""The doughs of a workshop, known by name and colour, on a new photo.

How another light changes colours: a gain for each of red, green and blue of linear light (von Kries 1902,
as cameras' white balance undoes it; cited from memory).
"""

import json
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

import sample_images
from vision.known_doughs import SURE, FoundDough, KnownDough, find_known
from vision.model import Photo
from vision.photo import open_photo
from vision.same_doughs import border_colours


def lit(photo: Photo, gains: tuple[float, float, float]) -> Photo:
    """The photo under another light."""
    light = (photo.pixels / 255) ** 2.2 * gains
    return Photo(np.rint(255 * light.clip(0, 1) ** (1 / 2.2)).astype(np.uint8))


def told(name: str) -> tuple[Photo, list[KnownDough], NDArray[np.uint8]]:
    """A sample, its doughs as the page remembers them, and its true labels."""
    photo = open_photo(sample_images.sample_path(f"{name}.jpg").read_bytes())
    case: dict[str, Any] = json.loads(sample_images.sample_path(f"{name}.case.json").read_text("utf-8"))
    known = []
    for entry in case["palette"]:
        seen = [photo.pixels[int(y) - 4 : int(y) + 5, int(x) - 4 : int(x) + 5] for x, y in entry["taps"]]
        r, g, b = np.mean(seen, axis=(0, 1, 2)).round().astype(int).tolist()
        known.append(KnownDough(entry["name"], entry["role"], (r, g, b)))
    labels = cv2.imread(str(sample_images.sample_path(f"{name}.labels.png")), cv2.IMREAD_UNCHANGED)
    assert labels is not None
    return photo, known, np.asarray(labels, np.uint8)


def lies_on(found: FoundDough, label: int, labels: NDArray[np.uint8]) -> bool:
    """Whether all its taps lie on that dough, or on what hides it."""
    return all(labels[int(y), int(x)] in (label, 255) for x, y in found.taps)


@pytest.mark.parametrize("name", ["owl", "caterpillar"])
@pytest.mark.parametrize("gains", [(1.0, 1.0, 1.0), (1.1, 1.0, 0.85), (0.7, 0.75, 0.8)])
def test_doughs_of_the_last_photo_are_found_in_another_light(
    name: str, gains: tuple[float, float, float]
) -> None:
    photo, known, labels = told(name)
    found = find_known(lit(photo, gains), known)
    assert [(one.name, one.role) for one in found] == [(one.name, one.role) for one in known]
    doughs = [one for one in known if one.role != "table"]
    for one in found:
        label = 0 if one.role == "table" else [d.name for d in doughs].index(one.name) + 1
        assert one.sure >= SURE and one.taps, one
        assert lies_on(one, label, labels), one


def test_a_dough_that_is_not_there_is_asked_for() -> None:
    photo, known, labels = told("owl")
    violet = KnownDough("violet", "insulating", (120, 40, 190))
    *found, missing = find_known(photo, [*known, violet])
    assert missing.taps == () and missing.sure < SURE
    assert all(one.taps and lies_on(one, i, labels) for i, one in enumerate(found[:2], start=1))


def test_a_bare_table_shows_no_dough() -> None:
    rng = np.random.default_rng(1)
    bare = Photo(np.clip(rng.normal((170, 140, 100), 4, (480, 640, 3)), 0, 255).astype(np.uint8))
    known = [
        KnownDough("pink", "conductive", (230, 140, 160)),
        KnownDough("sky", "insulating", (90, 170, 215)),
    ]
    assert [one.taps for one in find_known(bare, known)] == [(), ()]


def test_the_same_photo_has_the_same_table_every_time() -> None:
    noise = np.random.default_rng(3).normal(size=(120, 160, 3)).astype(np.float32)
    first, *others = (border_colours(noise) for _ in range(6))
    assert all(np.array_equal(one, first) for one in others)


def test_a_table_alone_is_found_without_any_dough() -> None:
    photo, known, _ = told("owl")
    (table,) = find_known(photo, [one for one in known if one.role == "table"])
    assert table.role == "table" and table.taps

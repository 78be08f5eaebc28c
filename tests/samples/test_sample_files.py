"""The sample photos, their cases and their truth agree with each other."""

import json
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import distance_transform_edt

from api.schemas import Case
from sample_images import names, sample_path

NAMES = names()
MOST_BYTES = 300_000
FAULTS = {
    None,
    "led-backwards",
    "short-round-the-end",
    "short-pressed-together",
    "too-many-in-a-row",
    "gap-in-lump",
    "leg-out",
    "near-touch",
}


def read(file: str) -> Any:
    return json.loads(sample_path(file).read_text("utf-8"))


def labels_of(name: str) -> NDArray[np.uint8]:
    with Image.open(sample_path(f"{name}.labels.png")) as image:
        assert image.mode == "L"
        return np.asarray(image)


def entries_of(case: dict[str, Any]) -> dict[str, list[float]]:
    found = {"pack.plus": case["pack"]["plus"], "pack.minus": case["pack"]["minus"]}
    for led in case["leds"]:
        found |= {f"{led['id']}.long": led["long_leg"], f"{led['id']}.short": led["short_leg"]}
    return found


def test_every_fault_is_shown_once() -> None:
    assert len(NAMES) == len(set(NAMES)) >= 7
    assert {read(f"{name}.truth.json")["fault"] for name in NAMES} == FAULTS


def test_every_sample_has_a_title_and_a_story() -> None:
    for sample in read("samples.json"):
        assert sample["title"].strip()
        assert sample["story"].strip()


def test_a_name_that_leads_elsewhere_is_refused() -> None:
    for name in ("../pyproject.toml", "nobody.jpg", ""):
        with pytest.raises(FileNotFoundError):
            sample_path(name)


@pytest.mark.parametrize("name", NAMES)
def test_the_photo_is_small_and_carries_no_metadata(name: str) -> None:
    path = sample_path(f"{name}.jpg")
    assert path.stat().st_size <= MOST_BYTES
    with Image.open(path) as photo:
        assert photo.format == "JPEG"
        assert photo.size == (1600, 1200)
        assert not photo.getexif()
        assert not {"exif", "xmp", "comment", "icc_profile"} & set(photo.info)


@pytest.mark.parametrize("name", NAMES)
def test_the_case_is_in_the_public_format(name: str) -> None:
    case = Case.model_validate(read(f"{name}.case.json"))
    assert case.photo == f"{name}.jpg"
    assert not case.materials
    assert case.electrode is None
    assert case.pack is not None
    assert case.pack.cells == 4


@pytest.mark.parametrize("name", NAMES)
def test_every_tap_lies_on_its_colour(name: str) -> None:
    labels = labels_of(name)
    assert labels.shape == (1200, 1600)
    dough = 0
    for entry in read(f"{name}.case.json")["palette"]:
        dough += entry["role"] != "table"
        wanted = 0 if entry["role"] == "table" else dough
        assert len(entry["taps"]) == 3
        assert {int(labels[y, x]) for x, y in entry["taps"]} == {wanted}
    assert set(np.unique(labels)) == {0, *range(1, dough + 1), 255}


@pytest.mark.parametrize("name", NAMES)
def test_entries_are_in_conductive_dough_where_the_truth_says_so(name: str) -> None:
    case, truth, labels = read(f"{name}.case.json"), read(f"{name}.truth.json"), labels_of(name)
    doughs = [entry["role"] for entry in case["palette"] if entry["role"] != "table"]
    conductive = [i + 1 for i, role in enumerate(doughs) if role == "conductive"]
    away_px = distance_transform_edt(~np.isin(labels, conductive))
    taps = entries_of(case)
    assert set(taps) == set(truth["entries"])
    for entry, (x, y) in taps.items():
        # The leg itself hides the dough at its foot: its own half thickness, and the error of a tap.
        reach = 8 if entry.startswith("pack") else 5
        inside = bool(away_px[int(y), int(x)] <= reach)
        assert inside == (truth["entries"][entry]["lump"] is not None), entry
        assert np.hypot(*np.subtract((x, y), truth["entries"][entry]["at"])) < 8


@pytest.mark.parametrize("name", NAMES)
def test_what_is_seen_is_what_the_truth_says(name: str) -> None:
    case, truth = read(f"{name}.case.json"), read(f"{name}.truth.json")
    seen = {led["id"]: led["seen"] for led in case["leds"]}
    assert seen == {led: found["state"] for led, found in truth["leds"].items()}
    if truth["fault"] in (None, "near-touch"):
        assert set(seen.values()) == {"bright"}
    else:
        assert set(seen.values()) != {"bright"}


@pytest.mark.parametrize("name", NAMES)
def test_lit_leds_are_the_brightest_spots_of_the_photo(name: str) -> None:
    truth = read(f"{name}.truth.json")
    with Image.open(sample_path(f"{name}.jpg")) as photo:
        light = np.asarray(photo.convert("RGB")).max(axis=2)
    for led, found in truth["leds"].items():
        (ax, ay), (bx, by) = (truth["entries"][f"{led}.{leg}"]["at"] for leg in ("long", "short"))
        x, y = round((ax + bx) / 2), round((ay + by) / 2)
        spot = light[y - 40 : y + 41, x - 40 : x + 41]
        assert (int((spot >= 250).sum()) > 200) == (found["state"] == "bright"), led

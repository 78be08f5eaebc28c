"""Photos degraded step by step: grades only get worse, and no photo that can be used is refused."""

import json
import math
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from sample_images import names, sample_path
from vision.model import Photo
from vision.photo import open_photo
from vision.quality import HOPELESS_BLUR_MM, POOR_BLUR_MM, Box, blur_of, judge

PHOTOS = Path(__file__).resolve().parents[2] / ".." / "shared" / "photos"
absent = pytest.mark.skipif(not PHOTOS.is_dir(), reason="the shared photos are not beside the project")
WORSE = ("good", "poor", "hopeless")
MM_PER_PX = 0.12
Pixels = NDArray[np.uint8]


@cache
def dough() -> Pixels:
    """Two smooth lumps with a wall on a plain table, 144 x 108 mm, with a little noise of the camera."""
    picture = np.full((900, 1200, 3), (196, 190, 178), np.uint8)
    cv2.ellipse(picture, (420, 450), (240, 190), 12, 0, 360, (40, 140, 150), -1, cv2.LINE_AA)
    cv2.ellipse(picture, (850, 470), (210, 230), 0, 0, 360, (60, 150, 160), -1, cv2.LINE_AA)
    cv2.line(picture, (640, 220), (655, 700), (220, 160, 60), 40, cv2.LINE_AA)
    noise = np.random.default_rng(2).normal(0, 3, picture.shape)
    return np.clip(cv2.GaussianBlur(picture, (0, 0), 1.2) + noise, 0, 255).astype(np.uint8)


def blurred(pixels: Pixels, sigma_mm: float, mm_per_px: float = MM_PER_PX) -> Pixels:
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), sigma_mm / mm_per_px), np.uint8)


def moved(pixels: Pixels, length_mm: float, turn: float) -> Pixels:
    """The camera moved by this length while the photo was taken."""
    length = length_mm / MM_PER_PX
    side = 2 * math.ceil(length / 2) + 1
    path = np.zeros((side, side), np.float32)
    for t in np.linspace(-length / 2, length / 2, 4 * side):
        path[round(side // 2 + t * math.sin(turn)), round(side // 2 + t * math.cos(turn))] += 1
    return np.asarray(cv2.filter2D(pixels, -1, path / path.sum()), np.uint8)


def exposed(pixels: Pixels, times: float) -> Pixels:
    """The same with more or less light; sRGB by IEC 61966-2-1:1999."""
    level = np.arange(256) / 255.0
    linear = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    light = np.minimum(1.0, times * linear)
    back = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(255 * back).astype(np.uint8)[pixels]


def grades(pictures: list[Pixels]) -> list[int]:
    return [WORSE.index(judge(Photo(p), None, MM_PER_PX).grade) for p in pictures]


def test_dough_on_a_plain_table_is_a_good_photo() -> None:
    found = judge(Photo(dough()), None, MM_PER_PX)
    assert (found.grade, found.warnings, found.advice) == ("good", (), "")


@pytest.mark.parametrize("sigma_mm", [0.3, 0.5, 0.8, 1.1, 1.5])
def test_the_blur_put_on_is_measured(sigma_mm: float) -> None:
    assert blur_of(blurred(dough(), sigma_mm), MM_PER_PX) == pytest.approx(sigma_mm, rel=0.2, abs=0.1)


def test_more_blur_is_never_better() -> None:
    found = grades([blurred(dough(), s) for s in (0.2, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0, 5.0)])
    assert found == sorted(found)
    assert found[0] == 0 and found[-1] == 2 and 1 in found


@pytest.mark.parametrize("turn", [0.0, 0.4, math.pi / 4, math.pi / 2, 2.2])
def test_a_longer_movement_is_never_better(turn: float) -> None:
    found = grades([moved(dough(), s, turn) for s in (0.3, 1, 2, 3, 4, 6)])
    assert found == sorted(found)
    assert found[0] == 0 and found[-1] == 2


def test_the_limits_are_where_gaps_lose_half_their_contrast() -> None:
    """erf(g / (2 sqrt(2) sigma)) is what a slit of width g keeps under a Gaussian blur."""
    for gap_mm, limit in ((0.8, POOR_BLUR_MM), (1.5, HOPELESS_BLUR_MM)):
        assert 0.4 < math.erf(gap_mm / (2 * math.sqrt(2) * limit)) < 0.5
    strip = np.full((41, 801), 200.0)
    strip[:, 394:407] = 0  # 13 pixels of 0.12 mm
    seen = cv2.GaussianBlur(strip, (0, 0), 1.2 / 0.12)[20]
    assert 1 - seen.min() / 200 == pytest.approx(math.erf(1.56 / (2 * math.sqrt(2) * 1.2)), abs=0.02)


def test_less_light_and_more_light_are_never_better() -> None:
    for factor in (0.5, 2.0):
        found = grades([exposed(dough(), factor**n) for n in range(9)])
        assert found == sorted(found)
        assert found[0] == 0 and found[-1] == 2


def test_noise_alone_is_no_reason_to_refuse() -> None:
    noise = np.random.default_rng(3).normal(0, 20, dough().shape)
    assert grades([np.clip(dough() + noise, 0, 255).astype(np.uint8)]) == [0]


@pytest.mark.parametrize(
    ("level", "spread", "word"),
    [
        (0, 0, "dark"),
        (8, 3, "dark"),
        (128, 0, "front of the lens"),
        (150, 4, "front of the lens"),
        (255, 0, "white"),
    ],
)
def test_a_covered_lens_gets_advice(level: int, spread: int, word: str) -> None:
    noise = np.random.default_rng(4).normal(level, spread, (480, 640, 3))
    found = judge(Photo(np.clip(noise, 0, 255).astype(np.uint8)))
    assert found.grade == "hopeless" and word in found.advice
    assert found.advice.endswith(".") and not found.warnings


def test_a_small_photo_and_harsh_light_get_warnings() -> None:
    small = cv2.resize(dough(), (400, 300), interpolation=cv2.INTER_AREA)
    assert any("small" in said for said in judge(Photo(np.asarray(small, np.uint8))).warnings)
    assert any("small" in said for said in judge(Photo(np.asarray(small, np.uint8)), None, 0.45).warnings)
    assert "too small" in judge(Photo(np.asarray(small, np.uint8)), None, 2.0).advice
    harsh = dough().copy()
    harsh[:, :300], harsh[:, -300:] = 2, 255
    assert any("shadow" in said for said in judge(Photo(harsh), None, MM_PER_PX).warnings)


def test_black_dough_is_no_dark_photo() -> None:
    picture = dough().copy()
    picture[300:700, 200:600] = 5
    found = judge(Photo(picture), (240, 340, 560, 660), MM_PER_PX)
    assert found.grade == "poor" and found.warnings


def test_a_shrunk_photo_is_judged_alike() -> None:
    done, png = cv2.imencode(".png", dough())
    assert done
    full, small = (judge(open_photo(png.tobytes(), s), (100, 100, 1100, 800), MM_PER_PX) for s in (1, 2))
    assert full.grade == small.grade == "good"
    assert full.blur_mm == pytest.approx(small.blur_mm, abs=0.1)


def about(case_file: Path, width: int) -> tuple[Box, float]:
    """The box round the sculpture and the scale of a case."""
    case = json.loads(case_file.read_text())
    first, second = case["scale"]["points"]
    mm_per_px = case["scale"]["mm"] / math.dist(first, second)
    at = np.array([tap for c in case["palette"] if c["role"] != "table" for tap in c["taps"]])
    low, high = at.min(axis=0) - 25 / mm_per_px, at.max(axis=0) + 25 / mm_per_px
    return (low[0], low[1], high[0], high[1]), mm_per_px


@pytest.mark.parametrize("name", names())
def test_samples_are_good_until_they_are_blurred(name: str) -> None:
    photo = open_photo(sample_path(f"{name}.jpg").read_bytes())
    box, mm_per_px = about(Path(str(sample_path(f"{name}.case.json"))), photo.width)
    assert judge(photo, box, mm_per_px).grade == "good"
    assert judge(Photo(blurred(photo.pixels, 1.6, mm_per_px)), box, mm_per_px).grade == "hopeless"


@absent
def test_no_photo_with_truth_is_hopeless() -> None:
    files = sorted(PHOTOS.glob("*.case.json"))
    assert files
    for file in files:
        photo = open_photo(file.with_name(file.name.replace(".case.json", ".jpg")).read_bytes())
        box, mm_per_px = about(file, photo.width)
        assert judge(photo, box, mm_per_px).grade != "hopeless", file.name
        assert judge(photo).grade != "hopeless", file.name


@absent
def test_no_real_photo_is_hopeless() -> None:
    files = sorted((PHOTOS / "real").glob("*.json"))
    assert files
    for file in files:
        photo = open_photo((file.parent / json.loads(file.read_text())["photo"]).read_bytes())
        assert judge(photo).grade != "hopeless", file.name

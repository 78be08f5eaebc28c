"""A sample photo at twice its size, or blurred: reports stay in photo pixels, and say what is poor."""

import json
from typing import Any

import cv2
import numpy as np
import pytest

from api import commands
from api.pipeline import Result, inspect_case
from api.schemas import Case
from sample_images import sample_path

NAME = "owl"


def photo() -> np.ndarray:
    picture = cv2.imread(str(sample_path(f"{NAME}.jpg")))
    assert picture is not None
    return np.asarray(picture)


def seen(picture: np.ndarray, times: float) -> Result:
    """The sample's case, with its points as they lie in a photo of `times` the size."""
    case: dict[str, Any] = json.loads(sample_path(f"{NAME}.case.json").read_text())

    def scaled(value: Any) -> Any:
        pair = isinstance(value, list) and len(value) == 2 and all(isinstance(v, int | float) for v in value)
        if pair:
            return [v * times for v in value]
        if isinstance(value, list):
            return [scaled(v) for v in value]
        return {k: scaled(v) for k, v in value.items()} if isinstance(value, dict) else value

    done, jpeg = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    assert done
    return inspect_case(Case.model_validate(scaled(case)), jpeg.tobytes())


def test_a_large_photo_is_decoded_at_half_its_size_and_told_at_full_size() -> None:
    times = 2.2
    small = seen(photo(), 1)
    large = seen(
        np.asarray(cv2.resize(photo(), None, fx=times, fy=times, interpolation=cv2.INTER_CUBIC)), times
    )
    assert (large.report.photo.width, large.report.photo.height) == (3520, 2640)
    assert large.pixels.shape == (1320, 1760, 3)
    assert large.labels.shape == (2640, 3520)
    back = cv2.resize(large.labels, small.labels.shape[::-1], interpolation=cv2.INTER_NEAREST)
    assert (back == small.labels).mean() > 0.99
    assert large.report.entries == small.report.entries
    for found, other in zip(large.report.findings, small.report.findings, strict=True):
        assert found.code == other.code
        assert np.array(found.at) / times == pytest.approx(np.array(other.at), abs=6)
    areas = [sum(p.area_mm2 for p in result.report.pieces) for result in (large, small)]
    assert areas[0] == pytest.approx(areas[1], rel=0.01)


def test_a_good_photo_comes_without_warnings_and_a_poor_one_with(capsys: pytest.CaptureFixture[str]) -> None:
    assert seen(photo(), 1).report.photo.warnings == []
    report = seen(cv2.GaussianBlur(photo(), (0, 0), 6), 1).report
    assert any("blurred" in said for said in report.photo.warnings)
    commands.tell(report)
    assert report.photo.warnings[0] in capsys.readouterr().out.replace("\n", " ")

"""Corrections in a case: the report follows them, and nonsense is told in one sentence."""

import cv2
import numpy as np
import pytest
from fastapi.testclient import TestClient
from numpy.typing import NDArray
from pydantic import ValidationError

from api.errors import USER_ERRORS, sentence
from api.pipeline import Result, inspect_case
from api.schemas import Case

LAYOUT = """
    ............
    .aaaaaaaaaa.
    .aaaaaaaaaa.
    .....aa.....
    .....aa.....
    .aaaaaaaaaa.
    .aaaaaaaaaa.
    ............
"""
"""Two lumps with a bridge between them, 10 px a letter."""
BRIDGE_OUT = {"as": "table", "points": [[60, 30], [60, 50]], "width_mm": 9}


def labels() -> NDArray[np.uint8]:
    rows = [[int(letter == "a") for letter in line.strip()] for line in LAYOUT.strip().splitlines()]
    return np.kron(np.array(rows, np.uint8), np.ones((10, 10), np.uint8))


def case(**more: object) -> dict[str, object]:
    return {
        "schema": "doughsight-case/1",
        "labels": "labels.png",
        "palette": [{"name": "aqua", "role": "conductive"}, {"name": "wheat", "role": "insulating"}],
        "scale": {"mm_per_px": 0.4},
        "pack": {"plus": [20, 20], "minus": [20, 60]},
        "leds": [{"id": "L1", "long_leg": [90, 25], "short_leg": [90, 55]}],
        **more,
    }


def looked(**more: object) -> Result:
    _, png = cv2.imencode(".png", labels())
    return inspect_case(Case.model_validate(case(**more)), labels=png.tobytes())


def test_without_a_correction_the_bridge_is_a_short() -> None:
    assert looked().report.findings[0].code.startswith("short")


@pytest.mark.parametrize(
    "told",
    [
        {"strokes": [BRIDGE_OUT]},
        {"strokes": [{"as": "wheat", "points": [[45, 40], [75, 40]], "width_mm": 3}]},
        {"cuts": [{"points": [[45, 36], [75, 44]]}]},
    ],
)
def test_a_correction_takes_the_short_away(told: dict[str, object]) -> None:
    report = looked(**told).report
    assert not [f.code for f in report.findings if f.level != "watch"]
    assert report.entries["pack.plus"] != report.entries["pack.minus"]
    assert [led.state for led in report.leds] == ["bright"]


def test_a_join_makes_the_short_again() -> None:
    report = looked(strokes=[BRIDGE_OUT], joins=[{"points": [[30, 20], [30, 60]]}]).report
    assert report.entries["pack.plus"] == report.entries["pack.minus"]


def test_the_label_image_shows_the_strokes() -> None:
    shown = looked(strokes=[{"as": "wheat", "points": [[45, 40], [75, 40]], "width_mm": 3}]).labels
    assert shown[40, 60] == 2 and (shown == 2).sum() == pytest.approx(30 * 3 / 0.4, rel=0.35)


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"strokes": [{"as": "plum", "points": [[1, 1], [5, 5]]}]}, "plum"),
        ({"strokes": [{"as": "table", "points": [[1, 1]]}]}, "1 points"),
        ({"strokes": [{"as": "table", "points": [[1, 1], [900, 1]]}]}, "900"),
        ({"strokes": [{"as": "table", "points": [[1, 1], [9, 1]], "width_mm": 1e6}]}, "1e+06 mm"),
        ({"strokes": [{"as": "table", "points": [[1, 1], [9, 1]], "width_mm": -2}]}, "width_mm"),
        ({"strokes": [{"as": "table", "points": [[1, 1], [9, 1]], "colour": "red"}]}, "strokes.0.colour"),
        ({"strokes": [{"as": "table"}]}, "strokes.0.points"),
        ({"cuts": [{"points": [[1, 1], [9, 1]], "width_mm": 2}]}, "cuts.0.width_mm"),
        ({"cuts": [{"points": []}]}, "0 points"),
        ({"joins": [{"points": [[1, 1], [float("nan"), 1]]}]}, "joins.0.points"),
    ],
)
def test_nonsense_is_one_sentence(told: dict[str, object], says: str) -> None:
    try:
        looked(**told)
    except ValidationError as error:
        message = sentence(error)
    except USER_ERRORS as error:
        message = str(error)
    else:
        pytest.fail("it was taken")
    assert says in message and message.endswith(".") and "\n" not in message


def test_a_preview_and_an_inspection_take_corrections(
    client: TestClient, photo_id: str, case: dict[str, object]
) -> None:
    told = {"strokes": [BRIDGE_OUT], "cuts": [{"points": [[1, 1], [9, 9]]}], "joins": []}
    wish = {"photo": photo_id, "palette": [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}]}
    assert client.post("/preview", json={**wish, **told}).status_code == 200
    made = client.post("/inspections", json={**case, **told}).json()
    kept = client.get(f"/inspections/{made['id']}").json()["case"]
    assert kept["strokes"] == [BRIDGE_OUT] and kept["cuts"] == told["cuts"]


def test_a_corrected_case_keeps_its_corrections_on_disk() -> None:
    one = Case.model_validate(case(strokes=[BRIDGE_OUT]))
    assert Case.model_validate_json(one.model_dump_json(by_alias=True)) == one

"""Odd label rasters through the real door: a report, or one clear sentence, never anything else."""

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest

from api.errors import USER_ERRORS
from api.pipeline import inspect_case
from api.schemas import Case, Report

SIZE = (240, 320)
Labels = np.ndarray


def png(labels: Labels) -> bytes:
    return cv2.imencode(".png", labels.astype(np.uint8))[1].tobytes()


def two_slabs() -> Labels:
    labels = np.zeros(SIZE, np.uint8)
    labels[40:110, 20:300], labels[110:125, 20:300], labels[125:200, 20:300] = 1, 2, 1
    return labels


def dots(step: int, size: int) -> Labels:
    labels = np.zeros(SIZE, np.uint8)
    for r in range(0, SIZE[0] - size, step):
        for c in range(0, SIZE[1] - size, step):
            labels[r : r + size, c : c + size] = 1
    return labels


def case_of(leads: tuple[Any, Any], leds: list[tuple[Any, Any]], **more: Any) -> Case:
    return Case.model_validate(
        {
            "schema": "doughsight-case/1",
            "labels": "odd.png",
            "palette": [{"name": "salty", "role": "conductive"}, {"name": "sugary", "role": "insulating"}],
            "scale": {"mm_per_px": 0.3},
            "pack": {"plus": leads[0], "minus": leads[1]},
            "leds": [
                {"id": f"L{i}", "long_leg": a, "short_leg": b} for i, (a, b) in enumerate(leds, start=1)
            ],
            **more,
        }
    )


LEADS = ((30, 50), (30, 190))
LED = ((100, 90), (100, 150))
MANY = [((40 + 4 * i, 90), (40 + 4 * i, 150)) for i in range(60)]
ODD: dict[str, Callable[[], tuple[Labels, Case]]] = {
    "no dough at all": lambda: (np.zeros(SIZE), case_of(LEADS, [LED])),
    "nothing but dough": lambda: (np.ones(SIZE), case_of(LEADS, [LED])),
    "only sugary dough": lambda: (np.full(SIZE, 2), case_of(LEADS, [LED])),
    "lumps of one pixel": lambda: (dots(12, 1), case_of(((0, 0), (12, 12)), [((24, 24), (36, 36))])),
    "two hundred lumps": lambda: (dots(18, 12), case_of(((6, 6), (24, 6)), [((42, 6), (60, 6))])),
    "sixty LEDs": lambda: (two_slabs(), case_of(LEADS, MANY)),
    "entries on rims": lambda: (two_slabs(), case_of(((20, 40), (299, 199)), [((100, 109), (100, 125))])),
    "entries on the frame": lambda: (np.ones(SIZE), case_of(((0, 0), (319, 239)), [((319, 0), (0, 239))])),
    "one lead on the table": lambda: (two_slabs(), case_of(((30, 50), (5, 5)), [LED])),
    "both leads in sugary dough": lambda: (two_slabs(), case_of(((30, 117), (200, 117)), [LED])),
    "leads side by side": lambda: (two_slabs(), case_of(((30, 50), (31, 50)), [LED])),
    "everything hidden": lambda: (np.full(SIZE, 255), case_of(LEADS, [LED])),
    "speckles": lambda: (np.random.default_rng(1).integers(0, 3, SIZE), case_of(LEADS, [LED])),
}


@pytest.mark.parametrize("name", ODD)
def test_odd_rasters_give_a_report_or_a_sentence(name: str) -> None:
    labels, case = ODD[name]()
    try:
        report = inspect_case(case, labels=png(labels)).report
    except USER_ERRORS as error:
        said = str(error)
        assert said[:1].isupper() and said.endswith(".") and "\n" not in said
        return
    assert Report.model_validate_json(report.to_json()) == report
    assert [led.id for led in report.leds] == [led.id for led in case.leds]
    assert set(report.entries) >= {"pack.plus", "pack.minus"}


def test_a_pack_with_one_lead_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="minus"):
        Case.model_validate({**case_of(LEADS, [LED]).model_dump(by_alias=True), "pack": {"plus": (30, 50)}})


@pytest.mark.parametrize("field", ["plus", "minus"])
@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
def test_a_place_that_is_no_number_is_refused(field: str, wrong: float) -> None:
    with pytest.raises(ValueError, match=field):
        Case.model_validate(
            {
                **case_of(LEADS, [LED]).model_dump(by_alias=True),
                "pack": {"plus": (30, 50), "minus": (30, 190), field: (wrong, 5)},
            }
        )

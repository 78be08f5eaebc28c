"""A pair of colours too alike becomes a finding with words, without any LED part."""

import re
from dataclasses import replace

import numpy as np
import pytest

from api.pipeline import build_sculpture
from api.reporting import seen_report, with_findings
from api.schemas import Case, FindingOut
from circuit.inspection import inspect
from vision.model import Alike, Colour, Mark
from vision.scene import scene_from_labels
from vision.table_view import view_from_mm_per_px


def found(second: str, wired: bool = False) -> list[FindingOut]:
    labels = np.zeros((60, 100), np.uint8)
    labels[10:25, 10:90], labels[25:35, 10:90], labels[35:50, 10:90] = 1, 2, 1
    palette = (
        Colour("rose", "conductive", ()),
        Colour("coral", "insulating", ()),
        Colour("cloth", "table", ()),
    )
    ends = {"pack.plus": (15, 15), "pack.minus": (15, 45), "L1.long": (50, 20), "L1.short": (50, 40)}
    marks = [Mark(name, "lead" if "pack" in name else "leg", at) for name, at in ends.items()]
    scene = scene_from_labels(labels, palette, marks, view_from_mm_per_px(0.5))
    scene = replace(scene, alike=(Alike("rose", second, 1.234, (40.0, 20.0)),))
    case = Case.model_validate(
        {
            "schema": "doughsight-case/1",
            "labels": "labels.png",
            "palette": [{"name": colour.name, "role": colour.role} for colour in palette],
            "pack": {"plus": ends["pack.plus"], "minus": ends["pack.minus"]},
            "leds": [{"id": "L1", "long_leg": ends["L1.long"], "short_leg": ends["L1.short"]}],
        }
    )
    report = seen_report(case, scene)
    if wired:
        report = with_findings(report, inspect(build_sculpture(case, scene)), scene.view)
    return report.findings


@pytest.mark.parametrize("wired", [False, True])
def test_two_doughs(wired: bool) -> None:
    (finding,) = found("coral", wired)
    assert (finding.code, finding.level, finding.parts) == ("colours-too-alike", "watch", [])
    assert finding.at == (40.0, 20.0) and finding.delta_e == 1.2
    assert finding.colours == ["rose", "coral"]
    assert finding.why == "Rose and coral look alike here."
    assert finding.do.startswith("Knead more colour into one of them") and "daylight" in finding.do
    assert finding.ask.endswith("?")


def test_a_dough_and_the_table() -> None:
    (finding,) = found("cloth")
    assert finding.why == "Rose and the table look alike here."
    assert finding.colours == ["rose", "cloth"]
    assert finding.do.startswith("Put a sheet of another colour under the dough")


def test_the_words_name_no_led_and_have_no_open_slot() -> None:
    for second in ("coral", "cloth"):
        (finding,) = found(second)
        for text in (finding.why, finding.ask, finding.look, finding.do):
            assert not re.search(r"[{}]|\bL\d|\bLED\b|  ", text)

"""The words in a report: for the age of the case, the other ages beside them, and the cautions."""

from dataclasses import astuple, replace

import numpy as np
import pytest

from api import words
from api.check_words import check_words
from api.reporting import seen_report, with_findings
from api.schemas import Case
from api.wording.sentences import Age
from circuit.model import Check, Enquiry, Finding, Inspection, Remedy, Step
from vision.model import Alike, Colour
from vision.scene import scene_from_labels
from vision.table_view import view_from_mm_per_px

BACKWARDS = Finding("led-backwards", "fix", ("L2",), (0.0, 0.0), facts={"volts_V": -3.8, "led_A": 0.0})


def test_a_block_has_its_own_caution() -> None:
    assert words.cautions(None) == words.cautions("cells") == words.CAUTIONS
    assert words.cautions("block")[:-1] == words.CAUTIONS
    assert "short" in words.cautions("block")[-1] and "safe current" in words.cautions("block")[-1]


@pytest.mark.parametrize("age", words.AGES)
def test_a_report_speaks_to_the_age_of_the_case_and_holds_the_others(age: Age) -> None:
    labels = np.zeros((40, 60), np.uint8)
    labels[10:20, 5:55], labels[20:30, 5:55] = 1, 2
    colours = (Colour("rose", "conductive", ()), Colour("coral", "insulating", ()))
    scene = scene_from_labels(labels, colours, [], view_from_mm_per_px(0.5))
    scene = replace(scene, alike=(Alike("rose", "coral", 1.2, (30.0, 20.0)),))
    case = Case.model_validate(
        {
            "schema": "doughsight-case/1",
            "labels": "labels.png",
            "palette": [{"name": c.name, "role": c.role} for c in colours],
            "pack": {"plus": [10, 15], "minus": [50, 15], "kind": "block"},
            "age": age,
        }
    )
    report = seen_report(case, scene)
    assert report.cautions == list(words.cautions("block"))
    found = Inspection(
        lumps=(),
        entries={},
        leds=(),
        pack_A=0.0,
        terminal_V=9.0,
        findings=(BACKWARDS,),
        remedies=(Remedy((Step("turn", ("L2",), (0.0, 0.0)),), 9.0, {}, {}, 0.0),),
        enquiry=Enquiry((), Check("swap-led", ("L2",), (0.0, 0.0), 20.0, ("lights", "same", "unsure"))),
    )
    report = with_findings(report, found, scene.view, (), case.age)
    for out in report.findings:
        assert {age, *out.ages} == set(words.AGES) and age not in out.ages
    said = words.finding_words(BACKWARDS, age)
    assert (report.findings[0].why, report.findings[0].do) == (said.why, said.do)
    for other, told in report.findings[0].ages.items():
        wanted = words.finding_words(BACKWARDS, other)
        assert (told.why, told.ask, told.look, told.do) == astuple(wanted)
    assert report.remedies[0].do == words.step_words(found.remedies[0].steps[0], age)
    assert report.next_check is not None
    said_next = check_words("swap-led", ("L2",), age)
    assert (report.next_check.why, report.next_check.do) == (said_next.why, said_next.do)

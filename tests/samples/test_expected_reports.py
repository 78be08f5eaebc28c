"""Every sample: the truth's fault is found where it is, and the report is the one expected.

`python -m sample_images.studio.expect` writes the expected reports anew.
"""

import json
import math

import cv2
import pytest

from api.pipeline import Result, inspect_case
from api.schemas import Case, Report
from sample_images import names, sample_path


@pytest.fixture(scope="module", params=names())
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def result(name: str) -> Result:
    """All tests of a sample stand together, so that it is inspected but once, whichever process has them."""
    case = Case.model_validate_json(sample_path(f"{name}.case.json").read_text())
    return inspect_case(case, sample_path(str(case.photo)).read_bytes())


def same_groups(found: dict[str, str | None], true: dict[str, str | None]) -> bool:
    def groups(of: dict[str, str | None]) -> set[frozenset[str]]:
        return {frozenset(k for k in of if of[k] == lump) for lump in set(of.values()) - {None}}

    return groups(found) == groups(true)


def test_the_fault_is_found_where_it_is(name: str, result: Result) -> None:
    truth = json.loads(sample_path(f"{name}.truth.json").read_text())
    report = result.report
    assert same_groups(report.entries, {k: v["lump"] for k, v in truth["entries"].items()})
    if truth["fault"] is None:
        assert not [f.code for f in report.findings if f.level != "watch"]
        assert all(led.state != "off" for led in report.leds)
        return
    found = [f for f in report.findings if f.code == truth["fault"]]
    assert found, [f.code for f in report.findings]
    near = min(math.dist(f.at, truth["at"]) for f in found) * report.photo.mm_per_px
    assert near < 15 or {p.split(".")[0] for p in found[0].parts} == set(truth["parts"])
    if found[0].level == "watch":
        assert [f.level for f in report.findings] == ["watch"]
    else:
        assert "off" not in report.remedies[0].then.values()


def test_the_report_is_the_expected_one(name: str, result: Result) -> None:
    report = result.report
    expected = Report.model_validate_json(sample_path(f"{name}.report.json").read_text())
    assert [(f.code, f.parts) for f in report.findings] == [(f.code, f.parts) for f in expected.findings]
    assert report.entries == expected.entries
    for led, other in zip(report.leds, expected.leds, strict=True):
        assert led.state == other.state
        assert led.current_mA == pytest.approx(other.current_mA, rel=0.05, abs=0.05)
    first, other_first = report.remedies[:1], expected.remedies[:1]
    assert [[s.action for s in r.steps] for r in first] == [[s.action for s in r.steps] for r in other_first]
    assert [r.then for r in first] == [r.then for r in other_first]


def test_the_labels_agree_with_the_truth(name: str, result: Result) -> None:
    """Mean intersection over union of the dough colours, LEDs and leads left out."""
    true = cv2.imread(str(sample_path(f"{name}.labels.png")), cv2.IMREAD_UNCHANGED)
    assert true is not None
    found, seen = result.labels, true != 255
    doughs = [i for i in range(1, 255) if (true == i).any()]
    shares = [
        ((found == i) & (true == i)).sum() / (((found == i) | (true == i)) & seen).sum() for i in doughs
    ]
    assert sum(shares) / len(shares) > 0.85

"""Many legs that move into a small place."""

import xml.etree.ElementTree as ET

import sample_images
from api.overlay import overlay_svg
from api.schemas import Case, Report

SMALL = "scale(0.55)"


def of_kind(root: ET.Element, kind: str) -> list[ET.Element]:
    return [mark for mark in root.iter() if kind in mark.get("class", "").split()]


def test_legs_that_land_close_to_each_other_are_numbered_where_they_are_now() -> None:
    told = [
        sample_images.sample_path(f"caterpillar.{kind}.json").read_text("utf-8")
        for kind in ("report", "case")
    ]
    report, case = Report.model_validate_json(told[0]), Case.model_validate_json(told[1])
    scale = report.photo.width / 400
    root = ET.fromstring(overlay_svg(report, case, layers=("answer",), remedy=1, px_per_mark=scale))
    moves = [step for step in report.remedies[0].steps if step.action == "move"]
    ghosts, discs = of_kind(root, "ghost"), of_kind(root, "step-number")
    assert len(ghosts) == len(moves) == 5
    assert sum(SMALL in (ghost[0].get("transform") or "") for ghost in ghosts) == 4
    assert [(float(d.get("data-x", 0)), float(d.get("data-y", 0))) for d in discs] == [m.at for m in moves]
    roomy = overlay_svg(report, case, layers=("answer",), remedy=1, px_per_mark=scale / 6)
    assert SMALL not in roomy

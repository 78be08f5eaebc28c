"""Wires, switches and other parts, the 9 V block and heights by shape: from a case to report and picture."""

import xml.etree.ElementTree as ET
from typing import Any

import cv2
import numpy as np
import pytest
from pydantic import ValidationError

from api.drawing import marked_up_png, overlay_svg
from api.errors import sentence
from api.pipeline import Result, build_sculpture, inspect_case
from api.reporting import with_findings
from api.schemas import Case, Report
from circuit.model import Arrangement, Inspection, LedResult, PartResult, Sculpture, Trace
from vision.model import TableView

SVG = "{http://www.w3.org/2000/svg}"
HEIGHT, WIDTH = 120, 200
MM_PER_PX = 0.5


def raster() -> np.ndarray:
    """Two salty lumps, a sugary wall between, and a third lump on its own below."""
    labels = np.zeros((HEIGHT, WIDTH), np.uint8)
    labels[10:40, 10:190] = 1
    labels[40:50, 10:190] = 2
    labels[50:110, 10:120] = 1
    labels[50:110, 130:190] = 1
    return labels


def png(labels: np.ndarray) -> bytes:
    done, data = cv2.imencode(".png", labels)
    assert done
    return data.tobytes()


def told(**changes: Any) -> dict[str, Any]:
    plain = {
        "schema": "doughsight-case/1",
        "labels": "owl.labels.png",
        "palette": [{"name": "teal", "role": "conductive"}, {"name": "amber", "role": "insulating"}],
        "scale": {"mm_per_px": MM_PER_PX},
        "pack": {"plus": [20, 20], "minus": [20, 100]},
        "leds": [{"id": "L1", "long_leg": [160, 30], "short_leg": [160, 60]}],
        "parts": [part("W1", "wire")],
    }
    return {**plain, **changes}


def part(name: str, kind: str, **more: Any) -> dict[str, Any]:
    """A part from the lump of the black lead to the one on its own."""
    return {"id": name, "kind": kind, "a": [110, 90], "b": [140, 90], **more}


def look(**changes: Any) -> Result:
    return inspect_case(Case.model_validate(told(**changes)), labels=png(raster()))


def sculpture_of(**changes: Any) -> Sculpture:
    case = Case.model_validate(told(**changes))
    return build_sculpture(case, inspect_case(case, labels=png(raster())).scene)


def refused(**changes: Any) -> str:
    with pytest.raises(ValidationError) as caught:
        Case.model_validate(told(**changes))
    text = sentence(caught.value)
    assert text[0].isupper()
    assert text.endswith(".")
    assert len(text) < 200
    return text


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([part("W1", "wire", colour="red")], "parts.0.colour"),
        ([part("W1", "lamp")], "parts.0.kind"),
        ([part("W 1", "wire")], "parts.0.id"),
        ([part("pack", "wire")], "pack"),
        ([part("L1", "wire")], "Two LEDs or parts are named L1"),
        ([part("W1", "wire"), part("W1", "motor")], "Two parts are named W1"),
        ([part("W1", "wire", b=[110, 90])], "wire W1 has both ends at [110"),
        ([part("W1", "wire", closed=False)], "closed, which only a switch has"),
        ([part("S1", "switch", works_mA=3)], "works_mA, which only a buzzer or a motor has"),
        ([part("R1", "resistor", ohm=-1)], "parts.0.ohm"),
        ([part("R1", "resistor", ohm=float("nan"))], "parts.0.ohm"),
        ([part("B1", "buzzer", works_mA=0)], "parts.0.works_mA"),
        ([part("B1", "buzzer", a=[1, float("inf")])], "parts.0.a.1"),
        ([part(f"W{i}", "wire") for i in range(31)], "parts"),
    ],
)
def test_parts_that_cannot_be(parts: list[dict[str, Any]], words: str) -> None:
    assert words in refused(parts=parts)


def test_parts_need_a_pack() -> None:
    assert "parts but no pack" in refused(pack=None, leds=[])


@pytest.mark.parametrize("height", [0, -3, "tall", True, [1], float("nan"), float("inf"), {}])
def test_heights_that_cannot_be(height: object) -> None:
    assert "thickness_mm" in refused(thickness_mm=height)
    assert "thickness_mm" in refused(materials={"teal": {"thickness_mm": height}})


def test_a_block_has_six_cells() -> None:
    block = {"plus": [20, 20], "minus": [20, 100], "kind": "block"}
    assert "6 cells" in refused(pack={**block, "cells": 4})
    assert "pack.kind" in refused(pack={**block, "kind": "solar"})
    case = Case.model_validate(told(pack=block))
    assert Case.model_validate_json(case.model_dump_json(by_alias=True)) == case
    pack = sculpture_of(pack=block).pack
    assert (pack.kind, pack.cells, pack.emf_V) == ("block", 6, pytest.approx(9.0))
    # A 9 V block is worth several ohms when six large cells are worth less than two: small cells.
    assert pack.internal_ohm > 1.0
    assert sculpture_of(pack={**block, "emf_V": 8.1}).pack.emf_V == pytest.approx(8.1)


def test_a_part_becomes_a_part_of_the_sculpture() -> None:
    parts = [
        part("S1", "switch", closed=False),
        part("R1", "resistor", ohm=330),
        part("B1", "buzzer", works_mA=4),
        part("W1", "wire"),
    ]
    got = {p.id: p for p in sculpture_of(parts=parts).parts}
    assert [p.closed for p in got.values()] == [False, True, True, True]
    assert got["R1"].ohm == 330
    assert got["B1"].works_A == pytest.approx(4e-3)
    assert got["B1"].one_way and not got["R1"].one_way
    assert 0 <= got["W1"].ohm < 1


def test_the_ends_go_into_the_lumps_that_they_are_tapped_on() -> None:
    found = look().report.entries
    assert found["W1.a"] == found["pack.minus"]
    assert found["W1.b"] == found["L1.short"]
    assert found["W1.a"] != found["W1.b"]


def test_walls_come_along_in_mm() -> None:
    walls = sculpture_of().walls
    assert walls
    assert all(wall.thinnest_mm == pytest.approx(10 * MM_PER_PX, abs=0.6) for wall in walls)
    for wall in walls:
        assert 40 * MM_PER_PX - 5 < wall.at[1] + 10 * MM_PER_PX < 50 * MM_PER_PX + 5


def test_heights_are_estimated_only_where_asked_for() -> None:
    pytest.importorskip("circuit.thickness", reason="heights by shape are not written yet")
    assert sculpture_of(thickness_mm=12).height_mm is None
    one = sculpture_of(thickness_mm=12, materials={"teal": {"thickness_mm": "shape"}})
    assert one.height_mm is not None
    teal = np.isin(one.grid, [p for p, i in one.dough_of.items() if one.doughs[i].name == "teal"])
    assert np.isnan(one.height_mm[~teal]).all()
    assert (one.height_mm[teal] > 0).all()
    assert one.doughs[1].thickness_mm == 12
    both = sculpture_of(thickness_mm="shape").height_mm
    assert both is not None
    assert np.isfinite(both[one.grid > 0]).all()
    rest = sculpture_of(thickness_mm="shape", materials={"amber": {"thickness_mm": 9}})
    assert rest.height_mm is not None
    assert np.isnan(rest.height_mm[~teal]).all()
    assert rest.doughs[1].thickness_mm == 9


def test_the_report_tells_what_the_sums_say() -> None:
    led = LedResult("L1", 0.0123456, "bright", volts_V=2.00049, power_W=0.0246987, glow=1.7)
    found = Inspection(
        lumps=(),
        entries={"W1.a": "A"},
        leds=(led,),
        pack_A=0.02,
        terminal_V=5.9,
        findings=(),
        remedies=(),
        parts=(PartResult("W1", -0.0031, -0.00031, True),),
        entry_V={"L1.long": 4.12345, "pack.minus": -0.0},
        hours=123.4,
        traces=(Trace("L1.long", "pack.plus", ("pack.plus",), ("A",), ((1.0, 2.0), (3.0, 4.0)), ()),),
        arrangements=(Arrangement("in-a-row", (led,), 0.001),),
    )
    view, case = TableView(0.5, (10.0, 0.0), True), Case.model_validate(told())
    report = with_findings(look().report, found, view, case.parts)
    assert (report.leds[0].volts_V, report.leds[0].power_mW, report.leds[0].glow) == (2.0, 24.699, 1.0)
    (one,) = report.parts
    assert (one.kind, one.current_mA, one.volts_V, one.works) == ("wire", -3.1, 0.0, True)
    assert report.entries_V == {"L1.long": 4.123, "pack.minus": 0.0}
    assert report.pack is not None and report.pack.hours_until_flat == 123
    (trace,) = report.traces
    assert trace.path == [(12.0, 4.0), (16.0, 8.0)]
    assert (trace.leg, trace.wanted, trace.reaches, trace.lumps) == (
        "L1.long", "pack.plus", ["pack.plus"], ["A"],
    )  # fmt: skip
    (row,) = report.arrangements
    assert (row.way, row.pack_mA, row.leds[0].current_mA) == ("in-a-row", 1.0, 12.346)
    assert Report.model_validate_json(report.to_json()) == report


def test_a_report_of_before_is_still_read() -> None:
    """Kept reports have none of the newer fields."""
    new = ("entries_V", "parts", "traces", "arrangements")
    old = look().report.model_dump(by_alias=True, exclude=set(new))
    for led in old["leds"]:
        for name in ("volts_V", "power_mW", "glow"):
            del led[name]
    del old["pack"]["hours_until_flat"]
    report = Report.model_validate(old)
    assert (report.parts, report.traces, report.leds[0].volts_V) == ([], [], None)


KINDS = [
    (part("X1", "wire"), None),
    (part("X1", "switch"), "switch-closed"),
    (part("X1", "switch", closed=False), "switch-open"),
    (part("X1", "resistor"), "resistor"),
    (part("X1", "buzzer"), "buzzer"),
    (part("X1", "motor"), "motor"),
]


def marks(root: ET.Element, kind: str) -> list[ET.Element]:
    return [g for g in root.iter(f"{SVG}g") if kind in (g.get("class") or "").split()]


@pytest.mark.parametrize(("entry", "sign"), KINDS)
def test_every_kind_has_its_own_mark(entry: dict[str, Any], sign: str | None) -> None:
    result = look(parts=[entry])
    root = ET.fromstring(overlay_svg(result.report, result.case, px_per_mark=0.5))
    used = {(use.get("href") or "").removeprefix("#mark-") for use in root.iter(f"{SVG}use")}
    assert {"end-a", "end-b"} <= used
    assert used & {s for _, s in KINDS if s} == ({sign} if sign else set())
    defined = {g.get("id") for g in root.iter(f"{SVG}g")}
    assert {f"mark-{name}" for name in used} <= defined
    (a,), (b,) = marks(root, "end-a"), marks(root, "end-b")
    assert (a.get("data-x"), a.get("data-y"), b.get("data-x")) == ("110", "90", "140")
    assert not marks(root, "missed")
    assert [m.get("data-x") for m in marks(root, "part")] == (["125"] if sign else [])


def test_parts_are_shown_where_they_matter() -> None:
    result = look(parts=[part("W1", "wire", b=[196, 116])])
    assert result.report.entries["W1.b"] is None
    report = result.report

    def shown(**how: Any) -> ET.Element:
        return ET.fromstring(overlay_svg(report, result.case, px_per_mark=0.5, **how))

    where = next(i for i, f in enumerate(report.findings) if "W1.b" in f.parts)
    assert len(marks(shown(layers=("answer",), finding=where), "end-b")) == 1
    assert len(marks(shown(layers=("answer",), finding=where), "missed")) == 1
    assert not marks(shown(layers=("leads",), finding=None), "end-b")
    assert not marks(shown(layers=("answer",), finding=None), "end-b")
    assert len(marks(shown(layers=("legs",), finding=None), "end-b")) == 1


def test_the_picture_shows_the_wire() -> None:
    parts = [part("W1", "wire", a=[30, 15], b=[180, 15])]
    with_it, without = look(parts=parts), look(parts=[])
    pictures = [
        cv2.imdecode(np.frombuffer(marked_up_png(r.pixels, r.report, r.case, finding=None), np.uint8), 1)
        for r in (with_it, without)
    ]
    tops = [p[: p.shape[1] // 4] for p in pictures if p is not None]
    rows = min(len(top) for top in tops)
    assert (np.abs(tops[0][:rows].astype(int) - tops[1][:rows]).max(axis=2) > 100).sum() > 2000

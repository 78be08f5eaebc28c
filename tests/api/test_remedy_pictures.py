"""Remedies drawn now and afterwards, from report and case alone; hints that keep back what they should."""

import io
import json
import math
import re
import sys
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from fastapi.testclient import TestClient

from api import commands, remedy_picture
from api.afterwards import afterwards
from api.drawing import PICTURE_LAYERS, marked_up_png
from api.hatch import kinds
from api.language.page_words import page_words
from api.marks import SYMBOLS
from api.overlay import overlay_svg
from api.remedy_picture import about_time, after_words, remedy_png, unplug_bar
from api.schemas import Case, RemedyOut, Report
from api.strip import headline

SVG = "{http://www.w3.org/2000/svg}"
Spots = list[tuple[float, float]]


def box(left: float, top: float, right: float, bottom: float) -> Spots:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


# Two arms of one lump that meet at the left; a strip of wall between them; a lump apart at the right.
BAR = [(80, 80), (460, 80), (460, 240), (160, 240), (160, 280), (460, 280), (460, 440), (80, 440)]
CUT = ((80.0, 260.0), (160.0, 260.0))


def case_with(**changes: Any) -> Case:
    told = {
        "schema": "doughsight-case/1",
        "labels": "owl.labels.png",
        "palette": [{"name": "rose", "role": "conductive"}, {"name": "sky", "role": "insulating"}],
        "pack": {"plus": (120, 120), "minus": (120, 400)},
        "leds": [
            {"id": "L1", "long_leg": (260, 200), "short_leg": (260, 320)},
            {"id": "L2", "long_leg": (400, 320), "short_leg": (400, 200), "seen": "off"},
        ],
        "parts": [
            {"id": "W1", "kind": "wire", "a": (200, 100), "b": (200, 420)},
            {"id": "S1", "kind": "switch", "a": (430, 100), "b": (540, 100), "closed": False},
        ],
    }
    return Case.model_validate(told | changes)


def step(action: str, parts: tuple[str, ...] = (), **told: Any) -> dict[str, Any]:
    plain = {"at": (260, 260), "to": None, "to_at": None, "line": None, "do": f"Do {action} here."}
    return {"action": action, "parts": parts, **plain, **told}


CUTS = step("cut", line=CUT, at=(120, 260))
TURN = step("turn", ("L2",), at=(400, 260))
MOVE = step("move", ("L1.short",), at=(260, 320), to="A", to_at=(320, 340))


def report_with(*plans: list[dict[str, Any]], **changes: Any) -> Report:
    finding = {
        "code": "short-round-the-end",
        "level": "stop",
        "parts": ["pack"],
        "at": (120, 260),
        "path": [(120, 120), (110, 260), (120, 400)],
        "cut": CUT,
        "cut_mm": 8.0,
        "why": "Rose dough goes round the wall.",
        "ask": "Can you walk from lead to lead?",
        "look": "Look where the wall stops, close to L1.",
        "do": "Cut here, 8 mm long.",
    }
    pieces = [
        {"id": 1, "colour": "rose", "role": "conductive", "area_mm2": 900, "outline": BAR},
        {"id": 2, "colour": "sky", "role": "insulating", "area_mm2": 90, "outline": box(160, 240, 460, 280)},
        {"id": 3, "colour": "rose", "role": "conductive", "area_mm2": 90, "outline": box(480, 80, 580, 440)},
    ]
    entries = dict.fromkeys(("pack.plus", "pack.minus", "L1.long", "L1.short", "L2.long", "L2.short"), "A")
    told = {
        "photo": {"width": 640, "height": 520, "mm_per_px": 0.1, "true_scale": True, "labels": "l.png"},
        "pieces": pieces,
        "contacts": [],
        "lumps": [{"id": "A", "pieces": [1]}, {"id": "B", "pieces": [3]}],
        "entries": entries | {"W1.a": "A", "W1.b": "A", "S1.a": "A", "S1.b": "B"},
        "leds": [
            {"id": "L1", "current_mA": 1.0, "state": "dim"},
            {"id": "L2", "current_mA": 0.0, "state": "off"},
        ],
        "findings": [finding],
        "remedies": [
            {
                "rank": i,
                "seconds": 20,
                "then": {"L1": "bright", "L2": "off"},
                "then_mA": {"L1": 12.3, "L2": 0.0},
                "do": " ".join(one["do"] for one in steps),
                "steps": steps,
            }
            for i, steps in enumerate(plans, 1)
        ],
    }
    return Report.model_validate(told | changes)


def drawn(report: Report, case: Case | None = None, **how: Any) -> ET.Element:
    wishes = {"layers": PICTURE_LAYERS, "px_per_mark": 1.0, "remedy": 1} | how
    return ET.fromstring(overlay_svg(report, case or case_with(), **wishes))


def marks(root: ET.Element, kind: str) -> list[ET.Element]:
    return [g for g in root.iter(f"{SVG}g") if kind in (g.get("class") or "").split()]


def at(g: ET.Element) -> tuple[float, float]:
    return float(g.get("data-x") or "nan"), float(g.get("data-y") or "nan")


def symbols(root: ET.Element) -> Iterator[str]:
    return ((use.get("href") or "").removeprefix("#mark-") for use in root.iter(f"{SVG}use"))


def places(root: ET.Element, symbol: str) -> list[tuple[float, float]]:
    """Where marks with this symbol stand."""
    return sorted(at(g) for g in marks(root, "mark") if symbol in set(symbols(g)))


NOW_AND_THEN = [
    # step, symbol and places now, symbol and places afterwards
    (CUTS, "cut-end", sorted(CUT), None, []),
    (TURN, "turn", [(400.0, 260.0)], "leg-long", [(400.0, 200.0)]),
    (MOVE, "leg-short-ghost", [(320.0, 340.0)], "old-place", [(260.0, 320.0)]),
    (
        step("move", ("pack.minus",), at=(120, 400), to="B", to_at=(520, 300)),
        "lead-minus-ghost",
        [(520.0, 300.0)],
        "lead-minus",
        [(520.0, 300.0)],
    ),
    (step("swap-leads", ("pack",)), "lead-plus", [(120.0, 120.0)], "lead-plus", [(120.0, 400.0)]),
    (step("join", at=(470, 150)), "join", [(470.0, 150.0)], "joined", [(470.0, 150.0)]),
    (
        step("press-in", ("pack",)),
        "press",
        [(120.0, 120.0), (120.0, 400.0)],
        "lead-minus",
        [(120.0, 400.0)],
    ),
    (step("press-in", ("L1.long",)), "press", [(260.0, 200.0)], "leg-long", [(260.0, 200.0)]),
    (step("thicken-wall", at=(300, 242)), "thicker", [(300.0, 242.0)], "thick", [(300.0, 242.0)]),
    (step("take-out", ("W1",)), "pull", [(200.0, 420.0)], "old-place", [(200.0, 420.0)]),
    (step("close", ("S1",)), "push", [(485.0, 100.0)], "switch-closed", [(485.0, 100.0)]),
    (step("swap-led", ("L1",)), "try", [(260.0, 260.0)], "leg-long", [(260.0, 200.0)]),
]


@pytest.mark.parametrize(("told", "now", "there", "then", "thence"), NOW_AND_THEN)
def test_each_action_has_a_mark_now_and_one_afterwards(
    told: dict[str, Any], now: str, there: Spots, then: str | None, thence: Spots
) -> None:
    report = report_with([told])
    # Only what the plan is about is drawn of legs.
    before = drawn(report, layers=("answer", "lumps"), when="now")
    after = drawn(report, layers=("answer", "lumps"), when="then")
    assert places(before, now) == there
    if then is not None:
        assert places(after, then) == thence
    for root in (before, after):
        known = {g.get("id") for g in root.iter(f"{SVG}g")}
        assert {f"mark-{name}" for name in symbols(root)} <= known
        assert all("style" not in node.attrib for node in root.iter())
    for gone in {"cut-end", "join", "press", "push", "pull", "thicker", "try", "turn"} | {
        name for name in SYMBOLS if name.endswith("-ghost")
    }:
        assert not places(after, gone)


def test_a_cut_stands_open_and_parts_the_lump_in_two() -> None:
    report = report_with([CUTS])
    now, then = drawn(report), drawn(report, when="then")
    assert marks(now, "walk") and marks(now, "cut") and not marks(now, "opened")
    assert marks(then, "opened") and not marks(then, "walk") and not marks(then, "cut")
    assert [g.get("class") for g in marks(now, "lump")] == ["lump both", "lump none"]
    assert sorted(g.get("class") or "" for g in marks(then, "lump")) == [
        "lump minus",
        "lump none",
        "lump plus",
    ]
    done = afterwards(report, case_with(), report.remedies[0])
    assert {name: done.report.entries[name] for name in ("pack.plus", "L1.long", "L2.short")} == {
        "pack.plus": "A",
        "L1.long": "A",
        "L2.short": "A",
    }
    assert done.report.entries["pack.minus"] == done.report.entries["L2.long"] == "C"
    # Each half holds about half of the dough: 380 x 160 px, and 80 px of the neck.
    for lump in ("A", "C"):
        [piece] = [
            p for p in done.report.pieces if p.id in next(x.pieces for x in done.report.lumps if x.id == lump)
        ]
        area = cv2.contourArea(np.array(piece.outline, np.float32))
        assert area == pytest.approx(380 * 160 + 80 * 20, rel=0.05)


def test_a_cut_that_parts_nothing_leaves_the_lump_and_claims_no_side() -> None:
    short = step("cut", line=((80.0, 260.0), (110.0, 260.0)), at=(95, 260))
    report = report_with([short])
    then = drawn(report, when="then")
    assert [g.get("class") for g in marks(then, "lump")] == ["lump both", "lump none"]
    assert not [g for g in marks(then, "badge") if "both" in (g.get("class") or "")]


def test_a_filled_gap_makes_one_lump_of_two() -> None:
    report = report_with([step("join", at=(470, 150))])
    done = afterwards(report, case_with(), report.remedies[0]).report
    assert [(lump.id, lump.pieces) for lump in done.lumps] == [("A", [1, 3])]
    assert set(done.entries.values()) == {"A"}
    assert kinds(done) == {"A": "both"}


def test_legs_and_lumps_change_places_with_a_turn() -> None:
    entries = dict(report_with().entries) | {"L2.long": "B"}
    report = report_with([TURN], entries=entries)
    done = afterwards(report, case_with(), report.remedies[0])
    led = done.case.leds[1]
    assert (led.long_leg, led.short_leg) == ((400, 200), (400, 320))
    assert (done.report.entries["L2.long"], done.report.entries["L2.short"]) == ("A", "B")
    assert not done.left


def test_what_was_pressed_in_is_whole_again() -> None:
    entries = dict(report_with().entries) | {"L1.long": None}
    report = report_with([step("press-in", ("L1",), at=(260, 260))], entries=entries)
    assert len(marks(drawn(report), "missed")) == 1
    assert not marks(drawn(report, when="then"), "missed")


def test_several_steps_are_numbered_where_they_are_done() -> None:
    report = report_with([CUTS, TURN, MOVE], [TURN])
    numbers = marks(drawn(report), "step-number")
    assert ["".join(g.itertext()) for g in numbers] == ["1", "2", "3"]
    assert [at(g) for g in numbers] == [(120, 260), (400, 260), (320, 340)]
    for i, one in enumerate(numbers):
        disc = next(g for g in one if g.tag == f"{SVG}g").get("transform") or ""
        off = [float(v) for v in disc.removeprefix("translate(").rstrip(")").split()]
        assert 20 < math.hypot(*off) < 110, i
    assert not marks(drawn(report, remedy=2), "step-number")
    assert not marks(drawn(report, when="then"), "step-number")


def test_lights_are_as_they_will_be_and_those_that_change_are_lit() -> None:
    report = report_with([CUTS])
    layers = PICTURE_LAYERS | {"numbers"}
    lights = {
        "".join(g.itertext()): (next(symbols(g)), "lit" in (g.get("class") or "").split())
        for when in ("now", "then")
        for g in marks(drawn(report, layers=layers, when=when), "light")
    }
    assert lights == {
        "L1 1.0 mA": ("led-dim", False),
        "L2 0.0 mA": ("led-off", False),
        "L1 12.3 mA": ("led-bright", True),
    }
    [lit] = marks(drawn(report, layers=("answer",), when="then"), "light")
    assert at(lit) == (260, 260)  # over its LED, because the photo shows the old light
    assert not marks(drawn(report, layers=("answer",), when="then"), "leader")


def test_another_plan_draws_its_own_steps_only() -> None:
    report = report_with([CUTS], [TURN])
    second = drawn(report, remedy=2)
    assert not marks(second, "cut") and marks(second, "walk") and places(second, "turn")
    assert marks(drawn(report, remedy=9), "cut")  # no such plan: as if none had been asked for


# ---------------------------------------------------------------- the picture


def picture(report: Report, case: Case | None = None, rank: int = 1) -> np.ndarray:
    photo = np.full((520, 640, 3), 150, np.uint8)
    png = cv2.imdecode(
        np.frombuffer(remedy_png(photo, report, case or case_with(), rank), np.uint8), cv2.IMREAD_COLOR
    )
    assert png is not None
    return png


def test_the_two_stand_side_by_side_or_above_each_other_with_the_same_frame() -> None:
    png = picture(report_with([CUTS]))
    assert 900 < max(png.shape[:2]) <= 2002
    # The alarm bar, #A2152E, comes before everything; cv2 gives BGR.
    assert np.abs(png[4, png.shape[1] // 2].astype(int) - (0x2E, 0x15, 0xA2)).max() <= 1
    flat = [
        piece.model_copy(update={"outline": [(x, 200 + y / 8) for x, y in piece.outline]})
        for piece in report_with().pieces
    ]
    wide = case_with(pack={"plus": (120, 215), "minus": (120, 250)}, leds=[], parts=[])
    above = picture(report_with([step("swap-leads", ("pack",))], pieces=flat, leds=[]), wide)
    assert above.shape[0] > above.shape[1]


def test_what_is_hot_or_live_asks_to_unplug_first() -> None:
    hot, cold = report_with([TURN]), report_with([TURN], [CUTS], [step("swap-leads")], findings=[])
    assert "Stop. Unplug the pack first." in unplug_bar(hot, hot.remedies[0], 500).svg
    bars = [unplug_bar(cold, one, 500) for one in cold.remedies]
    assert [bool(bar.height) for bar in bars] == [False, True, True]
    assert "Unplug the pack first." in bars[1].svg and "Stop" not in bars[1].svg


def test_words_below_tell_steps_lights_and_time_in_letters_that_can_be_read() -> None:
    report = report_with([CUTS, TURN])
    overlays = "".join(
        overlay_svg(report, case_with(), layers=remedy_picture.LAYERS, remedy=1, when=when, px_per_mark=1)
        for when in ("now", "then")
    )
    block = remedy_picture.told(report, case_with(), report.remedies[0], overlays, 740)
    said = re.sub(r"<[^>]+>", "|", block.svg)
    for words in (
        "Do cut here.",
        "Do turn here.",
        "About 20",
        "will be bright, 1.0 to 12.3",
        "stays off, 0.0",
    ):
        assert words in said, words
    for words in ("cut here", "cut: it stands open", "turn it round", "joined to -"):
        assert f"|{words}|" in said, words
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', block.svg + overlays)]
    assert min(sizes) >= 14


def test_the_youngest_are_told_no_numbers() -> None:
    case, report = case_with(age="6-8"), report_with([CUTS])
    block = remedy_picture.told(report, case, report.remedies[0], "", 740)
    said = re.sub(r"<[^>]+>", "|", block.svg)
    assert "will be bright" in said
    assert not re.search(r"\d", said.replace("L1", "").replace("L2", ""))
    [label] = marks(drawn(report, case), "thread-label")
    assert "".join(label.itertext()) == "cut here"


def test_the_thread_tells_the_length_that_the_sentence_tells() -> None:
    rounded = {**CUTS, "do": "Cut here, 3\u00a0mm long."}
    [label] = marks(drawn(report_with([rounded])), "thread-label")
    assert "".join(label.itertext()) == "cut 3 mm"
    [label] = marks(drawn(report_with([CUTS])), "thread-label")
    assert "".join(label.itertext()) == "cut 8 mm"  # the sentence tells none: that of the finding


def test_there_is_no_picture_of_what_is_not_there() -> None:
    with pytest.raises(LookupError, match="no remedy 2"):
        remedy_png(np.zeros((520, 640, 3), np.uint8), report_with([CUTS]), case_with(), 2)


def test_the_second_picture_is_named_after_what_was_done() -> None:
    names = [
        after_words(RemedyOut.model_validate(one.model_dump()))
        for one in report_with([CUTS], [MOVE, MOVE], [CUTS, TURN], [CUTS, TURN, MOVE]).remedies
    ]
    assert names == ["After the cut", "After the moves", "After both steps", "After all steps"]
    assert [about_time(s) for s in (12, 88, 130)] == [
        "About 10\u00a0s.",
        "About 90\u00a0s.",
        "About 2\u00a0min.",
    ]


def test_page_and_picture_name_it_alike() -> None:
    on_page = {action: page_words()[f"plan_after_{action}"] for action in remedy_picture.AFTER}
    assert on_page == remedy_picture.AFTER


# ---------------------------------------------------------------- hints


def test_ask_draws_the_leads_and_nothing_else() -> None:
    root = drawn(report_with([CUTS]), layers=PICTURE_LAYERS | {"numbers"}, level="ask", when="then")
    assert {next(symbols(g)) for g in marks(root, "mark")} == {"lead-plus", "lead-minus"}
    assert not list(root.iter(f"{SVG}text"))
    assert not marks(root, "lump")


def test_look_names_the_light_it_speaks_of_and_draws_no_cut() -> None:
    root = drawn(report_with([CUTS]), layers=PICTURE_LAYERS | {"numbers"}, level="look")
    assert ["".join(g.itertext()) for g in marks(root, "light")] == ["L1"]
    assert {next(symbols(g), "leader") for g in marks(root, "mark")} == {"led-dim", "leader"}
    [wide, narrow] = [
        drawn(report_with([CUTS]), level=level).find(f".//{SVG}radialGradient") for level in ("ask", "look")
    ]
    assert wide is not None and narrow is not None
    assert (narrow.get("cx"), narrow.get("cy")) == ("120", "260") != (wide.get("cx"), wide.get("cy"))
    assert float(narrow[0].get("offset") or 1) < float(wide[0].get("offset") or 0)


def test_words_under_the_picture_keep_back_what_the_level_keeps_back() -> None:
    report = report_with([CUTS])
    assert headline(report, "ask") == ("stop", "Can you walk from lead to lead?", "")
    assert headline(report, "look") == ("stop", "Look where the wall stops, close to L1.", "")
    photo = np.full((520, 640, 3), 150, np.uint8)
    sizes = {level: len(marked_up_png(photo, report, case_with(), level=level)) for level in ("ask", "do")}
    assert sizes["ask"] < sizes["do"]


# ---------------------------------------------------------------- command line and routes


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two salty lumps with a sugary wall between, 2 px per mm; L1 is in backwards."""
    raster = np.zeros((120, 160), np.uint8)
    raster[20:56, 20:140] = raster[64:100, 20:140] = 1
    raster[56:64, 20:140] = 2
    cv2.imwrite(str(tmp_path / "owl.labels.png"), raster)
    told = {
        "schema": "doughsight-case/1",
        "labels": "owl.labels.png",
        "palette": [{"name": "teal", "role": "conductive"}, {"name": "amber", "role": "insulating"}],
        "scale": {"mm_per_px": 0.5},
        "pack": {"plus": [40, 30], "minus": [40, 90]},
        "leds": [{"id": "L1", "colour": "red", "long_leg": [70, 74], "short_leg": [70, 46]}],
    }
    (tmp_path / "owl.case.json").write_text(json.dumps(told))
    return tmp_path


def run(folder: Path, *words: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("COLUMNS", "200")
        patch.setattr(sys, "argv", ["doughsight", "inspect", "owl.case.json", *words])
        patch.setattr(sys, "stdout", out)
        patch.setattr(sys, "stderr", err)
        with pytest.raises(SystemExit) as end:
            commands.main()
    return int(end.value.code or 0), out.getvalue(), err.getvalue()


def test_inspect_draws_a_remedy(folder: Path) -> None:
    status, said, _ = run(folder, "--remedy", "then.png")
    assert status == 1
    assert "Turn L1" in said
    png = cv2.imread(str(folder / "then.png"))
    assert png is not None
    assert png.shape[0] > png.shape[1] > 500  # a wide sculpture: one above the other
    status, _, complaint = run(folder, "--remedy", "x.png", "--rank", "9")
    assert status == 2
    assert "There is no remedy 9" in complaint
    assert not (folder / "x.png").exists()


def test_inspect_gives_away_no_more_than_was_chosen(folder: Path) -> None:
    status, said, _ = run(folder, "--out", "do")
    report = json.loads((folder / "do" / "report.json").read_text("utf-8"))
    [finding] = report["findings"]
    assert status == 1
    for level in ("ask", "look"):
        status, said, _ = run(folder, "--hint", level, "--out", level)
        assert status == 1
        assert finding[level] in said
        for kept in (finding["why"], finding["do"], report["remedies"][0]["do"], finding["code"], "mA"):
            assert kept not in said, (level, kept)
    told = json.loads((folder / "owl.case.json").read_text("utf-8"))
    told["leds"][0]["seen"] = "bright"
    (folder / "owl.case.json").write_text(json.dumps(told))
    said = run(folder, "--hint", "ask")[1]
    assert finding["look"] not in said
    assert "L1   bright" in said  # as it is seen, though by the sums it is off
    pictures = {level: (folder / level / "picture.png").read_bytes() for level in ("ask", "look", "do")}
    assert len(set(pictures.values())) == 3
    status, _, complaint = run(folder, "--hint", "look", "--remedy", "x.png")
    assert (status, "gives away" in complaint) == (2, True)


def test_routes_pass_on_what_is_wished(client: TestClient, case: dict[str, object]) -> None:
    where = f"/inspections/{client.post('/inspections', json=case).json()['id']}"
    told = client.get(f"{where}/overlay.svg", params={"level": "ask"}).text
    assert "'level': 'ask'" in told and "'remedy'" not in told
    for wish in ("overlay.svg?remedy=1&when=then", "remedy.png", "remedy.png?rank=2"):
        answer = client.get(f"{where}/{wish}")
        assert answer.status_code == 404
        assert "There is no remedy" in answer.json()["error"]
    for wish in (
        "overlay.svg?level=all",
        "overlay.svg?remedy=0",
        "overlay.svg?when=soon",
        "picture.png?level=x",
    ):
        assert client.get(f"{where}/{wish}").status_code == 422, wish
    assert client.get(f"{where}/picture.png?level=look").headers["content-type"] == "image/png"

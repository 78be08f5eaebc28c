"""The marked-up picture: what is drawn where, as shapes and not by colour alone, on any machine."""

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from itertools import pairwise

import cv2
import numpy as np
import pytest

from api import fonts
from api.drawing import PICTURE_LAYERS, marked_up_png, overlay_svg
from api.marks import SYMBOLS, el
from api.schemas import (
    Case,
    ContactOut,
    FindingOut,
    LedOut,
    LumpOut,
    OtherwiseOut,
    PhotoOut,
    PieceOut,
    RemedyOut,
    Report,
    StepOut,
)
from api.strip import headline, says_of, wrapped

SVG = "{http://www.w3.org/2000/svg}"
WALK = [(120.0, 200.0), (200.0, 120.0), (300.0, 120.0), (420.0, 200.0)]
CUT = ((250.0, 90.0), (250.0, 160.0))


def box(left: float, top: float, right: float, bottom: float) -> list[tuple[float, float]]:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def case_with(seen: dict[str, str] | None = None) -> Case:
    ends = {"L1": ((150, 260), (150, 340)), "L2": ((250, 260), (250, 340)), "L3": ((350, 260), (350, 340))}
    leds = [
        {"id": name, "long_leg": a, "short_leg": b, "seen": (seen or {}).get(name)}
        for name, (a, b) in ends.items()
    ]
    return Case.model_validate(
        {
            "schema": "doughsight-case/1",
            "labels": "labels.png",
            "palette": [{"name": "rose", "role": "conductive"}, {"name": "sky", "role": "insulating"}],
            "pack": {"plus": (120, 200), "minus": (420, 200)},
            "leds": leds,
        }
    )


def short_finding(**other: object) -> FindingOut:
    told = {
        "code": "short-bridge",
        "level": "stop",
        "parts": ["pack"],
        "at": (250, 120),
        "path": WALK,
        "cut": CUT,
        "cut_mm": 7.0,
        "why": "A strip of rose dough joins both sides.",
        "ask": "",
        "look": "",
        "do": "Cut here.",
    }
    return FindingOut.model_validate(told | other)


def report_with(**other: object) -> Report:
    pieces = [
        PieceOut(id=1, colour="rose", role="conductive", area_mm2=900, outline=box(80, 80, 460, 280)),
        PieceOut(id=2, colour="rose", role="conductive", area_mm2=500, outline=box(80, 320, 460, 440)),
        PieceOut(id=3, colour="sky", role="insulating", area_mm2=200, outline=box(80, 280, 460, 320)),
    ]
    plain = Report(
        photo=PhotoOut(width=640, height=520, mm_per_px=0.1, true_scale=True, labels="labels.png"),
        pieces=pieces,
        contacts=[],
        lumps=[LumpOut(id="A", pieces=[1]), LumpOut(id="B", pieces=[2])],
        entries={"pack.plus": "A", "pack.minus": "B"}
        | {f"L{i}.{leg}": lump for i in (1, 2, 3) for leg, lump in (("long", "A"), ("short", "B"))},
        leds=[
            LedOut(id="L1", current_mA=9.0, state="bright"),
            LedOut(id="L2", current_mA=1.0, state="dim"),
            LedOut(id="L3", current_mA=0.0, state="off"),
        ],
    )
    return plain.model_copy(update=other)


def shorted() -> Report:
    entries = dict(report_with().entries) | {"pack.minus": "A"}
    return report_with(entries=entries, findings=[short_finding()])


def drawn(report: Report, case: Case | None = None, **how: object) -> ET.Element:
    how = {"layers": PICTURE_LAYERS, "px_per_mark": 1.0} | how
    return ET.fromstring(overlay_svg(report, case or case_with(), **how))  # type: ignore[arg-type]


def marks(root: ET.Element, kind: str) -> list[ET.Element]:
    return [g for g in root.iter(f"{SVG}g") if kind in (g.get("class") or "").split()]


def symbols(root: ET.Element) -> Iterator[str]:
    return ((use.get("href") or "").removeprefix("#mark-") for use in root.iter(f"{SVG}use"))


def at(g: ET.Element) -> tuple[float, float]:
    return float(g.get("data-x") or "nan"), float(g.get("data-y") or "nan")


def test_view_is_in_photo_pixels_and_every_symbol_is_defined() -> None:
    root = drawn(shorted())
    assert root.get("viewBox") == "0 0 640 520"
    known = {g.get("id") for g in root.iter(f"{SVG}g")}
    assert {f"mark-{name}" for name in symbols(root)} <= known


def test_no_inline_style_and_no_script_for_the_content_security_policy() -> None:
    for layers in (PICTURE_LAYERS, ("answer", "lumps"), ("numbers", "contacts", "no-such-layer")):
        root = drawn(shorted(), layers=layers)
        assert all("style" not in node.attrib for node in root.iter())
        assert not {node.tag for node in root.iter()} & {f"{SVG}style", f"{SVG}script"}


def test_each_state_is_a_shape_of_its_own_beside_its_led() -> None:
    root = drawn(report_with())
    for name, state in (("L1", "bright"), ("L2", "dim"), ("L3", "off")):
        [mark] = [g for g in marks(root, "light") if name in "".join(g.itertext())]
        assert list(symbols(mark)) == [f"led-{state}"]
        tag = next(g for g in mark if g.tag == f"{SVG}g").get("transform") or ""
        dx, dy = (float(v) for v in tag.removeprefix("translate(").rstrip(")").split())
        assert math.hypot(dx, dy) > 16
    shapes = {SYMBOLS[f"led-{state}"] for state in ("bright", "dim", "off")}
    without_colour = {"".join(c for c in shape.split("#F5B53A")) for shape in shapes}
    assert len(without_colour) == 3


def test_what_is_seen_counts_more_than_what_is_reckoned() -> None:
    root = drawn(report_with(), case_with({"L1": "off"}))
    assert list(symbols(next(g for g in marks(root, "light") if "L1" in "".join(g.itertext())))) == [
        "led-off"
    ]


def test_leads_are_square_and_legs_round_at_their_entries() -> None:
    root = drawn(report_with())
    entries = {next(symbols(g)): at(g) for g in marks(root, "entry")}
    assert entries["lead-plus"] == (120, 200)
    assert entries["lead-minus"] == (420, 200)
    assert len(marks(root, "leg-long")) == len(marks(root, "leg-short")) == 3
    assert "<rect" in SYMBOLS["lead-plus"] and "<circle" not in SYMBOLS["lead-plus"]
    assert "<circle" in SYMBOLS["leg-long"] and "<rect" not in SYMBOLS["leg-long"]


def test_lumps_are_told_apart_by_hatch_and_badge() -> None:
    entries = dict(report_with().entries) | {"pack.minus": "A"}
    root = drawn(report_with(entries=entries))
    assert [g.get("class") for g in marks(root, "lump")] == ["lump both", "lump none"]
    [both] = marks(root, "both")[1:]
    assert list(symbols(both)) == ["sign-plus", "sign-minus"]
    assert {p.get("id") for p in root.iter(f"{SVG}pattern")} == {"hatch-none"}  # a short has no hatch
    apart = drawn(report_with())
    assert [g.get("class") for g in marks(apart, "lump")] == ["lump plus", "lump minus"]
    fills = [[p.get("fill") for p in g if p.get("fill") != "none"] for g in marks(apart, "lump")]
    assert fills == [["url(#hatch-plus)"], ["url(#hatch-minus)"]]
    assert not [p for p in marks(root, "lump")[0] if p.get("fill") != "none"]
    assert {p.get("id") for p in apart.iter(f"{SVG}pattern")} == {"hatch-plus", "hatch-minus"}


def test_footsteps_keep_to_the_path_left_and_right_of_it() -> None:
    root = drawn(shorted())
    steps = marks(root, "step")
    assert len(steps) >= 8
    line = np.concatenate([np.linspace(a, b, 200) for a, b in pairwise(WALK)])
    far = [float(np.hypot(*(line - at(g)).T).min()) for g in steps]
    assert max(far) < 7
    first, last = at(steps[0]), at(steps[-1])
    assert math.dist(first, WALK[0]) < math.dist(first, WALK[-1])
    assert math.dist(last, WALK[-1]) < math.dist(last, WALK[0])
    assert min(math.hypot(at(g)[0] - 250, 0) for g in steps) > 8  # the cut lies over the walk


def test_cut_has_two_stops_and_its_length_on_the_thread() -> None:
    root = drawn(shorted())
    assert sorted(at(g) for g in marks(root, "cut-stop")) == sorted(CUT)
    assert "".join("".join(g.itertext()) for g in marks(root, "thread-label")) == "cut 7 mm"
    page = drawn(shorted(), layers=("answer",), px_per_mark=None)
    assert not marks(page, "thread-label")  # a page strings its own


def test_in_a_page_lines_keep_their_width_and_only_what_changes_is_shown() -> None:
    then = {"L1": "bright", "L2": "dim", "L3": "bright"}
    remedy = RemedyOut.model_validate(
        {"rank": 1, "seconds": 20, "then": then, "then_mA": {}, "do": "Cut.", "steps": []}
    )
    report = shorted().model_copy(update={"remedies": [remedy]})
    root = drawn(report, layers=("answer",), px_per_mark=None)
    assert ["".join(g.itertext()) for g in marks(root, "light")] == ["L3"]
    assert not marks(root, "leg-long")
    [cut] = marks(root, "cut")
    assert {p.get("vector-effect") for p in cut if p.tag == f"{SVG}path"} == {"non-scaling-stroke"}


def test_leg_beside_the_dough_is_broken_and_says_where() -> None:
    case = case_with()
    away = case.leds[2].model_copy(update={"long_leg": (490.0, 200.0)})
    case = case.model_copy(update={"leds": (*case.leds[:2], away)})
    entries = dict(report_with().entries) | {"L3.long": None}
    step = StepOut.model_validate(
        {
            "action": "move",
            "parts": ["L3.long"],
            "at": (490, 200),
            "to": "A",
            "to_at": (430, 230),
            "line": None,
            "do": "",
        }
    )
    remedy = RemedyOut(rank=1, seconds=30, then={}, then_mA={}, do="Move it.", steps=[step])
    finding = short_finding(code="leg-out", level="fix", parts=["L3.long"], path=[], cut=None, cut_mm=None)
    root = drawn(report_with(entries=entries, findings=[finding], remedies=[remedy]), case)
    [missed] = marks(root, "missed")
    assert at(missed) == (490, 200)
    assert marks(missed, "broken")
    assert ["".join(g.itertext()) for g in marks(root, "beside")] == ["3 mm beside rose"]
    assert [(at(g), list(symbols(g))) for g in marks(root, "ghost")] == [((430, 230), ["leg-long-ghost"])]


def test_a_gap_is_pressed_together_across_its_narrow_side() -> None:
    told = {
        "action": "join",
        "parts": [],
        "at": (200, 302),
        "to": None,
        "to_at": None,
        "line": None,
        "do": "",
    }
    remedy = RemedyOut(rank=1, seconds=30, then={}, then_mA={}, do="", steps=[StepOut.model_validate(told)])
    finding = short_finding(code="gap-in-lump", level="fix", parts=[], path=[], cut=None, cut_mm=None)
    [join] = marks(drawn(report_with(findings=[finding], remedies=[remedy])), "join")
    assert at(join) == (200, 302)
    assert float(join.get("data-turn") or 0) % 180 == 90


def test_contacts_are_drawn_by_kind_and_near_ones_once() -> None:
    def contact(kind: str, x: float) -> ContactOut:
        told = {"between": (1, 2), "kind": kind, "gap_mm": 4.2, "length_mm": 3, "at": (x, 300)}
        return ContactOut.model_validate(told)

    contacts = [
        contact("touching", 100),
        contact("doubtful", 250),
        contact("doubtful", 260),
        contact("gap", 400),
    ]
    other = OtherwiseOut(contact=3, entries={}, leds=[])
    root = drawn(report_with(contacts=contacts, otherwise=[other]))
    assert [list(symbols(g)) for g in marks(root, "contact")] == [["doubtful"], ["gap"]]
    assert "4" in "".join(marks(root, "gap")[0].itertext())
    every = drawn(report_with(contacts=contacts), layers=("contacts",))
    assert len(marks(every, "touching")) == 1


def test_marks_can_be_rescaled_from_their_data() -> None:
    for g in marks(drawn(shorted(), px_per_mark=1.5), "mark"):
        turned = f" rotate({g.get('data-turn')})" if g.get("data-turn") else ""
        assert g.get("transform") == f"translate({g.get('data-x')} {g.get('data-y')}){turned} scale(1.5)"


@pytest.mark.parametrize("name", ['<script>alert("x")</script>', "]]>&amp;'\"", "a\x00b\x1bc", "\ufffe"])
def test_hostile_names_stay_words(name: str) -> None:
    case = case_with()
    led = case.leds[0].model_copy(update={"id": name})
    case = case.model_copy(update={"leds": (led,)})
    report = report_with(leds=[LedOut(id=name, current_mA=1, state="dim")])
    root = drawn(report, case)
    said = "".join("".join(g.itertext()) for g in marks(root, "light"))
    assert said == "".join(c for c in name if c.isprintable() and c != "\ufffe")
    assert not list(root.iter(f"{SVG}script"))


def test_picture_is_cropped_and_within_its_size() -> None:
    photo = np.full((520, 640, 3), 150, np.uint8)
    png = cv2.imdecode(
        np.frombuffer(marked_up_png(photo, shorted(), case_with()), np.uint8), cv2.IMREAD_COLOR
    )
    assert png is not None
    height, width = png.shape[:2]
    assert 900 <= max(height, width) <= 1600
    # The alarm bar, #A2152E, comes before everything; cv2 gives BGR.
    assert np.abs(png[4, width // 2].astype(int) - (0x2E, 0x15, 0xA2)).max() <= 1
    assert np.abs(png[-4, width // 2].astype(int) - (0xF6, 0xFB, 0xFA)).max() <= 1
    calm = cv2.imdecode(
        np.frombuffer(marked_up_png(photo, report_with(), case_with()), np.uint8), cv2.IMREAD_COLOR
    )
    assert calm is not None
    assert np.abs(calm[4, 4].astype(int) - 150).max() <= 1


def test_picture_of_pieces_alone() -> None:
    case = Case.model_validate(
        {
            "schema": "doughsight-case/1",
            "labels": "l.png",
            "palette": [{"name": "rose", "role": "conductive"}],
        }
    )
    report = report_with(lumps=[], entries={}, leds=[])
    photo = np.zeros((520, 640, 3), np.uint8)
    assert marked_up_png(photo, report, case).startswith(b"\x89PNG")
    bare = report_with(lumps=[], entries={}, leds=[], pieces=[])
    assert marked_up_png(photo, bare, case).startswith(b"\x89PNG")
    speck = PieceOut(id=1, colour="rose", role="conductive", area_mm2=0.1, outline=[(5, 5)])
    dot = report_with(lumps=[LumpOut(id="A", pieces=[1])], entries={}, leds=[], pieces=[speck])
    assert marked_up_png(photo, dot, case).startswith(b"\x89PNG")


def test_words_need_no_font_of_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(letters: frozenset[str]) -> frozenset[str]:
        raise AssertionError(f"system fonts were asked for {letters}")

    monkeypatch.setattr(fonts, "_in_system", refuse)
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 40" width="200" height="40">'

    def said(words: str) -> int:
        text = el(
            "text", words, class_="bold", color="#000", font_family="sans-serif", x=4, y=28, font_size=24
        )
        return int((fonts.render(f"{head}{text}</svg>", 200)[..., 3] > 128).sum())

    assert said("") == 0
    assert said("cut 13\u00a0mm") > said("cut") > 100


def test_letters_that_no_font_has_lose_their_accents(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fonts, "_in_system", lambda letters: frozenset())
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 40" width="90" height="40">'
    shown = [
        fonts.render(f'{head}<text x="4" y="28" font-size="24">{w}</text></svg>', 90)
        for w in ("gr\u00fcn", "grun")
    ]
    assert np.array_equal(*shown)
    assert shown[0].any()


def test_lines_break_between_words_within_their_width() -> None:
    text = "Cut here, 13 mm long, right down to the table. Keep the two sides apart."
    lines = wrapped(text, 18, 300)
    assert " ".join(lines) == text
    assert len(lines) > 1
    assert all(fonts.width_of(line, 18) <= 300 for line in lines)


def test_what_becomes_of_a_light() -> None:
    assert says_of("off", "bright", "off") == "will light"
    assert says_of("dim", "bright", "dim") == "will be bright"
    assert says_of("bright", "bright", "bright") == "stays bright"
    assert says_of("bright", "off", "bright") == "goes off"
    assert says_of("off", None, "bright") == "should be bright"


def test_pieces_are_outlined_before_anything_is_wired() -> None:
    case = Case.model_validate({**case_with().model_dump(by_alias=True), "pack": None, "leds": []})
    rims = [
        PieceOut(
            id=i, colour="rose", role="conductive", area_mm2=900, outline=box(100 * i, 50, 100 * i + 80, 120)
        )
        for i in (1, 2)
    ]
    photo = PhotoOut(width=500, height=400, mm_per_px=0.2, true_scale=True, labels="labels.png")
    drawn = ET.fromstring(overlay_svg(Report(photo=photo, pieces=rims, contacts=[]), case, finding=None))
    assert len(drawn.findall(f".//{SVG}g[@class='piece']")) == 2
    assert headline(Report(photo=photo, pieces=rims[:1], contacts=[]))[1].startswith("1 piece of")

"""Challenges judged from reports: numbers, bounds, and what cannot be told."""

import json
from datetime import datetime, timedelta
from math import hypot
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import sample_images
from api.challenge import COVERAGE, Criterion, in_a_row, judged
from api.dough_volume import EDGE_ERROR_MM, MEASURED_HEIGHT_ERROR, SCALE_ERROR, dough_volume
from api.schemas import (
    Case,
    ContactOut,
    FindingOut,
    LedOut,
    OtherwiseOut,
    PackOut,
    PhotoOut,
    PieceOut,
    Report,
)
from api.workshop_schemas import Challenge
from circuit.materials import THICKNESS_MM

START = datetime(2026, 11, 24, 14, 0)
SAMPLES = ("owl", "boat", "frog", "newt", "snail", "turtle", "lighthouse", "caterpillar")
LIT = st.sampled_from(["bright", "dim", "off"])


def sample(name: str) -> tuple[Case, Report]:
    case = Case.model_validate(json.loads(sample_images.sample_path(f"{name}.case.json").read_text("utf-8")))
    report = sample_images.sample_path(f"{name}.report.json").read_text("utf-8")
    return case, Report.model_validate_json(report)


def square(area_mm2: float, colour: str = "pink", number: int = 1, below: bool = False) -> PieceOut:
    """A square piece; a pixel of its photo is 1 mm."""
    side = area_mm2**0.5
    outline = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
    return PieceOut(
        id=number, colour=colour, role="conductive", area_mm2=area_mm2, outline=outline, below=below
    )


def an_led(i: int, **more: Any) -> dict[str, Any]:
    return {"id": f"L{i}", "long_leg": [3, i], "short_leg": [6, i], **more}


def a_case(count: int = 0, **more: Any) -> Case:
    told = {
        "schema": "doughsight-case/1",
        "photo": "p",
        "palette": [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}],
        "pack": {"plus": [1, 1], "minus": [20, 20]},
        "leds": [an_led(i) for i in range(count)],
        "scale": {"card": [[0, 0], [85.6, 0]]},
        **more,
    }
    return Case.model_validate(told)


def a_report(states: list[str] | None = None, true_scale: bool = True, **more: Any) -> Report:
    photo = PhotoOut(width=400, height=300, mm_per_px=1.0, true_scale=true_scale, labels="l.png")
    leds = [LedOut(id=f"L{i}", current_mA=1, state=state) for i, state in enumerate(states or [])]  # type: ignore[arg-type]
    pack = PackOut(current_mA=1, terminal_V=6)
    return Report(**{"photo": photo, "pieces": [], "contacts": [], "leds": leds, "pack": pack, **more})


def judge(
    rule: dict[str, Any], report: Report | None, case: Case | None, minutes: float | None = None
) -> Criterion:
    finished = None if minutes is None else START + timedelta(minutes=minutes)
    (found,) = judged(Challenge.model_validate({"rules": [rule]}), report, case, START, finished)
    return found


def doubt(states: list[str], entries: dict[str, str | None] | None = None) -> OtherwiseOut:
    leds = [LedOut(id=f"L{i}", current_mA=1, state=state) for i, state in enumerate(states)]  # type: ignore[arg-type]
    return OtherwiseOut(contact=0, entries=entries or {}, leds=leds)


def test_lights_are_counted_by_the_sums_unless_somebody_saw_them() -> None:
    rule = {"rule": "lights-lit", "at_least": 2}
    found = judge(rule, a_report(["bright", "dim", "off"]), a_case(3))
    assert (found.verdict, found.value, found.low, found.high) == ("met", 2, 2, 2)
    leds = [an_led(i, seen="off") for i in range(2)]
    assert judge(rule, a_report(["bright", "bright"]), a_case(leds=leds)).verdict == "not-met"
    assert judge(rule, a_report(["off", "off"]), a_case(0)).verdict == "cannot-tell"  # no LED was tapped


@pytest.mark.parametrize(
    ("first", "other", "verdict"),
    [
        (["bright", "off", "off"], ["bright", "bright", "off"], "cannot-tell"),
        (["bright", "bright", "off"], ["bright", "bright", "bright"], "met"),
        (["off", "off", "off"], ["bright", "off", "off"], "not-met"),
    ],
)
def test_a_doubtful_contact_makes_it_a_range(first: list[str], other: list[str], verdict: str) -> None:
    report = a_report(first, otherwise=[doubt(other)])
    found = judge({"rule": "lights-lit", "at_least": 2}, report, a_case(3))
    counts = sorted(sum(state != "off" for state in states) for states in (first, other))
    assert (found.verdict, found.low, found.high) == (verdict, *counts)


def test_colours_of_light_go_by_what_is_lit() -> None:
    leds = [an_led(i, colour=colour) for i, colour in enumerate(("Amber", "yellow", "blue"))]
    case, rule = a_case(leds=leds), {"rule": "light-colours", "at_least": 2}
    # Amber and yellow are one colour of light, sold under two names.
    assert judge(rule, a_report(["bright", "bright", "off"]), case).value == 1
    assert judge(rule, a_report(["bright", "off", "dim"]), case).verdict == "met"


def test_the_volume_is_area_times_height_with_a_spread_reckoned_by_hand() -> None:
    # 40 mm by 40 mm, measured as 15 mm high, scaled by a card: 24 cm3. Relative standard uncertainties: twice
    # 1.5 % of scale, 10 % of height, and 0.3 mm along 160 mm of rim, 48 mm2 of 1600, is 3 %. Together
    # sqrt(0.03^2 + 0.10^2 + 0.03^2) = 10.86 %: 2.61 cm3 (JCGM 100:2008, 5.1.2 and 5.1.6).
    case = a_case(materials={"pink": {"thickness_mm": 15}})
    volume = dough_volume(a_report(pieces=[square(1600)]), case, "pink")
    assert volume is not None
    assert (volume.cm3, volume.error_cm3) == pytest.approx((24.0, 2.61), rel=2e-3)


def test_the_spread_is_that_of_many_trials() -> None:
    # The same by propagation of distributions (JCGM 101:2008, 7).
    random = np.random.default_rng(1)
    size = 40_000
    scale = random.normal(1, SCALE_ERROR["card"], size)
    high = 15 * random.normal(1, MEASURED_HEIGHT_ERROR, size)
    edge = random.normal(0, EDGE_ERROR_MM, size)
    below = 400 * random.uniform(0, 1, size)
    trials = high * (1600 * scale**2 + 160 * edge + below * scale**2) / 1000
    case = a_case(materials={"pink": {"thickness_mm": 15}})
    volume = dough_volume(a_report(pieces=[square(1600), square(400, number=2, below=True)]), case, "pink")
    assert volume is not None
    assert volume.cm3 == pytest.approx(float(trials.mean()), rel=0.005)
    assert volume.error_cm3 == pytest.approx(float(trials.std()), rel=0.03)


@pytest.mark.parametrize(("limit", "verdict"), [(40.0, "met"), (24.0, "cannot-tell"), (10.0, "not-met")])
def test_a_limit_within_the_spread_cannot_be_told(limit: float, verdict: str) -> None:
    case = a_case(materials={"pink": {"thickness_mm": 15}})
    rule = {"rule": "dough-volume", "dough": "pink", "at_most_cm3": limit}
    found = judge(rule, a_report(pieces=[square(1600), square(900, "blue", 2)]), case)
    assert (found.verdict, found.value, found.unit) == (verdict, 24.0, "cm3")
    assert found.high is not None
    assert found.high - 24.0 == pytest.approx(COVERAGE * 24.0 * hypot(0.03, 0.10, 0.03), rel=1e-3)
    assert found.found == "24\u00a0±\u00a05\u00a0cm³"


def test_without_a_scale_there_is_no_volume() -> None:
    rule = {"rule": "dough-volume", "dough": "pink", "at_most_cm3": 1}
    found = judge(rule, a_report(true_scale=False, pieces=[square(1600)]), a_case())
    assert (found.verdict, found.value) == ("cannot-tell", None)


def test_a_dough_that_nobody_told_cannot_be_judged_and_one_without_a_piece_is_none() -> None:
    rule = {"rule": "dough-volume", "dough": "Pink", "at_most_cm3": 1}
    found = judge(rule, a_report(), a_case())
    assert (found.verdict, found.value, found.found) == ("met", 0, "none found")
    assert judge({**rule, "dough": "blue"}, a_report(pieces=[square(9)]), a_case()).verdict == "cannot-tell"


def test_heights_that_nobody_told_are_less_sure_and_rolls_are_as_high_as_wide() -> None:
    report = a_report(pieces=[square(1600)])
    spreads = [
        dough_volume(report, case, "pink")
        for case in (a_case(materials={"pink": {"thickness_mm": 15}}), a_case(thickness_mm=15), a_case())
    ]
    errors = [volume.error_cm3 for volume in spreads if volume]
    assert errors == sorted(errors)
    assert len(set(errors)) == 3
    assert spreads[2] is not None
    assert spreads[2].cm3 == pytest.approx(1.6 * THICKNESS_MM)
    # A roll 10 mm wide and 100 mm long has the section of a circle: pi/4 10^2 100 = 7.85 cm3.
    roll = square(1000).model_copy(update={"outline": [(0, 0), (100, 0), (100, 10), (0, 10)]})
    by_shape = dough_volume(a_report(pieces=[roll]), a_case(thickness_mm="shape"), "pink")
    assert by_shape is not None
    assert by_shape.cm3 == pytest.approx(7.85, rel=0.12)


def entries(**lumps: str | None) -> dict[str, str | None]:
    return {name.replace("_", "."): lump for name, lump in lumps.items()}


SIDE = entries(pack_plus="A", pack_minus="B", L0_long="A", L0_short="B", L1_long="B", L1_short="A")
ROW = entries(pack_plus="A", pack_minus="B", L0_long="A", L0_short="C", L1_long="C", L1_short="B")


def test_side_by_side_means_that_each_light_reaches_both_leads() -> None:
    case, rule = a_case(2), {"rule": "side-by-side"}
    states = ["bright", "bright"]
    assert judge(rule, a_report(states, entries=SIDE), case).verdict == "met"  # one of them in backwards, too
    found = judge(rule, a_report(states, entries=ROW), case)
    assert (found.verdict, found.value, found.found) == ("not-met", 2, "in a row: L0 and L1")
    one_out = {**SIDE, "L1.short": None}
    assert judge(rule, a_report(states, entries=one_out), case).verdict == "cannot-tell"
    maybe = a_report(states, entries=SIDE, otherwise=[doubt(states, ROW)])
    assert judge(rule, maybe, case).verdict == "cannot-tell"


def test_a_wire_makes_one_body_of_two_lumps_and_an_open_switch_does_not() -> None:
    wired = {**ROW, "W.a": "C", "W.b": "B"}
    for closed, row in ((True, []), (False, ["L0", "L1"])):
        parts = [{"id": "W", "kind": "switch", "a": [1, 2], "b": [2, 1], "closed": closed}]
        assert in_a_row(a_case(2, parts=parts), wired) == row


def test_the_samples_agree_with_what_the_sums_say_of_rows() -> None:
    told = {
        name: {one.code for one in (*report.findings, *report.notes)} & {"in-a-row", "too-many-in-a-row"}
        for name in SAMPLES
        for report in (sample(name)[1],)
    }
    for name in SAMPLES:
        case, report = sample(name)
        if told[name]:
            assert judge({"rule": "side-by-side"}, report, case).verdict == "not-met"
    assert judge({"rule": "side-by-side"}, *reversed(sample("snail"))).verdict == "met"


def a_finding(code: str, level: str) -> FindingOut:
    words = {"why": "The wall is thin here.", "ask": "?", "look": "L", "do": "D"}
    told = {"code": code, "level": level, "parts": [], "at": (1, 1), "path": [], "cut": None, "cut_mm": None}
    return FindingOut.model_validate({**told, **words})


def test_nothing_to_watch_means_no_finding_no_note_and_no_doubt() -> None:
    rule, case = {"rule": "nothing-to-watch"}, a_case(1)
    assert judge(rule, a_report(["bright"]), case).verdict == "met"
    for where in ("findings", "notes"):
        found = judge(rule, a_report(["bright"], **{where: [a_finding("thin-wall", "watch")]}), case)
        assert (found.verdict, found.found) == ("not-met", "The wall is thin here")
    assert judge(rule, a_report(["bright"], otherwise=[doubt(["off"])]), case).verdict == "cannot-tell"
    asking, seen = a_report(["bright"], enquiry="asking"), a_case(leds=[an_led(0, seen="bright")])
    assert (judge(rule, asking, seen).verdict, judge(rule, asking, case).verdict) == ("cannot-tell", "met")
    assert judge(rule, a_report([], pack=None), case).verdict == "cannot-tell"  # nobody told of a pack


@pytest.mark.parametrize(
    ("minutes", "verdict", "says"),
    [
        (45, "met", "45\u00a0minutes"),
        (45.01, "not-met", "46\u00a0minutes"),
        (None, "cannot-tell", "not finished yet"),
    ],
)
def test_the_time_runs_from_the_beginning_to_the_end(minutes: float | None, verdict: str, says: str) -> None:
    found = judge({"rule": "time-limit", "minutes": 45}, None, None, minutes)
    assert (found.verdict, found.found) == (verdict, says)


def test_without_a_photo_only_the_time_is_judged_and_rules_keep_their_order() -> None:
    rules = [
        {"rule": "lights-lit", "at_least": 1},
        {"rule": "time-limit", "minutes": 60},
        {"rule": "side-by-side"},
    ]
    challenge = Challenge.model_validate({"rules": rules})
    found = judged(challenge, None, None, START, START + timedelta(minutes=5))
    assert [one.verdict for one in found] == ["cannot-tell", "met", "cannot-tell"]
    assert [one.rule for one in found] == list(challenge.rules)
    assert [one.wish for one in found] == ["1 light lit or more", "60 minutes or less", "side by side only"]


AREAS = st.lists(st.floats(0.5, 5000), min_size=1, max_size=4)


@given(AREAS, AREAS, st.floats(0.5, 200))
def test_more_dough_never_makes_good_what_was_too_much(
    some: list[float], more: list[float], limit: float
) -> None:
    rule = {"rule": "dough-volume", "dough": "pink", "at_most_cm3": limit}
    few = a_report(pieces=[square(area, number=i) for i, area in enumerate(some)])
    many = a_report(pieces=[square(area, number=i) for i, area in enumerate([*some, *more])])
    order = ("met", "cannot-tell", "not-met")
    less, greater = (order.index(judge(rule, report, a_case()).verdict) for report in (few, many))
    assert less == 0 or greater > 0


@given(st.lists(LIT, min_size=1, max_size=6), st.lists(LIT, min_size=1, max_size=6), st.integers(1, 6))
def test_one_more_light_never_makes_it_worse(states: list[str], other: list[str], at_least: int) -> None:
    other = (other * 6)[: len(states)]
    rule, case = {"rule": "lights-lit", "at_least": at_least}, a_case(len(states))
    order = ("not-met", "cannot-tell", "met")
    verdict = judge(rule, a_report(states, otherwise=[doubt(other)]), case).verdict
    for i in range(len(states)):
        brighter = [*states[:i], "bright", *states[i + 1 :]], [*other[:i], "bright", *other[i + 1 :]]
        then = judge(rule, a_report(brighter[0], otherwise=[doubt(brighter[1])]), case).verdict
        assert order.index(then) >= order.index(verdict)


def test_doubts_of_contacts_need_not_be_told_twice() -> None:
    # A contact that nobody doubts any more leaves no doubt in the verdict.
    contact = ContactOut(between=(1, 2), kind="touching", gap_mm=0, length_mm=3, at=(1, 1))
    report = a_report(["bright"], contacts=[contact])
    assert judge({"rule": "nothing-to-watch"}, report, a_case(1)).verdict == "met"

"""Mishaps are as told, after ngspice; the judge of remedies cannot be fooled; first remedies of a few seeds.

What steps do is common practice, no published source.
"""

from collections.abc import Mapping
from pathlib import Path
from runpy import run_path
from typing import Any

import numpy as np
import pytest

from api.pipeline import inspect_case
from api.schemas import Case, RemedyOut, StepOut
from sample_images.studio.mishaps import MISHAPS, Mishap, kinds_of, label_png, mishap
from sample_images.studio.spice import Raster, entries_of_case, flows, has_ngspice

pytestmark = pytest.mark.skipif(not has_ngspice(), reason="ngspice is not installed; this check needs it")
BENCHMARKS = Path(__file__).parents[1] / "benchmarks"
JUDGE = run_path(str(BENCHMARKS / "remedy_judge.py"))
SEEDS = (9, 12, 15, 16)
PX_MM = 0.25


@pytest.fixture(scope="module", params=SEEDS)
def drawn(request: pytest.FixtureRequest) -> Mishap:
    """All tests of a seed stand together, so that it is drawn but once, whichever process has them."""
    return mishap(request.param)


# ---------------------------------------------------------------- mishaps


def test_a_mended_mishap_lights_and_the_mishap_does_not(drawn: Mishap) -> None:
    leds = {led.id for led in drawn.case.leds}
    assert flows(drawn.mended, drawn.mended_raster).lit == leds
    assert flows(drawn.case, drawn.raster).lit < leds


def test_a_mishap_has_the_faults_that_it_names(drawn: Mishap) -> None:
    at, sound = entries_of_case(drawn.case), entries_of_case(drawn.mended)
    where = {name: drawn.raster[int(y), int(x)] for name, (x, y) in at.items()}
    conducts = {i for i, e in enumerate(drawn.case.palette, start=1) if e.role == "conductive"}
    assert drawn.kinds == kinds_of(drawn.seed)
    for change in drawn.changes:
        if change.kind == "leg-out":
            assert where[change.parts[0]] == 0
        elif change.kind == "leg-in-insulator":
            assert where[change.parts[0]] not in {0, *conducts}
        elif change.kind == "led-backwards":
            assert all(at[f"{led}.long"] == sound[f"{led}.short"] for led in change.parts)
        elif change.kind == "leads-swapped":
            assert (at["pack.plus"], at["pack.minus"]) == (sound["pack.minus"], sound["pack.plus"])
        else:
            assert change.kind == "short-wire" and change.parts[0] in {part.id for part in drawn.case.parts}


def test_all_kinds_come_up_alike() -> None:
    single = [kinds_of(seed) for seed in range(0, 26 * 12, 2)]
    double = [kinds_of(seed) for seed in range(1, 26 * 12, 2)]
    assert {len(kinds) for kinds in single} == {1} and {len(kinds) for kinds in double} == {2}
    counts = [sum(kind in kinds for kinds in single) for kind in MISHAPS]
    assert max(counts) == min(counts) == 12
    assert min(sum(kind in kinds for kinds in double) for kind in MISHAPS) >= 18


def test_the_first_remedy_lights_every_led_without_a_hazard(drawn: Mishap) -> None:
    report = inspect_case(drawn.case, labels=label_png(drawn.raster)).report
    verdict = JUDGE["judge"](drawn.case, drawn.raster, report.remedies[0], drawn.now)
    assert verdict.lights_all and not verdict.hazards


# ---------------------------------------------------------------- the judge


def two_lumps(led: Mapping[str, Any] | None = None, **told: Any) -> tuple[Case, Raster]:
    """Two lumps of 25 x 20 mm, 5 mm apart, the leads far from each other, one red LED across."""
    raster = np.zeros((160, 280), np.uint8)
    raster[20:100, 20:120] = 1
    raster[20:100, 140:240] = 1
    case = {
        "schema": "doughsight-case/1",
        "labels": "drawn.labels.png",
        "palette": [
            {"name": "salt", "role": "conductive"},
            {"name": "sugar", "role": "insulating"},
            {"name": "table", "role": "table"},
        ],
        "scale": {"mm_per_px": PX_MM},
        "pack": {"cells": 4, "plus": (30.5, 60.5), "minus": (230.5, 60.5)},
        "leds": [{"id": "L1", "long_leg": (110.5, 60.5), "short_leg": (150.5, 60.5), **(led or {})}],
    }
    return Case.model_validate(case | told), raster


def bridged() -> tuple[Case, Raster]:
    case, raster = two_lumps()
    raster[30:100, 120:140] = 1
    return case, raster


def step(action: str, *parts: str, **told: Any) -> StepOut:
    told = {"at": (130, 38), "to": None, "to_at": None, "line": None, "do": ""} | told
    return StepOut(action=action, parts=list(parts), **told)


def judged(sculpture: tuple[Case, Raster], *steps: StepOut) -> Any:
    remedy = RemedyOut(rank=1, seconds=0, then={}, then_mA={}, do="", steps=list(steps))
    return JUDGE["judge"](*sculpture, remedy)


BACKWARDS = {"long_leg": (150.5, 60.5), "short_leg": (110.5, 60.5)}
CUT = step("cut", line=((130, 30), (130, 100)))
WIRE = {"id": "W1", "kind": "wire", "a": (60, 80), "b": (200, 80)}


def test_the_judge_and_the_solver_mean_the_same_sculpture() -> None:
    """Two meshes, two solvers, one set of tables: within 2 %."""
    for case, raster in (two_lumps(), bridged(), two_lumps(parts=[WIRE])):
        report = inspect_case(case, labels=label_png(raster)).report
        flow = flows(case, raster)
        assert report.pack is not None
        assert report.pack.current_mA == pytest.approx(flow.pack_A * 1e3, rel=0.02)
        assert report.leds[0].current_mA == pytest.approx(flow.led_A["L1"] * 1e3, rel=0.02, abs=0.02)


def test_nothing_done_lights_nothing() -> None:
    assert judged(two_lumps()).lights_all
    for sculpture in (two_lumps(BACKWARDS), bridged()):
        assert not judged(sculpture).lights_all
        assert not judged(sculpture, step("look-underneath", "pack")).lights_all


def test_a_turn_helps_only_what_stands_backwards() -> None:
    assert judged(two_lumps(BACKWARDS), step("turn", "L1")).lights_all
    assert not judged(two_lumps(), step("turn", "L1")).lights_all
    assert not judged(two_lumps(BACKWARDS), step("turn", "L1"), step("swap-leads", "pack")).lights_all


def test_a_cut_must_go_all_the_way_through_the_right_place() -> None:
    assert judged(bridged(), CUT).lights_all
    assert not judged(bridged(), step("cut", line=((130, 30), (130, 60)))).lights_all
    assert not judged(bridged(), step("cut", line=((60, 20), (60, 100)))).lights_all
    wrong = judged(two_lumps(), step("cut", line=((70, 20), (70, 100))))
    assert wrong.before.lit and not wrong.after.lit


def test_a_cut_lengthened_by_15_tenths_goes_through_what_was_told_a_little_short() -> None:
    assert judged(bridged(), step("cut", line=((130, 34), (130, 96)))).lights_all


def test_wall_dough_parts_a_short_and_a_wire_taken_out_is_gone() -> None:
    assert judged(bridged(), step("thicken-wall", line=((130, 28), (130, 102)))).lights_all
    wired = judged(two_lumps(parts=[WIRE]), step("take-out", "W1"))
    assert wired.after.led_A["L1"] > 2 * wired.before.led_A["L1"]
    assert not judged(two_lumps(BACKWARDS), step("take-out", "L1")).lights_all


def test_a_join_mends_a_tear_and_is_told_when_it_joins_plus_and_minus() -> None:
    case, raster = two_lumps()
    raster[20:100, 60:68] = 0
    assert judged((case, raster), step("join", at=(64, 60), to_at=(64, 60))).lights_all
    assert "both leads in one body of dough" in judged(two_lumps(), step("join")).hazards


def test_a_leg_goes_where_it_is_told() -> None:
    out = two_lumps({"short_leg": (130.5, 60.5)})
    assert not judged(out).lights_all
    assert judged(out, step("move", "L1.short", to_at=(160, 60))).lights_all
    assert not judged(out, step("move", "L1.short", to_at=(90, 60))).lights_all


def test_hazards_are_told_and_only_those_that_are_new() -> None:
    nine = {"cells": 6, "plus": (30.5, 60.5), "minus": (230.5, 60.5)}
    burnt = judged(two_lumps(BACKWARDS, pack=nine), step("turn", "L1"))
    assert burnt.hazards[0].startswith("L1 ") and "30 are safe" in burnt.hazards[0]
    assert judged(two_lumps(pack=nine)).hazards == ()
    near = judged(two_lumps(), step("move", "pack.plus", to_at=(230, 64)))
    one_body, burnt_pack, too_near = near.hazards
    assert one_body == "both leads in one body of dough" and too_near == "leads 0.9 mm apart"
    assert burnt_pack.startswith("pack ")


def test_what_nobody_can_do_is_refused() -> None:
    with pytest.raises(ValueError, match="nobody knows how to sing"):
        judged(two_lumps(), step("sing", "L1"))
    with pytest.raises(ValueError, match="a cut without a line"):
        judged(two_lumps(), step("cut"))

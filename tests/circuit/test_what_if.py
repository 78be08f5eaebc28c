"""What-ifs on drawn sculptures: facts of the trade, the same as a fresh inspection, ngspice, no nonsense.

The facts of the trade are common practice, no published source.
"""

import math
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from circuit import materials
from circuit.board import lay_out, own_placing
from circuit.errors import ChangeError
from circuit.inspection import inspect
from circuit.model import Part, Sculpture, State
from circuit.netlist import sculpture_deck
from circuit.outcome import operate
from circuit.what_if import Cells, Change, CutLine, Move, PullOut, PutBack, Trials, Turn, WhatIf, what_if

Draw = Callable[..., Sculpture]

SIDE_BY_SIDE = (
    "\n".join(["a" * 24] * 5 + ["#" * 24] * 2 + ["b" * 24] * 5),
    "\n".join(
        [
            *("." * 24, "..P" + "." * 21, "." * 24, "......1.....2.....3.....", *["." * 24] * 4),
            *("......q.....w.....e.....", "." * 24, "..M" + "." * 21, "." * 24),
        ]
    ),
)
ROW_OF_TWO = (
    "\n".join(["aaaaaaaa..bbbbbbbb..cccccccc"] * 6),
    "\n".join(["." * 28] * 2 + [".P....1...q.....2...w.....M."] + ["." * 28] * 3),
)
SHORTED = (
    "\n".join(["aaaaaaaaaaaaaaaaaa"] * 4 + ["##############aaaa"] * 2 + ["aaaaaaaaaaaaaaaaaa"] * 4),
    "\n".join(
        ["." * 18, ".P....1...2.......", *["." * 18] * 6, ".M....q...w.......", "." * 18],
    ),
)
ONE_LIGHT = (
    "\n".join(["aaaaaaa...bbbbbbb"] * 6),
    "\n".join(["." * 17] * 2 + [".P...1.....q...M."] + ["." * 17] * 3),
)


def states(found: WhatIf) -> dict[str, State]:
    return dict(found.outcome.states)


def codes(found: WhatIf) -> list[str]:
    return [hazard.code for hazard in found.hazards]


# ---------------------------------------------------------------- facts of the trade


def test_side_by_side_one_taken_out_or_turned_leaves_the_others_lit(draw: Draw) -> None:
    trials = Trials(draw(*SIDE_BY_SIDE))
    assert states(trials.what_if()) == {"L1": "bright", "L2": "bright", "L3": "bright"}
    for change in (PullOut("L2"), Turn("L2")):
        assert states(trials.what_if([change])) == {"L1": "bright", "L2": "off", "L3": "bright"}


def test_in_a_row_one_taken_out_or_turned_puts_all_out(draw: Draw) -> None:
    trials = Trials(draw(*ROW_OF_TWO))
    assert states(trials.what_if()) == {"L1": "dim", "L2": "dim"}
    for change in (PullOut("L1"), Turn("L2")):
        assert states(trials.what_if([change])) == {"L1": "off", "L2": "off"}


def test_what_is_pulled_out_and_put_back_is_as_it_was(draw: Draw) -> None:
    trials = Trials(draw(*SIDE_BY_SIDE))
    again = trials.what_if([PullOut("L3"), PutBack("L3")])
    assert again.outcome.led_A == trials.what_if().outcome.led_A and again.out == ()


def test_turned_twice_is_as_it_was_and_the_last_change_left_out_is_undone(draw: Draw) -> None:
    trials = Trials(draw(*SIDE_BY_SIDE))
    changes: list[Change] = [Turn("L1"), Cells(3), Turn("L1")]
    assert trials.what_if(changes).outcome.led_A == pytest.approx(trials.what_if([Cells(3)]).outcome.led_A)
    assert states(trials.what_if(changes[:-1]))["L1"] == "off"


def test_fewer_cells_give_less_light_and_one_cell_none(draw: Draw) -> None:
    """A red LED wants about 2 V besides what metal in dough takes: 1.5 V light nothing."""
    trials = Trials(draw(*ONE_LIGHT))
    currents = [trials.what_if([Cells(count)]).outcome.led_A["L1"] for count in range(1, 7)]
    assert currents == sorted(currents) and currents[2] < 0.7 * currents[3]
    assert states(trials.what_if([Cells(4)])) == {"L1": "bright"}
    assert states(trials.what_if([Cells(1)])) == {"L1": "off"}


def test_a_cut_round_the_end_of_the_wall_undoes_the_short(draw: Draw) -> None:
    trials = Trials(draw(*SHORTED))
    before = trials.what_if()
    assert states(before)["L2"] == "off" and codes(before) == ["leads-in-one-lump"]
    assert before.hazards[0].level == "stop"
    # The dough that goes round the end is 8 mm wide, from x 28 to 36 mm; the finger stops 1 mm short of it.
    after = trials.what_if([CutLine(((27.0, 10.0), (30.0, 9.0), (35.0, 10.0)))])
    assert states(after) == {"L1": "bright", "L2": "bright"} and after.hazards == ()
    assert after.outcome.pack_A < before.outcome.pack_A


def test_a_lead_moved_into_the_other_lump_is_a_short(draw: Draw) -> None:
    found = what_if(draw(*SIDE_BY_SIDE), [Move("pack.minus", (45.0, 4.0))])
    assert codes(found) == ["leads-in-one-lump"] and set(states(found).values()) == {"off"}


def test_a_wire_from_lump_to_lump_is_a_short_until_it_is_pulled_out(draw: Draw) -> None:
    sculpture = draw(*SIDE_BY_SIDE)
    ends = {"W1.a": (40.0, 4.0), "W1.b": (44.0, 4.0)}
    piece = sculpture.entries["pack.plus"].piece
    entry = sculpture.entries["pack.plus"]
    entries = {name: replace(entry, name=name, at=at, piece=piece) for name, at in ends.items()}
    sculpture = replace(
        sculpture,
        entries={**sculpture.entries, **entries},
        parts=(materials.part_by_kind("wire", "W1"),),
    )
    trials = Trials(sculpture)
    across = Move("W1.b", (44.0, 20.0))
    assert codes(trials.what_if()) == []
    found = trials.what_if([across])
    assert codes(found) == ["short-wire"] and found.hazards[0].parts == ("W1",)
    assert codes(trials.what_if([across, PullOut("W1")])) == []


def test_too_many_cells_burn_a_light_close_to_both_leads(draw: Draw) -> None:
    sculpture = draw(*ONE_LIGHT)
    near = Trials(sculpture)
    assert codes(near.what_if([Cells(4)])) == []
    found = near.what_if([Cells(6)])
    assert codes(found) == ["led-overloaded"] and found.outcome.led_A["L1"] > sculpture.leds[0].safe_A
    assert codes(near.what_if([Cells(6), PullOut("L1")])) == []


def test_a_leg_beside_the_dough_or_in_the_wall_hangs_free(draw: Draw) -> None:
    sculpture = draw(*SIDE_BY_SIDE)
    for spot, code in (
        ((12.0, 12.0), "leg-in-insulator"),
        ((500.0, 500.0), "leg-out"),
        ((-3.0, 4.0), "leg-out"),
    ):
        found = what_if(sculpture, [Move("L1.long", spot)])
        assert [(one.code, one.parts) for one in found.free] == [(code, ("L1.long",))]
        assert states(found) == {"L1": "off", "L2": "bright", "L3": "bright"}


def test_a_leg_that_the_knife_meets_hangs_free(draw: Draw) -> None:
    sculpture = draw(*SIDE_BY_SIDE)
    x, y = sculpture.entries["L2.long"].at
    found = what_if(sculpture, [CutLine(((x, y - 3), (x, y + 3)))])
    assert [one.parts for one in found.free] == [("L2.long",)]


def test_legs_are_named_as_they_stand_once_an_led_is_turned(draw: Draw) -> None:
    sculpture = draw(*SIDE_BY_SIDE)
    plus, minus = (sculpture.entries[name].at for name in ("L1.long", "L1.short"))
    # Turned, its long leg stands in the black lead's lump; moved over, and the other back, it lights again.
    there, back = (plus[0] + 4, plus[1]), (minus[0] + 4, minus[1])
    found = what_if(sculpture, [Turn("L1"), Move("L1.long", there), Move("L1.short", back)])
    assert found.sculpture.entries["L1.long"].at == there
    assert states(found)["L1"] == "bright"


# ---------------------------------------------------------------- the same as other ways to the answer

CASES: dict[str, list[Change]] = {
    "turned": [Turn("L2")],
    "moved": [Move("L3.short", (37.0, 5.0))],
    "lead moved": [Move("pack.plus", (45.0, 7.0))],
    "cells": [Cells(2)],
    "cut": [CutLine(((29.0, 0.0), (31.0, 6.0), (29.0, 10.0)))],
    "all": [CutLine(((29.0, 0.0), (29.0, 10.0))), Turn("L1"), Move("L3.long", (33.0, 3.0)), Cells(5)],
}


@pytest.mark.parametrize("name", CASES)
def test_a_fresh_inspection_of_the_changed_sculpture_says_the_same(draw: Draw, name: str) -> None:
    trials = Trials(draw(*SIDE_BY_SIDE))
    trials.what_if(CASES["all"])  # what was tried before leaves no trace
    found = trials.what_if(CASES[name])
    fresh = inspect(found.sculpture)
    assert {led.id: led.current_A for led in fresh.leds} == pytest.approx(dict(found.outcome.led_A), rel=1e-9)
    assert fresh.pack_A == pytest.approx(found.outcome.pack_A, rel=1e-9)
    if name != "cells":
        assert found.outcome.led_A != pytest.approx(dict(trials.what_if().outcome.led_A), rel=1e-3)


def test_a_sculpture_drawn_as_changed_says_the_same(draw: Draw) -> None:
    """The changed sculpture comes from a drawing of its own, not from the what-if."""
    dough, places = SIDE_BY_SIDE
    drawn = draw(dough, places.replace("2", "_").replace("w", "2").replace("_", "w"))
    found = what_if(draw(*SIDE_BY_SIDE), [Turn("L2")])
    then = operate(lay_out(drawn), own_placing(drawn))
    assert found.outcome.led_A == pytest.approx(then.led_A, rel=1e-6, abs=1e-12)
    rows = [list(row) for row in places.split()]
    rows[1][2], rows[2][20] = ".", "P"
    drawn = draw(dough, "\n".join("".join(row) for row in rows))
    found = what_if(draw(*SIDE_BY_SIDE), [Move("pack.plus", (41.0, 5.0))])
    then = operate(lay_out(drawn), own_placing(drawn))
    assert found.outcome.led_A == pytest.approx(then.led_A, rel=1e-6)


@pytest.mark.skipif(
    shutil.which("ngspice") is None and not os.environ.get("CI"),
    reason="ngspice is not installed; this check needs it",
)
@pytest.mark.parametrize("name", CASES)
def test_ngspice_agrees_within_a_thousandth(draw: Draw, name: str) -> None:
    found = what_if(draw(*SIDE_BY_SIDE), CASES[name])
    deck = sculpture_deck(found.sculpture)
    done = subprocess.run(
        ["ngspice", "-b", "/dev/stdin"], input=deck, capture_output=True, text=True, timeout=60
    )
    theirs = {key: float(value) for key, value in re.findall(r"^(\S+) = (\S+)\s*$", done.stdout, re.M)}
    assert theirs["i(vl_pack)"] == pytest.approx(found.outcome.pack_A, rel=1e-3)
    for led, current in found.outcome.led_A.items():
        assert theirs[f"i(vl_{led.lower()})"] == pytest.approx(current, rel=1e-3, abs=1e-9)


# ---------------------------------------------------------------- nonsense


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ([Turn("L9")], "L9"),
        ([PullOut("pack")], "pack"),
        ([PullOut("L1"), PullOut("L1")], "L1"),
        ([PutBack("L1")], "L1"),
        ([Move("L9.long", (1.0, 1.0))], "L9.long"),
        ([PullOut("L1"), Move("L1.long", (1.0, 1.0))], "L1"),
        ([CutLine(())], "0.0 mm"),
        ([CutLine(((5.0, 5.0),))], "0.0 mm"),
        ([CutLine(((5.0, 5.0), (5.0, 5.1)))], "0.1 mm"),
        ([CutLine(((500.0, 5.0), (510.0, 5.0)))], "no conductive dough"),
        ([Cells(0)], "0 cells"),
        ([Cells(7)], "7 cells"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(draw: Draw, changes: list[Change], named: str) -> None:
    with pytest.raises(ChangeError) as told:
        what_if(draw(*SIDE_BY_SIDE), changes)
    said = str(told.value)
    assert named in said and said.endswith(".") and said[0].isupper() and len(said) < 160


def test_a_block_keeps_its_cells(draw: Draw) -> None:
    sculpture = replace(draw(*ONE_LIGHT), pack=materials.block_pack())
    with pytest.raises(ChangeError, match="9 V block"):
        what_if(sculpture, [Cells(3)])


def test_measured_cells_count_as_measured(draw: Draw) -> None:
    sculpture = draw(*ONE_LIGHT)
    tired = replace(sculpture.pack, emf_V=4.4, internal_ohm=4.0)
    found = what_if(replace(sculpture, pack=tired), [Cells(3)])
    assert (found.sculpture.pack.emf_V, found.sculpture.pack.internal_ohm) == pytest.approx((3.3, 3.0))


def test_any_changes_to_any_sculpture_end_well(
    draw: Draw, scribble: Callable[[int], tuple[str, str]]
) -> None:
    """Random changes to nonsense: finite currents, or one sentence."""
    tried = 0
    for seed in range(30):
        rng = np.random.default_rng(seed)
        sculpture = draw(*scribble(seed))
        names = list(sculpture.entries)
        spot = lambda: (float(rng.uniform(-5, 50)), float(rng.uniform(-5, 30)))  # noqa: B023, E731
        changes: list[Change] = [
            Turn("L1"),
            CutLine(tuple(spot() for _ in range(4))),
            Move(str(rng.choice(names)), spot()),
            Move(str(rng.choice(names)), sculpture.entries[names[0]].at),
            Cells(int(rng.integers(1, 7))),
            CutLine((spot(), spot())),
        ]
        try:
            found = what_if(sculpture, changes)
        except ChangeError:
            continue
        tried += 1
        assert all(map(math.isfinite, [*found.outcome.led_A.values(), found.outcome.pack_A]))
        assert found.outcome.pack_A >= 0 and found.outcome.residual_A < 1e-6
    assert tried > 15


def test_an_open_switch_shorts_nothing(draw: Draw) -> None:
    sculpture = draw(*SIDE_BY_SIDE)
    entry = sculpture.entries["pack.plus"]
    other = sculpture.entries["pack.minus"]
    entries = {
        "S1.a": replace(entry, name="S1.a", at=(40.0, 4.0)),
        "S1.b": replace(other, name="S1.b", at=(40.0, 20.0)),
    }
    for closed, told in ((True, ["short-wire"]), (False, [])):
        part = Part("S1", "switch", 0.1, closed=closed)
        mended = replace(sculpture, entries={**sculpture.entries, **entries}, parts=(part,))
        assert codes(what_if(mended)) == told

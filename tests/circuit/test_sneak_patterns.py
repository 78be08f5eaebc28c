"""Sneak paths by the topological patterns of sneak circuit analysis, one drawn sculpture for each.

The practice is Task 205 of MIL-STD-785B (1980); the five patterns (single line, ground dome, power dome,
combination, H) are as public reviews of it sum them up; see also RADC-TR-89-223 (1989). What each pattern
means in dough is told in DEVELOPERS.md.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest

from circuit import materials
from circuit.board import lay_out, own_placing, turned
from circuit.inspection import inspect
from circuit.model import Inspection, Sculpture
from circuit.outcome import operate

Draw = Callable[..., Sculpture]


def codes(found: Inspection) -> list[str]:
    return [finding.code for finding in found.findings]


SINGLE = (
    """
    aaaaaaaaaa##bbbbbbbbbb
    aaaaaaaaaa##bbbbbbbbbb
    aaaaaaaaaa##bbbbbbbbbb
    aaaaaaaaaa##bbbbbbbbbb
    aaaaaaaaaa##bbbbbbbbbb
    """,
    """
    ......................
    .P.......1..q.......M.
    ......................
    ......................
    ......................
    """,
)


def test_single_line_a_light_between_two_lumps_and_its_only_way_open(draw: Draw) -> None:
    """No path when it is wanted: the line is broken."""
    dough, entries = SINGLE
    assert codes(inspect(draw(dough, entries))) == []
    torn = "\n".join(line[:5] + "." + line[6:] for line in dough.split())
    found = inspect(draw(torn, entries))
    assert codes(found) == ["gap-in-lump"]
    assert found.traces[0].reaches == () and found.leds[0].state == "off"


def test_single_line_a_path_that_is_not_wanted(draw: Draw) -> None:
    """The line has a way round its load: the dough at the end of the wall."""
    dough, entries = SINGLE
    rows = dough.split()
    round_the_end = "\n".join([*rows[:-1], rows[-1].replace("#", "a")])
    found = inspect(draw(round_the_end, entries))
    assert codes(found)[0] == "short-round-the-end" and found.findings[0].level == "stop"


DOME = (
    """
    aaaaaaaaaa##cccccccccc
    aaaaaaaaaa##cccccccccc
    aaaaaaaaaa##cccccccccc
    aaaaaaaaaa##cccccccccc
    ######################
    bbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbb
    """,
    """
    ......................
    .P....................
    ......................
    .......1.....2........
    ......................
    .......q.....w........
    ......................
    .M....................
    ......................
    """,
)


def test_ground_dome_two_lumps_that_share_the_black_side(draw: Draw) -> None:
    """L2's + lump is fed by nothing, or by a wire, or by a lump that leans on it."""
    sculpture = draw(*DOME)
    found = inspect(sculpture)
    assert [led.state for led in found.leds] == ["bright", "off"]
    far = {trace.leg: trace for trace in found.traces}["L2.long"]
    assert far.reaches == () and far.lumps == ("C",) and far.crosses == ()
    near = draw(DOME[0].replace("##c", "a.c"), DOME[1])
    assert "gap-in-lump" in codes(inspect(near))


def test_power_dome_a_light_that_hangs_on_the_red_side_with_both_legs(draw: Draw) -> None:
    """Both ends of a load reach +: no current wants to pass."""
    flipped = DOME[1].translate(str.maketrans("PM", "MP"))
    sculpture = draw(DOME[0].replace("cccccccccc\n    ##########", "cccccccccc\n    #########b"), flipped)
    joined = draw(DOME[0].replace("######################", "#####################b"), flipped)
    for made in (sculpture, joined):
        assert inspect(made).leds[1].state == "off"
    found = inspect(joined)
    assert "legs-in-one-lump" in codes(found) or any(c.startswith("short-") for c in codes(found))


COMBINATION = (
    "\n".join(["aaaaaaa##ccccccc##bbbbbbb"] * 5),
    "\n".join(["." * 25, ".P...1...q..2.....w....M.", "." * 25, "." * 25, "." * 25]),
)


def test_combination_dome_a_row_whose_middle_lump_is_bypassed(draw: Draw) -> None:
    """One LED of a row is bypassed by dough: its light goes out, the other grows brighter."""
    strong = replace(draw(*COMBINATION), pack=materials.default_pack(6))
    whole = inspect(strong)
    rows = COMBINATION[0].split()
    leaning = "\n".join([*rows[:-2], *(row[:7] + "cc" + row[9:] for row in rows[-2:])])
    bypassed = inspect(replace(draw(leaning, COMBINATION[1]), pack=materials.default_pack(6)))
    assert [led.state for led in bypassed.leds] == ["off", "bright"]
    assert bypassed.leds[1].current_A > whole.leds[1].current_A
    short = bypassed.findings[0]
    assert short.code.startswith("short-") and short.level == "fix" and short.parts == ("L1",)


H = (
    """
    aaaaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaaaa
    ########################
    cccccccccc####dddddddddd
    cccccccccc####dddddddddd
    cccccccccc####dddddddddd
    ########################
    bbbbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbbbb
    """,
    """
    ........................
    .P......................
    ....1..............2....
    ........................
    ....q....5....t....w....
    ........................
    ..3..................4..
    ........................
    ..e..................r..
    .M......................
    ........................
    """,
)


def tight(sculpture: Sculpture) -> Sculpture:
    """With walls that do not leak, and a pack for three lights in a row."""
    doughs = tuple(
        dough if dough.conductive else replace(dough, resistivity_ohm_m=1e9) for dough in sculpture.doughs
    )
    return replace(sculpture, doughs=doughs, pack=materials.default_pack(8))


@pytest.mark.parametrize("cross_piece", ["as drawn", "turned"])
def test_h_pattern_a_light_across_two_rows(draw: Draw, cross_piece: str) -> None:
    """Two rows side by side, joined half-way by a light: which way current wants to pass there depends on
    all four others, and while they are equal it does not pass at all, whichever way the light stands."""
    sculpture = tight(draw(*H))
    board, placing = lay_out(sculpture), own_placing(sculpture)
    placing = turned(placing, "L5") if cross_piece == "turned" else placing
    balanced = operate(board, placing)
    assert balanced.states["L5"] == "off" and min(balanced.led_A[k] for k in ("L1", "L2", "L3", "L4")) > 5e-4
    # One arm backwards: the cross-piece, if it stands that way, now feeds the arm below.
    leaning = operate(board, turned(placing, "L2"))
    assert (leaning.states["L5"] != "off") == (cross_piece == "as drawn")
    assert (leaning.led_A["L4"] > 5e-4) == (cross_piece == "as drawn")


def test_h_pattern_dough_across_two_rows_is_told_when_it_takes_a_light(draw: Draw) -> None:
    """A bridge between the middles changes nothing while both rows are alike: nothing must be told as a
    fault. With one arm backwards it keeps the light below it lit: the fault is that arm alone."""
    rows = H[0].split()
    rows[5] = "c" * 24
    same = H[1].replace("5", ".").replace("t", ".")
    joined = tight(draw("\n".join(rows).replace("d", "c"), same))
    assert not [f for f in inspect(joined).findings if f.level != "watch"]
    one_back = tight(draw("\n".join(rows).replace("d", "c"), same.translate(str.maketrans("2w", "w2"))))
    fixes = [f for f in inspect(one_back).findings if f.level != "watch"]
    assert [(f.code, f.parts) for f in fixes] == [("led-backwards", ("L2",))]

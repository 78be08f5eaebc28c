"""What works now and may not for long, and what is dim because of the dough, on sculptures drawn as text."""

from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from circuit import materials
from circuit.board import lay_out, own_placing
from circuit.findings import in_a_row
from circuit.model import Entry, Finding, Part, Point, Sculpture, Wall
from circuit.outcome import operate
from circuit.trace import trace_legs
from circuit.weaknesses import idle_parts, open_switches, too_near, weaknesses

Draw = Callable[..., Sculpture]

TWO = (
    """
    aaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaa
    ####################
    ####################
    bbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbb
    """,
    """
    ....................
    .P..................
    ........1....2......
    ....................
    ....................
    ....................
    ....................
    ........q....w......
    .M..................
    ....................
    """,
)


def weak(sculpture: Sculpture) -> dict[str, Finding]:
    board, placing = lay_out(sculpture), own_placing(sculpture)
    outcome = operate(board, placing)
    rest = list(in_a_row(board, placing, outcome))
    found = [*open_switches(board, placing, outcome), *idle_parts(board, outcome)]
    found += weaknesses(board, placing, outcome, trace_legs(board, placing), rest)
    return {finding.code: finding for finding in found}


def with_part(sculpture: Sculpture, part: Part, at: Mapping[str, Point]) -> Sculpture:
    h = sculpture.cell_mm
    entries = {
        f"{part.id}.{end}": Entry(
            f"{part.id}.{end}", (x, y), int(sculpture.grid[int(y / h), int(x / h)]) or None
        )
        for end, (x, y) in at.items()
    }
    return replace(sculpture, parts=(*sculpture.parts, part), entries={**sculpture.entries, **entries})


def test_a_good_sculpture_has_none(draw: Draw) -> None:
    assert weak(draw(*TWO)) == {}
    assert too_near(draw(*TWO)) == []


@pytest.mark.parametrize(("thin_mm", "told"), [(1.2, True), (2.5, False)])
def test_a_thin_wall_between_two_wired_lumps_is_told(draw: Draw, thin_mm: float, told: bool) -> None:
    sculpture = draw(*TWO)
    pieces = dict(zip("#ab", sorted(sculpture.dough_of), strict=True))
    wall = Wall(pieces["#"], (pieces["a"], pieces["b"]), thin_mm, (20.0, 10.0))
    found = too_near(replace(sculpture, walls=(wall, replace(wall, thinnest_mm=thin_mm + 0.3))))
    assert [(f.code, f.level, f.at) for f in found] == (
        [("thin-wall", "watch", (20.0, 10.0))] if told else []
    )
    between_decorations = replace(wall, between=(pieces["a"], pieces["#"]))
    assert too_near(replace(sculpture, walls=(between_decorations,))) == []


LONG = (
    "\n".join(["a" * 6 + "." * 54, "a" * 60, "a" * 6 + "." * 46 + "a" * 8, "#" * 60, *["b" * 60] * 6]),
    "\n".join(
        [
            *("P" + "." * 59, "." * 60, "." * 57 + "1..", "." * 60),
            *("." * 57 + "q..", "M" + "." * 59, *["." * 60] * 4),
        ]
    ),
)


def test_a_light_dim_at_the_end_of_a_thin_lump_is_told_and_where_it_is_thin(draw: Draw) -> None:
    sculpture = draw(*LONG)
    thin = replace(sculpture, doughs=tuple(replace(d, thickness_mm=8.0) for d in sculpture.doughs))
    found = weak(thin)["long-way"]
    assert found.level == "fix" and found.parts == ("L1",)
    assert found.facts["lump"] == "A"
    assert 12 < found.at[0] < 104 and 2 <= found.at[1] <= 4
    assert float(found.facts["long_mm"]) == pytest.approx(114, rel=0.1)
    assert 0.2 < float(found.facts["drop_V"]) < 3
    good = tuple(replace(dough, resistivity_ohm_m=0.01) for dough in thin.doughs if dough.conductive)
    assert "long-way" not in weak(replace(thin, doughs=(thin.doughs[0], *good)))


ROW = (
    "\n".join(["aaaaaaa##aaaaaaa##aaaaaaa"] * 4),
    "\n".join(["." * 25, ".P...1.....q...2...w...M.", "." * 25, "." * 25]),
)


def test_a_row_that_lights_is_told_and_one_that_is_dim_only_once(draw: Draw) -> None:
    row = draw(*ROW)
    strong = replace(row, pack=materials.default_pack(6))
    found = weak(strong)["in-a-row"]
    assert found.level == "watch" and found.parts == ("L1", "L2") and found.facts["crosses"] == "L2"
    assert "in-a-row" not in weak(row)  # too-many-in-a-row says so already


APART = "aaaaaaaa....aaaaaaaaaaaaaaaa"
NECK = (
    "\n".join([APART, APART, "a" * 28, APART, "#" * 28, *["b" * 28] * 5]),
    "\n".join(
        [
            *("." * 28, ".P" + "." * 26, "." * 28, "." * 14 + "1....2....3..."),
            *("." * 28, "." * 28, "." * 14 + "q....w....e...", ".M" + "." * 26, "." * 28, "." * 28),
        ]
    ),
)


def test_one_neck_that_feeds_most_lights_is_told(draw: Draw) -> None:
    found = weak(draw(*NECK))["weak-neck"]
    assert found.level == "watch" and set(found.parts) == {"L1", "L2", "L3"}
    assert found.at == pytest.approx((20, 5), abs=4)
    assert float(found.facts["neck_mm"]) == pytest.approx(2, abs=1)


def test_a_block_may_overload_a_light(draw: Draw) -> None:
    """TLP.5600 data sheet: 20 mA at most for a green one."""
    block = replace(draw(*TWO, "green"), pack=materials.block_pack())
    bare = replace(block, electrode=replace(block.electrode, leg_ohm=0.0, lead_ohm=0.0, drop_i0_A=None))
    found = weak(bare)["led-overloaded"]
    assert found.level == "watch" and float(found.facts["led_A"]) > 0.02


def test_an_open_switch_that_keeps_a_light_off_is_told(draw: Draw) -> None:
    dough, entries = TWO
    apart = "\n".join(line[:6] + "." + line[7:] for line in dough.split())
    sculpture = draw(apart, entries)
    at = {"a": (9.0, 3.0), "b": (17.0, 3.0)}
    switch = replace(materials.part_by_kind("switch", "S1"), closed=False)
    ground = with_part(sculpture, materials.part_by_kind("wire", "W1"), {"a": (9.0, 17.0), "b": (17.0, 17.0)})
    found = weak(with_part(ground, switch, at))["switch-open"]
    assert found.level == "fix" and found.parts == ("S1",) and found.at == (13.0, 3.0)
    assert "switch-open" not in weak(with_part(ground, replace(switch, closed=True), at))


def test_a_buzzer_in_backwards_and_a_motor_that_starves_are_told(draw: Draw) -> None:
    sculpture = draw(*TWO)
    up, down = (35.0, 3.0), (35.0, 17.0)
    buzzer, motor = (materials.part_by_kind(kind, "X1") for kind in ("buzzer", "motor"))
    assert weak(with_part(sculpture, buzzer, {"a": down, "b": up}))["part-backwards"].level == "fix"
    assert "part-backwards" not in weak(with_part(sculpture, buzzer, {"a": up, "b": down}))
    assert weak(with_part(sculpture, motor, {"a": up, "b": down}))["part-starved"].level == "watch"

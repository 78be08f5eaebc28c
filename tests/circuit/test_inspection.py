"""Findings and remedies on sculptures drawn as text, and the trade's own facts.

The facts of the trade are common practice, no published source.
"""

from collections.abc import Callable

import pytest

from circuit.inspection import inspect
from circuit.model import Inspection, Sculpture

Draw = Callable[..., Sculpture]

ONE = (
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
    .....1....2..3......
    ....................
    ....................
    ....................
    ....................
    .....q....w..e......
    .M..................
    ....................
    """,
)


def codes(found: Inspection) -> list[str]:
    return [finding.code for finding in found.findings]


def states(found: Inspection) -> list[str]:
    return [led.state for led in found.leds]


def test_three_side_by_side_are_all_bright(draw: Draw) -> None:
    found = inspect(draw(*ONE))
    assert states(found) == ["bright"] * 3
    assert codes(found) == []
    assert found.remedies == ()
    assert found.entries["pack.plus"] == found.entries["L1.long"] == "A"
    assert found.entries["pack.minus"] == found.entries["L3.short"] == "B"


def test_one_turned_leaves_the_others_lit_and_is_turned_back(draw: Draw) -> None:
    dough, entries = ONE
    turned = entries.translate(str.maketrans("2w", "w2"))
    found = inspect(draw(dough, turned))
    assert states(found) == ["bright", "off", "bright"]
    assert codes(found) == ["led-backwards"]
    assert [step.action for step in found.remedies[0].steps] == ["turn"]
    assert found.remedies[0].steps[0].parts == ("L2",)
    assert set(found.remedies[0].then.values()) == {"bright"}


def test_all_backwards_is_the_leads_swapped(draw: Draw) -> None:
    dough, entries = ONE
    found = inspect(draw(dough, entries.translate(str.maketrans("PM", "MP"))))
    assert codes(found) == ["leads-swapped"]
    assert [step.action for step in found.remedies[0].steps] == ["swap-leads"]
    assert set(found.remedies[0].then.values()) == {"bright"}


def row_of(count: int) -> tuple[str, str]:
    """`count` LEDs in a row over `count` + 1 lumps 20 mm long."""
    dough, entries = [""] * 8, [""] * 8
    for lump in range(count + 1):
        for r in range(8):
            dough[r] += "a" * 10
            entries[r] += ".........." if r != 3 else f".{'P' if lump == 0 else '.'}......{'.' * 2}"
        if lump < count:
            for r in range(8):
                dough[r] += "###"
                entries[r] += "..."
    rows = [list(row) for row in entries]
    for i in range(count):
        left = 13 * i
        rows[5][left + 8], rows[5][left + 14] = "123"[i], "qwe"[i]
    rows[3][13 * count + 8] = "M"
    return "\n".join(dough), "\n".join("".join(row) for row in rows)


@pytest.mark.parametrize(("count", "state"), [(1, "bright"), (2, "dim"), (3, "off")])
def test_one_bright_two_in_a_row_dim_three_off(draw: Draw, count: int, state: str) -> None:
    found = inspect(draw(*row_of(count)))
    assert states(found) == [state] * count
    assert codes(found) == ([] if count == 1 else ["too-many-in-a-row"])
    if count > 1:
        assert found.findings[0].parts == ("L1", "L2", "L3")[:count]
        assert sum(s == "bright" for s in found.remedies[0].then.values()) == count


def test_pressed_together_goes_out_and_a_slight_touch_dims_by_degrees(draw: Draw) -> None:
    dough = """
    aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaaaaaaaaaa
    {row}
    bbbbbbbbbbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbbbbbbbbbb
    bbbbbbbbbbbbbbbbbbbbbbbbbbbbbb
    """
    entries = """
    ..............................
    ............................P.
    ..1...........................
    ..............................
    ..............................
    ..............................
    ..q...........................
    ............................M.
    ..............................
    """
    currents = []
    for touch in (0, 1, 3, 24):
        row = "." * 5 + "a" * touch + "." * (25 - touch)
        found = inspect(draw(dough.format(row=row), entries))
        currents.append(found.leds[0].current_A)
    assert currents == sorted(currents, reverse=True)
    assert currents[0] > 0.005
    assert currents[1] < 0.98 * currents[0]
    assert currents[3] < 0.0005


ROUND_THE_END = (
    """
    aaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaa
    ##################aaaa
    ##################aaaa
    aaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaaaaaaaaa
    """,
    """
    ......................
    ..................P...
    ....1.....2...........
    ......................
    ......................
    ......................
    ......................
    ....q.....w...........
    ..................M...
    ......................
    """,
)


def test_a_short_round_the_end_is_cut_at_the_end(draw: Draw) -> None:
    found = inspect(draw(*ROUND_THE_END))
    assert codes(found)[0] == "short-round-the-end"
    short = found.findings[0]
    assert short.level == "stop"
    assert short.at == pytest.approx((40, 10), abs=3)
    assert short.cut_mm == pytest.approx(8, abs=1.5)
    assert [step.action for step in found.remedies[0].steps] == ["cut"]
    assert set(found.remedies[0].then.values()) == {"bright"}
    xs, ys = zip(*short.path, strict=True)
    assert (xs[0], ys[0]) == pytest.approx((37, 3)) and (xs[-1], ys[-1]) == pytest.approx((37, 17))


def test_a_short_hides_a_backwards_led_and_both_are_found(draw: Draw) -> None:
    dough, entries = ROUND_THE_END
    found = inspect(draw(dough, entries.translate(str.maketrans("2w", "w2"))))
    assert codes(found) == ["short-round-the-end", "led-backwards"]
    assert found.findings[0].at == pytest.approx((40, 10), abs=3)
    assert [step.action for step in found.remedies[0].steps] == ["cut", "turn"]
    assert set(found.remedies[0].then.values()) == {"bright"}


def test_a_hole_in_the_wall_is_a_short_over_the_wall(draw: Draw) -> None:
    dough, entries = ONE
    holed = dough.replace("####################", "############aa######").replace("b", "a")
    found = inspect(draw(holed, entries))
    assert codes(found)[0] == "short-over-the-wall"
    assert found.findings[0].at == pytest.approx((26, 10), abs=3)


def test_a_strip_is_a_bridge_and_a_broad_contact_is_pressed_together(draw: Draw) -> None:
    dough, entries = ONE
    bare = dough.replace("b", "a").replace("####################", ".............aa.....")
    assert codes(inspect(draw(bare, entries)))[0] == "short-bridge"
    flat = dough.replace("b", "a")
    lines = flat.split()
    lines[4:6] = ["............aaaaaa.."] * 1 + ["............aaaaaa.."]
    assert codes(inspect(draw("\n".join(lines), entries)))[0] == "short-pressed-together"


def test_a_leg_beside_the_dough_and_one_in_the_wall(draw: Draw) -> None:
    dough, entries = ONE
    lines = [line + "..." for line in dough.split()]
    places = [line + "..." for line in entries.split()]
    out = [line.replace("3", ".") for line in places]
    out[2] = out[2][:21] + "3" + out[2][22:]
    found = inspect(draw("\n".join(lines), "\n".join(out)))
    assert codes(found) == ["leg-out"]
    assert found.findings[0].parts == ("L3.long",)
    assert found.entries["L3.long"] is None
    assert found.remedies[0].steps[0].action == "move"
    assert found.remedies[0].steps[0].to == "A"
    assert "off" not in found.remedies[0].then.values()
    wall = [line.replace("3", ".") for line in places]
    wall[4] = wall[4][:15] + "3" + wall[4][16:]
    found = inspect(draw("\n".join(lines), "\n".join(wall)))
    assert codes(found) == ["leg-in-insulator"]
    assert set(found.remedies[0].then.values()) == {"bright"}


def test_both_legs_in_one_lump(draw: Draw) -> None:
    dough, entries = ONE
    places = entries.replace("e", ".").split()
    places[1] = places[1][:17] + "e" + places[1][18:]
    found = inspect(draw(dough, "\n".join(places)))
    assert codes(found) == ["legs-in-one-lump"]
    assert set(found.remedies[0].then.values()) == {"bright"}


def test_a_gap_in_a_lump_is_found_and_joined(draw: Draw) -> None:
    dough, entries = ONE
    lines = dough.split()
    for r in range(4):
        lines[r] = lines[r][:7] + "." + lines[r][8:]
    found = inspect(draw("\n".join(lines), entries))
    assert codes(found)[0] == "gap-in-lump"
    assert found.findings[0].at[0] == pytest.approx(15, abs=3)
    assert found.remedies[0].steps[0].action == "join"
    assert set(found.remedies[0].then.values()) == {"bright"}


def test_a_near_touch_is_watched_and_nothing_else(draw: Draw) -> None:
    dough, entries = ONE
    near = dough.replace("####################\n    ####################", "....................")
    places = entries.split()
    del places[4]
    found = inspect(draw(near, "\n".join(places), gap_mm=0.8))
    assert [(f.code, f.level) for f in found.findings] == [("near-touch", "watch")]
    assert states(found) == ["bright"] * 3


def test_what_is_seen_otherwise_makes_suspects(draw: Draw) -> None:
    found = inspect(draw(*ONE, seen={"L1": "off", "L2": "off", "L3": "off"}))
    assert codes(found) == ["seen-differs"] * 3
    assert found.enquiry is not None
    assert found.enquiry.suspects[0].cause.code in ("short-underneath", "lead-loose", "pack-flat")
    assert found.enquiry.next_check is not None
    fine = inspect(draw(*ONE, seen={"L1": "bright", "L2": "dim", "L3": "bright"}))
    assert fine.enquiry is None

"""What is offered to do: enough for every light, the least trouble first, and never a hazard.

The facts of the trade are common practice, no published source.
"""

from collections.abc import Callable
from dataclasses import replace
from math import hypot

import pytest

from circuit import materials
from circuit.board import lay_out, own_placing
from circuit.choices import leg_choices
from circuit.inspection import inspect
from circuit.model import Inspection, Sculpture, Wall
from circuit.outcome import operate
from circuit.plans import LEGS_APART_MM, Bench
from circuit.remedies import Base, Plan, burning
from circuit.survey import moved_bases, survey

Draw = Callable[..., Sculpture]

DOUGH = "\n".join(["a" * 24] * 5 + ["#" * 24] * 2 + ["b" * 24] * 5)


def entries(**places: tuple[int, int]) -> str:
    """Signs at (row, column); `P` red lead, `M` black lead, digits long legs, `qwerty` short ones."""
    rows = [["."] * 24 for _ in range(12)]
    for sign, (row, col) in places.items():
        rows[row][col] = sign.strip("_")
    return "\n".join("".join(row) for row in rows)


def three(**moved: tuple[int, int]) -> str:
    """Three lights side by side, some of their places moved."""
    own = {
        "P": (1, 2), "M": (10, 2), "_1": (3, 6), "q": (8, 6), "_2": (3, 12), "w": (8, 12),
        "_3": (3, 18), "e": (8, 18),
    }  # fmt: skip
    return entries(**(own | moved))


def done(found: Inspection, rank: int = 0) -> list[tuple[str, tuple[str, ...]]]:
    return [(step.action, step.parts) for step in found.remedies[rank].steps]


def test_a_plan_of_three_things(draw: Draw) -> None:
    """One in backwards, both legs of another in one lump, the last one's short leg in a lump cut off."""
    rows = DOUGH.split()
    for row in range(7, 12):
        rows[row] = "b" * 15 + "#" + "b" * 8
    found = inspect(draw("\n".join(rows), three(_1=(8, 6), q=(3, 6), w=(1, 12))))
    first = found.remedies[0]
    assert "off" not in first.then.values() and len(first.steps) == 3
    assert ("turn", ("L1",)) in done(found)
    assert ("join", ()) in done(found) and ("move", ("L2.short",)) in done(found)


def test_all_backwards_is_one_swap_of_the_leads(draw: Draw) -> None:
    found = inspect(draw(DOUGH, three(P=(10, 2), M=(1, 2))))
    assert done(found) == [("swap-leads", ("pack",))]


def test_leads_that_are_swapped_and_one_out_are_swapped_and_pressed_in(draw: Draw) -> None:
    dough = "\n".join(["a" * 24] * 5 + ["#" * 24] * 2 + ["b" * 24] * 5 + ["." * 24] * 2)
    places = three(P=(10, 2), M=(1, 2)) + "\n" + "\n".join(["." * 24] * 2)
    rows = [list(row) for row in places.split()]
    rows[10][2], rows[13][2] = ".", "P"  # the red lead, in the wrong lump at that, lies on the table
    found = inspect(draw(dough, "\n".join("".join(row) for row in rows)))
    assert set(found.remedies[0].then.values()) == {"bright"}


def test_both_leads_in_one_lump_are_set_apart_without_a_cut(draw: Draw) -> None:
    """No cut would help here: a lead goes to the other lump."""
    found = inspect(draw(DOUGH, three(M=(3, 22))))
    assert any(finding.level == "stop" for finding in found.findings)
    assert done(found) == [("move", ("pack.minus",))]
    assert set(found.remedies[0].then.values()) == {"bright"}


END_ROUND = "\n".join(["a" * 24] * 5 + ["#" * 21 + "a" * 3] * 2 + ["a" * 24] * 5)
PRESSED = "\n".join(["a" * 24] * 3 + ["#" * 24] + ["b" * 24] * 3 + ["." * 21 + "b" * 3] + ["b" * 24] * 4)


@pytest.mark.parametrize(("dough", "places", "moved"), [
    (END_ROUND, {"P": (1, 2), "M": (3, 14), "_1": (3, 6), "q": (8, 6)}, "pack.minus"),
    (PRESSED, {"P": (1, 2), "_1": (1, 6), "q": (1, 10), "_2": (5, 14), "w": (9, 14), "M": (10, 2)},
     "L1.short"),
])  # fmt: skip
def test_what_hides_a_short_is_moved_before_the_cut(
    draw: Draw, dough: str, places: dict[str, tuple[int, int]], moved: str
) -> None:
    """Both leads on one side of it; both legs of L1 in one lump, so that no light hangs between the leads."""
    sculpture = draw(dough, entries(**places))
    board, placing = lay_out(sculpture), own_placing(sculpture)
    bases = moved_bases(survey(board, placing, operate(board, placing)))
    right = [
        base for base in bases
        if [(step.action, step.parts) for step in base.cuts] == [("move", (moved,)), ("cut", ())]
    ]  # fmt: skip
    assert any("off" not in operate(base.board, base.placing).states.values() for base in right)


def test_a_light_that_no_move_of_one_leg_helps_stands_beside_another(draw: Draw) -> None:
    """L3 has both legs in the black lead's lump, and a row of three would starve."""
    dough = "\n".join(["a" * 24] * 3 + ["#" * 24] + ["b" * 24] * 3 + ["." * 24] + ["c" * 24] * 4)
    places = entries(P=(1, 2), _1=(1, 6), q=(5, 6), _2=(1, 12), w=(5, 12), M=(10, 2), _3=(9, 8), e=(9, 16))
    sculpture = draw(dough, places, "green green green")
    found = inspect(replace(sculpture, pack=materials.default_pack(3)))
    assert "off" not in found.remedies[0].then.values()


def test_what_is_added_to_a_plan_lands_clear_of_what_the_plan_moved(draw: Draw) -> None:
    sculpture = draw(DOUGH, three(_3=(8, 20)))
    board, placing = lay_out(sculpture), own_placing(sculpture)
    first = next(c for c in leg_choices(board, placing, ["L3"]) if c.move[0][0] == "L3.long")
    moved = {**placing, "L2.long": first.move[0][1]}
    away = [
        hypot(to[0] - at[0], to[1] - at[1])
        for choice in leg_choices(board, moved, ["L3"])
        for name, to in choice.move
        for other, at in moved.items()
        if at is not None and name.startswith("L3") and not other.startswith("L3")
    ]
    assert min(away) >= LEGS_APART_MM


def test_no_plan_is_offered_twice_with_other_spots(draw: Draw) -> None:
    """L3 hangs, and cannot light together with both others: plans are sought twice."""
    found = inspect(draw(DOUGH, three(_1=(8, 6), q=(3, 6), _2=(8, 11), _3=(8, 20))))
    told = [frozenset(done(found, rank)) for rank in range(len(found.remedies))]
    assert len(told) > 1 and len(told) == len(set(told))


def test_no_remedy_leaves_a_short_or_burns_a_light(draw: Draw) -> None:
    """A 9 V block on one red light close to both leads: turned round, it would get more than it bears."""
    sculpture = draw(DOUGH, entries(P=(3, 2), M=(8, 2), _1=(8, 4), q=(3, 4)))
    sculpture = replace(sculpture, pack=materials.block_pack())
    found = inspect(sculpture)
    led = sculpture.leds[0]
    turned = inspect(draw(DOUGH, entries(P=(3, 2), M=(8, 2), _1=(3, 4), q=(8, 4))))
    assert turned.leds[0].state == "bright"
    for remedy in found.remedies:
        assert remedy.then_A["L1"] <= led.safe_A
        assert remedy.pack_A < 0.1


def test_of_two_plans_that_light_all_the_quicker_comes_first(draw: Draw) -> None:
    found = inspect(draw(DOUGH, three(_1=(8, 6), q=(3, 6))))
    assert done(found) == [("turn", ("L1",))]
    seconds = [remedy.seconds for remedy in found.remedies]
    assert seconds[0] == min(seconds)


def test_where_all_is_lit_a_thin_wall_is_made_to_last(draw: Draw) -> None:
    sculpture = draw(DOUGH, three())
    piece = {sculpture.doughs[d].conductive: p for p, d in sculpture.dough_of.items()}[False]
    ends = sculpture.entries["pack.plus"].piece or 0, sculpture.entries["pack.minus"].piece or 0
    found = inspect(replace(sculpture, walls=(Wall(piece, ends, 1.0, (20.0, 12.0)),)))
    assert [finding.code for finding in found.findings] == ["thin-wall"]
    assert done(found) == [("thicken-wall", ())]
    assert found.remedies[0].then == {led.id: led.state for led in found.leds}


@pytest.mark.parametrize("gap", [".", "#"])
def test_a_leg_in_a_lump_of_its_own_is_moved_or_the_lump_joined(draw: Draw, gap: str) -> None:
    """The short leg of L3 stands in dough that is cut off from the black lead's."""
    rows = DOUGH.split()
    for row in range(7, 12):
        rows[row] = "b" * 15 + gap + "b" * 8
    found = inspect(draw("\n".join(rows), three()))
    assert "off" not in found.remedies[0].then.values()
    assert done(found)[0][0] in ("join", "move")


@pytest.mark.parametrize(("before", "after", "burns"), [
    (0.5, 0.85, False), (0.5, 0.95, True), (0.95, 1.05, True), (0.95, 0.93, False), (1.1, 1.2, False),
])  # fmt: skip
def test_a_light_that_is_near_its_limit_is_not_pushed_over_it(
    draw: Draw, before: float, after: float, burns: bool
) -> None:
    """In shares of the safe current; one that is over it already is a fault of its own, told as a note."""
    sculpture = draw(DOUGH, three())
    board, placing = lay_out(sculpture), own_placing(sculpture)
    plain, safe_A = operate(board, placing), sculpture.leds[0].safe_A
    now = replace(plain, led_A={**plain.led_A, "L1": before * safe_A})
    then = replace(plain, led_A={**plain.led_A, "L1": after * safe_A})
    base = Base(sculpture, (), board, placing, ())
    plan = Plan(base, Bench(sculpture, (), board, placing, ()), (), then)
    assert burning(now, plan) == (["L1"] if burns else [])

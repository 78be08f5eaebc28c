"""In a row and side by side: the trade's own facts, and what must hold of any sculpture.

The facts of the trade are common practice, no published source.
"""

from collections.abc import Callable

import pytest

from circuit.arrangements import arrangements, typical_ohm
from circuit.board import lay_out, own_placing
from circuit.model import Arrangement, Sculpture
from circuit.outcome import operate

Draw = Callable[..., Sculpture]
DOUGH = "\n".join(["a" * 24] * 8 + ["#" * 24] * 2 + ["b" * 24] * 8)


def sculpture(draw: Draw, count: int, colours: str = "red") -> Sculpture:
    rows = [["."] * 24 for _ in range(18)]
    rows[2][2], rows[15][2] = "P", "M"
    for k in range(count):
        rows[6][6 + 5 * k], rows[11][6 + 5 * k] = "123"[k], "qwe"[k]
    return draw(DOUGH, "\n".join("".join(row) for row in rows), colours)


def ways(made: Sculpture) -> dict[str, Arrangement]:
    board = lay_out(made)
    return {a.way: a for a in arrangements(board, operate(board, own_placing(made)))}


@pytest.mark.parametrize(("count", "row"), [(1, "bright"), (2, "dim"), (3, "off")])
def test_one_is_bright_two_in_a_row_dim_three_off_and_side_by_side_all_bright(
    draw: Draw, count: int, row: str
) -> None:
    found = ways(sculpture(draw, count))
    assert [led.state for led in found["in-a-row"].leds] == [row] * count
    assert [led.state for led in found["side-by-side"].leds] == ["bright"] * count


def test_in_a_row_all_carry_the_same_and_side_by_side_they_add_up(draw: Draw) -> None:
    found = ways(sculpture(draw, 3, "red white green"))
    row, beside = found["in-a-row"], found["side-by-side"]
    assert [led.current_A for led in row.leds] == pytest.approx([row.pack_A] * 3, rel=1e-6, abs=1e-9)
    assert sum(led.current_A for led in beside.leds) == pytest.approx(beside.pack_A, rel=1e-6)


def test_equal_lights_side_by_side_are_equal(draw: Draw) -> None:
    currents = [led.current_A for led in ways(sculpture(draw, 3))["side-by-side"].leds]
    assert currents == pytest.approx([currents[0]] * 3)


def test_as_built_is_what_the_sums_say_and_near_its_ideal(draw: Draw) -> None:
    made = sculpture(draw, 3)
    found = ways(made)
    outcome = operate(lay_out(made), own_placing(made))
    assert [led.current_A for led in found["as-built"].leds] == list(outcome.led_A.values())
    assert found["as-built"].pack_A == pytest.approx(found["side-by-side"].pack_A, rel=0.3)
    assert 10 < typical_ohm(lay_out(made)) < 60


def test_volts_powers_and_glow_belong_together(draw: Draw) -> None:
    (led,) = ways(sculpture(draw, 1))["as-built"].leds
    assert led.power_W == pytest.approx(led.current_A * led.volts_V)
    assert 1.7 < led.volts_V < 2.1  # a red one; TLHR54xx data sheet: 2.0 V at 20 mA
    assert led.glow == pytest.approx((led.current_A / 0.02) ** 0.33)

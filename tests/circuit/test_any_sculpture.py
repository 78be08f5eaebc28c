"""Whatever is drawn: it settles, nothing is created from nothing, and promises are kept."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from circuit.board import lay_out, own_placing, turned
from circuit.inspection import inspect
from circuit.model import Sculpture
from circuit.outcome import operate

Draw = Callable[..., Sculpture]
Scribble = Callable[[int], tuple[str, str]]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10**6))
def test_anything_can_be_inspected(draw: Draw, scribble: Scribble, seed: int) -> None:
    drawn = draw(*scribble(seed), "red white blue green")
    # Without leaks through walls all current of the pack goes through LEDs.
    tight = tuple(d if d.conductive else replace(d, resistivity_ohm_m=1e12) for d in drawn.doughs)
    sculpture = replace(drawn, doughs=tight)
    found = inspect(sculpture)
    pack = sculpture.pack
    assert -1e-9 <= found.terminal_V <= pack.emf_V + 1e-9
    total = sum(led.current_A for led in found.leds)
    assert all(led.current_A >= -1e-6 for led in found.leds)
    red, black = found.entries["pack.plus"], found.entries["pack.minus"]
    if red is not None and red == black:
        assert any(f.level == "stop" for f in found.findings)
    else:
        assert found.pack_A <= total + 1e-6
        assert not any(f.code.startswith("short-") for f in found.findings)
    for remedy in found.remedies:
        assert set(remedy.then) == {led.id for led in sculpture.leds}
        assert remedy.seconds > 0


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10**6))
def test_mirroring_and_turning_twice_change_nothing(draw: Draw, scribble: Scribble, seed: int) -> None:
    dough, entries = scribble(seed)
    here = draw(dough, entries, "red white blue green")
    there = draw(
        *("\n".join(line[::-1] for line in t.split()) for t in (dough, entries)), "red white blue green"
    )
    a, b = (operate(lay_out(s), own_placing(s)) for s in (here, there))
    for led, current in a.led_A.items():
        assert b.led_A[led] == pytest.approx(current, rel=0.02, abs=1e-6)
    placing = own_placing(here)
    twice = turned(turned(placing, "L1"), "L1")
    assert operate(lay_out(here), twice).led_A == pytest.approx(a.led_A)

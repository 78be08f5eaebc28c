"""Laws of parts against the exact Lambert-W form and published SPICE cards. Sources: tests/SOURCES.md."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuit import materials
from circuit.devices import LEAK_S, Chains, chain_current
from circuit.materials import VT


def chain(
    ohm: float, is_A: float, n: float, vt: float = VT, drop: tuple[float, float] = (0.0, 1.0)
) -> Chains:
    one = [np.array([v]) for v in (ohm, drop[0], drop[1], n * vt, is_A)]
    return Chains(*one)


@pytest.mark.parametrize(
    ("volts", "ohm", "is_A", "n", "vt", "milliamps"),
    [
        (5, 1000, 1e-15, 1, 0.02585, 4.248345315),
        (12, 2200, 1e-12, 1, 0.02585, 5.191694125),
        (6, 500.042, 93.2e-12, 3.73, 0.0258649258, 8.463574),
        (6, 2000.042, 93.2e-12, 3.73, 0.0258649258, 2.181426),
        (6, 506, 1e-22, 1.5, 0.0258649258, 8.340620),
        (6, 2006, 1e-22, 1.5, 0.0258649258, 2.130263),
        (6, 500.1, 1e-10, 6.68, 0.0258649258, 5.820485),
    ],
)
def test_the_lambert_w_form(
    volts: float, ohm: float, is_A: float, n: float, vt: float, milliamps: float
) -> None:
    """Banwell and Jayakumar, Electronics Letters 36 (2000) 291; numbers computed from it, FACTS 2.2."""
    current, _ = chain_current(chain(ohm, is_A, n, vt), np.array([float(volts)]))
    assert current[0] * 1e3 == pytest.approx(milliamps, rel=1e-6)


@pytest.mark.parametrize(
    ("is_A", "n", "rs", "volts"),
    [
        (93.2e-12, 3.73, 0.042, (1.852, 1.784, 1.629, 1.340)),
        (1e-22, 1.5, 6.0, (1.934, 1.847, 1.736, 1.609)),
        (1e-10, 6.68, 0.1, (3.304, 3.184, 2.905, 2.387)),
    ],
)
def test_published_spice_cards(is_A: float, n: float, rs: float, volts: tuple[float, ...]) -> None:
    """Cards seen in public; forward volts at 20, 10, 2 and 0.1 mA computed from them, FACTS 2.3."""
    for milliamps, forward in zip((20, 10, 2, 0.1), volts, strict=True):
        assert chain(rs, is_A, n).volts(np.array([milliamps * 1e-3]))[0] == pytest.approx(forward, abs=1e-3)


@pytest.mark.parametrize(
    ("colour", "least", "most"),
    [("red", 1.8, 2.4), ("yellow", 1.9, 2.9), ("green", 1.9, 3.0), ("blue", 2.8, 4.0), ("white", 2.6, 3.4)],
)
def test_forward_volts_lie_in_the_data_sheets(colour: str, least: float, most: float) -> None:
    """Min to max at 20 mA over the data sheets of FACTS 2.4 (D1 to D9)."""
    row = materials.led_by_colour(colour)
    diode, safe = row.diode, row.safe_A
    forward = chain(diode.rs_ohm, diode.is_A, diode.n).volts(np.array([0.02]))[0]
    assert least <= forward <= most
    assert 0.02 <= safe <= 0.03


@settings(max_examples=200, deadline=None)
@given(
    st.floats(-20, 20),
    st.floats(0.01, 5000),
    st.floats(-40, -7),
    st.floats(1, 8),
    st.sampled_from([(0.0, 1.0), (0.05, 1e-5), (0.2, 1e-7)]),
)
def test_current_and_volts_are_each_others_inverse(
    volts: float, ohm: float, log_is: float, n: float, drop: tuple[float, float]
) -> None:
    part = chain(ohm, math.exp(log_is), n, drop=drop)
    current, slope = chain_current(part, np.array([volts]))
    if volts <= 0:
        assert current[0] == pytest.approx(LEAK_S * volts)
    else:
        forward = current - LEAK_S * volts
        assert part.volts(forward)[0] == pytest.approx(volts, rel=1e-9, abs=1e-12)
        step = 1e-6 * max(1.0, volts)
        ahead, _ = chain_current(part, np.array([volts + step]))
        behind, _ = chain_current(part, np.array([volts - step])) if volts > step else (current, slope)
        if volts > step:
            assert slope[0] == pytest.approx((ahead[0] - behind[0]) / (2 * step), rel=1e-3, abs=1e-15)


def test_without_a_diode_the_law_is_odd() -> None:
    """Butler-Volmer with equal branches: V = n VT asinh(I / 2 I0), and ohms in series."""
    part = Chains(*(np.full(2, v) for v in (10.0, 2 * VT, 1e-5, 0.0, 1.0)))
    current, _ = chain_current(part, np.array([0.4, -0.4]))
    assert current[0] == -current[1]
    assert 10 * current[0] + 2 * VT * math.asinh(current[0] / 2e-5) == pytest.approx(0.4, rel=1e-12)

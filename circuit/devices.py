"""Laws of the parts between two places in the dough: current and slope together.

A part is a chain in series: ohms, metal-to-dough drops and perhaps a diode. Its law is explicit in
the current, V(I) = R I + k asinh(I / 2 I0) + n VT ln(1 + I / Is), and rises for I > 0; written in
y = ln I it is convex, so Newton from the right meets the root without fail.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.errors import SolveError
from circuit.model import Diode

LEAK_S = 1e-12
"""Conductance beside every diode, as SPICE's gmin; it also carries the reverse current."""
ONE_WAY = Diode(is_A=1e-9, n=1.0, rs_ohm=0.0)
"""What lets current pass a buzzer from its red wire only: a small diode, some 0.4 V at 5 mA. Estimated."""
MOST_STEPS = 60
TINY_V = 1e-12
"""Below this every law is a straight line."""


@dataclass(frozen=True)
class Chains:
    """K parts in series form, one value each (K,).

    ohm      total series resistance
    drop_V   sum of n VT over the metal-to-dough drops, 0 without
    drop_A   I0 of those drops (any positive number without)
    diode_V  n VT of the diode, 0 without one
    diode_A  saturation current (any positive number without)
    one_way  whether a diode lets current pass only forwards
    """

    ohm: NDArray[np.float64]
    drop_V: NDArray[np.float64]
    drop_A: NDArray[np.float64]
    diode_V: NDArray[np.float64]
    diode_A: NDArray[np.float64]

    @property
    def one_way(self) -> NDArray[np.bool_]:
        """Which parts hold a diode (K,)."""
        return self.diode_V > 0

    def volts(self, current: NDArray[np.float64]) -> NDArray[np.float64]:
        """V (K,) of currents I >= 0 (K,)."""
        drop = self.drop_V * np.arcsinh(current / (2 * self.drop_A))
        return self.ohm * current + drop + self.diode_V * np.log1p(current / self.diode_A)


def chain_current(
    chains: Chains, volts: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Currents and slopes dI/dV at these volts, each (K,) or (B, K).

    A chain without a diode is odd in V. One with a diode lets only the leak pass backwards.
    Raises SolveError when Newton does not settle (it always should).
    """
    size = np.where(chains.one_way, np.maximum(volts, 0.0), np.abs(volts))
    tiny = size < TINY_V
    y = _from_the_right(chains, np.maximum(size, TINY_V))
    for _ in range(MOST_STEPS):
        current = np.exp(y)
        gap = chains.volts(current) - size
        rise = current * _ohms(chains, current)
        step = np.where(tiny, 0.0, gap / rise)
        y = y - step
        if np.all(np.abs(step) < 1e-13):
            break
    else:
        last = float(np.abs(step).max())
        if last > 1e-9:
            raise SolveError(f"A part's law did not settle in {MOST_STEPS} steps; the last was {last:g}.")
    current = np.where(tiny, size / _ohms(chains, np.zeros_like(size)), np.exp(y))
    slope = np.where(~chains.one_way | (volts > 0), 1 / _ohms(chains, current), 0.0)
    leak = np.where(chains.one_way, LEAK_S, 0.0)
    return np.where(chains.one_way, 1.0, np.sign(volts)) * current + leak * volts, slope + leak


def _ohms(chains: Chains, current: NDArray[np.float64]) -> NDArray[np.float64]:
    """dV/dI (K,)."""
    drop = chains.drop_V / np.sqrt(current**2 + 4 * chains.drop_A**2)
    return chains.ohm + drop + chains.diode_V / (current + chains.diode_A)


def _from_the_right(chains: Chains, volts: NDArray[np.float64]) -> NDArray[np.float64]:
    """ln of a current that is surely not below the root: each link of the chain alone bounds it."""
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        by_ohm = np.where(chains.ohm > 0, np.log(volts / chains.ohm), np.inf)
        ratio = np.where(chains.drop_V > 0, volts / chains.drop_V, np.inf)
        by_drop = np.log(2 * chains.drop_A) + _log_sinh(ratio)
        ratio = np.where(chains.diode_V > 0, volts / chains.diode_V, np.inf)
        by_diode = np.log(chains.diode_A) + np.where(
            ratio > 30, ratio, np.log(np.expm1(np.minimum(ratio, 30)))
        )
    return np.asarray(np.minimum(np.minimum(by_ohm, by_drop), by_diode))


def _log_sinh(x: NDArray[np.float64]) -> NDArray[np.float64]:
    small = np.log(np.sinh(np.minimum(x, 30.0)))
    return np.asarray(np.where(x > 30, x - np.log(2.0), small))

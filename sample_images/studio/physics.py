"""What each LED of a sample does: the dough as a sheet on a 1 mm grid, in the plainest way.

On purpose a second, independent calculation beside the package `circuit`: neighbouring cells joined
by resistors, entries joined to their cell (whose equivalent radius of 0.2 mm is that of a leg, after
Peaceman 1978), a leak of 1 nS to ground against floating lumps, and a general root finder.
Values as in the design of the project: estimated where it says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from sample_images.studio.shapes import CELL_MM, HALF_X_MM, HALF_Y_MM, Array, Point

STEP = round(1.0 / CELL_MM)
THERMAL_V = 0.02585
EMF_V, PACK_OHM, LEAD_OHM, LEG_OHM = 6.0, 1.2, 5.0, 20.0
DROP_N, DROP_I0_A = 2.0, 8e-5
RESISTIVITY_OHM_M = {"conductive": 0.25, "insulating": 200.0}
LEAK_S = 1e-9
METAL_OHM = 1e-4
"""Of a leg or a lead itself: two whose dough is one well of metal would otherwise be one."""
BRIGHT_A, DIM_A = 5e-3, 5e-4
DIODES = {  # saturation current [A], ideality, series resistance [ohm]; from memory of data sheets
    "red": (1e-18, 2.0, 3.0),
    "orange": (1e-18, 2.0, 3.0),
    "yellow": (1e-18, 2.1, 3.0),
    "green": (3.5e-20, 2.7, 7.0),
    "blue": (3.5e-20, 2.8, 7.0),
    "white": (3.5e-20, 2.8, 7.0),
}


@dataclass(frozen=True)
class Lamp:
    """An LED of the network: its colour and the names of its entries."""

    colour: str
    long: str
    short: str


def currents_A(
    sheet_S: Array, entries: Mapping[str, Point | None], lamps: Mapping[str, Lamp]
) -> dict[str, float]:
    """Current of every LED and of `pack`. `sheet_S` (R, C): conductance per square of each 1 mm cell."""
    cells = [
        None if spot is None else (round(spot[1] + HALF_Y_MM), round(spot[0] + HALF_X_MM))
        for spot in entries.values()
    ]
    return flows_A(between_entries(sheet_S, cells), list(entries), lamps)


def flows_A(
    G: Array,
    names: Sequence[str],
    lamps: Mapping[str, Lamp],
    emf_V: float = EMF_V,
    pack_ohm: float = PACK_OHM,
) -> dict[str, float]:
    """Current of every LED and of `pack`, from the conductances `G` (T, T) between the named entries."""
    at = {name: i for i, name in enumerate(names)}

    def branch(u: Array) -> dict[str, float]:
        pack = _pack_A(u[at["pack.plus"]] - u[at["pack.minus"]], emf_V, pack_ohm)
        leds = {k: _led_A(v.colour, u[at[v.long]] - u[at[v.short]]) for k, v in lamps.items()}
        return {"pack": pack} | leds

    def imbalance(u: Array) -> Array:
        flows = branch(u)
        net = -G @ u
        net[at["pack.plus"]] += flows["pack"]
        net[at["pack.minus"]] -= flows["pack"]
        for key, lamp in lamps.items():
            net[at[lamp.long]] -= flows[key]
            net[at[lamp.short]] += flows[key]
        return np.asarray(net * 1e3)

    start = np.where([name == "pack.plus" for name in names], 3.0, 0.0)
    found = least_squares(imbalance, start, xtol=1e-14, ftol=1e-14, gtol=1e-14, max_nfev=2000)
    return branch(found.x)


def between_entries(sheet_S: Array, spots: Sequence[tuple[int, int] | None]) -> Array:
    """Conductance matrix (T, T) between entries in cells (row, column); one at None hangs in the air."""
    dough = sheet_S > 0
    number = np.full(sheet_S.shape, -1)
    number[dough] = np.arange(int(dough.sum()))
    n = int(dough.sum())
    i, j, g = [], [], []
    for a, b in (((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
                 ((slice(None, -1), slice(None)), (slice(1, None), slice(None)))):  # fmt: skip
        both = dough[a] & dough[b]
        i.append(number[a][both])
        j.append(number[b][both])
        g.append(2 / (1 / sheet_S[a][both] + 1 / sheet_S[b][both]))
    p, q, w = np.concatenate(i), np.concatenate(j), np.concatenate(g)
    diagonal = np.bincount(p, w, n) + np.bincount(q, w, n) + LEAK_S
    rows = np.concatenate([p, q, np.arange(n)])
    cols = np.concatenate([q, p, np.arange(n)])
    laplacian = coo_matrix((np.concatenate([-w, -w, diagonal]), (rows, cols)), shape=(n, n)).tocsc()
    inject = np.zeros((n, len(spots)))
    for k, spot in enumerate(spots):
        if spot is not None:
            inject[number[spot], k] = 1.0
    lifted = inject.T @ splu(laplacian).solve(inject)
    loose = [k for k, spot in enumerate(spots) if spot is None]
    lifted[loose, loose] = 1 / LEAK_S
    return np.asarray(np.linalg.inv(lifted + METAL_OHM * np.eye(len(spots))))


def _drop_V(current: float) -> float:
    return float(DROP_N * THERMAL_V * np.arcsinh(current / (2 * DROP_I0_A)))


def _pack_A(volts: float, emf_V: float, pack_ohm: float) -> float:
    def law(i: float) -> float:
        return emf_V - i * (pack_ohm + 2 * LEAD_OHM) - 2 * _drop_V(i) - volts

    return float(brentq(law, -3.0, 3.0, xtol=1e-13))


def _led_A(colour: str, volts: float) -> float:
    is_A, n, rs_ohm = DIODES[colour]

    def law(i: float) -> float:
        return n * THERMAL_V * float(np.log1p(i / is_A)) + i * (rs_ohm + 2 * LEG_OHM) + 2 * _drop_V(i) - volts

    if volts <= 0:
        return -is_A * 0.5
    return float(brentq(law, 0.0, 1.0, xtol=1e-16))


def state(current_A: float) -> str:
    return "bright" if current_A >= BRIGHT_A else "dim" if current_A >= DIM_A else "off"


def coarse(field: NDArray[np.float64]) -> Array:
    """A fine field at the points of the 1 mm grid."""
    return field[::STEP, ::STEP]

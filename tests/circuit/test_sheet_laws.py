"""Laws that hold for every sheet: networks seen through the reduction, and properties of random lumps."""

import math
from collections.abc import Callable
from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from circuit.sheet import FAR, reduce_lump

CELL = 0.25
LEG = 0.3
PIN = 1e-6  # in the middle of a block 1 mm wide it feeds that block alone, through a well of known size
PIN_WELL = -(math.log(PIN) + FAR) / (2 * math.pi)
Measure = Callable[..., float]
Matrix = NDArray[np.float64]
seeds = st.integers(0, 100_000)


def resistor_grid(seed: int) -> tuple[NDArray[np.bool_], Matrix, "nx.Graph[tuple[int, int]]"]:
    """A mask of single cells with random conductances per square, and the same as a graph of resistors."""
    rng = np.random.default_rng(seed)
    mask = np.ones((4, 5), bool)
    sheet = np.exp(rng.normal(size=mask.shape))
    graph: nx.Graph[tuple[int, int]] = nx.grid_2d_graph(*mask.shape)
    for a, b in graph.edges:
        graph.edges[a, b]["siemens"] = 2 / (1 / sheet[a] + 1 / sheet[b])
    return mask, sheet, graph


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_it_is_the_resistance_distance_of_networkx(ohms: Measure, seed: int) -> None:
    """Klein and Randic, J. Math. Chem. 12 (1993) 81, as networkx computes it."""
    mask, sheet, graph = resistor_grid(seed)
    ends = (0, 0), (3, 4)
    spots = [((c + 0.5, r + 0.5), PIN) for r, c in ends]
    wells = sum(PIN_WELL / sheet[end] for end in ends)
    theirs = nx.resistance_distance(graph, *ends, weight="siemens", invert_weight=False)
    assert ohms(reduce_lump(mask, sheet, 1.0, spots).conductance) - wells == pytest.approx(theirs, rel=1e-6)


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_foster_over_all_resistors(ohms: Measure, seed: int) -> None:
    """The sum of r c over the resistors of a network of n nodes is n - 1. Foster 1949."""
    mask, sheet, graph = resistor_grid(seed)
    nodes = list(graph.nodes)
    g = reduce_lump(mask, sheet, 1.0, [((c + 0.5, r + 0.5), PIN) for r, c in nodes]).conductance
    total = 0.0
    for a, b in graph.edges:
        between = ohms(g, nodes.index(a), nodes.index(b)) - PIN_WELL * (1 / sheet[a] + 1 / sheet[b])
        total += between * graph.edges[a, b]["siemens"]
    assert total == pytest.approx(len(nodes) - 1, rel=1e-6)


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_foster_over_the_terminals(invent: Callable[..., Any], ohms: Measure, seed: int) -> None:
    """The same for what is left of a lump: T terminals of one body, T - 1."""
    lump = invent(seed)
    g = reduce_lump(lump.mask, heights(lump.mask, seed), lump.cell_mm, lump.terminals).conductance
    pairs = [(i, j) for j in range(len(g)) for i in range(j)]
    assert sum(-g[i, j] * ohms(g, i, j) for i, j in pairs) == pytest.approx(len(g) - 1)


def heights(mask: NDArray[np.bool_], seed: int) -> Matrix:
    """Conductance per square that changes slowly from place to place, by a factor of about three."""
    noise = ndimage.gaussian_filter(np.random.default_rng(seed).normal(size=mask.shape), 24)
    return np.asarray(np.exp(0.4 * noise / noise.std()))


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_conservation_reciprocity_and_distance(
    invent: Callable[..., Any], ohms: Measure, four_point: Measure, seed: int
) -> None:
    """Kron reduction keeps row sums 0, symmetry and signs (Doerfler and Bullo 2013); volts here for amperes
    there are the same both ways (van der Pauw 1958); resistance is a distance (Klein and Randic 1993)."""
    lump = invent(seed)
    g = reduce_lump(lump.mask, heights(lump.mask, seed), lump.cell_mm, lump.terminals).conductance
    assert np.allclose(g.sum(axis=0), 0, atol=1e-9)
    assert np.allclose(g, g.T)
    assert (g[~np.eye(len(g), dtype=bool)] <= 1e-12).all()
    assert four_point(g, 0, 1, 2, 3) == pytest.approx(four_point(g, 2, 3, 0, 1), rel=1e-6, abs=1e-9)
    for i in range(3):
        assert ohms(g, i, 4) <= ohms(g, i, 5) + ohms(g, 5, 4)


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_rayleigh(invent: Callable[..., Any], ohms: Measure, seed: int) -> None:
    """Cutting never helps, and better dough never harms (Rayleigh; Doyle and Snell 1984)."""
    lump = invent(seed)
    rng = np.random.default_rng(seed)
    rows, cols = (np.indices(lump.mask.shape) + 0.5) * lump.cell_mm
    near = np.min([np.hypot(cols - x, rows - y) for (x, y), _ in lump.terminals], axis=0)
    # What changes keeps away from the metals, whose surroundings are taken as they are.
    r, c = rng.permutation(np.argwhere(lump.mask & (near > 4)))[0]
    patch = (abs(rows - rows[r, c]) < rng.uniform(1, 12)) & (abs(cols - cols[r, c]) < rng.uniform(1, 12))
    patch &= near > 4
    sheet = heights(lump.mask, seed)
    whole = reduce_lump(lump.mask, sheet, lump.cell_mm, lump.terminals).conductance
    better = reduce_lump(lump.mask, np.where(patch, 3 * sheet, sheet), lump.cell_mm, lump.terminals)
    cut = reduce_lump(lump.mask & ~patch, sheet, lump.cell_mm, lump.terminals)
    for i in range(len(whole)):
        for j in range(i):
            assert ohms(better.conductance, i, j) <= ohms(whole, i, j) * (1 + 1e-9)
    if ndimage.label(lump.mask & ~patch)[1] == 1:
        for i in range(len(whole)):
            for j in range(i):
                assert ohms(cut.conductance, i, j) >= ohms(whole, i, j) * (1 - 1e-9)


@settings(max_examples=10, deadline=None)
@given(seeds, st.floats(0.01, 100))
def test_scale_and_mirror(invent: Callable[..., Any], seed: int, times: float) -> None:
    """k times the height conducts k times as well; a mirror image conducts alike. Dimensions, symmetry."""
    lump = invent(seed)
    sheet = heights(lump.mask, seed)
    g = reduce_lump(lump.mask, sheet, lump.cell_mm, lump.terminals).conductance
    scaled = reduce_lump(lump.mask, times * sheet, lump.cell_mm, lump.terminals).conductance
    assert scaled == pytest.approx(times * g, rel=1e-7, abs=1e-12)
    mirrored = [((y, x), radius) for (x, y), radius in lump.terminals]
    assert reduce_lump(lump.mask.T, sheet.T, lump.cell_mm, mirrored).conductance == pytest.approx(
        g, rel=1e-7, abs=1e-12
    )


@pytest.mark.parametrize("seed", range(3))
def test_van_der_pauw(seed: int, four_point: Measure) -> None:
    """exp(-pi Ra) + exp(-pi Rb) = 1 for four contacts on the rim of any sheet without holes, unit squares.

    L. J. van der Pauw, Philips Res. Rep. 13 (1958) 1. FACTS 1.1h. On cells of 0.25 mm the rim is rough to a
    tenth of a mm, of which the legs are three: 2 %.
    """
    rng = np.random.default_rng(seed)
    waves = [(k, rng.normal() * 7 / k, rng.uniform(0, 2 * math.pi)) for k in range(2, 6)]

    def rim(angle: Any) -> Any:
        return 36 + sum(size * np.cos(k * angle + phase) for k, size, phase in waves)

    n = 440
    y, x = (np.indices((n, n)) + 0.5) * CELL - n * CELL / 2
    mask = np.hypot(x, y) < rim(np.arctan2(y, x))
    spots = []
    for turn in range(4):
        angle = (turn + rng.uniform(0.1, 0.9)) * math.pi / 2
        reach = float(rim(angle)) - 0.2
        middle = n * CELL / 2
        spots.append(((reach * math.cos(angle) + middle, reach * math.sin(angle) + middle), LEG))
    g = reduce_lump(mask, np.ones(mask.shape), CELL, spots).conductance
    first, second = abs(four_point(g, 0, 1, 2, 3)), abs(four_point(g, 1, 2, 3, 0))
    assert math.exp(-math.pi * first) + math.exp(-math.pi * second) == pytest.approx(1, abs=0.02)

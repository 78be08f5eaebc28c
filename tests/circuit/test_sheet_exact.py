"""The sheet against closed forms, published tables and general graph theory. Sources: tests/SOURCES.md."""

import math

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from circuit.errors import SculptureError
from circuit.sheet import FAR, reduce_lump

CELL = 0.25
METAL = 1e7  # so good a conductor that it is a contact held at one potential
LEG = 0.3
PIN = 1e-6  # in the middle of a block 1 mm wide it feeds that block alone, through a well of known size
PIN_WELL = -(math.log(PIN) + FAR) / (2 * math.pi)


def ohms(conductance: NDArray[np.float64], i: int = 0, j: int = 1) -> float:
    """Resistance between two terminals while the others carry no current."""
    rest = np.linalg.pinv(conductance)
    return float(rest[i, i] + rest[j, j] - 2 * rest[i, j])


def four_point(conductance: NDArray[np.float64], a: int, b: int, c: int, d: int) -> float:
    """Volts from c to d for 1 A from a to b."""
    z = np.linalg.pinv(conductance)
    return float(z[a, c] - z[a, d] - z[b, c] + z[b, d])


def test_a_bar_is_as_many_squares_as_it_is_long_over_wide() -> None:
    """R = rho L / (t W): 0.2 ohm m, 100 x 20 mm, 10 mm thick is 100 ohm. Definition, FACTS 1.1a."""
    square = 10e-3 / 0.2
    mask = np.ones((80, 440), bool)
    sheet = np.full(mask.shape, square)
    sheet[:, :20] = sheet[:, -20:] = METAL
    g = reduce_lump(mask, sheet, CELL, [((2.5, 10), LEG), ((107.5, 10), LEG)]).conductance
    assert ohms(g) == pytest.approx(100, rel=0.01)


@pytest.mark.parametrize("turn", [0, 20, 45])
def test_a_bar_turned_is_no_longer(turn: float) -> None:
    """The staircase edge of a turned bar must not cost. Symmetry."""
    cell = CELL / 2
    n = round(112 / cell)
    y, x = (np.indices((n, n)) + 0.5) * cell - 56
    way = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
    u, v = x * way[0] + y * way[1], y * way[0] - x * way[1]
    mask = (abs(u) < 50) & (abs(v) < 10)
    places = [(s * way[0] * r + 56, s * way[1] * r + 56) for r in (40, 20) for s in (-1, 1)]
    g = reduce_lump(mask, np.ones(mask.shape), cell, [(p, LEG) for p in places]).conductance
    assert four_point(g, 0, 1, 2, 3) == pytest.approx(2, rel=0.01)


def test_an_annulus() -> None:
    """R = ln(b/a) / 2 pi squares; b/a = 4: 0.220636. FACTS 1.1b."""
    inner, outer = 10.0, 40.0
    n = int(2 * (outer + 4) / CELL)
    y, x = (np.indices((n, n)) + 0.5) * CELL
    r = np.hypot(x - n * CELL / 2, y - n * CELL / 2)
    sheet = np.where((r < inner) | (r > outer), METAL, 1.0)
    hub, rim = (n * CELL / 2, n * CELL / 2), (n * CELL / 2, n * CELL / 2 - outer - 1.5)
    g = reduce_lump(r <= outer + 3, sheet, CELL, [(hub, LEG), (rim, LEG)], side_mm=CELL).conductance
    assert ohms(g) == pytest.approx(math.log(outer / inner) / (2 * math.pi), rel=0.01)


def test_a_quarter_ring_along_the_arc() -> None:
    """R = theta / ln(b/a) squares; a quarter, b/a = 4: 1.133090. FACTS 1.1d. Curved free edges."""
    inner, outer = 10.0, 40.0
    n = int((outer + 6) / CELL)
    y, x = (np.indices((n, n)) + 0.5) * CELL - 5
    r = np.hypot(x, y)
    mask = (r > inner) & (r < outer) & ((x > -4) & (y > -4))
    sheet = np.where((x < 0) | (y < 0), METAL, 1.0)
    mask |= ((x < 0) & (x > -4) & (y > inner) & (y < outer)) | (
        (y < 0) & (y > -4) & (x > inner) & (x < outer)
    )
    mask &= ~((x < 0) & (y < 0))
    spots = [((5 - 2, 5 + 25), LEG), ((5 + 25, 5 - 2), LEG)]
    g = reduce_lump(mask, sheet, CELL, spots, side_mm=0.5).conductance
    assert ohms(g) == pytest.approx(math.pi / 2 / math.log(outer / inner), rel=0.01)


@pytest.mark.parametrize("shift", [0.0, 0.13, 0.37, 0.5])
def test_two_small_contacts_on_a_large_sheet(shift: float) -> None:
    """R = (1/pi) acosh(D / 2a) squares on an endless sheet. FACTS 1.1e; wells are Peaceman's (1978).

    The sheet ends 20 distances away, which adds a few thousandths.
    """
    apart, size = 12.0, 240.0
    n = round(size / 0.5)
    mask = np.ones((n, n), bool)
    at = size / 2 + shift
    spots = [((at - apart / 2, at), LEG), ((at + apart / 2, at), LEG)]
    g = reduce_lump(mask, np.ones(mask.shape), 0.5, spots, side_mm=1.0).conductance
    assert ohms(g) == pytest.approx(math.acosh(apart / (2 * LEG)) / math.pi, rel=0.01)


def test_the_corner_of_a_bend() -> None:
    """A right-angle bend is 1 - 2 ln 2 / pi = 0.558729 squares. FACTS 1.1m."""
    side, arm = 20.0, 80.0
    n = round((side + arm + 3) / CELL)
    y, x = (np.indices((n, n)) + 0.5) * CELL
    mask = (x < side) | (y < side)
    sheet = np.where((x > side + arm) | (y > side + arm), METAL, 1.0)
    end = side + arm + 1.5
    g = reduce_lump(mask, sheet, CELL, [((end, 10), LEG), ((10, end), LEG)]).conductance
    assert ohms(g) - 2 * arm / side == pytest.approx(1 - 2 * math.log(2) / math.pi, abs=0.02)
    assert ohms(g) == pytest.approx(2 * arm / side + 1 - 2 * math.log(2) / math.pi, rel=0.01)


def test_the_l_of_three_squares_is_the_root_of_three() -> None:
    """FACTS 1.1n (from memory there; confirmed by extrapolation)."""
    unit = 20.0
    n = round((2 * unit + 6) / CELL)
    y, x = (np.indices((n, n)) + 0.5) * CELL
    y, x = y - 3, x
    mask = ((x < 2 * unit) & (y > -3) & (y < unit)) | ((x < unit) & (y >= unit))
    sheet = np.where((y < 0) | (y > 2 * unit), METAL, 1.0)
    spots = [((unit, 1.5), LEG), ((unit / 2, 2 * unit + 4.5), LEG)]
    g = reduce_lump(mask, sheet, CELL, spots, side_mm=0.5).conductance
    assert ohms(g) == pytest.approx(math.sqrt(3), rel=0.01)


@pytest.mark.parametrize(("ratio", "published"), [(5, 3.5098), (10, 4.2209), (20, 4.4516)])
def test_four_point_probe_on_a_square(ratio: float, published: float) -> None:
    """Smits, Bell Syst. Tech. J. 37 (1958) 711, square a/d = 1 (from memory; image sums agree)."""
    spacing = 6.0
    size = ratio * spacing
    n = round(size / 0.5)
    mask = np.ones((n, n), bool)
    spots = [((size / 2 + k * spacing, size / 2), LEG) for k in (-1.5, -0.5, 0.5, 1.5)]
    g = reduce_lump(mask, np.ones(mask.shape), 0.5, spots, side_mm=0.5).conductance
    assert 1 / four_point(g, 0, 3, 1, 2) == pytest.approx(published, rel=0.01)


def test_van_der_pauw_on_a_crooked_lamina() -> None:
    """exp(-pi Ra) + exp(-pi Rb) = 1 for four contacts on the rim. Philips Res. Rep. 13 (1958) 1."""
    n = 400
    y, x = (np.indices((n, n)) + 0.5) * CELL - n * CELL / 2
    angle = np.arctan2(y, x)
    rim = 38 + 5 * np.cos(3 * angle) + 3 * np.sin(2 * angle)
    mask = np.hypot(x, y) < rim
    spots = []
    for a in (0.3, 1.7, 3.4, 5.0):
        r = 38 + 5 * math.cos(3 * a) + 3 * math.sin(2 * a) - 0.2
        spots.append(((r * math.cos(a) + n * CELL / 2, r * math.sin(a) + n * CELL / 2), LEG))
    g = reduce_lump(mask, np.ones(mask.shape), CELL, spots, side_mm=0.5).conductance
    ra, rb = abs(four_point(g, 0, 1, 2, 3)), abs(four_point(g, 1, 2, 3, 0))
    assert math.exp(-math.pi * ra) + math.exp(-math.pi * rb) == pytest.approx(1, abs=0.02)


def test_halving_the_blocks_changes_less_than_a_hundredth() -> None:
    mask = np.ones((160, 240), bool)
    mask[60:100, :150] = False
    spots = [((8, 8), LEG), ((12, 33), LEG), ((52, 6), LEG), ((50, 30), LEG)]
    coarse, fine = (
        reduce_lump(mask, np.ones(mask.shape), CELL, spots, side_mm=s).conductance for s in (1.0, 0.5)
    )
    for i in range(4):
        for j in range(i):
            assert ohms(coarse, i, j) == pytest.approx(ohms(fine, i, j), rel=0.01)


def grid_graph(mask: NDArray[np.bool_]) -> nx.Graph:
    graph = nx.Graph()
    for r, c in zip(*np.nonzero(mask), strict=True):
        for rr, cc in ((r + 1, c), (r, c + 1)):
            if rr < mask.shape[0] and cc < mask.shape[1] and mask[rr, cc]:
                graph.add_edge((int(r), int(c)), (int(rr), int(cc)), weight=1.0)
    return graph


def test_it_is_the_resistance_distance_of_networkx() -> None:
    """Klein and Randic, J. Math. Chem. 12 (1993) 81, as networkx computes it, on 1-ohm squares."""
    mask = np.ones((7, 9), bool)
    mask[2:5, 4] = False
    spots = [((0.5, 0.5), PIN), ((8.5, 6.5), PIN)]
    g = reduce_lump(mask, np.ones(mask.shape), 1.0, spots, side_mm=1.0).conductance
    graph = grid_graph(mask)
    theirs = nx.resistance_distance(graph, (0, 0), (6, 8), weight="weight", invert_weight=True)
    assert ohms(g) - 2 * PIN_WELL == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize(
    ("to", "exact"),
    [
        ((1, 0), 1 / 2),
        ((1, 1), 2 / math.pi),
        ((2, 0), 2 - 4 / math.pi),
        ((2, 1), 4 / math.pi - 1 / 2),
        ((2, 2), 8 / (3 * math.pi)),
        ((3, 0), 17 / 2 - 24 / math.pi),
        ((3, 1), 46 / (3 * math.pi) - 4),
        ((3, 2), 1 / 2 + 4 / (3 * math.pi)),
        ((3, 3), 46 / (15 * math.pi)),
        ((4, 0), 40 - 368 / (3 * math.pi)),
        ((4, 1), 80 / math.pi - 49 / 2),
    ],
)
def test_the_endless_grid_of_one_ohm(to: tuple[int, int], exact: float) -> None:
    """OEIS A355565; Atkinson and van Steenwijk, Am. J. Phys. 67 (1999) 486. A large grid comes near."""
    n = 141
    spots = [((70.5, 70.5), PIN), ((70.5 + to[0], 70.5 + to[1]), PIN)]
    g = reduce_lump(np.ones((n, n), bool), np.ones((n, n)), 1.0, spots, side_mm=1.0).conductance
    assert ohms(g) - 2 * PIN_WELL == pytest.approx(exact, rel=1e-3)


def test_a_hairline_gap_separates_and_a_sliver_joins() -> None:
    mask = np.ones((40, 80), bool)
    mask[:, 41] = False
    spots = [((5, 5), LEG), ((15, 5), LEG)]
    assert np.abs(reduce_lump(mask, np.ones(mask.shape), CELL, spots).conductance).max() < 1e-9
    mask[20:22, 41] = True
    assert reduce_lump(mask, np.ones(mask.shape), CELL, spots).conductance[0, 0] > 0.01


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_conservation_reciprocity_and_rayleigh(seed: int) -> None:
    """Kron reduction keeps row sums 0 and symmetry (Doerfler and Bullo 2013); cutting never helps
    (Rayleigh monotonicity, Doyle and Snell 1984)."""
    rng = np.random.default_rng(seed)
    mask = np.ones((48, 64), bool)
    spots = [((float(x), float(y)), LEG) for x, y in ((3, 3), (13, 3), (3, 9), (13, 9))]
    sheet = np.exp(rng.normal(size=mask.shape) * 0.3)
    whole = reduce_lump(mask, sheet, CELL, spots).conductance
    r, c = int(rng.integers(16, 30)), int(rng.integers(16, 44))
    cut = mask.copy()
    cut[r : r + 3, c - 14 : c + 14] = False
    less = reduce_lump(cut, sheet, CELL, spots).conductance
    assert np.allclose(whole.sum(axis=0), 0, atol=1e-9)
    assert np.allclose(whole, whole.T)
    assert four_point(whole, 0, 1, 2, 3) == pytest.approx(four_point(whole, 2, 3, 0, 1), rel=1e-6, abs=1e-9)
    for i in range(4):
        for j in range(i):
            assert ohms(less, i, j) >= ohms(whole, i, j) * (1 - 1e-9)


def test_an_entry_far_from_its_lump_is_refused() -> None:
    mask = np.zeros((40, 80), bool)
    mask[:, :20] = True
    with pytest.raises(SculptureError, match=r"15\.0, 5\.0"):
        reduce_lump(mask, np.ones(mask.shape), CELL, [((2, 5), LEG), ((15, 5), LEG)])


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0, 14.9), st.floats(0, 9.9), st.sampled_from([0.3, 1.0])), min_size=2, max_size=6
    )
)
def test_however_entries_crowd_no_resistance_is_below_nothing(
    places: list[tuple[float, float, float]],
) -> None:
    spots = [((x, y), r) for x, y, r in places]
    g = reduce_lump(np.ones((40, 60), bool), np.ones((40, 60)), CELL, spots).conductance
    assert np.isfinite(g).all()
    assert np.linalg.eigvalsh(g).min() > -1e-9 * np.abs(g).max()

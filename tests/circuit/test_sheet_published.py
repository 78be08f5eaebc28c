"""The sheet against closed forms and published tables, at the blocks and cells that the app uses.

All shapes are as large as sculptures, 40 to 120 mm, on cells of 0.25 mm, and all must come within 1 %.
What stands for a contact:

strip   a straight contact is dough of 1e7 times the conductance, 3 mm wide
ring    a curved contact is a row of wells held at one potential. N thin wires on a circle of radius a act as
        that circle when each has the radius a / N (geometric mean radius of a bundle of conductors, textbook)
point   a single leg, of radius 0.3 mm. Legs that carry no current measure volts, whatever their size

Sources: tests/SOURCES.md.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from circuit.model import Point
from circuit.sheet import FAR, reduce_lump

CELL = 0.25
METAL = 1e7
LEG = 0.3
PIN = 1e-6  # in the middle of a block 1 mm wide it feeds that block alone, through a well of known size
PIN_WELL = -(math.log(PIN) + FAR) / (2 * math.pi)
WITHIN = 0.01
Grid = NDArray[np.floating[Any]]
Where = Callable[[Grid, Grid], NDArray[np.bool_]]
Box = tuple[float, float, float, float]
Wires = list[tuple[Point, float]]


def conductance(box: Box, dough: Where, metal: Where | None, terminals: Wires) -> NDArray[np.float64]:
    """(T, T) of unit sheet drawn in a box (left, right, top, bottom) [mm]."""
    left, right, top, bottom = box
    rows, cols = np.indices((round((bottom - top) / CELL), round((right - left) / CELL)))
    x, y = (cols + 0.5) * CELL + left, (rows + 0.5) * CELL + top
    strip = np.zeros(x.shape, bool) if metal is None else metal(x, y)
    spots = [((px - left, py - top), radius) for (px, py), radius in terminals]
    return reduce_lump(dough(x, y) | strip, np.where(strip, METAL, 1.0), CELL, spots).conductance


def points(places: list[Point]) -> Wires:
    return [(place, LEG) for place in places]


def everywhere(x: Grid, _: Grid) -> NDArray[np.bool_]:
    return np.ones(x.shape, bool)


def within(x: Grid, y: Grid, left: float, right: float, top: float, bottom: float) -> NDArray[np.bool_]:
    return (x > left) & (x < right) & (y > top) & (y < bottom)


@dataclass(frozen=True)
class Strips:
    """A shape between two straight contacts, each touched at one spot."""

    exact: float
    box: Box
    dough: Where
    metal: Where
    spots: list[Point]


# An upright T: a bar 7 units long and a stem 3 units long, the unit being 15 mm.
T_BAR = Strips(
    6.84690, (-3, 108, 0, 60), lambda x, y: (y < 15) | (abs(x - 52.5) < 7.5),
    lambda x, y: ((x < 0) | (x > 105)) & (y < 15), [(-1.5, 7), (106.5, 7)],
)  # fmt: skip
T_STEM = Strips(
    6.53348, (-3, 105, 0, 63), lambda x, y: (y < 15) | (abs(x - 52.5) < 7.5),
    lambda x, y: ((x < 0) & (y < 15)) | ((y > 60) & (abs(x - 52.5) < 7.5)), [(-1.5, 7), (52.5, 61.5)],
)  # fmt: skip
QUARTER = (math.pi / 2) / math.log(4)  # squares of a quarter ring, b / a = 4, along the arc
STRIPS = {
    # R = rho L / (t W): definition of the sheet resistance. FACTS 1.1a
    "bar": Strips(5, (-3, 103, 0, 20), everywhere, lambda x, _: (x < 0) | (x > 100), [(-2, 10), (102, 10)]),
    # R = theta / ln(b/a): FACTS 1.1d
    "quarter ring along the arc": Strips(
        QUARTER, (-3, 60, -3, 60),
        lambda x, y: (np.hypot(x, y) > 15) & (np.hypot(x, y) < 60) & (x > 0) & (y > 0),
        lambda x, y: within(x, y, -3, 0, 15, 60) | within(x, y, 15, 60, -3, 0), [(-1.5, 30), (30, -1.5)],
    ),
    # A corner is 1 - 2 ln 2 / pi squares: FACTS 1.1m, 1.3
    "bend": Strips(
        8 + 1 - 2 * math.log(2) / math.pi, (0, 103, 0, 103), lambda x, y: (x < 20) | (y < 20),
        lambda x, y: within(x, y, 100, 103, 0, 20) | within(x, y, 0, 20, 100, 103),
        [(101.5, 10), (10, 101.5)],
    ),
    # FACTS 1.1n
    "L of three squares": Strips(
        math.sqrt(3), (0, 60, -3, 63), lambda x, y: (x < 30) | (y < 30),
        lambda x, y: (y < 0) | ((y > 60) & (x < 30)), [(30, -1.5), (15, 61.5)],
    ),
    # From here on by extrapolation of plain grids: FACTS 1.3
    "dumbbell": Strips(
        6.47731, (-3, 123, 0, 36), lambda x, y: (x < 36) | (x > 84) | (abs(y - 18) < 6),
        lambda x, _: (x < 0) | (x > 120), [(-1.5, 18), (121.5, 18)],
    ),
    "U": Strips(
        10.11263, (0, 60, 0, 103), lambda x, y: (y < 20) | (x < 20) | (x > 40),
        lambda x, y: (y > 100) & ((x < 20) | (x > 40)), [(10, 101.5), (50, 101.5)],
    ),
    "T from end to end": T_BAR,
    "T from end to stem": T_STEM,
    "square with a hole": Strips(
        1.27538, (-3, 93, 0, 90), lambda x, y: (abs(x - 45) > 15) | (abs(y - 45) > 15),
        lambda x, _: (x < 0) | (x > 90), [(-1.5, 45), (91.5, 45)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", STRIPS)
def test_between_straight_contacts(name: str, ohms: Callable[..., float]) -> None:
    case = STRIPS[name]
    g = conductance(case.box, case.dough, case.metal, points(case.spots))
    assert ohms(g) == pytest.approx(case.exact, rel=WITHIN)


def test_a_bar_of_dough_in_ohms(ohms: Callable[..., float]) -> None:
    """0.2 ohm m, 100 x 20 mm, 10 mm thick: 100 ohm. FACTS 1.1a."""
    bar = STRIPS["bar"]
    g = conductance(bar.box, bar.dough, bar.metal, points(bar.spots)) * 10e-3 / 0.2
    assert ohms(g) == pytest.approx(100, rel=WITHIN)


def test_what_insulates_and_what_feeds_may_be_exchanged(ohms: Callable[..., float]) -> None:
    """R R' = 1 for the two pairs of opposite sides of a four-sided sheet, here a crooked one. FACTS 1.1o.

    Four corners stick into the dough each time; either resistance may be 1 % off.
    """

    def dough(x: Grid, y: Grid) -> NDArray[np.bool_]:
        return within(x, y, 0, 70, 0, 50) & ~above(x, y) & ~below(x, y)

    def above(x: Grid, y: Grid) -> NDArray[np.bool_]:
        return within(x, y, 20, 32, -3, 30) | within(x, y, 0, 70, -3, 0)

    def below(x: Grid, y: Grid) -> NDArray[np.bool_]:
        return within(x, y, 44, 52, 25, 53) | within(x, y, 0, 70, 50, 53)

    sideways = conductance(
        (-3, 73, 0, 50), dough, lambda x, _: (x < 0) | (x > 70), points([(-1.5, 9), (71.5, 9)])
    )
    upright = conductance(
        (0, 70, -3, 53), dough, lambda x, y: above(x, y) | below(x, y), points([(9, -1.5), (9, 51.5)])
    )
    assert ohms(sideways) * ohms(upright) == pytest.approx(1, rel=WITHIN)


def ring(radius: float, count: int, sector: float = 2 * math.pi) -> Wires:
    """Wires that stand for a circle round the origin, or for a sector of it between two free edges."""
    angles = [(k + 0.5) * sector / count for k in range(count)]
    wire = radius * sector / count / (2 * math.pi)
    return [((radius * math.cos(a), radius * math.sin(a)), wire) for a in angles]


def arc(pole: float, tau: float, count: int, way: int, span: tuple[float, float]) -> Wires:
    """Wires that stand for a circle of Apollonius round the pole (way * pole, 0), tau = ln of its ratio.

    Bipolar coordinates: current flows along lines of constant sigma, so free edges may run along sigma =
    span[0] and span[1]. Any textbook on conformal mapping.
    """
    wires, step = [], (span[1] - span[0]) / count
    for sigma in (span[0] + (k + 0.5) * step for k in range(count)):
        scale = pole / (math.cosh(tau) - math.cos(sigma))
        place = (way * scale * math.sinh(tau), scale * math.sin(sigma))
        wires.append((place, scale * step / (2 * math.pi)))
    return wires


def between(box: Box, dough: Where, first: Wires, second: Wires) -> float:
    """Ohms between two contacts made of wires, in unit sheet."""
    g = conductance(box, dough, None, first + second)
    return float(1 / g[: len(first), : len(first)].sum())


def test_an_annulus() -> None:
    """R = ln(b/a) / 2 pi; b/a = 4: 0.220636. FACTS 1.1b. Dough goes on inside and outside, as it may."""
    found = between((-43, 43, -43, 43), lambda x, y: np.hypot(x, y) < 43, ring(10, 16), ring(40, 40))
    assert found == pytest.approx(math.log(4) / (2 * math.pi), rel=WITHIN)


def test_a_quarter_ring_from_the_inner_to_the_outer_arc() -> None:
    """R = ln(b/a) / theta; b/a = 4: 0.882542. FACTS 1.1c."""
    quarter = math.pi / 2
    found = between((0, 63, 0, 63), everywhere, ring(15, 8, quarter), ring(60, 16, quarter))
    assert found == pytest.approx(1 / QUARTER, rel=WITHIN)


OPENING = math.radians(60)  # either way of the line on which the poles stand, seen from far away


def two_arcs(span: tuple[float, float], box: Box, apart: float, radius: float, count: int) -> float:
    """Ohms between two equal discs in unit sheet that ends along lines of current."""
    pole = math.sqrt(apart**2 / 4 - radius**2)
    tau = math.acosh(apart / 2 / radius)
    middle, reach = pole / math.tan(span[0]), pole / math.sin(span[0])

    def dough(x: Grid, y: Grid) -> NDArray[np.bool_]:
        return np.asarray((np.hypot(x, y - middle) < reach) | (np.hypot(x, y + middle) < reach))

    return between(box, dough, arc(pole, tau, count, 1, span), arc(pole, tau, count, -1, span))


def test_two_discs() -> None:
    """R = acosh(D / 2a) / pi on an endless sheet, D/a = 10. FACTS 1.1e.

    The sheet ends along two lines of current, between which flow 4/6 of what would flow without an end.
    """
    found = two_arcs((OPENING, 2 * math.pi - OPENING), (-56, 56, -56, 56), 60, 6, 12)
    assert found * 4 / 6 == pytest.approx(math.acosh(5) / math.pi, rel=WITHIN)
    assert math.acosh(5) / math.pi == pytest.approx(0.729704, abs=1e-6)


def test_two_half_discs_on_an_edge() -> None:
    """Twice as much, by symmetry: 1.459407. FACTS 1.1f."""
    found = two_arcs((OPENING, math.pi), (-56, 56, 0, 56), 60, 6, 6)
    assert found * 4 / 6 == pytest.approx(1.459407, rel=WITHIN)


def test_two_contacts_on_the_rim_of_a_disc() -> None:
    """R = (2 / pi) acosh(c / a), circles across the rim at right angles; a/R = 0.1: 1.908728. FACTS 1.1g."""
    reach, radius = 50.0, 5.0
    span = (math.pi / 2, 3 * math.pi / 2)
    found = two_arcs(span, (-51, 51, -51, 51), 2 * math.hypot(reach, radius), radius, 6)
    assert found == pytest.approx(1.908728, rel=WITHIN)


RIM = 49.8
EDGE_POINTS = [2 * math.atan(0.4 * k) for k in (-3, -1, 1, 3)]
"""Where the conformal map from the half plane to the disc brings four equally spaced points of the edge."""


def on_rim(angles: list[float], ends: tuple[int, int, int, int], four_point: Callable[..., float]) -> float:
    places = points([(RIM * math.cos(a), RIM * math.sin(a)) for a in angles])
    g = conductance((-51, 51, -51, 51), lambda x, y: np.hypot(x, y) < 50, None, places)
    return four_point(g, *ends)


def test_four_equally_spaced_points_on_an_edge(four_point: Callable[..., float]) -> None:
    """R(AB, CD) = ln(4/3) / pi and R(BC, DA) = ln 4 / pi. FACTS 1.1i; as conformal maps leave them."""
    first = on_rim(EDGE_POINTS, (1, 0, 2, 3), four_point)
    assert first == pytest.approx(math.log(4 / 3) / math.pi, rel=WITHIN)
    second = on_rim(EDGE_POINTS, (1, 2, 0, 3), four_point)
    assert second == pytest.approx(math.log(4) / math.pi, rel=WITHIN)


@pytest.mark.parametrize("turn", [0.0, 0.3])
def test_four_points_a_quarter_turn_apart_on_a_disc(turn: float, four_point: Callable[..., float]) -> None:
    """R(AB, CD) = ln 2 / pi. FACTS 1.1j."""
    angles = [turn + k * math.pi / 2 for k in range(4)]
    assert on_rim(angles, (0, 1, 3, 2), four_point) == pytest.approx(math.log(2) / math.pi, rel=WITHIN)


@pytest.mark.parametrize(
    "places", [[(1, 1), (79, 1), (79, 79), (1, 79)], [(40, 0.2), (79.8, 40), (40, 79.8), (0.2, 40)]]
)
def test_four_points_a_quarter_turn_apart_on_a_square(
    places: list[Point], four_point: Callable[..., float]
) -> None:
    """The same on a square, at its corners or in the middles of its sides. FACTS 1.1j."""
    g = conductance((0, 80, 0, 80), everywhere, None, points(places))
    assert four_point(g, 0, 1, 3, 2) == pytest.approx(math.log(2) / math.pi, rel=WITHIN)


def in_line(box: Box, dough: Where, spacing: float, four_point: Callable[..., float]) -> float:
    """Rs in V/I of four legs in line in the middle of a shape."""
    probe = points([(k * spacing, 0) for k in (-1.5, -0.5, 0.5, 1.5)])
    return 1 / four_point(conductance(box, dough, None, probe), 0, 3, 1, 2)


# d/s, disc, square with a/d = 1, rectangle with a/d = 2. Smits, Bell Syst. Tech. J. 37 (1958) 711, from
# memory; closed form (disc) and image sums agree. The last column by image sums. FACTS 1.1k, 1.1l, 1.2
PROBE = [
    (3, 2.2662, 2.4575, 2.700), (4, 2.9289, 3.1137, 3.2244), (5, 3.3625, 3.5098, 3.5749),
    (7.5, 3.9273, 4.0095, 4.0358), (10, 4.1716, 4.2209, 4.2356), (15, 4.3646, 4.3882, 4.3943),
    (20, 4.4364, 4.4516, 4.4534), (40, 4.5076, 4.5120, 4.5123),
]  # fmt: skip


@pytest.mark.parametrize(("ratio", "disc", "square", "oblong"), PROBE)
def test_four_point_probe(
    ratio: float, disc: float, square: float, oblong: float, four_point: Callable[..., float]
) -> None:
    d = 100.0
    found = in_line((-51, 51, -51, 51), lambda x, y: np.hypot(x, y) < d / 2, d / ratio, four_point)
    assert found == pytest.approx(disc, rel=WITHIN)
    found = in_line((-50, 50, -50, 50), everywhere, d / ratio, four_point)
    assert found == pytest.approx(square, rel=WITHIN)
    if d * 0.6 / ratio > 2.5:  # the legs of an LED stand 2.54 mm apart, common practice, no published source
        found = in_line((-60, 60, -30, 30), everywhere, d * 0.6 / ratio, four_point)
        assert found == pytest.approx(oblong, rel=WITHIN)


def test_four_point_probe_on_a_sheet_without_end(four_point: Callable[..., float]) -> None:
    """Rs = (pi / ln 2) V/I. FACTS 1.1k. The sheet ends 20 spacings away, which takes half a per cent."""
    found = in_line((-60, 60, -60, 60), everywhere, 3, four_point)
    assert found == pytest.approx(math.pi / math.log(2), rel=WITHIN)


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
def test_the_endless_grid_of_one_ohm(to: tuple[int, int], exact: float, ohms: Callable[..., float]) -> None:
    """OEIS A355565; Atkinson and van Steenwijk, Am. J. Phys. 67 (1999) 486. A large grid comes near."""
    n = 101
    spots = [((50.5, 50.5), PIN), ((50.5 + to[0], 50.5 + to[1]), PIN)]
    g = reduce_lump(np.ones((n, n), bool), np.ones((n, n)), 1.0, spots).conductance
    assert ohms(g) - 2 * PIN_WELL == pytest.approx(exact, rel=1e-3)

"""Entries anywhere in a lump: exact images in a rectangle, and the laws that shares obey."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from circuit.blocks import cut_into_blocks
from circuit.sheet import FAR, NEAR_OHM, reduce_lump, sink_wells

CELL = 0.25
LONG_MM, WIDE_MM = 60.0, 30.0
LEG, LEAD = 0.3, 1.0
Spot = tuple[tuple[float, float], float]


def strip(at: tuple[float, float], source: tuple[float, float], radius: float) -> float:
    """Volts at a place in an endless strip of unit sheet, for 1 A into a source (or at its `radius`)."""
    along = math.pi * (at[0] - source[0]) / WIDE_MM
    near = math.cosh(along) - math.cos(math.pi * (at[1] - source[1]) / WIDE_MM)
    if at == source:
        near = (math.pi * radius / WIDE_MM) ** 2 / 2
    mirror = math.cosh(along) - math.cos(math.pi * (at[1] + source[1]) / WIDE_MM)
    return -math.log(near * mirror) / (4 * math.pi)


def images(a: Spot, b: Spot) -> float:
    """Ohms between two metals in a rectangle of unit sheet, by images of a strip. Textbook method."""

    def rise(at: tuple[float, float], radius: float) -> float:
        total = 0.0
        for k in range(-6, 7):
            for sign in (1, -1):
                for (x, y), amps in ((a[0], 1), (b[0], -1)):
                    total += amps * strip(at, (2 * k * LONG_MM + sign * x, y), radius)
        return total

    return rise(*a) - rise(*b)


def test_the_images_give_a_long_bar_its_squares() -> None:
    """The check's own check: two pairs of places on the axis of the bar, 1.5 squares farther apart."""
    middle = WIDE_MM / 2
    far = images(((5.0, middle), LEG), ((55.0, middle), LEG))
    near = images(((15.0, middle), LEG), ((45.0, middle), LEG))
    assert far - near == pytest.approx(20 / WIDE_MM, abs=0.15)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000))
def test_entries_may_stand_anywhere(ohms: Callable[..., float], seed: int) -> None:
    """A lead and three legs, 5 mm from each other and their rims half a mm from the edge of the dough."""
    rng = np.random.default_rng(seed)
    spots: list[Spot] = []
    for radius in (LEAD, LEG, LEG, LEG):
        edge = radius + 0.5
        spots.append(
            ((rng.uniform(edge, LONG_MM - edge), rng.uniform(edge, WIDE_MM - edge)), radius),
        )
    pairs = [(i, j) for j in range(len(spots)) for i in range(j)]
    assume(all(math.dist(spots[i][0], spots[j][0]) > 5 for i, j in pairs))
    mask = np.ones((round(WIDE_MM / CELL), round(LONG_MM / CELL)), bool)
    g = reduce_lump(mask, np.ones(mask.shape), CELL, spots).conductance
    for i, j in pairs:
        assert ohms(g, i, j) == pytest.approx(images(spots[i], spots[j]), rel=0.01)


@settings(max_examples=60, deadline=None)
@given(st.floats(8, 12), st.floats(8, 12), st.floats(0.05, 2.0))
def test_shares_sum_to_one_and_keep_their_middle(x: float, y: float, radius: float) -> None:
    blocks = cut_into_blocks(np.ones((80, 80), bool), CELL, 1.0)
    feed = sink_wells(blocks, [((x, y), radius)])
    assert feed.share.sum() == pytest.approx(1)
    assert feed.share[:, 0] @ blocks.at == pytest.approx([x, y])
    assert feed.squares[0] > 0


def test_a_pin_in_the_middle_of_a_block_is_peacemans_well() -> None:
    """Soc. Pet. Eng. J. 18 (1978) 183: equivalent radius 0.1982 blocks (0.2 in round figures)."""
    blocks = cut_into_blocks(np.ones((80, 80), bool), CELL, 1.0)
    feed = sink_wells(blocks, [((10.5, 10.5), 1e-4)])
    assert feed.share.max() == pytest.approx(1, abs=1e-3)
    assert math.exp(2 * math.pi * feed.squares[0]) * 1e-4 == pytest.approx(0.1982, rel=2e-3)


@pytest.mark.parametrize(
    ("to", "exact"), [((4, 0), 40 - 368 / (3 * math.pi)), ((4, 1), 80 / math.pi - 49 / 2)]
)
def test_the_far_law_continues_the_near_table(to: tuple[int, int], exact: float) -> None:
    """R ~ (ln r + gamma + ln 8 / 2) / pi, OEIS A355565; the table ends three blocks away."""
    assert max(to) == len(NEAR_OHM)
    assert (math.log(math.hypot(*to)) + FAR) / math.pi == pytest.approx(exact, rel=3e-3)


@pytest.mark.parametrize("gap", [19, 20, 21])
def test_no_share_crosses_a_hairline_gap(gap: int) -> None:
    mask = np.ones((40, 40), bool)
    mask[:, gap] = False
    blocks = cut_into_blocks(mask, CELL, 1.0)
    x = (gap - 0.5) * CELL
    feed = sink_wells(blocks, [((x, 5.1), LEAD)])
    far_side = np.unique(blocks.node[:, gap + 1 :])
    assert feed.share[far_side].sum() == 0
    assert feed.share.sum() == pytest.approx(1)

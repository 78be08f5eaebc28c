"""What the sheet must get right whatever the shape: turned edges, hairlines, crowded and stray entries."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuit.errors import SculptureError
from circuit.sheet import reduce_lump

CELL = 0.25
LEG = 0.3


@pytest.mark.parametrize("turn", [0, 20, 45])
def test_a_bar_turned_is_no_longer(turn: float, four_point: Callable[..., float]) -> None:
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


@pytest.mark.parametrize("shift", [0.0, 0.13, 0.37, 0.5])
def test_two_small_contacts_on_a_large_sheet(shift: float, ohms: Callable[..., float]) -> None:
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


def test_a_hairline_gap_separates_and_a_sliver_joins() -> None:
    mask = np.ones((40, 80), bool)
    mask[:, 41] = False
    spots = [((5, 5), LEG), ((15, 5), LEG)]
    assert np.abs(reduce_lump(mask, np.ones(mask.shape), CELL, spots).conductance).max() < 1e-9
    mask[20:22, 41] = True
    assert reduce_lump(mask, np.ones(mask.shape), CELL, spots).conductance[0, 0] > 0.01


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

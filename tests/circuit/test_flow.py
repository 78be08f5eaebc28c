"""Volts, current density and lines against closed forms and against the solved currents."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from circuit import materials
from circuit.board import lay_out, own_placing
from circuit.flow import LINES, Flow, flow_of
from circuit.model import Dough, Entry, Joint, Sculpture
from circuit.outcome import operate

Draw = Callable[..., Sculpture]
CELL_MM = 0.25


def sheet_with_pack(
    labels: np.ndarray, doughs: tuple[Dough, ...], plus: tuple[float, float], minus: tuple[float, float]
) -> Sculpture:
    """Both leads in one sheet: labels (R, C), 0 table, i the i-th dough."""
    entries = {
        name: Entry(name, at, int(labels[int(at[1] / CELL_MM), int(at[0] / CELL_MM)]))
        for name, at in (("pack.plus", plus), ("pack.minus", minus))
    }
    return Sculpture(
        labels.astype(np.int32), CELL_MM, {i: i - 1 for i in range(1, len(doughs) + 1)}, doughs, (), entries,
        (), materials.default_pack(4), materials.DEFAULT_ELECTRODE, materials.DEFAULT_BRIGHTNESS,
    )  # fmt: skip


def pack_A(sculpture: Sculpture) -> float:
    return operate(lay_out(sculpture), own_placing(sculpture)).pack_A


def test_in_the_middle_of_a_bar_the_current_is_even() -> None:
    """I over the width, and the volts fall by I R per square. Ohm's law."""
    labels = np.ones((80, 480), int)
    dough = materials.conductive_dough("a")
    sculpture = sheet_with_pack(labels, (dough,), (5.0, 10.0), (115.0, 10.0))
    found, current = flow_of(sculpture), pack_A(sculpture)
    middle = found.density[8:-8, 200:280]
    assert middle == pytest.approx(np.full(middle.shape, current / 0.020), rel=0.01)
    square_ohm = dough.resistivity_ohm_m / (dough.thickness_mm * 1e-3)
    fall = float(found.volts[40, 160] - found.volts[40, 320])
    assert fall == pytest.approx(current * square_ohm * 40 / 20, rel=0.01)


def test_round_a_lead_the_current_thins_out_as_one_over_r() -> None:
    """J = I / 2 pi r on a disc whose rim is one conductor; V falls with ln r. FACTS 1.1b."""
    n, middle = 360, 45.0
    y, x = (np.indices((n, n)) + 0.5) * CELL_MM - middle
    r = np.hypot(x, y)
    dough = materials.conductive_dough("a")
    metal = replace(dough, name="rim", resistivity_ohm_m=dough.resistivity_ohm_m * 1e-7)
    labels = np.where(r < 36, 1, np.where(r < 42, 2, 0))
    joined = sheet_with_pack(labels, (dough, metal), (middle, middle), (middle, middle - 39))
    sculpture = replace(joined, joints=(Joint((1, 2), "touching", 0.0, 200.0, (middle, 9.0)),))
    found, current = flow_of(sculpture), pack_A(sculpture)
    for radius in (8.0, 15.0, 25.0):
        ring = abs(r - radius) < 0.5
        assert found.density[ring].mean() == pytest.approx(current / (2 * np.pi * radius * 1e-3), rel=0.03)
    square_ohm = dough.resistivity_ohm_m / (dough.thickness_mm * 1e-3)
    near, far = (float(found.volts[abs(r - radius) < 0.2].mean()) for radius in (6.0, 24.0))
    assert near - far == pytest.approx(current * square_ohm * np.log(4) / (2 * np.pi), rel=0.02)


SIDE_BY_SIDE = (
    "\n".join(["a" * 30] * 8 + ["#" * 30] * 3 + ["b" * 30] * 8),
    "\n".join(
        [
            *(["." * 30] * 2 + [".P" + "." * 28] + ["." * 30] * 2),
            *(["." * 10 + "1" + "." * 12 + "2" + "." * 6] + ["." * 30] * 7),
            *(
                ["." * 10 + "q" + "." * 12 + "w" + "." * 6]
                + ["." * 30] * 2
                + [".M" + "." * 28]
                + ["." * 30] * 2
            ),
        ]
    ),
)


def shares(found: Flow) -> dict[tuple[str, str], float]:
    out: dict[tuple[str, str], float] = defaultdict(float)
    for line in found.lines:
        out[line.start, line.end] += line.current_A
    return out


def test_lines_share_the_current_as_the_sums_do(draw: Draw) -> None:
    """To two lines: what leaks through the wall is theirs as well."""
    sculpture = draw(*SIDE_BY_SIDE)
    board, placing = lay_out(sculpture), own_placing(sculpture)
    outcome = operate(board, placing)
    found, one = shares(flow_of(sculpture)), outcome.pack_A / LINES
    for led in ("L1", "L2"):
        assert found["pack.plus", f"{led}.long"] == pytest.approx(outcome.led_A[led], abs=2 * one)
        assert found[f"{led}.short", "pack.minus"] == pytest.approx(outcome.led_A[led], rel=0.1)
    assert not any(start.endswith("long") or end.endswith("short") for start, end in found)


def test_lines_begin_and_end_at_entries_and_never_leave_the_dough(draw: Draw) -> None:
    sculpture = draw(*SIDE_BY_SIDE)
    h = sculpture.cell_mm
    for line in flow_of(sculpture).lines:
        assert line.points[0] == sculpture.entries[line.start].at
        assert line.points[-1] == sculpture.entries[line.end].at
        homes = {int(sculpture.grid[int(y / h), int(x / h)]) for x, y in line.points}
        assert homes == {sculpture.entries[line.start].piece}


def test_lines_run_down_the_volts(draw: Draw) -> None:
    sculpture = draw(*SIDE_BY_SIDE)
    found, h = flow_of(sculpture), sculpture.cell_mm
    for line in found.lines:
        volts = [float(found.volts[int(y / h), int(x / h)]) for x, y in line.points[1:-1]]
        assert all(b < a + 0.01 for a, b in pairwise(volts))


def test_without_a_way_nothing_flows(draw: Draw) -> None:
    dough, entries = SIDE_BY_SIDE
    dark = draw(dough, entries.translate(str.maketrans("1q2w", "q1w2")))
    assert shares(flow_of(dark)) == {}
    bare = replace(dark, entries={n: replace(e, piece=None) for n, e in dark.entries.items()})
    assert flow_of(bare).lines == () and not flow_of(bare).density.any()

"""The same circuits in ngspice, an independent simulator: sheets on the same grid, LEDs on the netlist."""

import os
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from circuit.board import lay_out, own_placing, turned
from circuit.model import Sculpture
from circuit.netlist import sculpture_deck
from circuit.outcome import operate
from circuit.sheet import FAR, reduce_lump

NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.skipif(
    NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed; this check needs it"
)


def ngspice(deck: str) -> dict[str, float]:
    assert NGSPICE is not None, "CI must have ngspice"
    done = subprocess.run(
        [NGSPICE, "-b", "/dev/stdin"], input=deck, capture_output=True, text=True, timeout=300
    )
    found = re.findall(r"^(\S+) = (\S+)\s*$", done.stdout, re.MULTILINE)
    assert found, done.stdout + done.stderr
    return {name: float(value) for name, value in found}


DOUGH = """
aaaaaaaaaaaaaaaaaaaaaa
aaaaaaaaaaaaaaaaaaaaaa
aaaaaaaaaaaaaaaaaaaaaa
aaaaaaaaaaaaaaaaaaaaaa
####################{end}
####################{end}
aaaaaaaaaaaaaaaaaaaaaa
aaaaaaaaaaaaaaaaaaaaaa
aaaaaaaaaaaaaaaaaaaaaa
bbbbbbbbbbbbbbbbbbbbbb
"""
ENTRIES = """
......................
.P....................
....1..2..3..4........
......................
......................
......................
......................
....q..w..e...........
..............r..M....
......................
"""


@pytest.mark.parametrize("colours", ["red", "white blue green yellow"])
@pytest.mark.parametrize("drop", [True, False])
@pytest.mark.parametrize("shorted", [True, False])
def test_led_currents_agree_within_a_thousandth(
    draw: Callable[..., Sculpture], colours: str, drop: bool, shorted: bool
) -> None:
    sculpture = draw(DOUGH.format(end="aa" if shorted else "##"), ENTRIES, colours)
    if not drop:
        sculpture = replace(sculpture, electrode=replace(sculpture.electrode, drop_i0_A=None))
    ours = operate(lay_out(sculpture), own_placing(sculpture))
    theirs = ngspice(sculpture_deck(sculpture))
    assert theirs["i(vl_pack)"] == pytest.approx(ours.pack_A, rel=1e-3)
    for led, current in ours.led_A.items():
        assert theirs[f"i(vl_{led.lower()})"] == pytest.approx(current, rel=1e-3, abs=1e-9)
    if not shorted:
        assert min(ours.led_A.values()) > 1e-3


def test_a_row_with_one_turned_agrees(draw: Callable[..., Sculpture]) -> None:
    row = (
        "aaaaa##bbbbb##ccccc\n" * 8,
        "...................\n" * 3 + ".P.1...q...2...w.M.\n" + "...................\n" * 4,
    )
    sculpture = draw(*row)
    ours = operate(lay_out(sculpture), own_placing(sculpture))
    theirs = ngspice(sculpture_deck(sculpture))
    assert ours.led_A["L1"] > 1e-3
    assert theirs["i(vl_l1)"] == pytest.approx(ours.led_A["L1"], rel=1e-3)
    back = operate(lay_out(sculpture), turned(own_placing(sculpture), "L2"))
    assert back.states["L1"] == "off" and back.led_A["L1"] < 5e-4  # what leaks through the walls


def test_a_sheet_on_the_same_grid_agrees_within_a_hundredth() -> None:
    """An L of dough 60 x 40 mm as a grid of 1-ohm squares, 1 A through two pins in the middle of blocks."""
    cell, radius, side = 0.25, 1e-3, 1.0
    mask = np.zeros((160, 240), bool)
    mask[:, :80] = mask[100:, :] = True
    a, b = (6.5, 5.5), (55.5, 33.5)
    g = reduce_lump(mask, np.ones(mask.shape), cell, [(a, radius), (b, radius)], side).conductance
    step = round(side / cell)
    coarse = mask[::step, ::step]
    number = np.full(coarse.shape, -1)
    number[coarse] = np.arange(coarse.sum())
    lines = ["* a sheet of dough"]
    for p, q in ((number[:-1], number[1:]), (number[:, :-1], number[:, 1:])):
        both = (p >= 0) & (q >= 0)
        lines += [f"r{i}_{j} n{i} n{j} 1" for i, j in zip(p[both], q[both], strict=True)]
    ends = [number[int(y / side), int(x / side)] for x, y in (a, b)]
    lines += [f"i1 0 n{ends[0]} 1", f"r_ground n{ends[1]} 0 1m", ".control", "set numdgt=10", "op"]
    lines += [f"print v(n{ends[0]})-v(n{ends[1]})", ".endc", ".end"]
    (grid,) = ngspice("\n".join(lines)).values()
    wells = -2 * (np.log(radius / side) + FAR) / (2 * np.pi)
    assert 1 / g[0, 0] == pytest.approx(grid + wells, rel=0.01)


def test_names_that_spice_does_not_tell_apart_stay_apart(draw: Callable[..., Sculpture]) -> None:
    """Capitals, signs and a part called pack: every LED keeps a meter of its own."""
    sculpture = draw(DOUGH.format(end="##"), ENTRIES, "red white blue green")
    ids = ("a-b", "A_b", "pack", "x1")
    ends = {f"L{k}.{end}": f"{ids[k - 1]}.{end}" for k in range(1, 5) for end in ("long", "short")}
    entries = {ends.get(n, n): replace(e, name=ends.get(n, n)) for n, e in sculpture.entries.items()}
    leds = tuple(replace(led, id=name) for led, name in zip(sculpture.leds, ids, strict=True))
    renamed = replace(sculpture, leds=leds, entries=entries)
    ours = operate(lay_out(renamed), own_placing(renamed))
    theirs = list(ngspice(sculpture_deck(renamed)).values())
    assert theirs == pytest.approx([*ours.led_A.values(), ours.pack_A], rel=1e-3)

"""Two hundred random networks in ngspice: LEDs reversed, starved, in rows and hanging free; other parts."""

import os
import re
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from circuit import materials
from circuit.board import Board, Placing
from circuit.lumps import ends, legs
from circuit.model import Entry, Led, Lump, Part, Point, Sculpture
from circuit.netlist import board_deck
from circuit.outcome import Outcome, operate

NGSPICE = shutil.which("ngspice")
pytestmark = pytest.mark.skipif(
    NGSPICE is None and not os.environ.get("CI"), reason="ngspice is not installed; this check needs it"
)
COUNT = 200
FLOOR_A = 3e-9
"""Below this ngspice's own tolerance decides."""


def random_network(seed: int) -> tuple[Board, Placing]:
    """A board without geometry: random lumps, conductances between their spots, and parts between them."""
    rng = np.random.default_rng(seed)
    leds = tuple(a_led(rng, f"L{i + 1}") for i in range(int(rng.integers(1, 9))))
    kinds = rng.choice(["wire", "switch", "resistor", "buzzer", "motor"], int(rng.integers(0, 4)))
    parts = tuple(a_part(rng, str(kind), f"X{i + 1}") for i, kind in enumerate(kinds))
    names = ["pack.plus", "pack.minus", *(e for led in leds for e in legs(led))]
    names += [e for part in parts for e in ends(part)]
    lumps = tuple(Lump(letter, ()) for letter in "ABCDE"[: int(rng.integers(2, 6))])
    homes = rng.integers(0, len(lumps), len(names))
    spots: list[Point] = [(float(i), 0.0) for i in range(len(names))]
    if rng.random() < 0.8:  # mostly as one would build it: parts lead down from the red lead's lump
        homes[:2] = 0, len(lumps) - 1
        for k in range(2, len(names), 2):
            if rng.random() < 0.7:
                homes[k : k + 2] = np.sort(rng.choice(len(lumps), 2, replace=False))
    free = rng.random(len(names)) < 0.06
    free[:2] = False
    placing = {name: None if f else spot for name, spot, f in zip(names, spots, free, strict=True)}
    inside = [i for i in range(len(names)) if not free[i]]
    number = {spots[i]: k for k, i in enumerate(inside)}
    ohm = 10 ** rng.uniform(0.5, 3.5, (len(inside),) * 2)
    same = homes[inside][:, None] == homes[inside]
    g = np.where(same, 1 / (ohm + ohm.T), 10 ** rng.uniform(-5, -4) * (rng.random() < 0.5))
    np.fill_diagonal(g, 0)
    g = (g + g.T) / 2
    conductance = np.diag(g.sum(axis=1)) - g
    sculpture = Sculpture(
        np.zeros((1, 1), np.int32), 1.0, {}, (), (),
        {name: Entry(name, spot, None) for name, spot in zip(names, spots, strict=True)},
        leds, a_pack(rng), an_electrode(rng), materials.DEFAULT_BRIGHTNESS, parts,
    )  # fmt: skip
    home = {spots[i]: int(homes[i]) for i in inside}
    sheet: Any = SimpleNamespace(conductance=conductance)
    return Board(sculpture, lumps, number, home, sheet), placing


def a_led(rng: np.random.Generator, name: str) -> Led:
    colour = str(rng.choice(list(materials.LEDS)))
    row = materials.led_by_colour(colour)
    return Led(name, colour, row.diode, row.safe_A, safe_W=row.safe_W)


def a_part(rng: np.random.Generator, kind: str, name: str) -> Part:
    part = materials.part_by_kind(kind, name)  # type: ignore[arg-type]
    if kind == "switch" and rng.random() < 0.5:
        return replace(part, closed=False)
    return replace(part, ohm=float(10 ** rng.uniform(1, 4))) if kind == "resistor" else part


def a_pack(rng: np.random.Generator) -> Any:
    pack = materials.block_pack() if rng.random() < 0.2 else materials.default_pack(int(rng.integers(2, 5)))
    return replace(pack, emf_V=0.4 * pack.emf_V, internal_ohm=30.0) if rng.random() < 0.2 else pack


def an_electrode(rng: np.random.Generator) -> Any:
    metal = materials.DEFAULT_ELECTRODE
    if rng.random() < 0.3:
        return replace(metal, drop_i0_A=None)
    return replace(metal, drop_i0_A=float(10 ** rng.uniform(-6, -4)), leg_ohm=float(rng.uniform(0, 200)))


def in_ngspice(deck: str) -> list[float]:
    assert NGSPICE is not None, "CI must have ngspice"
    done = subprocess.run(
        [NGSPICE, "-b", "/dev/stdin"], input=deck, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stdout + done.stderr
    found = re.findall(r"^i\(\S+\) = (\S+)\s*$", done.stdout, re.MULTILINE)
    assert found, done.stdout + done.stderr
    return [float(value) for value in found]


def test_two_hundred_random_networks_agree_within_a_thousandth() -> None:
    """LED, part and pack currents within 0.1 %, or 10 nA where hardly any flows."""
    ours: list[Outcome] = []
    decks, placings = [], []
    for seed in range(COUNT):
        board, placing = random_network(seed)
        ours.append(operate(board, placing))
        decks.append(board_deck(board, placing))
        placings.append(placing)
    with ThreadPoolExecutor(2) as pool:
        theirs = list(pool.map(in_ngspice, decks))
    lit = reversed_ = starved = free = 0
    for seed, (own, other, placing) in enumerate(zip(ours, theirs, placings, strict=True)):
        expected = [*own.led_A.values(), *own.part_A.values(), own.pack_A]
        assert other == pytest.approx(expected, rel=1e-3, abs=FLOOR_A), f"network {seed}"
        lit += sum(state != "off" for state in own.states.values())
        reversed_ += sum(volts < -0.3 for volts in own.led_V.values())
        starved += sum(1e-6 < current < 5e-4 for current in own.led_A.values())
        free += sum(spot is None for spot in placing.values())
    # The networks hold what they are meant to.
    assert lit > 150 and min(reversed_, starved, free) > 50

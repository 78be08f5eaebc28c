"""Whatever goes in: a sculpture is inspected, or refused in one clear sentence, and nothing else."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import ndimage

from circuit import materials
from circuit.checking import check
from circuit.errors import CircuitError
from circuit.inspection import inspect
from circuit.model import (
    Brightness,
    Diode,
    Dough,
    Electrode,
    Entry,
    Inspection,
    Joint,
    Led,
    Pack,
    Part,
    PartKind,
    Sculpture,
    Wall,
)

KINDS: tuple[PartKind, ...] = get_args(PartKind)
SALT, SUGAR = materials.conductive_dough("salt"), materials.insulating_dough("sugar")
RED, SAFE_A = materials.LEDS["red"].diode, materials.LEDS["red"].safe_A
CELL_MM = 1.0

Spot = tuple[float, float]
Ends = tuple[Spot, Spot]


def sculpture(
    picture: np.ndarray,
    pack: Ends = ((0.5, 0.5), (1.5, 0.5)),
    leds: Sequence[Ends] = (),
    parts: Sequence[tuple[PartKind, Spot, Spot]] = (),
    **more: Any,
) -> Sculpture:
    """A sculpture from an array: 0 table, 1 salty, 2 sugary dough; every connected area is a piece."""
    grid, dough_of = np.zeros(picture.shape, np.int32), {}
    for kind in (1, 2):
        areas, count = ndimage.label(picture == kind)
        grid[areas > 0] = areas[areas > 0] + len(dough_of)
        dough_of |= {len(dough_of) + 1 + i: kind - 1 for i in range(count)}
    places = {"pack.plus": pack[0], "pack.minus": pack[1]}
    for i, (long_leg, short_leg) in enumerate(leds, start=1):
        places |= {f"L{i}.long": long_leg, f"L{i}.short": short_leg}
    made = []
    for i, (kind, a, b) in enumerate(parts, start=1):
        places |= {f"X{i}.a": a, f"X{i}.b": b}
        made.append(Part(f"X{i}", kind, 10.0, 2e-3, kind == "buzzer", closed=i % 2 == 0))
    plain = Sculpture(
        grid=grid,
        cell_mm=CELL_MM,
        dough_of=dough_of,
        doughs=(SALT, SUGAR),
        joints=tuple(joints(grid)),
        entries={name: entry(grid, picture, name, at) for name, at in places.items()},
        leds=tuple(Led(f"L{i}", "red", RED, SAFE_A) for i in range(1, len(leds) + 1)),
        pack=materials.default_pack(4),
        electrode=materials.DEFAULT_ELECTRODE,
        brightness=materials.DEFAULT_BRIGHTNESS,
        parts=tuple(made),
        walls=tuple(Wall(p, (1, 1), 1.0, (0.5, 0.5)) for p, dough in dough_of.items() if dough == 1),
    )
    return replace(plain, **more)


def joints(grid: np.ndarray) -> Iterator[Joint]:
    """A touch for every pair of pieces that share a side of a cell."""
    pairs = {
        (int(min(a, b)), int(max(a, b)))
        for one, other in ((grid[1:], grid[:-1]), (grid[:, 1:], grid[:, :-1]))
        for a, b in zip(one.ravel(), other.ravel(), strict=True)
        if a and b and a != b
    }
    yield from (Joint(pair, "touching", 0.0, 1.0, (0.5, 0.5)) for pair in sorted(pairs))


def entry(grid: np.ndarray, picture: np.ndarray, name: str, at: Spot) -> Entry:
    r, c = (int(v // CELL_MM) for v in reversed(at))
    if 0 <= r < grid.shape[0] and 0 <= c < grid.shape[1] and grid[r, c]:
        return Entry(name, at, int(grid[r, c]))
    near = grid[picture == 1]
    return Entry(name, at, None, int(near[0]) if near.size else None, 2.0)


def numbers(value: Any) -> Iterator[float]:
    """Every number in a result, however deep."""
    if is_dataclass(value):
        for field in fields(value):
            yield from numbers(getattr(value, field.name))
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from numbers(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from numbers(one)
    elif isinstance(value, int | float | np.number):
        yield float(value)


def inspected(made: Sculpture) -> Inspection | None:
    """What was found, every number finite; None when it was refused in one clear sentence."""
    try:
        check(made)
        found = inspect(made)
    except CircuitError as error:
        text = str(error)
        assert text[0].isupper() and text.endswith(".") and len(text) < 200 and "\n" not in text, text
        return None
    assert all(math.isfinite(x) for x in numbers(found)), found
    assert [led.id for led in found.leds] == [led.id for led in made.leds]
    return found


def whole(rows: int, cols: int, kind: int = 1) -> np.ndarray:
    return np.full((rows, cols), kind)


def two(rows: int = 20, cols: int = 30) -> np.ndarray:
    """Two salty lumps with a sugary wall between."""
    picture = whole(rows, cols)
    picture[rows // 2 - 1 : rows // 2 + 1] = 2
    return picture


PACK: Ends = ((2.5, 2.5), (2.5, 17.5))
ACROSS: Ends = ((15.5, 5.5), (15.5, 15.5))


def dots(count: int) -> np.ndarray:
    """So many lumps of one cell, twenty in a row."""
    picture = np.zeros((2 * -(-count // 20), 40), int)
    for i in range(count):
        picture[2 * (i // 20), 2 * (i % 20)] = 1
    return picture


def tangle(count: int) -> list[tuple[PartKind, Spot, Spot]]:
    rng = np.random.default_rng(5)
    spots = rng.uniform((0, 0), (30, 20), (count, 2, 2)).tolist()
    return [(KINDS[i % 5], tuple(a), tuple(b)) for i, (a, b) in enumerate(spots)]


def holey() -> np.ndarray:
    picture = whole(30, 30)
    picture[1:-1:2, 1:-1:2] = 0
    return picture


GARBAGE: dict[str, Callable[[], Sculpture]] = {
    "no dough": lambda: sculpture(whole(10, 10, 0), leds=[ACROSS]),
    "no lump, sugar only": lambda: sculpture(whole(20, 30, 2), PACK, [ACROSS]),
    "one cell of dough": lambda: sculpture(whole(1, 1), ((0.5, 0.5), (0.4, 0.5)), [((0.1, 0.1), (0.9, 0.9))]),
    "a grid of one cell, sugar": lambda: sculpture(whole(1, 1, 2), leds=[((0.5, 0.5), (0.6, 0.6))]),
    "a grid of no cells": lambda: sculpture(whole(0, 0)),
    "lumps of one cell": lambda: sculpture(
        dots(6), ((0.5, 0.5), (2.5, 0.5)), [((0.5, 0.5), (4.5, 0.5)), ((4.5, 0.5), (2.5, 0.5))]
    ),
    "an entry on the rim": lambda: sculpture(two(), ((0.0, 0.0), (30.0, 20.0)), [((30.0, 5.0), (0.0, 20.0))]),
    "entries off the grid": lambda: sculpture(two(), ((-5.0, -5.0), (1e6, 1e6)), [((-1e9, 0.0), (5.5, 5.5))]),
    "entries on the border of two pieces": lambda: sculpture(
        two(), ((5.0, 9.0), (5.0, 11.0)), [((9.0, 9.0), (9.0, 11.0))]
    ),
    "200 lumps": lambda: sculpture(dots(200), ((0.5, 0.5), (2.5, 0.5)), [((0.5, 0.5), (2.5, 0.5))]),
    "200 lumps with legs in 60": lambda: sculpture(
        dots(200),
        ((0.5, 0.5), (2.5, 2.5)),
        [((2 * i % 40 + 0.5, 2 * (i // 20) + 0.5), (2 * i % 40 + 2.5, 4.5)) for i in range(60)],
    ),
    "60 LEDs": lambda: sculpture(
        two(), PACK, [((5.5 + 0.3 * i, 3.5 + i % 4), (5.5 + 0.3 * i, 14.5 + i % 4)) for i in range(60)]
    ),
    "60 LEDs in one lump": lambda: sculpture(
        whole(20, 30), PACK, [((5.5 + 0.3 * i, 3.5), (5.5 + 0.3 * i, 14.5)) for i in range(60)]
    ),
    "one lead misses": lambda: sculpture(two(), ((2.5, 2.5), (-9.0, 17.5)), [ACROSS]),
    "both leads miss": lambda: sculpture(two(), ((-9.0, 2.5), (-9.0, 17.5)), [ACROSS]),
    "both leads on one point": lambda: sculpture(two(), ((2.5, 2.5), (2.5, 2.5)), [ACROSS]),
    "both leads in sugar": lambda: sculpture(two(), ((2.5, 9.5), (20.5, 10.5)), [ACROSS]),
    "both leads on one point in sugar": lambda: sculpture(two(), ((2.5, 9.5), (2.5, 9.5)), [ACROSS]),
    "all legs in one cell": lambda: sculpture(
        two(), PACK, [((9.1 + 0.05 * i, 5.2), (9.1 + 0.05 * i, 5.8)) for i in range(9)]
    ),
    "all legs on one point": lambda: sculpture(two(), PACK, [((9.5, 5.5), (9.5, 5.5))] * 5),
    "legs where the leads are": lambda: sculpture(two(), PACK, [PACK, PACK[::-1]]),
    "30 parts in a tangle": lambda: sculpture(two(), PACK, [ACROSS], tangle(30)),
    "30 wires from lead to lead": lambda: sculpture(two(), PACK, [ACROSS], [("wire", *PACK)] * 30),
    "a wire on one point": lambda: sculpture(two(), PACK, [ACROSS], [("wire", PACK[0], PACK[0])] * 2),
    "parts on the table": lambda: sculpture(
        two(), PACK, [ACROSS], [(kind, (-5.0, 1.0), (99.0, 99.0)) for kind in KINDS]
    ),
    "a strip of 1 x 2000": lambda: sculpture(
        whole(1, 2000), ((0.5, 0.5), (1999.5, 0.5)), [((5.5, 0.5), (1500.5, 0.5))]
    ),
    "a strip of 2000 x 1": lambda: sculpture(
        whole(2000, 1), ((0.5, 0.5), (0.5, 1999.5)), [((0.5, 5.5), (0.5, 1500.5))]
    ),
    "dough full of holes": lambda: sculpture(
        holey(), ((0.5, 0.5), (29.5, 29.5)), [((0.5, 9.5), (29.5, 9.5))]
    ),
    "a chessboard of salt and sugar": lambda: sculpture(
        np.indices((12, 12)).sum(axis=0) % 2 + 1, ((0.5, 1.5), (11.5, 10.5)), [((2.5, 1.5), (9.5, 10.5))]
    ),
    "no LED and no part": lambda: sculpture(two(), PACK),
}


REFUSED = {"a grid of no cells"}


@pytest.mark.parametrize("name", GARBAGE)
def test_odd_sculptures_are_inspected(name: str) -> None:
    assert (inspected(GARBAGE[name]()) is None) == (name in REFUSED)


def zero(made: Sculpture) -> Sculpture:
    """No resistance but that of the dough."""
    return replace(
        made,
        electrode=Electrode(0.0, 0.0, 1.0, None),
        pack=replace(made.pack, internal_ohm=0.0),
        leds=tuple(replace(led, diode=replace(led.diode, rs_ohm=0.0)) for led in made.leds),
        parts=tuple(replace(part, ohm=0.0) for part in made.parts),
    )


@pytest.mark.parametrize("name", GARBAGE)
def test_nothing_has_any_resistance(name: str) -> None:
    assert (inspected(zero(GARBAGE[name]())) is None) == (name in REFUSED)


@pytest.mark.parametrize("salt_ohm_m", [1e-6, 1.0, 1e9])
@pytest.mark.parametrize("sugar_ohm_m", [1e-6, 1.0, 1e9])
@pytest.mark.parametrize("height_mm", [1e-6, 1e4])
def test_any_dough(salt_ohm_m: float, sugar_ohm_m: float, height_mm: float) -> None:
    doughs = (
        replace(SALT, resistivity_ohm_m=salt_ohm_m, thickness_mm=height_mm),
        replace(SUGAR, resistivity_ohm_m=sugar_ohm_m, thickness_mm=height_mm),
    )
    wires: list[tuple[PartKind, Spot, Spot]] = [("wire", *PACK), ("motor", (9.5, 5.5), (9.5, 15.5))]
    made = sculpture(two(), PACK, [ACROSS, ACROSS[::-1]], wires, doughs=doughs)
    # Sugar dough that conducts 10^15 times better than salt dough is more than floats can tell.
    hopeless = salt_ohm_m / sugar_ohm_m > 1e14
    assert hopeless or inspected(made) is not None
    assert hopeless or inspected(zero(made)) is not None


NO_NUMBERS = [math.nan, math.inf, -math.inf, -1.0]
SPOILERS: dict[str, Callable[[Sculpture, float], Sculpture]] = {
    "cell_mm": lambda s, x: replace(s, cell_mm=x),
    "resistivity": lambda s, x: replace(s, doughs=(replace(s.doughs[0], resistivity_ohm_m=x), s.doughs[1])),
    "sugar": lambda s, x: replace(s, doughs=(s.doughs[0], replace(s.doughs[1], resistivity_ohm_m=x))),
    "thickness": lambda s, x: replace(s, doughs=(replace(s.doughs[0], thickness_mm=x), s.doughs[1])),
    "emf": lambda s, x: replace(s, pack=replace(s.pack, emf_V=x)),
    "internal": lambda s, x: replace(s, pack=replace(s.pack, internal_ohm=x)),
    "leg": lambda s, x: replace(s, electrode=replace(s.electrode, leg_ohm=x)),
    "lead": lambda s, x: replace(s, electrode=replace(s.electrode, lead_ohm=x)),
    "drop n": lambda s, x: replace(s, electrode=replace(s.electrode, drop_n=x)),
    "drop i0": lambda s, x: replace(s, electrode=replace(s.electrode, drop_i0_A=x)),
    "diode is": lambda s, x: replace(s, leds=tuple(replace(v, diode=Diode(x, 2.0, 1.0)) for v in s.leds)),
    "diode n": lambda s, x: replace(s, leds=tuple(replace(v, diode=Diode(1e-18, x, 1.0)) for v in s.leds)),
    "diode rs": lambda s, x: replace(s, leds=tuple(replace(v, diode=Diode(1e-18, 2.0, x)) for v in s.leds)),
    "part": lambda s, x: replace(s, parts=tuple(replace(part, ohm=x) for part in s.parts)),
    "bright": lambda s, x: replace(s, brightness=Brightness(1e-3, x)),
    "height": lambda s, x: replace(s, height_mm=np.full(s.grid.shape, x, np.float32)),
    "entry": lambda s, x: replace(
        s, entries={**s.entries, "L1.long": replace(s.entries["L1.long"], at=(x, 5.5))}
    ),
    "joint": lambda s, x: replace(
        s, joints=tuple(replace(joint, gap_mm=x, kind="gap") for joint in s.joints)
    ),
}


HARMLESS = {("height", "nan"), ("entry", "-1.0")}
"""A height that is no number is not known, so its dough tells it; a place may lie left of the photo."""


@pytest.mark.parametrize("number", NO_NUMBERS)
@pytest.mark.parametrize("what", SPOILERS)
def test_what_is_no_number_is_refused_or_does_no_harm(what: str, number: float) -> None:
    spoilt = SPOILERS[what](sculpture(two(), PACK, [ACROSS], [("motor", *ACROSS)]), number)
    assert (inspected(spoilt) is not None) == ((what, str(number)) in HARMLESS)


def test_what_contradicts_itself_is_refused() -> None:
    plain = sculpture(two(), PACK, [ACROSS])
    unknown = {**plain.entries, "L1.long": replace(plain.entries["L1.long"], piece=99)}
    wrong = [
        replace(plain, entries={}),
        replace(plain, entries=unknown),
        replace(plain, dough_of={}),
        replace(plain, dough_of=dict.fromkeys(plain.dough_of, 7)),
        replace(plain, joints=(Joint((1, 99), "touching", 0.0, 1.0, (1.0, 1.0)),)),
        replace(plain, grid=-plain.grid),
        replace(plain, grid=plain.grid.ravel()),
        replace(plain, height_mm=np.ones((2, 2), np.float32)),
    ]
    for made in wrong:
        assert inspected(made) is None


coordinates = st.floats(-3, 16, width=16) | st.sampled_from([0.0, 12.0, 6.0, 1e9])
spots = st.tuples(coordinates, coordinates)
ohms = st.sampled_from([0.0, 1e-9, 1.0, 20.0, 1e9])


MIXES = [(0.2, 0.6, 0.2), (0.5, 0.4, 0.1), (0.0, 1.0, 0.0)]
"""Shares of table, salt and sugar."""


@st.composite
def nonsense(draw: Callable[..., Any]) -> Sculpture:
    """Scribbles in two doughs, anything anywhere."""

    def one(*choices: Any) -> Any:
        return draw(st.sampled_from(choices))

    size = draw(st.tuples(st.integers(1, 12), st.integers(1, 12)))
    picture = np.random.default_rng(draw(st.integers(0, 2**20))).choice(3, size, p=one(*MIXES))
    made = sculpture(
        picture,
        (draw(spots), draw(spots)),
        draw(st.lists(st.tuples(spots, spots), max_size=5)),
        draw(st.lists(st.tuples(st.sampled_from(KINDS), spots, spots), max_size=6)),
    )
    return replace(
        made,
        doughs=(
            Dough("salt", True, one(1e-6, 0.25, 1e9), one(1e-6, 15.0, 1e4)),
            Dough("sugar", False, one(1e-6, 200.0, 1e9), 15.0),
        ),
        electrode=Electrode(draw(ohms), draw(ohms), 2.0, one(None, 1e-12, 1e-5, 1.0)),
        pack=Pack(4, one(1e-3, 6.0, 400.0), draw(ohms)),
        parts=tuple(replace(part, ohm=draw(ohms)) for part in made.parts),
        joints=made.joints if one(True, False) else tuple(map(doubted, made.joints)),
    )


def doubted(joint: Joint) -> Joint:
    return replace(joint, kind="doubtful", likely_touching=True, confidence=0.6)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(nonsense())
def test_random_nonsense(made: Sculpture) -> None:
    inspected(made)

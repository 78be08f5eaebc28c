"""Sculptures drawn as text."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from circuit import materials
from circuit.model import Dough, Entry, Joint, Led, Sculpture, State

MM_PER_SIGN = 2.0
CELLS_PER_SIGN = 4
LONG, SHORT = "123456", "qwerty"


def resistance(conductance: NDArray[np.float64], i: int = 0, j: int = 1) -> float:
    """Ohms between two terminals while the others carry no current."""
    z = np.linalg.pinv(conductance)
    return float(z[i, i] + z[j, j] - 2 * z[i, j])


def transfer(conductance: NDArray[np.float64], a: int, b: int, c: int, d: int) -> float:
    """Volts from c to d for 1 A from a to b."""
    z = np.linalg.pinv(conductance)
    return float(z[a, c] - z[a, d] - z[b, c] + z[b, d])


@pytest.fixture(scope="session")
def ohms() -> Callable[..., float]:
    """See `resistance`."""
    return resistance


@pytest.fixture(scope="session")
def four_point() -> Callable[..., float]:
    """See `transfer`."""
    return transfer


@dataclass(frozen=True)
class Invented:
    """A lump of random outline, with metals in it.

    inside     above 0 in dough, of places x, y [mm] of any shape
    mask       (R, C) the same on cells of `cell_mm`
    terminals  a lead (radius 1 mm), then legs (0.3 mm): places and radii [mm]
    """

    inside: Callable[..., NDArray[np.float64]]
    mask: NDArray[np.bool_]
    cell_mm: float
    terminals: list[tuple[tuple[float, float], float]]


def invented(seed: int, metals: int = 6, size_mm: tuple[float, float] = (90.0, 70.0)) -> Invented:
    """One lump of arms 15 to 30 mm wide, at least 5 mm from the edge of the picture.

    The middles of legs stand 1.75 mm or more inside the dough and 5 mm apart, that of the lead 3.5 and 10.
    """
    rng = np.random.default_rng(seed)
    cell = 0.25
    rows, cols = np.indices((round(size_mm[1] / cell), round(size_mm[0] / cell)))
    middles = [np.array(size_mm) / 2]
    for way in rng.uniform(0, 2 * np.pi, 13):
        step = rng.uniform(8, 14) * np.array([np.cos(way), np.sin(way)])
        middles.append(np.clip(middles[rng.integers(len(middles))] + step, 18, np.array(size_mm) - 18))

    def inside(x: NDArray[np.floating[Any]], y: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
        return np.asarray(sum(np.exp(-((x - a) ** 2 + (y - b) ** 2) / 128) for a, b in middles) - 0.6)

    mask = inside((cols + 0.5) * cell, (rows + 0.5) * cell) > 0
    depth = ndimage.distance_transform_edt(mask) * cell
    terminals: list[tuple[tuple[float, float], float]] = []
    while len(terminals) < metals:
        radius = 0.3 if terminals else 1.0
        x, y = rng.uniform(0, size_mm[0]), rng.uniform(0, size_mm[1])
        away = [np.hypot(x - a, y - b) - (5 if other < 1 else 10) for (a, b), other in terminals]
        if depth[int(y / cell), int(x / cell)] > 2.5 * radius + 1 and min(away, default=1) > 0:
            terminals.append(((x, y), radius))
    return Invented(inside, mask, cell, terminals)


@pytest.fixture(scope="session")
def invent() -> Callable[..., Invented]:
    """See `invented`."""
    return invented


@pytest.fixture
def draw() -> Callable[..., Sculpture]:
    """Text to sculpture: see `from_text`."""
    return from_text


def from_text(
    dough: str,
    entries: str,
    colours: str = "red",
    seen: dict[str, State] | None = None,
    gap_mm: float | None = None,
) -> Sculpture:
    """A sculpture from two pictures of the same size; a sign is 2 mm square.

    dough    `a`, `b`, ... conductive doughs, `#` insulating dough, `.` table
    entries  `P` red lead, `M` black lead, `1`, `2`, ... long legs, `q`, `w`, `e`, ... short legs
    """
    signs = np.array([list(row) for row in dough.split()])
    places = np.array([list(row) for row in entries.split()])
    assert signs.shape == places.shape
    grid, dough_of, names = _pieces(signs)
    doughs = tuple(
        materials.insulating_dough(n) if n == "#" else materials.conductive_dough(n) for n in names
    )
    small, cell_mm = grid, MM_PER_SIGN
    fine = np.kron(grid, np.ones((CELLS_PER_SIGN, CELLS_PER_SIGN), np.int32)).astype(np.int32)
    palette = colours.split() * len(LONG)
    leds, where = [], {"pack.plus": "P", "pack.minus": "M"}
    for i, (long_leg, short_leg) in enumerate(zip(LONG, SHORT, strict=True)):
        if long_leg in places:
            row = materials.led_by_colour(palette[i])
            leds.append(Led(f"L{i + 1}", palette[i], row.diode, row.safe_A, (seen or {}).get(f"L{i + 1}")))
            where |= {f"L{i + 1}.long": long_leg, f"L{i + 1}.short": short_leg}
    found = {}
    for name, sign in where.items():
        r, c = (int(v[0]) for v in np.nonzero(places == sign))
        piece = int(small[r, c]) or None
        found[name] = Entry(name, ((c + 0.5) * cell_mm, (r + 0.5) * cell_mm), piece)
    return Sculpture(
        fine,
        cell_mm / CELLS_PER_SIGN,
        dough_of,
        doughs,
        _joints(grid, dough_of, doughs, gap_mm),
        found,
        tuple(leds),
        materials.default_pack(4),
        materials.DEFAULT_ELECTRODE,
        materials.DEFAULT_BRIGHTNESS,
    )


def _pieces(signs: np.ndarray) -> tuple[np.ndarray, dict[int, int], list[str]]:
    names = sorted(set(signs.ravel()) - {"."})
    grid, dough_of = np.zeros(signs.shape, np.int32), {}
    for index, name in enumerate(names):
        parts, count = ndimage.label(signs == name)
        for part in range(1, count + 1):
            grid[parts == part] = len(dough_of) + 1
            dough_of[len(dough_of) + 1] = index
    return grid, dough_of, names


def _joints(
    grid: np.ndarray, dough_of: dict[int, int], doughs: tuple[Dough, ...], gap_mm: float | None
) -> tuple[Joint, ...]:
    joints = []
    for a, b in combinations(dough_of, 2):
        grown = ndimage.binary_dilation(grid == a)
        rows, cols = np.nonzero(grown & (grid == b))
        if len(rows):
            at = (float(cols.mean() + 0.5) * MM_PER_SIGN, float(rows.mean() + 0.5) * MM_PER_SIGN)
            joints.append(Joint((a, b), "touching", 0.0, len(rows) * MM_PER_SIGN, at))
        elif doughs[dough_of[a]].conductive and doughs[dough_of[b]].conductive:
            far = ndimage.distance_transform_edt(grid != a)
            r, c = np.unravel_index(np.argmin(np.where(grid == b, far, np.inf)), grid.shape)
            gap = (float(far[r, c]) - 1) * MM_PER_SIGN
            if gap <= 6:
                at = ((float(c) + 0.5) * MM_PER_SIGN, (float(r) + 0.5) * MM_PER_SIGN)
                joints.append(Joint((a, b), "gap", gap if gap_mm is None else gap_mm, 0.0, at))
    return tuple(joints)


@pytest.fixture
def scribble() -> Callable[[int], tuple[str, str]]:
    """Seed to the two pictures of a nonsense sculpture: see `scribbled`."""
    return scribbled


ROWS, COLS = 12, 22
SIGNS = np.array(list(".ab#"))


def scribbled(seed: int) -> tuple[str, str]:
    """Blobs of two salty and one sugary dough, with leads and up to four LEDs at random places."""
    rng = np.random.default_rng(seed)
    fields = ndimage.gaussian_filter(rng.normal(size=(4, ROWS, COLS)), (0, 2, 2))
    fields[0] -= 0.05
    dough = SIGNS[np.argmax(fields, axis=0)]
    spots = rng.permutation(ROWS * COLS)
    places = np.full(ROWS * COLS, ".")
    for sign, spot in zip("PM" + "1q2w3e4r"[: 2 * int(rng.integers(1, 5))], spots, strict=False):
        places[spot] = sign
    text = ["\n".join("".join(row) for row in part.reshape(ROWS, COLS)) for part in (dough, places)]
    return text[0], text[1]

"""What the LEDs of a case do in truth: its label raster as a sheet of cells, its parts in ngspice.

A judge beside the package `circuit`: the dough is reduced by `physics`, the network solved by ngspice. Only
the tables of LEDs, doughs and metal are shared, so that both mean the same things.

Notation: H, W pixels of the label raster, which are the cells of the sheet; T entries.
"""

import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from api.schemas import Case, PaletteEntry
from circuit import materials
from circuit.model import Electrode
from sample_images.studio.ngspice import solved
from sample_images.studio.physics import between_entries

Point = tuple[float, float]
Raster = NDArray[np.uint8]
Spot = tuple[int, int]

LEG_MM, LEAD_MM = 0.3, 1.0
"""How thick legs and leads are, as radii. Common practice, no published source; estimated."""
METAL = 1e3
"""Metal conducts so many times better than dough; more would only spoil the sums."""
LEAST_S = 1e-9
LIT_A = materials.DEFAULT_BRIGHTNESS.dim_A
SHORT_A = 0.25
"""So much from the pack is a short (estimated)."""
STATUS = ("strcmp solved $curplot const", "if $solved = 0", "quit 1", "end", "quit 0")


@dataclass(frozen=True)
class Flows:
    """Currents [A] of every LED and of the pack, and the bodies of conductive dough that entries are in."""

    led_A: dict[str, float]
    pack_A: float
    bodies: dict[str, int]

    @property
    def lit(self) -> frozenset[str]:
        """The LEDs that shine."""
        return frozenset(led for led, flow in self.led_A.items() if flow >= LIT_A)

    @property
    def is_short(self) -> bool:
        """Whether both leads are in one body of dough, or too much comes from the pack."""
        plus, minus = self.bodies["pack.plus"], self.bodies["pack.minus"]
        return (plus == minus != 0) or self.pack_A > SHORT_A


def has_ngspice() -> bool:
    """Whether ngspice is there; with CI set a missing one is for the first call to complain about."""
    return shutil.which("ngspice") is not None or bool(os.environ.get("CI"))


def entries_of_case(case: Case) -> dict[str, Point]:
    """Where everything goes in [px]."""
    if case.pack is None:
        raise ValueError("the case has no pack")
    at: dict[str, Point] = {"pack.plus": case.pack.plus, "pack.minus": case.pack.minus}
    for led in case.leds:
        at |= {f"{led.id}.long": led.long_leg, f"{led.id}.short": led.short_leg}
    for part in case.parts:
        at |= {f"{part.id}.a": part.a, f"{part.id}.b": part.b}
    return at


def conducts(case: Case, raster: Raster) -> NDArray[np.bool_]:
    """Cells (H, W) of conductive dough."""
    table = np.zeros(256, bool)
    table[1 : len(doughs(case)) + 1] = [entry.role == "conductive" for entry in doughs(case)]
    return np.asarray(table[raster])


def doughs(case: Case) -> list[PaletteEntry]:
    """The doughs in the order of their labels, from 1."""
    return [entry for entry in case.palette if entry.role != "table"]


def px_mm(case: Case) -> float:
    """Size of a pixel of the label raster in mm."""
    if case.scale is None or case.scale.mm_per_px is None:
        raise ValueError("the case does not say how large a pixel is")
    return case.scale.mm_per_px


def cell_at(at: Point, shape: tuple[int, ...]) -> Spot | None:
    """Row and column of a place [px], None outside."""
    row, col = int(np.floor(at[1])), int(np.floor(at[0]))
    return (row, col) if 0 <= row < shape[0] and 0 <= col < shape[1] else None


def flows(case: Case, raster: Raster) -> Flows:
    """What every LED does, after ngspice. Raises RuntimeError when ngspice does not solve it."""
    places = entries_of_case(case)
    dough = conducts(case, raster)
    bodies = cv2.connectedComponents(dough.astype(np.uint8), connectivity=4)[1]
    cells = {name: cell_at(at, raster.shape) for name, at in places.items()}
    spots = {name: cell if cell and 0 < raster[cell] < 255 else None for name, cell in cells.items()}
    deck = _deck(case, spots, *_conductances(case, raster, spots))
    currents = solved(deck)
    return Flows(
        dict(zip([led.id for led in case.leds], currents, strict=False)),
        currents[-1],
        {name: int(bodies[cell]) if cell else 0 for name, cell in cells.items()},
    )


def abreast_A(case: Case, dough_ohm: float) -> dict[str, float]:
    """What every LED would get if all stood side by side the right way, with so much dough to either lead."""
    alone = case.model_copy(update={"parts": ()})
    node = {(0, 0): 0, (0, 1): 1, (0, 2): 2, (0, 3): 3}
    place = {"plus": (0, 0), "long": (0, 1), "short": (0, 2), "minus": (0, 3)}
    spots = {name: place[name.rpartition(".")[2]] for name in entries_of_case(alone)}
    G = np.zeros((4, 4))
    G[[0, 2], [1, 3]] = G[[1, 3], [0, 2]] = -1 / dough_ohm
    return dict(zip([led.id for led in case.leds], solved(_deck(alone, spots, node, G)), strict=False))


def _conductances(
    case: Case, raster: Raster, spots: Mapping[str, Spot | None]
) -> tuple[dict[Spot, int], NDArray[np.float64]]:
    """The terminal of each cell that something goes into, and the conductances (T, T) [S] between them."""
    table = np.zeros(256)
    for i, entry in enumerate(doughs(case), start=1):
        table[i] = _square_S(case, entry)
    sheet = table[raster]
    dough = conducts(case, raster)
    rows, cols = np.ogrid[: raster.shape[0], : raster.shape[1]]
    for name, spot in spots.items():
        if spot is not None:
            radius = (LEAD_MM if name.startswith("pack.") else LEG_MM) / px_mm(case)
            n = int(radius) + 2
            box = (slice(max(0, spot[0] - n), spot[0] + n), slice(max(0, spot[1] - n), spot[1] + n))
            away = np.hypot(rows[box[0]] - spot[0], cols[:, box[1]] - spot[1])
            metal = (away <= radius) & dough[box]
            sheet[box] = np.where(metal, METAL * table[1 : len(doughs(case)) + 1].max(), sheet[box])
    node = {spot: i for i, spot in enumerate(dict.fromkeys(s for s in spots.values() if s is not None))}
    if not node:
        return node, np.zeros((0, 0))
    return node, between_entries(sheet, list(node))


def _square_S(case: Case, entry: PaletteEntry) -> float:
    """Conductance of a square of this dough."""
    usual = materials.conductive_dough if entry.role == "conductive" else materials.insulating_dough
    told = case.materials.get(entry.name)
    ohm_m = (told and told.resistivity_ohm_m) or usual(entry.name).resistivity_ohm_m
    thick = (told and told.thickness_mm) or case.thickness_mm
    if isinstance(thick, str):
        raise ValueError("the judge needs to be told how thick the dough is")  # noqa: TRY004
    return thick / 1000 / ohm_m


# ---------------------------------------------------------------- ngspice


def _deck(
    case: Case, spots: Mapping[str, Spot | None], node: Mapping[Spot, int], G: NDArray[np.float64]
) -> str:
    """The network as a deck that prints the current of every LED and of the pack, in this order."""
    lines = ["* reduced dough between entries, metal in it, LEDs, other parts and the pack"]
    for i, j in combinations(range(len(G)), 2):
        if -G[i, j] > LEAST_S:
            lines.append(f"rd{i}_{j} d{i} d{j} {-1 / G[i, j]:.9g}")
    metal = _electrode(case)
    word = {name: f"m{k}" for k, name in enumerate(spots)}
    for k, (name, spot) in enumerate(spots.items()):
        start = f"f{k}" if spot is None else f"d{node[spot]}"
        ohm = max(metal.lead_ohm if name.startswith("pack.") else metal.leg_ohm, 1e-6)
        if metal.drop_i0_A is None:
            lines.append(f"rc{k} {start} m{k} {ohm:.9g}")
        else:  # two diodes back to back are the asinh law exactly
            lines += [f"rc{k} {start} x{k} {ohm:.9g}", f"di{k} x{k} m{k} drop", f"do{k} m{k} x{k} drop"]
    if metal.drop_i0_A is not None:
        lines.append(f".model drop d(is={metal.drop_i0_A:.9g} n={metal.drop_n:.9g})")
    for i, led in enumerate(case.leds):
        d = led.model or materials.led_by_colour(led.colour).diode
        lines += [
            f"vl{i} {word[f'{led.id}.long']} a{i} 0",
            f"dl{i} a{i} {word[f'{led.id}.short']} led{i}",
            f".model led{i} d(is={d.is_A:.9g} n={d.n:.9g} rs={d.rs_ohm:.9g})",
        ]
    for i, part in enumerate(case.parts):
        if part.closed is not False:
            ohm = materials.part_by_kind(part.kind, part.id).ohm if part.ohm is None else part.ohm
            lines.append(f"rp{i} {word[f'{part.id}.a']} {word[f'{part.id}.b']} {max(ohm, 1e-6):.9g}")
    emf_V, ohm = _pack(case)
    lines += [
        f"vemf emf {word['pack.minus']} {emf_V:.9g}",
        f"rint emf meter {max(ohm, 1e-6):.9g}",
        f"vpack meter {word['pack.plus']} 0",
        f"rground {word['pack.minus']} 0 1",
        ".options temp=27 tnom=27 gmin=1e-12 reltol=1e-6 abstol=1e-12 vntol=1e-8 rshunt=1e12",
        ".control",
        "set numdgt=9",
        "op",
        f"print {' '.join(f'i(vl{i})' for i in range(len(case.leds)))} i(vpack)",
        *STATUS,
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _electrode(case: Case) -> Electrode:
    told = {} if case.electrode is None else case.electrode.model_dump(exclude_unset=True)
    usual = materials.DEFAULT_ELECTRODE
    kept = {name: value for name, value in told.items() if value is not None or name == "drop_i0_A"}
    return replace(usual, **kept)


def _pack(case: Case) -> tuple[float, float]:
    """EMF [V] and internal resistance [ohm]."""
    if case.pack is None:
        raise ValueError("the case has no pack")
    block = case.pack.kind == "block"
    usual = materials.block_pack() if block else materials.default_pack(case.pack.cells)
    emf_V, ohm = case.pack.emf_V, case.pack.internal_ohm
    return usual.emf_V if emf_V is None else emf_V, usual.internal_ohm if ohm is None else ohm

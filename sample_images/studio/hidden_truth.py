"""What really flows in a sculpture with hidden faults: its dough by `physics`, its network by ngspice.

A judge beside the package `circuit`. Only the tables of LEDs, doughs and metal are shared, so that both mean
the same things.

Notation: R, C cells of the sculpture's grid; T terminals.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from circuit.model import CauseCode, Sculpture
from sample_images.studio.ngspice import solved
from sample_images.studio.physics import between_entries

Cell = tuple[int, int]
Key = frozenset["Hidden"]

LEG_MM, LEAD_MM, STRIP_MM = 0.3, 1.0, 1.5
"""Radii of legs and leads, and of what a strip of dough touches. Common practice, no published source."""
METAL = 1e3
"""Metal conducts so many times better than dough; more would only spoil the sums."""
BESIDE_MM = 4.0
"""How far beside a lead a leg is held to the dough (estimated)."""
DOUGHS: tuple[CauseCode, ...] = ("short-underneath", "contact-open", "contact-closed", "dough-dry")
CONTACTS: tuple[CauseCode, ...] = ("short-underneath", "contact-open", "contact-closed")


@dataclass(frozen=True)
class Hidden:
    """A fault: what it is, and about what.

    ohm    of the loose leg or lead, of the tired pack, of the dough across; infinite where the way is open
    share  of the pack's volts, or of the dry dough's conductance, that is left
    cells  the two cells that dough across joins; joint: index of the doubtful contact
    """

    code: CauseCode
    parts: tuple[str, ...]
    ohm: float = 0.0
    share: float = 1.0
    cells: tuple[Cell, ...] = ()
    joint: int | None = None

    @property
    def name(self) -> tuple[str, ...]:
        """What must be named. A look shows where dough goes across; only one contact is in doubt."""
        return (self.code,) if self.code in CONTACTS else (self.code, *self.parts)


@dataclass
class Truth:
    """What really flows in a sculpture with given faults; every network is solved but once."""

    sculpture: Sculpture
    letters: Mapping[int, str]
    beside: Mapping[str, Cell]
    _dough: dict[Key, tuple[tuple[str, ...], NDArray[np.float64]]] = field(default_factory=dict)
    _known: dict[tuple[Key, str | None, str | None], dict[str, float]] = field(default_factory=dict)

    def led_A(
        self, faults: Sequence[Hidden], probe: str | None = None, out: str | None = None
    ) -> dict[str, float]:
        """Current of every LED [A], with one held to the dough beside the leads, or pulled out.

        Raises RuntimeError when ngspice does not solve it.
        """
        key = frozenset(faults), probe, out
        if key not in self._known:
            names, G = self._reduced(frozenset(f for f in faults if f.code in DOUGHS))
            deck = _deck(self.sculpture, names, G, faults, probe, out)
            ids = [led.id for led in self.sculpture.leds]
            self._known[key] = dict(zip(ids, solved(deck), strict=True))
        return self._known[key]

    def _reduced(self, faults: Key) -> tuple[tuple[str, ...], NDArray[np.float64]]:
        """Names of the terminals and the conductances between them (T, T) [S]."""
        if faults not in self._dough:
            sheet = _sheet_S(self.sculpture, self.letters, faults)
            h = self.sculpture.cell_mm
            spots = {name: cell_at(self.sculpture, e.at) for name, e in self.sculpture.entries.items()}
            spots |= dict(self.beside)
            strips = {
                f"{i}.{j}": cell
                for i, f in enumerate(sorted(faults, key=repr))
                for j, cell in enumerate(f.cells)
            }
            spots |= strips
            most = sheet.max()
            for name, cell in spots.items():
                radius = STRIP_MM if name in strips else LEAD_MM if name.startswith("pack.") else LEG_MM
                metal = _disc(sheet.shape, cell, radius / h) & (sheet > most / 100)
                metal &= _body(sheet > most / 100, cell, metal)
                sheet[metal] = METAL * most
            G = between_entries(sheet, list(spots.values()))
            for i, f in enumerate(sorted(faults, key=repr)):
                if f.cells:
                    a, b = (list(spots).index(f"{i}.{j}") for j in (0, 1))
                    G[[a, b], [a, b]] += 1 / f.ohm
                    G[[a, b], [b, a]] -= 1 / f.ohm
            self._dough[faults] = tuple(spots), G
        return self._dough[faults]


# ---------------------------------------------------------------- dough


def cell_at(sculpture: Sculpture, at: tuple[float, float]) -> Cell:
    """Row and column of a place [mm]."""
    rows, cols = sculpture.grid.shape
    return (
        min(int(at[1] / sculpture.cell_mm), rows - 1),
        min(int(at[0] / sculpture.cell_mm), cols - 1),
    )


def nearest(mask: NDArray[np.bool_], cell: Cell) -> Cell:
    rows, cols = np.nonzero(mask)
    i = int(np.argmin((rows - cell[0]) ** 2 + (cols - cell[1]) ** 2))
    return int(rows[i]), int(cols[i])


def _disc(shape: tuple[int, ...], cell: Cell, radius: float) -> NDArray[np.bool_]:
    rows, cols = np.ogrid[: shape[0], : shape[1]]
    return np.asarray((rows - cell[0]) ** 2 + (cols - cell[1]) ** 2 <= radius**2)


def _body(dough: NDArray[np.bool_], cell: Cell, near: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """What of `near` hangs together with a cell."""
    marks, _ = ndimage.label(dough & near)
    return np.asarray((marks == marks[cell]) & (marks > 0))


def _sheet_S(sculpture: Sculpture, letters: Mapping[int, str], faults: Key) -> NDArray[np.float64]:
    """Conductance of a square of every cell (R, C)."""
    table = np.zeros(int(sculpture.grid.max()) + 1)
    for piece, index in sculpture.dough_of.items():
        dough = sculpture.doughs[index]
        table[piece] = dough.thickness_mm / 1000 / dough.resistivity_ohm_m
        for fault in faults:
            if fault.code == "dough-dry" and letters.get(piece) in fault.parts:
                table[piece] *= fault.share
    sheet = table[sculpture.grid]
    for fault in faults:
        if fault.code == "contact-open" and fault.joint is not None:
            a, b = sculpture.joints[fault.joint].between
            near = ndimage.binary_dilation(sculpture.grid == b, np.ones((3, 3), bool), iterations=2)
            sheet[near & (sculpture.grid == a)] = 0.0
    return np.asarray(sheet)


def beside_leads(sculpture: Sculpture) -> dict[str, Cell]:
    """A place in the dough beside each lead, away from everything else."""
    found = {}
    legs = [cell_at(sculpture, e.at) for e in sculpture.entries.values()]
    rows, cols = np.indices(sculpture.grid.shape)
    h = sculpture.cell_mm
    clear = np.min([np.hypot(rows - r, cols - c) for r, c in legs], axis=0) * h
    for lead in ("pack.plus", "pack.minus"):
        own = cell_at(sculpture, sculpture.entries[lead].at)
        piece = sculpture.grid == sculpture.entries[lead].piece
        room = ndimage.distance_transform_edt(piece) * h
        away = np.hypot(rows - own[0], cols - own[1]) * h
        cost = np.abs(away - BESIDE_MM) + 3 * np.maximum(0, 1.5 - room) + 3 * np.maximum(0, 1.5 - clear)
        best = int(np.argmin(np.where(piece, cost, np.inf)))
        found[f"beside {lead}"] = divmod(best, sculpture.grid.shape[1])
    return found


# ---------------------------------------------------------------- ngspice


def _deck(
    sculpture: Sculpture,
    names: Sequence[str],
    G: NDArray[np.float64],
    faults: Sequence[Hidden],
    probe: str | None,
    out: str | None,
) -> str:
    """The network as a deck that prints the current of every LED, in their order."""
    lines = ["* a sculpture with hidden faults"]
    for i, j in combinations(range(len(G)), 2):
        if -G[i, j] > 1e-9:
            lines.append(f"rd{i}_{j} d{i} d{j} {-1 / G[i, j]:.9g}")
    has: dict[CauseCode, dict[str, Hidden]] = {}
    for f in faults:
        has.setdefault(f.code, {})[f.parts[0]] = f
    metal = sculpture.electrode

    def leg(wire: str, name: str | None, ohm: float) -> None:
        """From a node of a part into the dough at a terminal; None: into the air."""
        start = f"free{wire}" if name is None else f"d{names.index(name)}"
        lines.append(f"rc{wire} {start} x{wire} {max(ohm, 1e-6):.9g}")
        if metal.drop_i0_A is None:
            lines.append(f"rn{wire} x{wire} {wire} 1e-6")
        else:  # two diodes back to back are the asinh law exactly
            lines.extend([f"di{wire} x{wire} {wire} drop", f"do{wire} {wire} x{wire} drop"])

    for i, led in enumerate(sculpture.leds):
        long, short = f"{led.id}.long", f"{led.id}.short"
        if led.id in has.get("led-backwards", {}):
            long, short = short, long
        loose = has.get("leg-loose", {}).get(led.id)
        extra = 0.0 if loose is None else loose.ohm
        if led.id == probe:
            long, short, extra = "beside pack.plus", "beside pack.minus", 0.0
        gone = led.id == out or led.id in has.get("led-dead", {})
        free = gone or np.isinf(extra)
        leg(f"l{i}", None if free else long, metal.leg_ohm + (0.0 if free else extra))
        leg(f"s{i}", None if gone else short, metal.leg_ohm)
        d = led.diode
        lines += [
            f"vl{i} l{i} a{i} 0",
            f"dl{i} a{i} s{i} led{i}",
            f".model led{i} d(is={d.is_A:.9g} n={d.n:.9g} rs={d.rs_ohm:.9g})",
        ]
    lead = has.get("lead-loose", {}).get("pack")
    flat = has.get("pack-flat", {}).get("pack")
    ohms = [0.0 if f is None else f.ohm for f in (lead, flat)]
    off = any(np.isinf(ohm) for ohm in ohms)
    leg("plus", None if off else "pack.plus", metal.lead_ohm + (0.0 if off else sum(ohms)))
    leg("minus", "pack.minus", metal.lead_ohm)
    if metal.drop_i0_A is not None:
        lines.append(f".model drop d(is={metal.drop_i0_A:.9g} n={metal.drop_n:.9g})")
    emf = sculpture.pack.emf_V * (1.0 if flat is None else flat.share)
    return "\n".join([
        *lines,
        f"vemf emf minus {emf:.9g}",
        f"rint emf plus {max(sculpture.pack.internal_ohm, 1e-6):.9g}",
        "rground minus 0 1",
        ".options temp=27 tnom=27 gmin=1e-12 reltol=1e-6 abstol=1e-12 vntol=1e-8 rshunt=1e12",
        ".control", "set numdgt=9", "op",
        f"print {' '.join(f'i(vl{i})' for i in range(len(sculpture.leds)))}",
        "quit 0", ".endc", ".end", "",
    ])  # fmt: skip

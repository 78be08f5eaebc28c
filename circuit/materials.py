"""Cited tables: LEDs by colour, battery packs, doughs, metal in dough.

Every row says where its value is from. 'Estimated' marks what nobody has published.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from circuit.errors import SculptureError
from circuit.model import Brightness, Diode, Dough, Electrode, Pack, Part, PartKind

KELVIN = 300.15
VT = 1.380649e-23 * KELVIN / 1.602176634e-19
"""Thermal voltage kT/q [V] at 27 C, the usual SPICE nominal temperature; k and q are exact in the SI."""


@dataclass(frozen=True)
class LedRow:
    """A colour of LED: its diode, greatest continuous current [A] and power [W], and where they are from."""

    diode: Diode
    safe_A: float
    safe_W: float
    source: str


def _row(is_A: float, n: float, rs_ohm: float, safe_mA: float, safe_mW: float, source: str) -> LedRow:
    return LedRow(Diode(is_A, n, rs_ohm), safe_mA * 1e-3, safe_mW * 1e-3, source)


# Saturation currents follow from the forward voltage at 20 mA in the data sheet named; ideality and
# series resistance are chosen, estimated.
_GAP = "2.0 V at 20 mA, 30 mA and 100 mW at most: TLHR54xx and TLP.5600 data sheets (Vishay 83012, 83043)"
_YELLOW = "2.05 V at 20 mA: AlInGaP, generic 5 mm table; 20 mA, 60 mW at most: TLP.5600 (Vishay 83043)"
_GREEN = "2.2 V at 20 mA: GaP, generic 5 mm table; 20 mA, 60 mW at most: TLP.5600 (Vishay 83043)"
_INGAN = "3.15 V at 20 mA; 20 mA, 85 mW at most: 5 mm blue InGaN WW05A3SBQ4 and RND 135-00123 data sheets"
LEDS: Mapping[str, LedRow] = {
    "red": _row(1.013e-18, 2.0, 3.0, 30.0, 100.0, _GAP),
    "orange": _row(1.013e-18, 2.0, 3.0, 30.0, 100.0, f"as red, by analogy: {_GAP}"),
    "yellow": _row(3.853e-19, 2.0, 3.0, 20.0, 60.0, _YELLOW),
    "green": _row(1.296e-18, 2.2, 4.0, 20.0, 60.0, _GREEN),
    "blue": _row(1.386e-16, 3.5, 10.0, 20.0, 85.0, _INGAN),
    "white": _row(1.386e-16, 3.5, 10.0, 20.0, 85.0, _INGAN),
    "pink": _row(1.386e-16, 3.5, 10.0, 20.0, 85.0, f"as white (blue chip, phosphor), by analogy: {_INGAN}"),
    "purple": _row(1.386e-16, 3.5, 10.0, 20.0, 85.0, f"as blue, by analogy: {_INGAN}"),
}
ALIASES: Mapping[str, str] = {"amber": "yellow", "warm white": "white", "violet": "purple"}

CELL_V = 1.5
"""Nominal voltage of an LR6 cell: IEC 60086-2, via a cell specification written to it."""
CELL_OHM = 0.3
"""Internal resistance of a fresh alkaline cell: 0.15 to 0.30 ohm, from memory; a maker's worked example
(Energizer technical bulletin 'Battery internal resistance' 1.1.0, 2005) has 0.214 ohm."""
CELL_AH = ((0.05, 2.9), (0.1, 2.7), (0.25, 2.3), (0.5, 2.0))
"""Current [A] and capacity [Ah] of an LR6 cell: one maker's curve, via a review. Another maker's
specification has 2.2 Ah into 43 ohm to 0.9 V, about 30 mA: a quarter less is possible."""
BLOCK_V = 9.0
"""Nominal voltage of a 9 V block, six small cells in one case. Common practice, no published source."""
BLOCK_CELLS = 6
BLOCK_OHM = 1.7
"""Internal resistance of a fresh alkaline 9 V block. From memory."""
BLOCK_AH = ((0.01, 0.6), (0.025, 0.55), (0.1, 0.45), (0.5, 0.25))
"""Current [A] and capacity [Ah] of a 9 V block. From memory."""

LEAST_A = 1e-6
"""Less than this is no current to speak of: cells last for years of their own."""
GLOW_AT_A = 20e-3
GLOW_POWER = 0.33
"""Stevens' law: how bright a light looks grows as this power of it (Bauer, Psychological Record 59 (2009)
171); the light of an LED is taken as proportional to its current."""

WIRE_OHM, SWITCH_OHM, RESISTOR_OHM = 0.05, 0.1, 330.0
BUZZER_OHM, BUZZER_A = 1000.0, 2e-3
"""A piezo buzzer with its driver: about 5 mA at 6 V, sounding from 2 to 3 V. Estimated."""
MOTOR_OHM, MOTOR_A = 15.0, 50e-3
"""A small toy motor: what its winding has at rest, and what it takes to start. Estimated."""

CONDUCTIVE_OHM_M = 0.25
"""Salt dough. No source seen; brine of 20 S/m in a third of the volume gives 0.2 to 0.5 ohm m. Estimated."""
INSULATING_OHM_M = 200.0
"""Sugar dough made with tap water: some decades worse. Estimated."""
THICKNESS_MM = 15.0
"""A sculpture pressed flat on a table. Estimated."""

DEFAULT_ELECTRODE = Electrode(leg_ohm=20.0, lead_ohm=5.0, drop_n=2.0, drop_i0_A=1e-5)
"""Metal in dough. Estimated, so that the trade's facts come out: one LED bright, two red in a row dim,
three in a row off. The law is Butler-Volmer with equal branches."""

DEFAULT_BRIGHTNESS = Brightness(dim_A=0.5e-3, bright_A=5e-3)
"""An LED is bright from 5 mA and dim from 0.5 mA. Estimated from Stevens' law (Bauer 2009: exponent 0.33)."""


def led_by_colour(colour: str) -> LedRow:
    """The LED of this colour. Raises SculptureError for a colour that is not in the table."""
    key = colour.strip().lower()
    row = LEDS.get(ALIASES.get(key, key))
    if row is None:
        raise SculptureError(
            "No LED of the colour {colour} is known; choose one of {names}.",
            colour=colour,
            names=", ".join(LEDS),
        )
    return row


def default_pack(cells: int) -> Pack:
    """A pack of this many fresh alkaline cells in series."""
    return Pack(cells, cells * CELL_V, cells * CELL_OHM)


def block_pack() -> Pack:
    """A fresh alkaline 9 V block."""
    return Pack(BLOCK_CELLS, BLOCK_V, BLOCK_OHM, "block")


def hours_until_flat(pack: Pack, current_A: float) -> float | None:
    """Hours until fresh cells are down to about 0.9 V each at this current; None without a current.

    The lights are dim long before.
    """
    if current_A < LEAST_A:
        return None
    table = BLOCK_AH if pack.kind == "block" else CELL_AH
    amperes, capacity_Ah = zip(*table, strict=True)
    return float(np.interp(np.log(current_A), np.log(amperes), capacity_Ah)) / current_A


def glow(current_A: float) -> float:
    """How bright an LED looks at this current, 1 at 20 mA."""
    return float((max(current_A, 0.0) / GLOW_AT_A) ** GLOW_POWER)


def part_by_kind(kind: PartKind, name: str) -> Part:
    """The usual wire, switch (closed), resistor, buzzer or motor."""
    usual: Mapping[PartKind, Part] = {
        "wire": Part(name, "wire", WIRE_OHM),
        "switch": Part(name, "switch", SWITCH_OHM),
        "resistor": Part(name, "resistor", RESISTOR_OHM),
        "buzzer": Part(name, "buzzer", BUZZER_OHM, BUZZER_A, one_way=True),
        "motor": Part(name, "motor", MOTOR_OHM, MOTOR_A),
    }
    return usual[kind]


def conductive_dough(name: str) -> Dough:
    """Salt dough."""
    return Dough(name, True, CONDUCTIVE_OHM_M, THICKNESS_MM)


def insulating_dough(name: str) -> Dough:
    """Sugar dough."""
    return Dough(name, False, INSULATING_OHM_M, THICKNESS_MM)

"""Cited tables: LEDs by colour, battery packs, doughs, metal in dough.

Every row says where its value is from. 'Estimated' marks what nobody has published.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from circuit.errors import SculptureError
from circuit.model import Brightness, Diode, Dough, Electrode, Pack

KELVIN = 300.15
VT = 1.380649e-23 * KELVIN / 1.602176634e-19
"""Thermal voltage kT/q [V] at 27 C, the usual SPICE nominal temperature; k and q are exact in the SI."""


@dataclass(frozen=True)
class LedRow:
    """A colour of LED: its diode, greatest continuous current [A] and where both are from."""

    diode: Diode
    safe_A: float
    source: str


def _row(is_A: float, n: float, rs_ohm: float, safe_mA: float, source: str) -> LedRow:
    return LedRow(Diode(is_A, n, rs_ohm), safe_mA * 1e-3, source)


# Saturation currents follow from the forward voltage at 20 mA in the data sheet named; ideality and
# series resistance are chosen, estimated.
_GAP = "2.0 V at 20 mA, 30 mA at most: TLHR54xx and TLP.5600 data sheets (Vishay 83012, 83043)"
_YELLOW = "2.05 V at 20 mA: AlInGaP, generic 5 mm table; 20 mA at most: TLP.5600 (Vishay 83043)"
_GREEN = "2.2 V at 20 mA: GaP, generic 5 mm table; 20 mA at most: TLP.5600 (Vishay 83043)"
_INGAN = "3.15 V at 20 mA, 20 mA at most: 5 mm blue InGaN WW05A3SBQ4 and RND 135-00123 data sheets"
LEDS: Mapping[str, LedRow] = {
    "red": _row(1.013e-18, 2.0, 3.0, 30.0, _GAP),
    "orange": _row(1.013e-18, 2.0, 3.0, 30.0, f"as red, by analogy: {_GAP}"),
    "yellow": _row(3.853e-19, 2.0, 3.0, 20.0, _YELLOW),
    "green": _row(1.296e-18, 2.2, 4.0, 20.0, _GREEN),
    "blue": _row(1.386e-16, 3.5, 10.0, 20.0, _INGAN),
    "white": _row(1.386e-16, 3.5, 10.0, 20.0, _INGAN),
    "pink": _row(1.386e-16, 3.5, 10.0, 20.0, f"as white (a blue chip under phosphor), by analogy: {_INGAN}"),
    "purple": _row(1.386e-16, 3.5, 10.0, 20.0, f"as blue, by analogy: {_INGAN}"),
}
ALIASES: Mapping[str, str] = {"amber": "yellow", "warm white": "white", "violet": "purple"}

CELL_V = 1.5
"""Nominal voltage of an LR6 cell: IEC 60086-2, via a cell specification written to it."""
CELL_OHM = 0.3
"""Internal resistance of a fresh alkaline cell: 0.15 to 0.30 ohm, from memory; a maker's worked example
(Energizer technical bulletin 'Battery internal resistance' 1.1.0, 2005) has 0.214 ohm."""

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


def led_by_colour(colour: str) -> tuple[Diode, float]:
    """The diode of an LED of this colour, and its greatest continuous current [A].

    Raises SculptureError for a colour that is not in the table.
    """
    key = colour.strip().lower()
    row = LEDS.get(ALIASES.get(key, key))
    if row is None:
        raise SculptureError(f"No LED of the colour {colour} is known; choose one of {', '.join(LEDS)}.")
    return row.diode, row.safe_A


def default_pack(cells: int) -> Pack:
    """A pack of this many fresh alkaline cells in series."""
    return Pack(cells, cells * CELL_V, cells * CELL_OHM)


def conductive_dough(name: str) -> Dough:
    """Salt dough."""
    return Dough(name, True, CONDUCTIVE_OHM_M, THICKNESS_MM)


def insulating_dough(name: str) -> Dough:
    """Sugar dough."""
    return Dough(name, False, INSULATING_OHM_M, THICKNESS_MM)

"""The tables of materials against the sources that they name."""

import numpy as np
import pytest

from circuit import materials
from circuit.errors import SculptureError


@pytest.mark.parametrize(
    ("current_mA", "seen"),
    [(20, 1.0), (10, 0.796), (5, 0.633), (2, 0.468), (1, 0.372), (0.5, 0.296), (0.1, 0.174)],
)
def test_how_bright_a_light_looks(current_mA: float, seen: float) -> None:
    """Stevens' law with the exponent 0.33 of Bauer, Psychological Record 59 (2009) 171."""
    assert materials.glow(current_mA * 1e-3) == pytest.approx(seen, abs=0.001)


@pytest.mark.parametrize(("current_mA", "mAh"), [(50, 2900), (100, 2700), (250, 2300), (500, 2000)])
def test_hours_of_an_alkaline_cell(current_mA: float, mAh: float) -> None:
    """One maker's curve, via a review. Cells in series last as long as one."""
    for cells in (2, 3, 4):
        hours = materials.hours_until_flat(materials.default_pack(cells), current_mA * 1e-3)
        assert hours == pytest.approx(mAh / current_mA)


def test_hours_beside_another_makers_cell() -> None:
    """2200 mAh into 43 ohm to 0.9 V: about 1.25 V / 43 ohm = 29 mA. Specification page of an LR6/AM3 cell.

    Makers differ, by no more than a third.
    """
    current = 1.25 / 43
    hours = materials.hours_until_flat(materials.default_pack(4), current)
    assert hours == pytest.approx(2.2 / current, rel=0.34)


def test_a_block_is_flat_long_before_cells_are() -> None:
    """A 9 V block holds about a fifth of the charge. From memory."""
    block, cells = (
        materials.hours_until_flat(pack, 0.03) for pack in (materials.block_pack(), materials.default_pack(4))
    )
    assert block is not None and cells is not None
    assert 0.1 < block / cells < 0.3


def test_without_a_current_nothing_runs_flat() -> None:
    assert materials.hours_until_flat(materials.default_pack(4), 0.0) is None


def test_a_short_pack_gives_amperes() -> None:
    """Four cells at 0.15 to 0.30 ohm: 5 to 10 A. Short-circuit current of an LR6 specification: 7 A."""
    pack = materials.default_pack(4)
    assert 5 <= pack.emf_V / pack.internal_ohm <= 10.7


@pytest.mark.parametrize("colour", list(materials.LEDS))
def test_an_led_at_its_greatest_current_is_within_its_power(colour: str) -> None:
    """TLHR54xx, TLP.5600, WW05A3SBQ4, RND 135-00123 data sheets: 60 to 100 mW."""
    row = materials.led_by_colour(colour)
    inner = row.diode.n * materials.VT * np.log1p(row.safe_A / row.diode.is_A)
    assert 0.06 <= row.safe_W <= 0.1
    assert row.safe_A * (inner + row.diode.rs_ohm * row.safe_A) <= row.safe_W


def test_every_kind_of_part_has_usual_values() -> None:
    for kind in ("wire", "switch", "resistor", "buzzer", "motor"):
        part = materials.part_by_kind(kind, "X1")
        assert (part.id, part.kind, part.closed) == ("X1", kind, True)
        assert part.ohm > 0
    assert materials.part_by_kind("buzzer", "B").one_way


def test_an_unknown_colour_is_refused() -> None:
    with pytest.raises(SculptureError, match="octarine"):
        materials.led_by_colour("octarine")

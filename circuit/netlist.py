"""The circuit of a sculpture as a SPICE deck, in the form that ngspice runs in batch mode."""

import re
from itertools import combinations

from circuit.board import lay_out, own_placing
from circuit.lumps import LEADS, check, legs
from circuit.model import Sculpture
from circuit.outcome import Network, wire

LEAST_S = 1e-12
SHUNT_OHM = 1e12


def sculpture_deck(sculpture: Sculpture, title: str = "sculpture") -> str:
    """The reduced network: dough as resistors between entries, parts as in `circuit.devices`.

    Each LED has an ammeter `vl_ID` (a source of 0 V), the pack `vl_pack`; the deck prints them all.
    Metal in dough is a resistor and two diodes back to back, which is the asinh law exactly.
    """
    check(sculpture)
    board, placing = lay_out(sculpture), own_placing(sculpture)
    network = wire(board, placing)
    node = {spot: f"d{i}" for i, spot in enumerate(network.nodes)}
    lines = [f"* {_plain(title)}: one node for each entry in the dough"]
    for name, spot in placing.items():
        where = "hangs free" if spot is None else f"in lump {board.lump_at(spot)} at node {node[spot]}"
        lines.append(f"* {_plain(name)} {where}")
    lines += _dough_lines(network)
    metal = sculpture.electrode
    for name in sculpture.entries:
        ohm = metal.lead_ohm if name in LEADS else metal.leg_ohm
        spot = placing[name]
        lines += _entry_lines(
            name, "free_" + _word(name) if spot is None else node[spot], ohm, metal.drop_i0_A
        )
    for led in sculpture.leds:
        word, (long_leg, short_leg) = _word(led.id), (_word(leg) for leg in legs(led))
        d = led.diode
        lines.append(f"vl_{word} m_{long_leg} a_{word} 0")
        lines.append(f"d_{word} a_{word} m_{short_leg} led_{word}")
        lines.append(f".model led_{word} d(is={d.is_A:.12g} n={d.n:.12g} rs={d.rs_ohm:.12g})")
    pack = sculpture.pack
    lines += [
        f"v_emf emf m_pack_minus {pack.emf_V:.12g}",
        f"r_internal emf meter {max(pack.internal_ohm, 1e-6):.12g}",
        "vl_pack meter m_pack_plus 0",
        "r_ground m_pack_minus 0 1",
    ]
    if metal.drop_i0_A is not None:
        lines.append(f".model drop d(is={metal.drop_i0_A:.12g} n={metal.drop_n:.12g})")
    meters = " ".join(f"i(vl_{_word(led.id)})" for led in sculpture.leds)
    lines += [
        f".options temp=27 tnom=27 gmin=1e-12 reltol=1e-7 abstol=1e-14 vntol=1e-9 rshunt={SHUNT_OHM:g}",
        ".control",
        "set numdgt=10",
        "op",
        f"print {meters} i(vl_pack)",
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _dough_lines(network: Network) -> list[str]:
    """A resistor for each pair of entries in one lump."""
    found = []
    for i, j in combinations(range(len(network.nodes)), 2):
        g = -float(network.conductance[i, j])
        if abs(g) > LEAST_S:
            found.append(f"r_d{i}_d{j} d{i} d{j} {1 / g:.12g}")
    return found


def _entry_lines(name: str, node: str, ohm: float, drop_A: float | None) -> list[str]:
    """From the dough (or nowhere) to the metal: a resistor and, unless there is none, the drop."""
    word = _word(name)
    if drop_A is None:
        return [f"r_{word} {node} m_{word} {max(ohm, 1e-6):.12g}"]
    return [
        f"r_{word} {node} x_{word} {max(ohm, 1e-6):.12g}",
        f"d_{word}_in x_{word} m_{word} drop",
        f"d_{word}_out m_{word} x_{word} drop",
    ]


def _word(name: str) -> str:
    """A name that SPICE takes: small letters, digits and underscores."""
    return re.sub(r"[^a-z0-9_]", "_", name.lower())


def _plain(text: str) -> str:
    return re.sub(r"[^\x20-\x7e]", "?", text)

"""The circuit of a sculpture as a SPICE deck, in the form that ngspice runs in batch mode."""

import re
from collections.abc import Mapping
from itertools import combinations

from circuit.board import Board, Placing, lay_out, own_placing
from circuit.checking import check
from circuit.devices import ONE_WAY
from circuit.lumps import LEADS, ends, legs
from circuit.model import Part, Sculpture
from circuit.outcome import LEAST_OHM, Network, wire

LEAST_S = 1e-12
SHUNT_OHM = 1e12
EXIT_STATUS = ("strcmp solved $curplot const", "if $solved = 0", "quit 1", "end", "quit 0")
"""Without this ngspice ends with status 1 even when all went well, for want of a plot."""


def sculpture_deck(sculpture: Sculpture, title: str = "sculpture") -> str:
    """The deck of a sculpture as it stands: see `board_deck`."""
    check(sculpture)
    return board_deck(lay_out(sculpture), own_placing(sculpture), title)


def board_deck(board: Board, placing: Placing, title: str = "sculpture") -> str:
    """The reduced network: dough as resistors between entries, parts as in `circuit.devices`.

    Each LED and other part has an ammeter `vl_ID` (a source of 0 V), the pack `vl_pack`; the deck prints
    them all. Metal in dough is a resistor and two diodes back to back, which is the asinh law exactly.
    """
    sculpture, network = board.sculpture, wire(board, placing)
    node = {spot: f"d{i}" for i, spot in enumerate(network.nodes)}
    lines = [f"* {_plain(title)}: one node for each entry in the dough"]
    for name, spot in placing.items():
        where = "hangs free" if spot is None else f"in lump {board.lump_at(spot)} at node {node[spot]}"
        lines.append(f"* {_plain(name)} {where}")
    lines += _dough_lines(network)
    metal, words = sculpture.electrode, _words(sculpture)
    for name, spot in placing.items():
        ohm = metal.lead_ohm if name in LEADS else metal.leg_ohm
        start = "free_" + words[name] if spot is None else node[spot]
        lines += _entry_lines(words[name], start, ohm, metal.drop_i0_A)
    for led in sculpture.leds:
        word, (long_leg, short_leg) = words[led.id], (words[leg] for leg in legs(led))
        d = led.diode
        lines.append(f"vl_{word} m_{long_leg} a_{word} 0")
        lines.append(f"dled_{word} a_{word} m_{short_leg} led_{word}")
        lines.append(f".model led_{word} d(is={d.is_A:.12g} n={d.n:.12g} rs={d.rs_ohm:.12g})")
    for part in sculpture.parts:
        lines += _part_lines(part, words)
    pack = sculpture.pack
    lines += [
        f"v_emf emf m_pack_minus {pack.emf_V:.12g}",
        f"r_internal emf meter {max(pack.internal_ohm, LEAST_OHM):.12g}",
        "vl_pack meter m_pack_plus 0",
        "r_ground m_pack_minus 0 1",
    ]
    if metal.drop_i0_A is not None:
        lines.append(f".model drop d(is={metal.drop_i0_A:.12g} n={metal.drop_n:.12g})")
    ids = [led.id for led in sculpture.leds] + [part.id for part in sculpture.parts]
    meters = " ".join(f"i(vl_{words[name]})" for name in ids)
    lines += [
        f".options temp=27 tnom=27 gmin=1e-12 reltol=1e-7 abstol=1e-14 vntol=1e-9 rshunt={SHUNT_OHM:g}",
        ".control",
        "set numdgt=10",
        "op",
        f"print {meters} i(vl_pack)",
        *EXIT_STATUS,
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def _part_lines(part: Part, words: Mapping[str, str]) -> list[str]:
    """Another part from its end a to its end b: meter, resistor, for a one-way part a diode."""
    word, (a, b) = words[part.id], (words[end] for end in ends(part))
    lines = [f"* {part.kind} {_plain(part.id)}{'' if part.closed else ', open'}"]
    # An open switch ends nowhere, so that its meter reads 0.
    end = f"m_{b}" if part.closed else f"open_{word}"
    lines.append(f"vl_{word} m_{a} a_{word} 0")
    if part.one_way:
        lines.append(f"r_{word} a_{word} b_{word} {max(part.ohm, LEAST_OHM):.12g}")
        lines.append(f"d_{word} b_{word} {end} one_way_{word}")
        lines.append(f".model one_way_{word} d(is={ONE_WAY.is_A:.12g} n={ONE_WAY.n:.12g})")
    else:
        lines.append(f"r_{word} a_{word} {end} {max(part.ohm, LEAST_OHM):.12g}")
    return lines


def _dough_lines(network: Network) -> list[str]:
    """A resistor for each pair of entries in one lump."""
    found = []
    for i, j in combinations(range(len(network.nodes)), 2):
        g = -float(network.conductance[i, j])
        if abs(g) > LEAST_S:
            found.append(f"r_d{i}_d{j} d{i} d{j} {1 / g:.12g}")
    return found


def _entry_lines(word: str, node: str, ohm: float, drop_A: float | None) -> list[str]:
    """From the dough (or nowhere) to the metal: a resistor and, unless there is none, the drop."""
    if drop_A is None:
        return [f"r_{word} {node} m_{word} {max(ohm, LEAST_OHM):.12g}"]
    return [
        f"r_{word} {node} x_{word} {max(ohm, LEAST_OHM):.12g}",
        f"d_{word}_in x_{word} m_{word} drop",
        f"d_{word}_out m_{word} x_{word} drop",
    ]


def _words(sculpture: Sculpture) -> dict[str, str]:
    """Ids of parts and names of entries -> names that SPICE takes: small letters, digits and underscores.

    SPICE tells neither capitals nor other signs apart, so a name that is taken gets a number.
    """
    words = {lead: lead.replace(".", "_") for lead in LEADS}
    taken = {"pack"}
    own = [(led.id, legs(led)) for led in sculpture.leds] + [
        (part.id, ends(part)) for part in sculpture.parts
    ]
    for name, entries in own:
        plain = word = re.sub(r"[^a-z0-9_]", "_", name.lower())
        count = 1
        while word in taken:
            count += 1
            word = f"{plain}_{count}"
        taken.add(word)
        words[name] = word
        words |= {entry: f"{word}_{entry.rpartition('.')[2]}" for entry in entries}
    return words


def _plain(text: str) -> str:
    return re.sub(r"[^\x20-\x7e]", "?", text)

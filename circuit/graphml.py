"""The connectivity of a sculpture as GraphML: what hangs together, what is wired to what.

GraphML is the open format of graphml.graphdrawing.org; networkx writes it.
"""

import networkx as nx

from circuit.board import lay_out, own_placing
from circuit.checking import check
from circuit.lumps import (
    connectivity,
    dough_name,
    find_lumps,
    lump_of_entries,
    piece_area_mm2,
    square_conductance,
)
from circuit.model import Lump, Sculpture
from circuit.outcome import operate


def sculpture_graphml(sculpture: Sculpture) -> str:
    """Lumps and entries as nodes; entries in dough, parts with their currents, and gaps as edges.

    Lumps tell dough, area_mm2 and mean thickness_mm, entries x_mm and y_mm; a part runs from + to -
    and tells kind and current_mA, an LED its colour and state too.
    """
    check(sculpture)
    lumps = find_lumps(sculpture)
    entries = lump_of_entries(sculpture, lumps)
    graph = connectivity(sculpture, entries, lumps)
    area = piece_area_mm2(sculpture)
    for lump in lumps:
        doughs = sorted({dough_name(sculpture, piece) for piece in lump.pieces})
        area_mm2 = float(area[list(lump.pieces)].sum())
        # A piece may have no cell left.
        thickness_mm = _volume_mm3(sculpture, lump) / area_mm2 if area_mm2 else 0.0
        graph.nodes[lump.id].update(
            dough=", ".join(doughs), area_mm2=round(area_mm2, 1), thickness_mm=round(thickness_mm, 2)
        )
    for name, entry in sculpture.entries.items():
        graph.nodes[name].update(x_mm=round(entry.at[0], 2), y_mm=round(entry.at[1], 2))
    _add_currents(graph, sculpture)
    of_piece = {piece: lump.id for lump in lumps for piece in lump.pieces}
    for joint in sculpture.joints:
        a, b = (of_piece.get(piece) for piece in joint.between)
        if joint.kind != "touching" and a is not None and b is not None and a != b:
            graph.add_edge(a, b, kind=joint.kind, gap_mm=round(joint.gap_mm, 2))
    return "\n".join(nx.generate_graphml(graph, named_key_ids=True)) + "\n"


def _volume_mm3(sculpture: Sculpture, lump: Lump) -> float:
    """Height of the dough times area, summed over the pieces of a lump."""
    square_S = square_conductance(sculpture)
    return sum(
        float(square_S[sculpture.grid == piece].sum())
        * sculpture.doughs[sculpture.dough_of[piece]].resistivity_ohm_m
        * 1e3
        * sculpture.cell_mm**2
        for piece in lump.pieces
    )


def _add_currents(graph: "nx.MultiDiGraph[str]", sculpture: Sculpture) -> None:
    """What flows through each part, on its edge."""
    outcome = operate(lay_out(sculpture), own_placing(sculpture))
    current_A = {**outcome.led_A, **outcome.part_A, "pack": outcome.pack_A}
    colours = {led.id: led.colour for led in sculpture.leds}
    for _, _, data in graph.edges(data=True):
        part = data.get("part")
        if part is None:
            continue
        data["current_mA"] = round(current_A[part] * 1e3, 4)
        if part in colours:
            data.update(colour=colours[part], state=outcome.states[part])

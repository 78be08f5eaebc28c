"""Pieces of conductive dough joined into lumps, and what is wired to what as a graph."""

import string
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from circuit.blocks import WALL
from circuit.model import Led, Lump, Part, Point, Sculpture

LEADS = ("pack.plus", "pack.minus")


def letters() -> Iterator[str]:
    """A, B, ... Z, A1, B1, ..."""
    yield from string.ascii_uppercase
    for n in range(1, 1000):
        yield from (f"{letter}{n}" for letter in string.ascii_uppercase)


def legs(led: Led) -> tuple[str, str]:
    """Names of the entries of an LED: long leg, short leg."""
    return f"{led.id}.long", f"{led.id}.short"


def ends(part: Part) -> tuple[str, str]:
    """Names of the entries of another part."""
    return f"{part.id}.a", f"{part.id}.b"


def _all_entries(sculpture: Sculpture) -> list[str]:
    """Names of the leads, of all legs, and of the ends of all other parts."""
    own = [leg for led in sculpture.leds for leg in legs(led)]
    return [*LEADS, *own, *(end for part in sculpture.parts for end in ends(part))]


def is_conductive(sculpture: Sculpture, piece: int | None) -> bool:
    """Whether this piece is made of conductive dough."""
    return piece is not None and sculpture.doughs[sculpture.dough_of[piece]].conductive


def dough_name(sculpture: Sculpture, piece: int) -> str:
    """The dough that this piece is made of."""
    return sculpture.doughs[sculpture.dough_of[piece]].name


def piece_area_mm2(sculpture: Sculpture) -> NDArray[np.float64]:
    """Area of each piece, by its id [mm2]; at 0 that of the table."""
    cells = np.bincount(sculpture.grid.ravel(), minlength=max(sculpture.dough_of, default=0) + 1)
    return np.asarray(cells * sculpture.cell_mm**2)


def find_lumps(sculpture: Sculpture, also: Collection[tuple[int, int]] = ()) -> tuple[Lump, ...]:
    """The lumps: conductive pieces joined by touching or likely contacts (and by the pairs in `also`).

    Letters go first to the lump of the red lead, then of the black one, then by the order of the
    LEDs, then by size, so that A is + and B is - in a sculpture without a short.
    """
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(p for p in sculpture.dough_of if is_conductive(sculpture, p))
    touching = [joint.between for joint in sculpture.joints if joint.closed]
    graph.add_edges_from(pair for pair in (*touching, *also) if pair[0] in graph and pair[1] in graph)
    groups = [tuple(sorted(group)) for group in nx.connected_components(graph)]
    order = _all_entries(sculpture)
    first = {sculpture.entries[name].piece: i for i, name in reversed(list(enumerate(order)))}
    area = piece_area_mm2(sculpture)

    def rank(group: tuple[int, ...]) -> tuple[int, float, int]:
        return min(first.get(p, len(order)) for p in group), -float(area[list(group)].sum()), group[0]

    ordered = zip(letters(), sorted(groups, key=rank), strict=False)
    return tuple(Lump(letter, group) for letter, group in ordered)


def lump_of_entries(sculpture: Sculpture, lumps: Iterable[Lump]) -> dict[str, str | None]:
    """Name of each entry -> letter of its lump, None when it is in no conductive dough."""
    of_piece = {piece: lump.id for lump in lumps for piece in lump.pieces}
    return {name: of_piece.get(entry.piece or 0) for name, entry in sculpture.entries.items()}


def mask_of(sculpture: Sculpture, lump: Lump) -> NDArray[np.bool_]:
    """(R, C) cells of this lump."""
    return np.isin(sculpture.grid, lump.pieces)


def bodies_of(sculpture: Sculpture, lumps: Iterable[Lump]) -> NDArray[np.int32]:
    """(R, C): the number of the lump in each cell, from 1 on; WALL in insulating dough, 0 on the table."""
    table = np.full(max(sculpture.dough_of, default=0) + 1, WALL, np.int32)
    table[0] = 0
    for number, lump in enumerate(lumps, start=1):
        table[list(lump.pieces)] = number
    return np.asarray(table[sculpture.grid])


def square_conductance(sculpture: Sculpture) -> NDArray[np.float64]:
    """(R, C) conductance per square [S]: thickness over resistivity of the dough in each cell, 0 without."""
    size = max(sculpture.dough_of, default=0) + 1
    high_mm, conductivity = np.zeros(size), np.zeros(size)
    for piece, index in sculpture.dough_of.items():
        dough = sculpture.doughs[index]
        high_mm[piece], conductivity[piece] = dough.thickness_mm, 1 / dough.resistivity_ohm_m
    height = high_mm[sculpture.grid]
    if sculpture.height_mm is not None:
        height = np.where(np.isnan(sculpture.height_mm), height, sculpture.height_mm)
    return np.asarray(height * 1e-3 * conductivity[sculpture.grid])


def connectivity(
    sculpture: Sculpture, entries: Mapping[str, str | None], lumps: Iterable[Lump]
) -> "nx.MultiDiGraph[str]":
    """What is wired to what: lumps and entries as nodes, parts as edges from + to -.

    A leg or lead in a lump is an undirected tie (two edges of kind `entry`); an LED is an edge of
    kind `led` from its long to its short leg, the pack one from its black to its red lead, another
    part one of its kind from a to b.
    """
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for lump in lumps:
        graph.add_node(lump.id, kind="lump")
    for name, lump_id in entries.items():
        graph.add_node(name, kind="entry")
        if lump_id is not None:
            graph.add_edge(name, lump_id, kind="entry")
            graph.add_edge(lump_id, name, kind="entry")
    graph.add_edge("pack.minus", "pack.plus", kind="pack", part="pack")
    for led in sculpture.leds:
        graph.add_edge(*legs(led), kind="led", part=led.id)
    for part in sculpture.parts:
        graph.add_edge(*ends(part), kind=part.kind, part=part.id)
    return graph


def middle(*points: Point) -> Point:
    """The mean of some points [mm]."""
    return float(np.mean([p[0] for p in points])), float(np.mean([p[1] for p in points]))


def listed(names: Sequence[str]) -> str:
    """L1, L2 and L3."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)

"""Pieces into lumps, and what is wired to what."""

from collections.abc import Callable
from dataclasses import replace

import networkx as nx
import pytest

from circuit.checking import check
from circuit.errors import SculptureError
from circuit.inspection import inspect
from circuit.lumps import connectivity, find_lumps, lump_of_entries
from circuit.model import Sculpture

DOUGH = """
aaaaaa..cccccc..eeeeee
aaaaaa##cccccc..eeeeee
bbbbbb##cccccc..eeeeee
bbbbbb##cccccc..eeeeee
"""
ENTRIES = """
......................
.P...1..q...2...w.....
......................
....................M.
"""


def test_pressed_pieces_are_one_lump_and_letters_follow_the_leads(draw: Callable[..., Sculpture]) -> None:
    sculpture = draw(DOUGH, ENTRIES)
    lumps = find_lumps(sculpture)
    assert [len(lump.pieces) for lump in lumps] == [2, 1, 1]
    entries = lump_of_entries(sculpture, lumps)
    assert entries == {
        "pack.plus": "A",
        "L1.long": "A",
        "L1.short": "C",
        "L2.long": "C",
        "L2.short": "B",
        "pack.minus": "B",
    }


def test_the_graph_shows_the_way_through_the_leds(draw: Callable[..., Sculpture]) -> None:
    sculpture = draw(DOUGH, ENTRIES)
    lumps = find_lumps(sculpture)
    graph = connectivity(sculpture, lump_of_entries(sculpture, lumps), lumps)
    assert {n for n, kind in graph.nodes(data="kind") if kind == "lump"} == {"A", "B", "C"}
    outside = nx.MultiDiGraph(graph)
    outside.remove_edge("pack.minus", "pack.plus")
    way = nx.shortest_path(outside, "pack.plus", "pack.minus")
    assert way == ["pack.plus", "A", "L1.long", "L1.short", "C", "L2.long", "L2.short", "B", "pack.minus"]
    backwards = nx.MultiDiGraph(outside)
    backwards.remove_edge("L1.long", "L1.short")
    backwards.add_edge("L1.short", "L1.long")
    assert not nx.has_path(backwards, "pack.plus", "pack.minus")


def test_a_sculpture_that_contradicts_itself_is_refused(draw: Callable[..., Sculpture]) -> None:
    sculpture = draw(DOUGH, ENTRIES)
    check(sculpture)
    few = {name: entry for name, entry in sculpture.entries.items() if name != "L2.short"}
    with pytest.raises(SculptureError, match=r"L2\.short"):
        inspect(replace(sculpture, entries=few))
    with pytest.raises(SculptureError, match="no dough"):
        inspect(replace(sculpture, dough_of={1: 0}))
    with pytest.raises(SculptureError, match="side of a cell"):
        inspect(replace(sculpture, cell_mm=0.0))

"""The connectivity as GraphML, read back by networkx and as plain XML."""

from collections.abc import Callable
from dataclasses import replace
from xml.etree import ElementTree

import networkx as nx
import numpy as np
import pytest

from circuit import materials
from circuit.graphml import sculpture_graphml
from circuit.model import Entry, Sculpture

DOUGH = "aaaaaaaa\naaaaaaaa\n########\nbbbbbbbb\nbbbbbbbb"
ENTRIES = "........\n.P..1...\n........\n.M..q...\n........"
NAMESPACE = "{http://graphml.graphdrawing.org/xmlns}"


def wired(draw: Callable[..., Sculpture]) -> Sculpture:
    sculpture = draw(DOUGH, ENTRIES, "green")
    ends = {
        name: Entry(name, at, sculpture.entries[near].piece)
        for name, at, near in (("R1.a", (13.0, 1.0), "pack.plus"), ("R1.b", (13.0, 9.0), "pack.minus"))
    }
    part = materials.part_by_kind("resistor", "R1")
    return replace(sculpture, parts=(part,), entries={**sculpture.entries, **ends})


def test_it_reads_back_as_the_same_graph(draw: Callable[..., Sculpture]) -> None:
    graph = nx.parse_graphml(sculpture_graphml(wired(draw)), force_multigraph=True)
    assert {n for n, d in graph.nodes(data=True) if d["kind"] == "lump"} == {"A", "B"}
    assert graph.nodes["A"] == {"kind": "lump", "dough": "a", "area_mm2": 64.0, "thickness_mm": 15.0}
    assert graph.nodes["L1.long"] == {"kind": "entry", "x_mm": 9.0, "y_mm": 3.0}
    (led,) = graph["L1.long"]["L1.short"].values()
    assert (led["kind"], led["colour"], led["state"]) == ("led", "green", "bright")
    (resistor,) = graph["R1.a"]["R1.b"].values()
    (pack,) = graph["pack.minus"]["pack.plus"].values()
    assert resistor["current_mA"] > 1
    assert led["current_mA"] + resistor["current_mA"] < pack["current_mA"]
    undirected = nx.Graph(graph)
    assert nx.shortest_path(undirected, "pack.plus", "L1.long") == ["pack.plus", "A", "L1.long"]


def test_it_is_graphml(draw: Callable[..., Sculpture]) -> None:
    """GraphML primer, graphml.graphdrawing.org: keys first, then one graph of nodes and edges."""
    root = ElementTree.fromstring(sculpture_graphml(wired(draw)))
    assert root.tag == f"{NAMESPACE}graphml"
    kinds = [child.tag.removeprefix(NAMESPACE) for child in root]
    assert set(kinds) == {"key", "graph"} and kinds.count("graph") == 1
    keys = {key.attrib["id"] for key in root.iter(f"{NAMESPACE}key")}
    used = {data.attrib["key"] for data in root.iter(f"{NAMESPACE}data")}
    assert used <= keys
    nodes = {node.attrib["id"] for node in root.iter(f"{NAMESPACE}node")}
    for edge in root.iter(f"{NAMESPACE}edge"):
        assert {edge.attrib["source"], edge.attrib["target"]} <= nodes


def test_names_with_signs_survive(draw: Callable[..., Sculpture]) -> None:
    sculpture = wired(draw)
    doughs = tuple(replace(dough, name=f"<{dough.name}> & co") for dough in sculpture.doughs)
    graph = nx.parse_graphml(sculpture_graphml(replace(sculpture, doughs=doughs)), force_multigraph=True)
    assert graph.nodes["A"]["dough"] == "<a> & co"


def test_thickness_is_the_mean_height(draw: Callable[..., Sculpture]) -> None:
    """Half of a lump 10 mm high, half as its dough says, 15 mm: 12.5 mm on average."""
    sculpture = wired(draw)
    height = np.full(sculpture.grid.shape, np.nan, np.float32)
    height[:, : height.shape[1] // 2] = 10.0
    graph = nx.parse_graphml(sculpture_graphml(replace(sculpture, height_mm=height)), force_multigraph=True)
    assert graph.nodes["A"]["thickness_mm"] == graph.nodes["B"]["thickness_mm"] == 12.5


def test_a_piece_without_cells_is_a_lump_of_no_size(draw: Callable[..., Sculpture]) -> None:
    sculpture = wired(draw)
    like = sculpture.dough_of[sculpture.entries["pack.plus"].piece or 0]
    dough_of = {**sculpture.dough_of, max(sculpture.dough_of) + 1: like}
    graph = nx.parse_graphml(sculpture_graphml(replace(sculpture, dough_of=dough_of)), force_multigraph=True)
    assert (graph.nodes["C"]["area_mm2"], graph.nodes["C"]["thickness_mm"]) == (0.0, 0.0)


@pytest.mark.parametrize("gap_mm", [0.4])
def test_gaps_between_lumps_are_edges(draw: Callable[..., Sculpture], gap_mm: float) -> None:
    sculpture = draw(DOUGH.replace("#", "."), ENTRIES, gap_mm=gap_mm)
    graph = nx.parse_graphml(sculpture_graphml(sculpture), force_multigraph=True)
    (gap,) = graph["A"]["B"].values()
    assert gap == {"kind": "gap", "gap_mm": gap_mm}

"""What hangs between the leads and what is bypassed, as a graph of bodies and loads.

A *load* is an LED or another part that takes current for a purpose. A *join* is a wire, a closed switch
or a small resistor: it makes one body of two lumps. A load is *live* when it lies on a simple path from
the red lead to the black one, that is in their biconnected component once the pack joins the two; a load
in a loop without the pack is *bypassed*.
"""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from typing import Any, cast

import networkx as nx

from circuit.board import Board, Placing
from circuit.lumps import LEADS, ends, legs
from circuit.model import Part, Point

SMALL_OHM = 100.0
"""A resistor up to this across an LED takes most of its current: with 3 V, 20 mA and more. Estimated."""
PACK = "pack"

Node = tuple[str, Any]
Where = Callable[[Point], Any]
"""The body of dough at a spot."""


@dataclass(frozen=True)
class Load:
    """A part that takes current, and the spots where its + end and its - end go in; None hangs free."""

    id: str
    high: Point | None
    low: Point | None

    @property
    def spots(self) -> tuple[Point, ...]:
        """Its ends that are in dough."""
        return tuple(spot for spot in (self.high, self.low) if spot is not None)


@dataclass(frozen=True)
class Bypass:
    """Loads in a loop that starts and ends in one body, away from the pack."""

    body: Any
    loads: tuple[str, ...]


def loads_of(board: Board, placing: Placing) -> dict[str, Load]:
    """All LEDs, and other parts that are no joins; an open switch is none either."""
    sculpture = board.sculpture
    named = [(led.id, legs(led)) for led in sculpture.leds]
    named += [
        (part.id, ends(part)) for part in sculpture.parts if part.kind != "switch" and not is_join(part)
    ]
    return {name: Load(name, placing[high], placing[low]) for name, (high, low) in named}


def is_join(part: Part) -> bool:
    """Whether this part, as it stands, makes one body of what its ends are in."""
    if part.kind == "resistor":
        return part.ohm <= SMALL_OHM
    return part.kind in ("wire", "switch") and part.closed


def joins_of(board: Board, placing: Placing) -> dict[str, tuple[Point, Point]]:
    """Each join that has both ends in dough: id -> the two spots."""
    found = {}
    for part in board.sculpture.parts:
        a, b = (placing[end] for end in ends(part))
        if is_join(part) and a is not None and b is not None:
            found[part.id] = (a, b)
    return found


def joined(where: Where, joins: Iterable[tuple[Point, Point]]) -> Where:
    """Bodies as `where` tells them, those between which a join runs made one."""
    graph: nx.Graph[Any] = nx.Graph()
    graph.add_edges_from((where(a), where(b)) for a, b in joins)
    body_of = {body: group[0] for group in map(list, nx.connected_components(graph)) for body in group}
    return lambda spot: body_of.get(where(spot), where(spot))


def live(loads: Iterable[Load], placing: Placing, where: Where) -> frozenset[str]:
    """The loads on a simple path from lead to lead."""
    graph = _graph(loads, placing, where)
    for block in _blocks(graph):
        if (PACK, PACK) in block:
            return frozenset(name for kind, name in block if kind == "load")
    return frozenset()


def bypasses(loads: Iterable[Load], placing: Placing, where: Where) -> list[Bypass]:
    """Single loads with both ends in one body, then groups that current could pass round and round."""
    loads = list(loads)
    found = [
        Bypass(where(load.high), (load.id,))
        for load in loads
        if load.high is not None and load.low is not None and where(load.high) == where(load.low)
    ]
    graph = _graph(loads, placing, where)
    if (PACK, PACK) not in graph:
        return found
    away = nx.single_source_shortest_path_length(graph, (PACK, PACK))
    for block in _blocks(graph):
        if (PACK, PACK) in block or len(block) < 3 or not block <= set(away):
            continue
        body = min(block, key=lambda node: away[node])
        names = {name for kind, name in block if kind == "load"}
        if body[0] == "body" and _goes_round(loads, names, body[1], where):
            found.append(Bypass(body[1], tuple(load.id for load in loads if load.id in names)))
    return found


def _blocks(graph: "nx.Graph[Node]") -> "list[set[Node]]":
    """Biconnected components, by their nodes."""
    return cast("list[set[Node]]", list(nx.biconnected_components(graph)))


def _goes_round(loads: Iterable[Load], names: Collection[str], body: Any, where: Where) -> bool:
    """Whether a way through these loads, each from + to -, leaves the body and comes back."""
    graph: nx.DiGraph[Any] = nx.DiGraph()
    graph.add_node(body)
    for load in loads:
        if load.id in names and load.high is not None and load.low is not None:
            graph.add_edge(where(load.high), where(load.low))
    return any(nx.has_path(graph, there, body) for there in graph.successors(body))


def _graph(loads: Iterable[Load], placing: Placing, where: Where) -> "nx.Graph[Node]":
    """Bodies, with each load as a node between its two, and the pack as one between the leads'."""
    graph: nx.Graph[Node] = nx.Graph()
    ends = [(("load", load.id), load.high, load.low) for load in loads]
    ends.append(((PACK, PACK), placing[LEADS[0]], placing[LEADS[1]]))
    for node, high, low in ends:
        for spot in (high, low):
            if spot is not None:
                graph.add_edge(node, ("body", where(spot)))
    return graph

"""The finger-walk that helpers teach: from each leg of an LED to the pack without crossing another light."""

from itertools import pairwise

import networkx as nx

from circuit.board import Board, Placing
from circuit.lumps import LEADS, ends, legs
from circuit.model import Led, Point, Trace
from circuit.neck import walk

FREE = ("wire", "switch", "resistor")
"""Parts that a finger may follow; all others count as lights."""


def trace_legs(board: Board, placing: Placing) -> tuple[Trace, ...]:
    """The walk of every leg of every LED, or the lumps that prove that there is none."""
    walker = _Walker(board, placing)
    return tuple(
        walker.trace(led, leg, lead)
        for led in board.sculpture.leds
        for leg, lead in zip(legs(led), LEADS, strict=True)
    )


def walks(board: Board, placing: Placing) -> "nx.MultiGraph[str]":
    """Lumps, joined by whatever a finger can follow: key is the part, `lights` 0 where it is no light."""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(lump.id for lump in board.lumps)
    parts = [(led.id, legs(led), 1) for led in board.sculpture.leds]
    parts += [(p.id, ends(p), int(p.kind not in FREE)) for p in board.sculpture.parts if p.closed]
    for name, (first, second), lights in parts:
        a, b = board.lump_at(placing[first]), board.lump_at(placing[second])
        if a is not None and b is not None and a != b:
            graph.add_edge(a, b, key=name, lights=lights)
    return graph


def _without(graph: "nx.MultiGraph[str]", parts: set[str]) -> "nx.MultiGraph[str]":
    """The graph without the edges of these parts."""
    return nx.MultiGraph(nx.restricted_view(graph, [], [e for e in graph.edges(keys=True) if e[2] in parts]))


class _Walker:
    """Walks on one board."""

    def __init__(self, board: Board, placing: Placing) -> None:
        self._board, self._placing = board, placing
        self._graph = walks(board, placing)
        lights = {key for a, b, key in self._graph.edges(keys=True) if self._graph[a][b][key]["lights"]}
        self._free = _without(self._graph, lights)

    def trace(self, led: Led, leg: str, wanted: str) -> Trace:
        """The walk of one leg to the lead it wants."""
        home = self._board.lump_at(self._placing[leg])
        if home is None:
            return Trace(leg, wanted, (), (), (), ())
        lumps = nx.node_connected_component(self._free, home)
        at = {lead: self._board.lump_at(self._placing[lead]) for lead in LEADS}
        reaches = tuple(lead for lead in LEADS if at[lead] in lumps)
        goal = at[wanted]
        path: tuple[Point, ...] = ()
        crosses: tuple[str, ...] = ()
        if goal is not None and wanted in reaches:
            path = self._path(leg, wanted, list(nx.shortest_path(self._free, home, goal)))
        elif goal is not None:
            crosses = self._crosses(led, home, goal)
        return Trace(leg, wanted, reaches, tuple(sorted(lumps)), path, crosses)

    def _crosses(self, led: Led, home: str, goal: str) -> tuple[str, ...]:
        """The lights on the way that has the fewest of them, without the LED itself."""
        others = _without(self._graph, {led.id})
        try:
            way = nx.dijkstra_path(others, home, goal, weight="lights")
        except nx.NetworkXNoPath:
            return ()
        found = []
        for a, b in pairwise(way):
            key, lights = min(others[a][b].items(), key=lambda item: item[1]["lights"])
            if lights["lights"]:
                found.append(str(key))
        return tuple(found)

    def _path(self, leg: str, lead: str, way: list[str]) -> tuple[Point, ...]:
        """The walk in mm: within each lump from where one comes in to where one goes out."""
        here, path = self._placing[leg], list[Point]()
        for lump, following in zip(way, [*way[1:], ""], strict=True):
            there, enter = self._placing[lead], None
            if following:
                out, into = (f"{min(self._free[lump][following])}.{end}" for end in "ab")
                if self._board.lump_at(self._placing[out]) != lump:
                    out, into = into, out
                there, enter = self._placing[out], self._placing[into]
            if here is not None and there is not None:
                path += self._within(lump, here, there)
            here = enter
        return tuple(path)

    def _within(self, lump: str, start: Point, goal: Point) -> tuple[Point, ...]:
        return walk(self._board.mesh(lump), start, goal) or (start, goal)

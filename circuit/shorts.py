"""Shorts: dough or a wire that joins what should be apart, of the whole pack or past single LEDs.

They are found one after the other: the cheapest cut of a lump, or a wire, is taken away, the rest is
solved anew, and what is still short is looked for again.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Any, cast

import networkx as nx

from circuit.board import Board, Placing
from circuit.bypasses import Bypass, bypasses, joined, live
from circuit.cuts import UNDECIDED_V, Cut, is_clear, look_for_cut, pairs_in, stands_astride, where_after
from circuit.lumps import LEADS
from circuit.model import Finding, Lump, Point, Sculpture
from circuit.outcome import Outcome
from circuit.stands import Found, Stand, made, taken_out

MOST_ROUNDS = 8
MOST_TRIALS, MANY = 40, 2
"""Cuts looked for in one round, and for how many LEDs there is one less of them."""
MOST_WAYS = 3
"""Ways into a lump, and out of it, that are tried with each other."""


@dataclass(frozen=True)
class Shorts:
    """All shorts of a sculpture.

    findings  whole-pack shorts with level `stop`, others with `fix`
    cleared   the sculpture with all cuts made and wires taken out; board, placing and after: solved
    """

    findings: tuple[Finding, ...]
    cleared: Sculpture
    board: Board
    placing: Placing
    after: Outcome


def find_shorts(board: Board, placing: Placing, outcome: Outcome) -> Shorts:
    """All shorts of a sculpture with this placing and its outcome."""
    first = Stand(board, placing, outcome)
    findings, now = _one_by_one(first, together=True)
    if findings and findings[0].level == "stop" and len(now.lit) < len(outcome.states):
        # Perhaps one cut was asked too much: first part the leads alone, then look what is still bypassed.
        others, then = _one_by_one(first, together=False)
        if len(then.lit) > len(now.lit):
            findings, now = others, then
    return Shorts(tuple(findings), now.board.sculpture, now.board, now.placing, now.outcome)


def _one_by_one(first: Stand, together: bool) -> tuple[list[Finding], Stand]:
    """Shorts taken away until none is left, and how things stand then.

    `together`: the cut between the leads is to part the ends of all loads that it can.
    """
    now = first
    findings: list[Finding] = []
    for _ in range(MOST_ROUNDS):
        found = _whole(first, now, together) or _partial(first, now)
        if found is None:
            break
        findings += found.findings
        now = found.then
    return findings, now


# ---------------------------------------------------------------- the whole pack


def _whole(first: Stand, now: Stand, together: bool) -> Found | None:
    """The short between the leads, if one body holds both."""
    plus, minus = now.placing[LEADS[0]], now.placing[LEADS[1]]
    if plus is None or minus is None or now.where(plus) != now.where(minus):
        return None
    if now.board.lump_at(plus) == now.board.lump_at(minus):
        cut = _cut_between(now, plus, minus, together)
        return None if cut is None else made(first, now, cut, "stop", ("pack",))
    by_wire = max(_wire_choices(now, plus, minus), key=lambda w: (len(_live_without(now, w)), -len(w)))
    cuts = [] if _live_without(now, by_wire) else list(_cuts_on_the_way(now, plus, minus))
    for cut in cuts:
        if _live_after(now, cut):
            return made(first, now, cut, "stop", ("pack",))
    return taken_out(first, now, by_wire, "stop", ("pack",))


def _cut_between(now: Stand, start: Point, goal: Point, together: bool = True) -> Cut | None:
    """The cut between two spots of one lump; `together`: that parts all loads that it should."""
    lump = now.board.lumps[now.board.home[start]]
    loads = tuple(now.loads.values()) if together else ()
    pairs = pairs_in(now.board, lump, loads, now.outcome.spot_V)
    return look_for_cut(lump, now.board.mesh(lump.id), (start,), (goal,), pairs)


def _wire_choices(now: Stand, plus: Point, minus: Point) -> list[tuple[str, ...]]:
    """Wires that part the leads when they are taken out: all those side by side, or a least number."""
    graph = _lump_graph(now)
    high, low = now.board.lump_at(plus) or "", now.board.lump_at(minus) or ""
    alone = [
        tuple(graph[a][b]["wires"])
        for a, b in cast("list[tuple[str, str]]", list(nx.bridges(cast(Any, graph), root=cast(Any, high))))
        if not nx.has_path(nx.restricted_view(graph, [], [(a, b)]), high, low)
    ]
    cut = nx.minimum_edge_cut(graph, high, low)
    return alone or [tuple(wire for a, b in sorted(cut) for wire in graph[a][b]["wires"])]


def _lump_graph(now: Stand) -> "nx.Graph[str]":
    """Lumps with an edge for all wires between the same two."""
    graph: nx.Graph[str] = nx.Graph()
    for wire, (a, b) in now.joins.items():
        one, other = now.board.lump_at(a) or "", now.board.lump_at(b) or ""
        if one != other:
            beside = graph[one][other]["wires"] if graph.has_edge(one, other) else ()
            graph.add_edge(one, other, wires=(*beside, wire))
    return graph


def _cuts_on_the_way(now: Stand, plus: Point, minus: Point) -> Iterator[Cut]:
    """A cut in each lump that the way from lead to lead by wires leads through."""
    graph = _lump_graph(now)
    start = plus
    high, low = now.board.lump_at(plus) or "", now.board.lump_at(minus) or ""
    for here, there in pairwise(list(nx.shortest_path(graph, high, low))):
        spots = now.joins[graph[here][there]["wires"][0]]
        end, begin = spots if now.board.lump_at(spots[0]) == here else spots[::-1]
        cut = None if start == end else _cut_between(now, start, end)
        if cut is not None:
            yield cut
        start = begin
    cut = None if start == minus else _cut_between(now, start, minus)
    if cut is not None:
        yield cut


def _live_without(now: Stand, wires: Sequence[str]) -> frozenset[str]:
    joins = [spots for wire, spots in now.joins.items() if wire not in wires]
    return live(now.loads.values(), now.placing, joined(now.board.lump_at, joins))


def _live_after(now: Stand, cut: Cut) -> frozenset[str]:
    where = joined(where_after(now.board, cut), now.joins.values())
    return live(now.loads.values(), now.placing, where)


# ---------------------------------------------------------------- past single LEDs


def _partial(first: Stand, now: Stand) -> Found | None:
    """The first short past an LED or a group of them that is clearly one."""
    trials = len(now.outcome.states) // MANY
    for bypass in bypasses(now.loads.values(), now.placing, now.where):
        found = _partial_by_wire(first, now, bypass)
        if found is not None:
            return found
        for cut in _partial_cuts(now, bypass) if trials < MOST_TRIALS else ():
            trials += 1
            found = _if_clear(first, now, bypass, cut)
            if found is not None:
                return found
    return None


def _partial_by_wire(first: Stand, now: Stand, bypass: Bypass) -> Found | None:
    """The wires past these loads, if the loads come to lie between the leads without them."""
    graph = _lump_graph(now)
    best: tuple[str, ...] = ()
    for one, other in graph.edges:
        wires = graph[one][other]["wires"]
        after = _live_without(now, wires)
        if after & set(bypass.loads) and after >= now.live and len(after) > len(_live_without(now, best)):
            best = tuple(wires)
    if not best:
        return None
    fresh = sorted(_live_without(now, best) - now.live)
    return taken_out(first, now, best, "fix", tuple(fresh))


def _partial_cuts(now: Stand, bypass: Bypass) -> Iterator[Cut]:
    """Cuts that keep the two ends of these loads apart, in their lump: the simplest one first.

    Those that follow also keep apart where current comes into the lump and where it leaves it.
    """
    loads = [now.loads[name] for name in bypass.loads]
    spots = [
        [spot for spot in group if spot is not None and now.where(spot) == bypass.body]
        for group in ([load.high for load in loads], [load.low for load in loads])
    ]
    if not spots[0] or not spots[1]:
        return
    lump = now.board.lumps[now.board.home[spots[0][0]]]
    high, low = ([spot for spot in group if now.board.lump_at(spot) == lump.id] for group in spots)
    if not high or not low:
        return
    volts = now.outcome.spot_V
    if max(volts[spot] for spot in high) < min(volts[spot] for spot in low) - UNDECIDED_V:
        high, low = low, high  # in backwards: current comes in at the short leg
    mesh = now.board.mesh(lump.id)
    pairs = [
        pair
        for pair in pairs_in(now.board, lump, tuple(now.loads.values()), now.outcome.spot_V)
        if pair.id not in bypass.loads
    ]
    ways_in, ways_out = _through(now, lump)
    for into, out in [(None, None), *product(ways_in[:MOST_WAYS], ways_out[:MOST_WAYS])]:
        starts = high if into is None else [*high, into]
        goals = low if out is None else [*low, out]
        cut = look_for_cut(lump, mesh, starts, goals, pairs)
        if cut is not None:
            yield cut


def _through(now: Stand, lump: Lump) -> tuple[list[Point], list[Point]]:
    """Spots where current of live loads, or of the pack, comes into a lump, and where it leaves it."""
    ways_in, ways_out = [now.placing[LEADS[0]]], [now.placing[LEADS[1]]]
    for name in now.live:
        ways_in.append(now.loads[name].low)
        ways_out.append(now.loads[name].high)
    own = [
        [spot for spot in ways if spot is not None and now.board.lump_at(spot) == lump.id]
        for ways in (ways_in, ways_out)
    ]
    return own[0], own[1]


def _if_clear(first: Stand, now: Stand, bypass: Bypass, cut: Cut) -> Found | None:
    """The short, if the signs are clear that the dough was meant to be two lumps here."""
    after = _live_after(now, cut)
    if not after >= now.live or not set(bypass.loads) <= after:
        return None
    load = now.loads[bypass.loads[0]]
    astride = (
        len(bypass.loads) == 1
        and load.high is not None
        and load.low is not None
        and stands_astride(now.board.sculpture, cut.lump, load.high, load.low)
    )
    if not astride and not is_clear(now.board.sculpture, cut):
        return None
    fresh = tuple(name for name in now.loads if name in after - now.live)
    found = made(first, now, cut, "fix", fresh)
    if not astride and len(bypass.loads) == 1 and not found.then.lit > now.lit:
        return None
    return found

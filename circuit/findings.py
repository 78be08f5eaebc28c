"""Findings other than shorts: what keeps a light off or dim once no short is left.

All of them are judged on the *clear* board, that is with a short already cut, because a short
hides the rest. Places are in mm.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import networkx as nx
import numpy as np

from circuit.board import Board, Placing, led_spots, nearest_spots, own_placing, swapped, tied, turned
from circuit.bypasses import joined, live, loads_of
from circuit.lumps import (
    LEADS,
    dough_name,
    ends,
    find_lumps,
    is_conductive,
    legs,
    lump_of_entries,
    middle,
    piece_area_mm2,
)
from circuit.model import Finding, Joint, Level, Lump, Point, Sculpture, State
from circuit.outcome import Outcome, operate
from circuit.plans import JOIN_OHM

REVERSED_V = 0.3  # an LED with at least this much the wrong way round stands backwards, estimated
GAP_MM = 6.0  # a wider gap was most likely meant
MOST_GAPS = 20  # more gaps are not tried, the narrowest come first
SPECK_MM2 = 4.0  # what is smaller is a crumb, and no part of anything, estimated
TOUCHING_METAL_MM = 2.0  # leads and legs this near may touch, estimated
ORDER: tuple[State, ...] = ("off", "dim", "bright")


def hang_free(sculpture: Sculpture) -> Iterator[Finding]:
    """Legs and leads that miss the dough or stand in insulating dough."""
    for name, entry in sculpture.entries.items():
        if is_conductive(sculpture, entry.piece):
            continue
        near = "" if entry.near is None else dough_name(sculpture, entry.near)
        facts: dict[str, str | float] = {"near": near, "off_mm": entry.off_mm, "emf_V": sculpture.pack.emf_V}
        if entry.piece is None:
            yield Finding("leg-out", "fix", (name,), entry.at, facts=facts)
        else:
            facts["dough"] = dough_name(sculpture, entry.piece)
            yield Finding("leg-in-insulator", "fix", (name,), entry.at, facts=facts)


def one_lump(board: Board, placing: Placing, outcome: Outcome) -> Iterator[Finding]:
    """LEDs with both legs in one lump: the dough is an easier way than the LED."""
    for led, (a, b) in led_spots(board.sculpture, placing).items():
        if a is not None and b is not None and board.lump_at(a) == board.lump_at(b):
            facts: dict[str, str | float] = {
                "lump": board.lump_at(a) or "",
                "volts_V": abs(outcome.led_V[led]),
                "led_A": max(0.0, outcome.led_A[led]),
            }
            yield Finding("legs-in-one-lump", "fix", (led,), middle(a, b), facts=facts)


def backwards(board: Board, placing: Placing, outcome: Outcome) -> Iterator[Finding]:
    """LEDs that stand against the current; when all do, it is the leads that are swapped."""
    reverse = _reversed(outcome)
    spots = led_spots(board.sculpture, placing)
    if len(reverse) >= 2:
        other = operate(board, swapped(placing))
        if _lit(other) > _lit(outcome) and not any(outcome.states[led] != "off" for led in outcome.states):
            facts: dict[str, str | float] = {
                "emf_V": board.sculpture.pack.emf_V,
                "led_A": max(other.led_A.values()),
            }
            at = board.sculpture.entries["pack.plus"].at
            yield Finding("leads-swapped", "fix", ("pack",), at, facts=facts)
            return
    for led in reverse:
        a, b = spots[led]
        if a is not None and b is not None:
            facts = {"to": board.lump_at(a) or "", "volts_V": -outcome.led_V[led]}
            yield Finding("led-backwards", "fix", (led,), middle(a, b), facts=facts)


def _reversed(outcome: Outcome) -> list[str]:
    """LEDs with the volts the wrong way round."""
    return [led for led, volts in outcome.led_V.items() if volts < -REVERSED_V]


def _lit(outcome: Outcome) -> int:
    return sum(state != "off" for state in outcome.states.values())


def rows(board: Board, placing: Placing) -> list[tuple[str, ...]]:
    """Groups of LEDs in a row: between the leads, but not straight from lump to lump of the pack.

    Each group is in the order in which current meets it.
    """
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    for led, (a, b) in led_spots(board.sculpture, placing).items():
        ends = board.lump_at(a), board.lump_at(b)
        if ends[0] is not None and ends[1] is not None and ends[0] != ends[1]:
            graph.add_edge(ends[0], ends[1], key=led)
    plus, minus = board.lump_at(placing["pack.plus"]), board.lump_at(placing["pack.minus"])
    if plus is None or minus is None or plus == minus or plus not in graph or minus not in graph:
        return []
    between = graph.subgraph(set(graph) - {plus, minus})
    found = []
    for group in nx.connected_components(between):
        part = graph.subgraph(group | {plus, minus}).copy()
        part.remove_edges_from([edge for edge in part.edges if set(edge[:2]) == {plus, minus}])
        if not nx.has_path(part, plus, minus):
            continue
        way: list[str] = []
        for path in nx.all_simple_paths(part, plus, minus):
            for here, there in pairwise(path):
                way += [led for led in part[here][there] if led not in way]
        found.append(tuple(way))
    return found


def in_a_row(board: Board, placing: Placing, outcome: Outcome) -> Iterator[Finding]:
    """Rows that share the pack's volts, so that a light of them is off or dim.

    One that stands backwards keeps its row dark by itself: what counts is the row with it turned round.
    """
    for led in _reversed(outcome):
        placing = turned(placing, led)
    if _reversed(outcome):
        outcome = operate(board, placing)
    spots = led_spots(board.sculpture, placing)
    for row in rows(board, placing):
        if all(outcome.states[led] == "bright" for led in row):
            continue
        places = [p for led in row for p in spots[led] if p is not None]
        facts: dict[str, str | float] = {
            "count": len(row),
            "emf_V": board.sculpture.pack.emf_V,
            "led_A": min(outcome.led_A[led] for led in row),
            "volts_V": max(outcome.legs_V[led] for led in row),
        }
        yield Finding("too-many-in-a-row", "fix", row, middle(*places), facts=facts)


def open_joints(sculpture: Sculpture) -> list[tuple[Joint, str, str]]:
    """Gaps between two lumps with the letters of those lumps, narrowest first."""
    lumps = find_lumps(sculpture)
    of_piece = {piece: lump.id for lump in lumps for piece in lump.pieces}
    found = []
    for joint in sculpture.joints:
        a, b = (of_piece.get(piece) for piece in joint.between)
        if joint.kind != "touching" and a is not None and b is not None and a != b:
            found.append((joint, a, b))
    return sorted(found, key=lambda item: item[0].gap_mm)


def wired_pairs(sculpture: Sculpture, lumps: Sequence[Lump]) -> set[frozenset[str | None]]:
    """Pairs of lumps that must stay apart: those of the two leads, and of the two legs of each LED."""
    placing = own_placing(sculpture)
    of_entry = lump_of_entries(sculpture, lumps)
    names = [LEADS, *(legs(led) for led in sculpture.leds), *(ends(p) for p in sculpture.parts if p.works_A)]
    found = {
        frozenset((of_entry[x], of_entry[y]))
        for x, y in names
        if placing[x] is not None and placing[y] is not None
    }
    return {pair for pair in found if len(pair) == 2}


def gap_places(board: Board, placing: Placing) -> list[Joint]:
    """Gaps that could be filled: narrow, between lumps with entries, and leading round no light."""
    found: list[Joint] = []
    done: set[frozenset[str]] = set()
    apart, specks = wired_pairs(board.sculpture, board.lumps), _specks(board)
    loads = loads_of(board, placing)
    now = live(loads.values(), placing, board.lump_at)
    spot_in = {board.lumps[home].id: spot for spot, home in board.home.items()}
    for joint, a, b in open_joints(board.sculpture):
        pair = frozenset((a, b))
        if (
            joint.gap_mm > GAP_MM
            or pair in done
            or pair in apart
            or pair & specks
            or not pair <= set(spot_in)
        ):
            continue
        if len(done) == MOST_GAPS:
            break
        done.add(pair)
        if live(loads.values(), placing, joined(board.lump_at, [(spot_in[a], spot_in[b])])) >= now:
            found.append(joint)
    return found


def gaps(board: Board, placing: Placing, outcome: Outcome, places: Sequence[Joint]) -> Iterator[Finding]:
    """Those of these gaps that keep a light off."""
    letter = {piece: lump.id for lump in board.lumps for piece in lump.pieces}
    for joint in places:
        one, two = (letter[piece] for piece in joint.between)
        then = operate(tied(board, nearest_spots(board, one, two), JOIN_OHM), placing)
        if _better_for_all(outcome.states, then.states):
            yield Finding("gap-in-lump", "fix", (), joint.at, facts=gap_facts(board.sculpture, joint))


def gap_facts(sculpture: Sculpture, joint: Joint) -> dict[str, str | float]:
    """What is to be said of a gap."""
    return {
        "gap_mm": joint.gap_mm,
        "dough": dough_name(sculpture, joint.between[0]),
        "other": dough_name(sculpture, joint.between[1]),
        "emf_V": sculpture.pack.emf_V,
    }


def _specks(board: Board) -> set[str]:
    """Lumps too small to be meant."""
    area = piece_area_mm2(board.sculpture)
    return {lump.id for lump in board.lumps if area[list(lump.pieces)].sum() < SPECK_MM2}


def _better_for_all(now: Mapping[str, State], then: Mapping[str, State]) -> bool:
    """Whether some light gets better and none gets worse."""
    change = [ORDER.index(then[led]) - ORDER.index(now[led]) for led in now]
    return bool(change) and min(change) >= 0 and max(change) > 0


def bare_metal(sculpture: Sculpture) -> Iterator[Finding]:
    """The two leads touching, or an LED straight across them with no dough between."""
    plus, minus = (sculpture.entries[lead] for lead in LEADS)
    volts: dict[str, str | float] = {"emf_V": sculpture.pack.emf_V}
    if _apart(plus.at, minus.at) < TOUCHING_METAL_MM:
        yield Finding("leads-touching", "stop", ("pack",), middle(plus.at, minus.at), facts=volts)
    for led in sculpture.leds:
        a, b = (sculpture.entries[leg] for leg in legs(led))
        for x, y in ((plus, minus), (minus, plus)):
            near = _apart(a.at, x.at) < TOUCHING_METAL_MM and _apart(b.at, y.at) < TOUCHING_METAL_MM
            if near and a.piece is None and b.piece is None:
                facts = {**volts, "safe_A": led.safe_A}
                yield Finding("led-without-dough", "stop", (led.id,), middle(a.at, b.at), facts=facts)


def _apart(p: Point, q: Point) -> float:
    return float(np.hypot(p[0] - q[0], p[1] - q[1]))


def otherwise_seen(sculpture: Sculpture, outcome: Outcome, shorted: bool) -> Iterator[Finding]:
    """LEDs that look other than the sums say: something does not show on the photo.

    With a short found, a light that is off instead of dim only says that the short is a bit worse.
    """
    states = outcome.states
    for led in sculpture.leds:
        if led.seen is None or (led.seen == "off") == (states[led.id] == "off"):
            continue
        if shorted and "bright" not in (led.seen, states[led.id]):
            continue
        a, b = (sculpture.entries[leg].at for leg in legs(led))
        facts: dict[str, str | float] = {
            "seen": led.seen,
            "state": states[led.id],
            "led_A": outcome.led_A[led.id],
        }
        level: Level = "fix" if led.seen == "off" else "watch"
        yield Finding("seen-differs", level, (led.id,), middle(a, b), facts=facts)

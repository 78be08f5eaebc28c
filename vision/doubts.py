"""Which side of each doubtful contact is the likelier, all of them weighed together.

Dough that hangs together at one of several doubtful places hangs together, and both legs of one LED seldom
stand in one lump that joins out of sight under it: people put LEDs across gaps and walls.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise, product

import networkx as nx
import numpy as np

from vision.model import Contact, Entry, Mark, Piece

LED_ASTRIDE = 2.6
"""Log odds against a place under an LED that brings both its legs into one lump. A fit to 479 pairs of
bodies in 240 rendered scenes gives 1.7; from 1.7 to 3.2 as many whole scenes are right. In plain view an LED
astride tells nothing."""
MOST_PLACES = 10
"""So many doubtful places are weighed together, the others one by one."""

Pair = tuple[int, int]


def weighed(
    contacts: Sequence[Contact], pieces: Sequence[Piece], entries: Mapping[str, Entry], marks: Sequence[Mark]
) -> tuple[Contact, ...]:
    """The contacts with what is likely about the doubtful ones, and how sure that is."""
    conductive = {piece.id for piece in pieces if piece.role == "conductive"}
    lump = _sure_lumps(contacts, conductive)
    places: dict[Pair, list[int]] = {}
    for i, contact in enumerate(contacts):
        a, b = (lump.get(piece, 0) for piece in contact.between)
        if contact.kind == "doubtful" and a and b and a != b:
            places.setdefault((min(a, b), max(a, b)), []).append(i)
    if not places:
        return tuple(contacts)
    legs = _legs(entries, marks, lump)
    odds = {pair: max(_odds(contacts[i]) for i in own) for pair, own in places.items()}
    closest = sorted(odds, key=lambda pair: abs(odds[pair]))
    hidden = {pair: max(contacts[i].hidden for i in own) for pair, own in places.items()}
    closed, chance = _weigh(odds, hidden, closest[:MOST_PLACES], closest[MOST_PLACES:], legs)
    out = list(contacts)
    for pair, own in places.items():
        for i in own:
            likely = closed[pair] and contacts[i].likely
            sure = chance[pair] if closed[pair] else 1 - chance[pair]
            out[i] = replace(contacts[i], likely=likely, confidence=float(sure))
    return tuple(out)


def _sure_lumps(contacts: Sequence[Contact], conductive: set[int]) -> dict[int, int]:
    """The lump, from 1, of each conductive piece by what surely touches."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(conductive)
    graph.add_edges_from(c.between for c in contacts if c.kind == "touching" and conductive >= {*c.between})
    lumps = enumerate(nx.connected_components(graph), start=1)
    return {piece: i for i, own in lumps for piece in own}


def _legs(entries: Mapping[str, Entry], marks: Sequence[Mark], lump: Mapping[int, int]) -> list[Pair]:
    """The sure lumps of both legs of each LED that has both in conductive dough."""
    at = {mark.at: mark.name for mark in marks if mark.kind == "leg"}
    out = []
    for mark in marks:
        other = at.get(mark.partner) if mark.partner is not None else None
        if mark.kind == "leg" and other is not None and mark.name < other:
            a, b = (lump.get(entries[name].piece or 0, 0) for name in (mark.name, other))
            if a and b:
                out.append((a, b))
    return out


def _odds(contact: Contact) -> float:
    """Log odds that a doubtful contact touches."""
    p = float(np.clip(contact.confidence, 1e-4, 1 - 1e-4))
    odds = float(np.log(p / (1 - p)))
    return odds if contact.likely else -odds


def _weigh(
    odds: Mapping[Pair, float],
    hidden: Mapping[Pair, float],
    together: Sequence[Pair],
    alone: Sequence[Pair],
    legs: Sequence[Pair],
) -> tuple[dict[Pair, bool], dict[Pair, float]]:
    """Whether each place is closed in the likeliest of all cases, and its chance over all cases."""
    fixed = [pair for pair in alone if odds[pair] > 0]
    cases = list(product((False, True), repeat=len(together)))
    weight = np.empty(len(cases))
    for k, case in enumerate(cases):
        joined = [pair for pair, closed in zip(together, case, strict=True) if closed]
        weight[k] = sum(odds[pair] for pair in joined)
        weight[k] -= LED_ASTRIDE * _under_leds([*joined, *fixed], hidden, legs)
    share = np.exp(weight - weight.max())
    share /= share.sum()
    best = cases[int(np.argmax(weight))]
    states = np.array(cases, float)
    chance = {pair: float(share @ states[:, i]) for i, pair in enumerate(together)}
    closed = dict(zip(together, best, strict=True))
    for pair in alone:
        closed[pair] = odds[pair] > 0
        chance[pair] = float(1 / (1 + np.exp(-odds[pair])))
    return closed, chance


def _under_leds(joined: Sequence[Pair], hidden: Mapping[Pair, float], legs: Sequence[Pair]) -> float:
    """How much of a place is hidden that brings both legs of an LED into one lump, the most of all."""
    graph: nx.Graph[int] = nx.Graph(list(joined))
    most = 0.0
    for a, b in legs:
        if a != b and a in graph and b in graph and nx.has_path(graph, a, b):
            way = nx.shortest_path(graph, a, b)
            most = max(most, *(hidden[min(p, q), max(p, q)] for p, q in pairwise(way)))
    return most

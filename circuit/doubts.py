"""What the answer would be if a doubtful joint went the other way.

A *place* is all doubtful joints between the same two lumps of what surely touches: dough hangs together
at all of them or at none, as far as current is concerned.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from circuit.board import Board, bridge, lay_out, own_placing
from circuit.lumps import find_lumps, lump_of_entries
from circuit.model import Joint, Otherwise, Sculpture
from circuit.outcome import led_results, operate

MOST_OTHERWISE = 3
MOST_FLIPS = 6
NEAR_MM = 3.0
"""How far from the middle of a joint its two pieces may adjoin (estimated)."""
SUREST = 0.98
"""No confidence in a doubtful place is worth more (estimated)."""

Place = tuple[int, ...]
Groups = frozenset[frozenset[str]]


@dataclass(frozen=True)
class Flip:
    """A doubtful place, or two together, the other way.

    joints  index of the best joint of each; odds: that it is really so; closes: it was taken as open
    sculpture  with it the other way
    """

    joints: tuple[int, ...]
    odds: float
    closes: bool
    sculpture: Sculpture

    @cached_property
    def board(self) -> Board:
        """Its dough, reduced once for all who ask."""
        return lay_out(self.sculpture)


def otherwise(flips: Sequence[Flip]) -> tuple[Otherwise, ...]:
    """The other answers, most doubtful first: at most three, each with other entries sharing a lump."""
    found = []
    for flip in flips[:MOST_OTHERWISE]:
        other = flip.sculpture
        entries = lump_of_entries(other, find_lumps(other))
        outcome = operate(flip.board, own_placing(other))
        results = led_results(other, outcome.led_A, outcome.legs_V)
        found.append(Otherwise(flip.joints[0], entries, results))
    return tuple(found)


def flips(sculpture: Sculpture, most: int = MOST_FLIPS) -> tuple[Flip, ...]:
    """What may be otherwise, most doubtful first, each with other entries sharing a lump."""
    told = [_groups(sculpture)]
    found: list[Flip] = []
    joints = sculpture.joints
    for places in _flips(sculpture):
        if len(found) == most:
            break
        other = _flipped(sculpture, places)
        groups = _groups(other)
        if groups not in told:
            told.append(groups)
            best = tuple(place[0] for place in places)
            sure = [min(joints[i].confidence, SUREST) for i in best]
            odds = float(np.prod([(1 - own) / own for own in sure]))
            found.append(Flip(best, odds, not joints[best[0]].closed, other))
    return tuple(found)


def _groups(sculpture: Sculpture) -> Groups:
    """The entries that share a lump."""
    of = lump_of_entries(sculpture, find_lumps(sculpture))
    lumps = {lump for lump in of.values() if lump is not None}
    return frozenset(frozenset(name for name, own in of.items() if own == lump) for lump in lumps)


def _flips(sculpture: Sculpture) -> Iterator[tuple[Place, ...]]:
    """Places to turn over together, each by its joints with the best first.

    Two open places on both sides of a lump without entries change something only together.
    """
    places = _places(sculpture)
    joints = sculpture.joints
    order = sorted(places, key=lambda pair: _doubt(joints[places[pair][0]]))
    bare = _bare(sculpture)
    for pair in order:
        yield (places[pair],)
        if joints[places[pair][0]].closed:
            continue
        for other in order:
            shared = set(pair) & set(other) & bare
            if other != pair and shared and not joints[places[other][0]].closed:
                yield (places[pair], places[other])


def _doubt(joint: Joint) -> tuple[float, float]:
    return joint.confidence, joint.gap_mm


def _surely(sculpture: Sculpture) -> Sculpture:
    """The sculpture without its doubtful joints."""
    return replace(sculpture, joints=tuple(j for j in sculpture.joints if j.kind != "doubtful"))


def _places(sculpture: Sculpture) -> Mapping[tuple[str, str], Place]:
    """Pairs of sure lumps with the indices of the doubtful joints between them, closed ones first."""
    lump = {piece: lump.id for lump in find_lumps(_surely(sculpture)) for piece in lump.pieces}
    found: dict[tuple[str, str], list[int]] = {}
    for i, joint in enumerate(sculpture.joints):
        a, b = (lump.get(piece) for piece in joint.between)
        if joint.kind == "doubtful" and a is not None and b is not None and a != b:
            found.setdefault((min(a, b), max(a, b)), []).append(i)
    joints = sculpture.joints
    return {
        pair: tuple(sorted(own, key=lambda i: (not joints[i].closed, *_doubt(joints[i]))))
        for pair, own in found.items()
    }


def _bare(sculpture: Sculpture) -> set[str]:
    """Sure lumps without entries."""
    sure = _surely(sculpture)
    lumps = find_lumps(sure)
    used = {lump for lump in lump_of_entries(sure, lumps).values() if lump is not None}
    return {lump.id for lump in lumps} - used


def _flipped(sculpture: Sculpture, flip: Sequence[Place]) -> Sculpture:
    """The sculpture with these places the other way."""
    for place in flip:
        best = sculpture.joints[place[0]]
        if best.closed:
            joints = list(sculpture.joints)
            for i in place:
                joints[i] = replace(joints[i], likely_touching=False)
            sculpture = replace(sculpture, joints=tuple(joints))
        elif _adjoin(sculpture, best):
            joints = list(sculpture.joints)
            joints[place[0]] = replace(best, likely_touching=True)
            sculpture = replace(sculpture, joints=tuple(joints))
        else:
            sculpture = bridge(sculpture, best)
    return sculpture


def _adjoin(sculpture: Sculpture, joint: Joint) -> bool:
    """Whether the two pieces share the side of a cell near the middle of the joint."""
    h, reach = sculpture.cell_mm, NEAR_MM + joint.gap_mm
    left, top = (max(0, int((v - reach) / h)) for v in joint.at)
    right, bottom = (int((v + reach) / h) + 2 for v in joint.at)
    part = sculpture.grid[top:bottom, left:right]
    first, second = (part == piece for piece in joint.between)
    down = (first[1:] & second[:-1]) | (first[:-1] & second[1:])
    across = (first[:, 1:] & second[:, :-1]) | (first[:, :-1] & second[:, 1:])
    return bool(np.any(down) or np.any(across))

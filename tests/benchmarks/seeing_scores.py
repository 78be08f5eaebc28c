"""How well a photo was seen: overlap of colours, and whether entries share lumps as they truly do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import networkx as nx
import numpy as np
from scenes_with_truth import Labels
from scipy.stats import binomtest

from vision.model import NOT_DOUGH, Scene

MOST_DOUBTS = 3

Groups = tuple[frozenset[frozenset[str]], frozenset[str]]
"""Entries that share a lump, and those in none."""


def overlap(found: Labels, truth: Labels) -> float:
    """Mean intersection over union of the dough colours, (H, W) each, where the truth is not NOT_DOUGH."""
    asked = truth != NOT_DOUGH
    shares = []
    for i in np.unique(truth[asked & (truth > 0)]):
        a, b = (found == i) & asked, (truth == i) & asked
        shares.append(np.count_nonzero(a & b) / np.count_nonzero(a | b))
    return float(np.mean(shares))


@dataclass(frozen=True)
class Grouping:
    """Whether the lumps are right, and the fewest doubtful contacts (0 to 3) that make them so.

    `doubts` is None when no three doubtful places, taken the other way, give the true lumps.
    """

    doubts: int | None

    @property
    def right(self) -> bool:
        """Right as it stands."""
        return self.doubts == 0


def grouping(scene: Scene, lump_of: Mapping[str, str | None]) -> Grouping:
    """Compare the lumps of a scene with the true ones."""
    wanted = _groups(lump_of)
    lumps = _lumps(scene)
    place = {name: lumps.get(entry.piece) for name, entry in scene.entries.items()}
    likely = _doubts(scene, lumps)
    for count in range(min(MOST_DOUBTS, len(likely)) + 1):
        for turned in combinations(sorted(likely), count):
            joined = [pair for pair, closed in likely.items() if closed != (pair in turned)]
            if _groups(_joined(place, joined)) == wanted:
                return Grouping(count)
    return Grouping(None)


def _groups(lump_of: Mapping[str, str | int | None]) -> Groups:
    lumps = {lump for lump in lump_of.values() if lump is not None}
    sharing = (frozenset(name for name, own in lump_of.items() if own == lump) for lump in lumps)
    return frozenset(sharing), frozenset(name for name, own in lump_of.items() if own is None)


def _lumps(scene: Scene) -> dict[int | None, int]:
    """The lump of each conductive piece: pieces hang together where they touch."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(piece.id for piece in scene.pieces if piece.role == "conductive")
    graph.add_edges_from(
        c.between for c in scene.contacts if c.kind == "touching" and graph.nodes >= {*c.between}
    )
    return {piece: i for i, lump in enumerate(nx.connected_components(graph)) for piece in lump}


def _doubts(scene: Scene, lumps: Mapping[int | None, int]) -> dict[tuple[int, int], bool]:
    """Pairs of lumps with a doubtful contact between them, and whether the answer takes it as touching."""
    pairs: dict[tuple[int, int], bool] = {}
    for contact in scene.contacts:
        a, b = (lumps.get(piece) for piece in contact.between)
        if contact.kind == "doubtful" and a is not None and b is not None and a != b:
            pair = (min(a, b), max(a, b))
            pairs[pair] = pairs.get(pair, False) or contact.likely
    return pairs


def _joined(place: Mapping[str, int | None], taken: Sequence[tuple[int, int]]) -> dict[str, int | None]:
    """Lumps of entries when these pairs of lumps hang together."""
    graph: nx.Graph[int] = nx.Graph(list(taken))
    same = {lump: min(group) for group in nx.connected_components(graph) for lump in group}
    return {name: None if lump is None else same.get(lump, lump) for name, lump in place.items()}


def share(right: int, of: int) -> str:
    """A share in per cent with its 95 % interval (Wilson 1927)."""
    if not of:
        return "-"
    interval = binomtest(right, of).proportion_ci(0.95, method="wilson")
    return f"{right}/{of} = {100 * right / of:.0f} % ({100 * interval.low:.0f}-{100 * interval.high:.0f})"

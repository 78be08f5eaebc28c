"""What sculptures with known faults are to be: how many lumps in a row, what lies across them, which shorts.

Notation: R, C cells; see `raster`.
"""

from dataclasses import dataclass
from itertools import pairwise

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.outlines import coil, side_by_side, split
from sample_images.studio.raster import Rng, grid
from sample_images.studio.seams import Opening, Pair, Seams, find_spot, opening_at

KINDS = ("short-round-the-end", "short-over-the-wall", "short-bridge", "short-pressed-together")
WALLED = KINDS[:2]
GOOD = ("good-abreast", "good-row", "good-wound")
SCENARIOS = (
    "whole",
    "good-abreast",
    "one-of-row",
    "two-same",
    "good-row",
    "group-of-row",
    "two-apart",
    "with-backwards",
    "good-wound",
    "wire",
)
"""A good one of each kind; a short of the pack, of one light of a row, of a group; two shorts between the
same lumps, or between different ones; a short and an LED in backwards; a wire that joins two lumps."""


@dataclass(frozen=True)
class Plan:
    """Stages of a row: lumps from the red to the black lead, and how many LEDs bridge each step."""

    way: tuple[int, ...]
    leds: tuple[int, ...]
    shorts: tuple[tuple[Pair, str], ...]
    flip: bool
    wire: Pair | None

    @property
    def stages(self) -> tuple[Pair, ...]:
        """The seams that LEDs stand across, in order."""
        return tuple((min(p), max(p)) for p in pairwise(self.way))


def stage_count(rng: Rng, scenario: str) -> int:
    if scenario in ("whole", "good-abreast"):
        return 1
    if scenario in ("good-row",):
        return 2
    if scenario in ("one-of-row", "group-of-row", "two-apart"):
        return int(rng.integers(2, 4))
    return int(rng.integers(1, 4)) if scenario in ("two-same", "with-backwards", "wire") else 1


def outline_of(rng: Rng, scenario: str, stages: int) -> NDArray[np.int32]:
    X, Y = grid()
    size = rng.uniform(20, 42)
    if scenario == "good-wound" or rng.random() < 0.15:
        return coil(rng, X, Y, size, stages + 1)
    outline = side_by_side if rng.random() < 0.4 else split
    return outline(rng, X, Y, size, stages + 1 + int(rng.random() < 0.4))[0]


def plan_of(rng: Rng, scenario: str, kind: str, stages: int, seams: Seams) -> Plan | None:
    graph: nx.Graph[int] = nx.Graph(list(seams.lengths_mm))
    ways = [
        tuple(way)
        for start in graph
        for goal in graph
        if start != goal
        for way in nx.all_simple_paths(graph, start, goal, cutoff=stages)
        if len(way) == stages + 1
    ]
    if not ways:
        return None
    way = ways[int(rng.integers(len(ways)))]
    steps = [(min(p), max(p)) for p in pairwise(way)]
    leds = [int(rng.integers(1, 3)) for _ in steps] if stages > 1 else [int(rng.integers(2, 6))]
    shorts: list[tuple[Pair, str]] = []
    which = int(rng.integers(stages))
    other = kind if rng.random() < 0.3 else str(rng.choice(KINDS))
    if scenario == "whole":
        shorts = [(steps[0], kind)]
    elif scenario == "one-of-row":
        leds[which] = 1
        shorts = [(steps[which], kind)]
    elif scenario == "group-of-row":
        jumps = [(min(p), max(p)) for p in zip(way, way[2:], strict=False)] if stages == 3 else []
        jumps = [p for p in jumps if p in seams.lengths_mm]
        leds[which] = 2
        shorts = [(jumps[0] if jumps else steps[which], kind)]
    elif scenario == "two-same":
        family = WALLED if kind in WALLED else KINDS[2:]
        shorts = [(steps[which], kind), (steps[which], str(rng.choice(family)))]
    elif scenario == "two-apart":
        shorts = [(steps[which], kind), (steps[(which + 1) % stages], other)]
    elif scenario == "with-backwards":
        leds[0] = max(leds[0], 3) if stages == 1 else leds[0]
        shorts = [(steps[which], kind)]
    wire = steps[which] if scenario == "wire" else None
    return Plan(way, tuple(leds), tuple(shorts), scenario == "with-backwards", wire)


def openings_of(rng: Rng, seams: Seams, plan: Plan) -> list[Opening] | None:
    """A place for each short; None when one does not fit."""
    out: list[Opening] = []
    for pair, kind in plan.shorts:
        reach = {
            "short-bridge": rng.uniform(1.3, 2.3),
            "short-pressed-together": rng.uniform(2.0, 4.5),
            "short-over-the-wall": rng.uniform(1.5, 4.0),
            "short-round-the-end": rng.uniform(2.5, 6.0),
        }[kind]
        half = {
            "short-bridge": max(rng.uniform(1.6, 3.0), reach),
            "short-pressed-together": rng.uniform(0.3, 0.8),
        }.get(kind, rng.uniform(1.2, 3.2))
        before = [o.half_mm for o in out if o.pair == pair and o.kind in WALLED and kind in WALLED]
        half = before[0] if before else half
        spot = find_spot(rng, seams, pair, reach, kind == "short-round-the-end", out)
        if spot is None:
            return None
        out.append(opening_at(seams, kind, pair, spot, reach, half))
    return out

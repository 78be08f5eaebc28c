"""The lights of this very sculpture in a row and side by side, beside what they do as they are.

Ideal lumps: each entry hangs on the middle of its lump by half of what lies between two entries of this
sculpture, so that dough, pack, metal and lights are its own.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from circuit.board import Board
from circuit.model import Arrangement, Sculpture
from circuit.outcome import Network, Outcome, chains_of, led_results, legs_V, solve_many

LEAST_OHM = 1e-3
BY_NAME_OHM = 1e5
"""More than this between two entries of a lump is a lump in name only (estimated)."""


def arrangements(board: Board, outcome: Outcome) -> tuple[Arrangement, ...]:
    """As built, in a row, side by side; nothing without LEDs."""
    sculpture = board.sculpture
    count, ohm = len(sculpture.leds), typical_ohm(board)
    if not count:
        return ()
    as_built = led_results(sculpture, outcome.led_A, outcome.legs_V)
    return (
        Arrangement("as-built", as_built, outcome.pack_A),
        _arranged("in-a-row", sculpture, [(i, i + 1) for i in range(count)], ohm),
        _arranged("side-by-side", sculpture, [(0, 1)] * count, ohm),
    )


def typical_ohm(board: Board) -> float:
    """Median resistance [ohm] between two entries of one lump with their wells; 0 without such a pair."""
    rest = np.linalg.pinv(board.conductance)
    homes = list(board.home.values())
    found = [
        float(rest[i, i] + rest[j, j] - 2 * rest[i, j])
        for i in range(len(homes))
        for j in range(i)
        if homes[i] == homes[j]
    ]
    real = [ohm for ohm in found if ohm < BY_NAME_OHM]
    return float(np.median(real)) if real else 0.0


def _arranged(
    way: Literal["in-a-row", "side-by-side"],
    sculpture: Sculpture,
    lumps: Sequence[tuple[int, int]],
    between_ohm: float,
) -> Arrangement:
    """Every LED from the first to the second of its two lumps; the pack across the first and the last."""
    bare = replace(sculpture, parts=())
    pack = (max(low for _, low in lumps), 0)
    homes = [lump for pair in (*lumps, pack) for lump in pair]
    # Nodes: the middles of the lumps, then one for each entry.
    first = max(homes) + 1
    nodes = first + len(homes)
    g = np.zeros((nodes, nodes))
    entries = np.arange(first, nodes)
    g[entries, homes] = g[homes, entries] = 1 / max(between_ohm / 2, LEAST_OHM)
    emf = np.zeros(len(lumps) + 1)
    emf[-1] = sculpture.pack.emf_V
    tail, head = entries[::2], entries[1::2]
    spots = tuple((float(i), 0.0) for i in range(nodes))
    network = Network(spots, np.diag(g.sum(axis=1)) - g, chains_of(bare), tail, head, emf)
    solved = solve_many(network, tail[None], head[None])
    ids = [led.id for led in sculpture.leds]
    currents = solved.current_A[:, : len(ids)]
    volts = legs_V(sculpture, currents, solved.across_V[:, : len(ids)])
    leds = led_results(
        sculpture,
        dict(zip(ids, currents[0].tolist(), strict=True)),
        dict(zip(ids, volts[0].tolist(), strict=True)),
    )
    return Arrangement(way, leds, float(solved.current_A[0, -1]))

"""The operating point: volts at every spot, current in every part, the look of every LED.

Unknowns are the volts at the spots of a board. The network has increasing laws only, so it has
exactly one solution, the minimum of a convex function (Millar, Phil. Mag. 42 (1951) 1150); damped
Newton cannot get lost.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag, cho_factor, cho_solve

from circuit.board import Board, Placing
from circuit.devices import LEAK_S, Chains, chain_current
from circuit.errors import SolveError
from circuit.lumps import legs
from circuit.materials import VT
from circuit.model import Point, Sculpture, State

MOST_STEPS = 200
SMALL_A = 1e-12
SMALL_SHARE = 1e-9
LEAST_OHM = 1e-6


@dataclass(frozen=True)
class Outcome:
    """What happens on a board with a placing.

    led_A, led_V  current from long to short leg [A], volts across its two entries in the dough [V]
    spot_V        volts in the dough at each spot
    pack_A        current out of the pack; terminal_V volts between its terminals
    steps, residual_A  Newton steps taken, and the largest current left over
    """

    board: Board
    states: Mapping[str, State]
    led_A: Mapping[str, float]
    led_V: Mapping[str, float]
    spot_V: Mapping[Point, float]
    pack_A: float
    terminal_V: float
    steps: int
    residual_A: float


@dataclass(frozen=True)
class Network:
    """The reduced network: conductances between the nodes (N, N), and K parts from node `tail` to `head`.

    Node -1 hangs free. `emf_V` (K,) is 0 but for the pack, which is the last part; current counts
    from tail to head, for the pack out of its red lead.
    """

    nodes: tuple[Point, ...]
    conductance: NDArray[np.float64]
    chains: Chains
    tail: NDArray[np.intp]
    head: NDArray[np.intp]
    emf_V: NDArray[np.float64]


def wire(board: Board, placing: Placing) -> Network:
    """The network of a board with a placing: lumps in block order, LEDs in theirs, the pack last."""
    nodes = tuple(sorted(board.spots, key=lambda spot: board.spots[spot]))
    number = {spot: i for i, spot in enumerate(nodes)}
    sculpture = board.sculpture
    ends = [[placing[leg] for leg in legs(led)] for led in sculpture.leds]
    ends.append([placing["pack.minus"], placing["pack.plus"]])
    index = [[-1 if spot is None else number[spot] for spot in pair] for pair in ends]
    blocks = [g for g in board.conductances if len(g)]
    tail, head = np.array(index, np.intp).T
    emf = np.zeros(len(ends))
    emf[-1] = sculpture.pack.emf_V
    return Network(
        nodes, block_diag(*blocks) if blocks else np.zeros((0, 0)), chains_of(sculpture), tail, head, emf
    )


def chains_of(sculpture: Sculpture) -> Chains:
    """The laws of all LEDs, and last of the pack, each with the metal at both its ends."""
    metal, leds, pack = sculpture.electrode, sculpture.leds, sculpture.pack
    count = len(leds) + 1
    ohm = [led.diode.rs_ohm + 2 * metal.leg_ohm for led in leds] + [pack.internal_ohm + 2 * metal.lead_ohm]
    drop = 0.0 if metal.drop_i0_A is None else 2 * metal.drop_n * VT
    return Chains(
        ohm=np.maximum(np.array(ohm), LEAST_OHM),
        drop_V=np.full(count, drop),
        drop_A=np.full(count, metal.drop_i0_A or 1.0),
        diode_V=np.array([led.diode.n * VT for led in leds] + [0.0]),
        diode_A=np.array([led.diode.is_A for led in leds] + [1.0]),
    )


def operate(board: Board, placing: Placing) -> Outcome:
    """Solve a board with a placing. Raises SolveError if it does not settle (it always should)."""
    network = wire(board, placing)
    volts, steps, residual = solve(network)
    current, across = _parts(network, volts)
    leds = [led.id for led in board.sculpture.leds]
    led_A = {led: float(i) for led, i in zip(leds, current, strict=False)}
    pack = board.sculpture.pack
    return Outcome(
        board=board,
        states={led: board.sculpture.brightness.state(i) for led, i in led_A.items()},
        led_A=led_A,
        led_V={led: float(v) for led, v in zip(leds, across, strict=False)},
        spot_V={spot: float(v) for spot, v in zip(network.nodes, volts, strict=True)},
        pack_A=float(current[-1]),
        terminal_V=pack.emf_V - pack.internal_ohm * float(current[-1]),
        steps=steps,
        residual_A=residual,
    )


def solve(network: Network) -> tuple[NDArray[np.float64], int, float]:
    """Volts at the nodes (N,), the number of Newton steps, and the largest current left over [A]."""
    n = len(network.nodes)
    volts = np.zeros(n)
    if n == 0:
        return volts, 0, 0.0
    linear = network.conductance + LEAK_S * np.eye(n)
    # Rows of `ties` are the parts that are joined at both ends: +1 at the tail, -1 at the head.
    joined = (network.tail >= 0) & (network.head >= 0)
    ties = np.zeros((len(joined), n))
    ties[np.flatnonzero(joined), network.tail[joined]] = 1
    ties[np.flatnonzero(joined), network.head[joined]] -= 1

    def balance(at: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Currents in the parts (K,), current left over (N,), slopes (N, N)."""
        current, slope = chain_current(network.chains, ties @ at + network.emf_V)
        current, slope = np.where(joined, current, 0.0), np.where(joined, slope, 0.0)
        return current, linear @ at + ties.T @ current, linear + (ties.T * slope) @ ties

    current, rest, slopes = balance(volts)
    for step in range(1, MOST_STEPS + 1):
        way = -cho_solve(cho_factor(slopes), rest)
        # Along the way the function's slope rises from way.rest < 0; a step is good unless it
        # climbs the far side nearly as steeply.
        fall, share, before = float(way @ rest), 1.0, current
        while True:
            trial = volts + share * way
            current, rest, slopes = balance(trial)
            if float(way @ rest) <= -0.9 * fall or share < 1e-6:
                break
            share /= 2
        volts = trial
        # The step is judged by the currents it changes: a lump that nothing joins may drift in volts.
        left, change = float(np.abs(rest).max()), float(np.abs(current - before).max())
        small = SMALL_A + SMALL_SHARE * float(np.abs(current).max())
        if left < small and change < small:
            return volts, step, left
    raise SolveError(f"The operating point did not settle in {MOST_STEPS} steps; {left:g} A are left over.")


def _parts(network: Network, volts: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Currents from tail to head through each part (K,), and the volts over them; 0 where an end is free."""
    joined = (network.tail >= 0) & (network.head >= 0)
    across = np.zeros(len(joined))
    across[joined] = volts[network.tail[joined]] - volts[network.head[joined]]
    current, _ = chain_current(network.chains, across + network.emf_V)
    return np.where(joined, current, 0.0), across

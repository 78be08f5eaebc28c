"""The operating point: volts at every spot, current in every part, the look of every LED.

Unknowns are the volts at the spots of a board. The network has increasing laws only, so it has
exactly one solution, the minimum of a convex function (Millar, Phil. Mag. 42 (1951) 1150); damped
Newton cannot get lost. Thousands of placings are solved together.

Notation: N nodes (spots); K parts, the LEDs first, the pack last; B placings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from circuit.board import Board, Placing
from circuit.devices import LEAK_S, ONE_WAY, Chains, chain_current
from circuit.errors import SolveError
from circuit.lumps import LEADS, ends, legs
from circuit.materials import VT, glow
from circuit.model import Led, LedResult, PartResult, Point, Sculpture, State

MOST_STEPS = 200
MOST_TOGETHER = 512
"""More placings are solved one lot after the other, to keep the arrays in the cache."""
RIDGE = 1e-13
SMALL_A = 1e-12
SMALL_SHARE = 1e-9
ROUNDING = 1e-14
"""Share of the largest conductance times volts that floats cannot tell from nothing."""
LEAST_OHM = 1e-6

Floats = NDArray[np.float64]
LedResults = tuple[LedResult, ...]


@dataclass(frozen=True)
class Outcome:
    """What happens on a board with a placing.

    led_A, led_V    current from long to short leg [A], volts across its two entries in the dough [V]
    legs_V          volts between the legs of an LED, without its contacts [V]
    part_A, part_V  the same of other parts, from a to b
    spot_V          volts in the dough at each spot
    pack_A          current out of the pack; terminal_V volts between its terminals
    steps, residual_A  Newton steps taken, and the largest current left over
    """

    board: Board
    states: Mapping[str, State]
    led_A: Mapping[str, float]
    led_V: Mapping[str, float]
    legs_V: Mapping[str, float]
    part_A: Mapping[str, float]
    part_V: Mapping[str, float]
    spot_V: Mapping[Point, float]
    pack_A: float
    terminal_V: float
    steps: int
    residual_A: float


def is_over(outcome: Outcome, led: Led, share: float = 1.0) -> bool:
    """Whether an LED is above this share of its greatest continuous current or power."""
    current = outcome.led_A[led.id]
    return current > share * led.safe_A or current * outcome.legs_V[led.id] > share * led.safe_W


@dataclass(frozen=True)
class Network:
    """The reduced network: conductances between the nodes (N, N), and K parts from node `tail` to `head`.

    For networks that are solved together, conductances, chains and volts have a row each: (B, N, N), (B, K).
    Node -1 hangs free. `emf_V` (K,) is 0 but for the pack, which is the last part; current counts
    from tail to head, for the pack out of its red lead.
    """

    nodes: tuple[Point, ...]
    conductance: Floats
    chains: Chains
    tail: NDArray[np.intp]
    head: NDArray[np.intp]
    emf_V: Floats

    def rows(self, chosen: NDArray[np.intp]) -> "Network":
        """Those of the networks that are solved together; the network itself where there is but one."""
        if self.conductance.ndim == 2:
            return self
        chains = {field.name: getattr(self.chains, field.name)[chosen] for field in fields(Chains)}
        return replace(
            self, conductance=self.conductance[chosen], chains=Chains(**chains), emf_V=self.emf_V[chosen]
        )


def wire(board: Board, placing: Placing) -> Network:
    """The network of a board with a placing: LEDs in their order, then other parts, the pack last."""
    sculpture = board.sculpture
    tail, head = _wired(board, placing)
    emf = np.zeros(len(tail))
    emf[-1] = sculpture.pack.emf_V
    return Network(tuple(board.spots), board.conductance, chains_of(sculpture), tail, head, emf)


def _wired(board: Board, placing: Placing) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Nodes at the two ends of each part (K,), -1 where it hangs free or a switch is open."""
    sculpture = board.sculpture
    pairs = [legs(led) for led in sculpture.leds]
    pairs += [ends(part) for part in sculpture.parts]
    pairs.append((LEADS[1], LEADS[0]))
    index = [[_node(board, placing[name]) for name in pair] for pair in pairs]
    for i, part in enumerate(sculpture.parts, start=len(sculpture.leds)):
        if not part.closed:
            index[i] = [-1, -1]
    tail, head = np.array(index, np.intp).T
    return tail, head


def _node(board: Board, spot: Point | None) -> int:
    return -1 if spot is None else board.spots[spot]


def chains_of(sculpture: Sculpture) -> Chains:
    """The laws of all LEDs, of other parts, and last of the pack, each with the metal at both its ends."""
    metal, leds, parts, pack = sculpture.electrode, sculpture.leds, sculpture.parts, sculpture.pack
    count = len(leds) + len(parts) + 1
    own = [led.diode.rs_ohm for led in leds] + [part.ohm for part in parts]
    drop = 0.0 if metal.drop_i0_A is None else 2 * metal.drop_n * VT
    diodes = [led.diode for led in leds] + [ONE_WAY if part.one_way else None for part in parts] + [None]
    return Chains(
        ohm=np.maximum(
            [*(ohm + 2 * metal.leg_ohm for ohm in own), pack.internal_ohm + 2 * metal.lead_ohm], LEAST_OHM
        ),
        drop_V=np.full(count, drop),
        drop_A=np.full(count, metal.drop_i0_A or 1.0),
        diode_V=np.array([0.0 if diode is None else diode.n * VT for diode in diodes]),
        diode_A=np.array([1.0 if diode is None else diode.is_A for diode in diodes]),
    )


def operate(board: Board, placing: Placing) -> Outcome:
    """Solve a board with a placing. Raises SolveError if it does not settle (it always should)."""
    return operate_many(board, [placing])[0]


def operate_many(board: Board, placings: Sequence[Placing]) -> list[Outcome]:
    """Solve a board with many placings together, each as `operate` would."""
    found: list[Outcome] = []
    for first in range(0, len(placings), MOST_TOGETHER):
        found += _operate(board, placings[first : first + MOST_TOGETHER])
    return found


def led_currents(lots: Sequence[tuple[Board, Sequence[Placing]]]) -> list[Floats]:
    """Current of every LED [A] on each board with each of its placings, a (B, L) for each board.

    The boards have the same LEDs; all with as many spots are solved together.
    """
    alike: dict[int, list[int]] = {}
    for i, (board, _) in enumerate(lots):
        alike.setdefault(len(board.spots), []).append(i)
    found: dict[int, Floats] = {}
    for members in alike.values():
        networks = [wire(lots[i][0], lots[i][1][0]) for i in members]
        sizes = [len(lots[i][1]) for i in members]
        wired = [_wired(lots[i][0], placing) for i in members for placing in lots[i][1]]
        tail, head = (np.stack(side) for side in zip(*wired, strict=True))
        which = np.repeat(np.arange(len(members)), sizes)
        current = np.concatenate(
            [
                solve_many(_stacked(networks, which[lot]), tail[lot], head[lot]).current_A
                for lot in np.array_split(np.arange(len(which)), -(-len(which) // MOST_TOGETHER))
            ]
        )
        leds = len(lots[members[0]][0].sculpture.leds)
        found |= zip(members, np.split(current[:, :leds], np.cumsum(sizes)[:-1]), strict=True)
    return [found[i] for i in range(len(lots))]


def _stacked(networks: Sequence[Network], which: NDArray[np.intp]) -> Network:
    """One network for a row of them, by their numbers (B,), with as many nodes and parts each."""
    chains = {
        field.name: np.stack([getattr(network.chains, field.name) for network in networks])[which]
        for field in fields(Chains)
    }
    return Network(
        networks[0].nodes,
        np.stack([network.conductance for network in networks])[which],
        Chains(**chains),
        networks[0].tail,
        networks[0].head,
        np.stack([network.emf_V for network in networks])[which],
    )


def _operate(board: Board, placings: Sequence[Placing]) -> list[Outcome]:
    sculpture = board.sculpture
    network = wire(board, placings[0])
    wired = [_wired(board, placing) for placing in placings]
    tail, head = (np.stack(side) for side in zip(*wired, strict=True))
    solved = solve_many(network, tail, head)
    count = len(sculpture.leds)
    between = legs_V(sculpture, solved.current_A[:, :count], solved.across_V[:, :count])
    led_ids, part_ids = [led.id for led in sculpture.leds], [part.id for part in sculpture.parts]
    look, pack = sculpture.brightness.state, sculpture.pack
    found = []
    for b in range(len(placings)):
        current, across = solved.current_A[b].tolist(), solved.across_V[b].tolist()
        found.append(
            Outcome(
                board=board,
                states={led: look(i) for led, i in zip(led_ids, current, strict=False)},
                led_A=dict(zip(led_ids, current, strict=False)),
                led_V=dict(zip(led_ids, across, strict=False)),
                legs_V=dict(zip(led_ids, between[b].tolist(), strict=True)),
                part_A=dict(zip(part_ids, current[count:], strict=False)),
                part_V=dict(zip(part_ids, across[count:], strict=False)),
                spot_V=dict(zip(network.nodes, solved.volts[b].tolist(), strict=True)),
                pack_A=current[-1],
                terminal_V=pack.emf_V - pack.internal_ohm * current[-1],
                steps=int(solved.steps[b]),
                residual_A=float(solved.residual_A[b]),
            )
        )
    return found


def legs_V(sculpture: Sculpture, current_A: Floats, across_V: Floats) -> Floats:
    """Volts between the legs of the LEDs (B, L), of their currents and the volts over their entries.

    Without a current the contacts take nothing.
    """
    n_vt = np.array([led.diode.n * VT for led in sculpture.leds])
    is_A = np.array([led.diode.is_A for led in sculpture.leds])
    rs_ohm = np.array([led.diode.rs_ohm for led in sculpture.leds])
    forward = np.maximum(current_A, 0.0)
    return np.where(across_V > 0, n_vt * np.log1p(forward / is_A) + rs_ohm * forward, across_V)


def led_results(sculpture: Sculpture, led_A: Mapping[str, float], legs_V: Mapping[str, float]) -> LedResults:
    """How every LED does at these currents, with these volts between its legs."""
    return tuple(
        LedResult(
            led.id,
            led_A[led.id],
            sculpture.brightness.state(led_A[led.id]),
            legs_V[led.id],
            led_A[led.id] * legs_V[led.id],
            glow(led_A[led.id]),
        )
        for led in sculpture.leds
    )


def part_results(outcome: Outcome) -> tuple[PartResult, ...]:
    """How every other part does."""
    return tuple(
        PartResult(
            part.id,
            outcome.part_A[part.id],
            outcome.part_V[part.id],
            abs(outcome.part_A[part.id]) >= part.works_A > 0,
        )
        for part in outcome.board.sculpture.parts
    )


@dataclass(frozen=True)
class Solved:
    """B operating points.

    volts (B, N); current_A, across_V (B, K) from tail to head, 0 where an end is free; steps, residual_A
    (B,) as in Outcome
    """

    volts: Floats
    current_A: Floats
    across_V: Floats
    steps: NDArray[np.intp]
    residual_A: Floats


def solve_many(network: Network, tail: NDArray[np.intp], head: NDArray[np.intp]) -> Solved:
    """The network with its parts between other nodes: tail, head (B, K).

    Raises SolveError if one does not settle in 200 steps (it always should).
    """
    count, n = len(tail), len(network.nodes)
    network = replace(network, conductance=network.conductance + LEAK_S * np.eye(n))
    joined = (tail >= 0) & (head >= 0)
    # Rows of `ties` are the parts that are joined at both ends: +1 at the tail, -1 at the head.
    ties = np.zeros((*tail.shape, n))
    b, k = np.nonzero(joined)
    ties[b, k, tail[b, k]] = 1
    ties[b, k, head[b, k]] -= 1
    volts = np.zeros((count, n))
    steps, residual = np.zeros(count, np.intp), np.zeros(count)
    going = np.arange(count) if n else np.arange(0)
    for step in range(1, MOST_STEPS + 1):
        if not len(going):
            break
        tied, at, own = ties[going], volts[going], network.rows(going)
        current, rest, slope = _balance(own, tied, joined[going], at)
        slopes = own.conductance + (tied.transpose(0, 2, 1) * slope[:, None, :]) @ tied
        # Keeps the matrix regular where conductances differ by more than a float can tell.
        steepest = slopes.diagonal(axis1=1, axis2=2).max(axis=1)
        ridge = RIDGE * steepest
        slopes += ridge[:, None, None] * np.eye(n)
        way = np.asarray(-np.linalg.solve(slopes, rest[..., None])[..., 0], np.float64)
        trial, after, left = _along(own, tied, joined[going], at, way, rest)
        volts[going] = trial
        # The step is judged by the currents it changes: a lump that nothing joins may drift in volts.
        change = np.abs(after - current).max(axis=1)
        small = SMALL_A + SMALL_SHARE * np.abs(after).max(axis=1)
        small += ROUNDING * steepest * np.abs(trial).max(axis=1)
        steps[going], residual[going] = step, left
        going = going[(left >= small) | (change >= small)]
    if len(going):
        left_over = residual[going].max()
        raise SolveError(
            f"The operating point did not settle in {MOST_STEPS} steps; {left_over:g} A are left over."
        )
    across = (ties @ volts[..., None])[..., 0]
    current, _ = chain_current(network.chains, across + network.emf_V)
    return Solved(volts, np.where(joined, current, 0.0), across, steps, residual)


def _balance(
    network: Network, ties: Floats, joined: NDArray[np.bool_], at: Floats
) -> tuple[Floats, Floats, Floats]:
    """Currents in the parts (B, K), current left over at the nodes (B, N), slopes of the parts (B, K)."""
    current, slope = chain_current(network.chains, (ties @ at[..., None])[..., 0] + network.emf_V)
    current, slope = np.where(joined, current, 0.0), np.where(joined, slope, 0.0)
    through = (at[:, None, :] @ network.conductance)[:, 0]
    return current, through + (current[:, None, :] @ ties)[:, 0], slope


def _along(
    network: Network,
    ties: Floats,
    joined: NDArray[np.bool_],
    at: Floats,
    way: Floats,
    rest: Floats,
) -> tuple[Floats, Floats, Floats]:
    """A good step along a way: volts there (B, N), currents (B, K), the largest current left over (B,).

    Along the way the function's slope rises from way.rest < 0; a step is good unless it climbs the far
    side nearly as steeply.
    """
    fall = (way * rest).sum(axis=1)
    share = np.ones(len(at))
    while True:
        trial = at + share[:, None] * way
        current, left, _ = _balance(network, ties, joined, trial)
        bad = ((way * left).sum(axis=1) > -0.9 * fall) & (share >= 1e-6)
        if not bad.any():
            return trial, current, np.abs(left).max(axis=1)
        share[bad] /= 2

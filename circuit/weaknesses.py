"""What works now and may not for long, what is dim because of the dough, and other parts that do not work.

What the sums tell is judged on the clear board, that is with shorts already undone. Places are in mm.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from circuit.board import Board, Placing, closed, lay_out
from circuit.findings import REVERSED_V, open_joints, rows, wired_pairs
from circuit.lumps import LEADS, dough_name, find_lumps, legs, listed, middle
from circuit.model import Finding, Lump, Point, Sculpture, Trace
from circuit.neck import narrowest
from circuit.outcome import Outcome, is_over, operate, part_results

NEAR_TOUCH_MM = 2.0  # dough this near may touch when somebody pushes the sculpture, estimated
THIN_WALL_MM = 2.0  # a wall this thin may give way when somebody presses on it, estimated
WEAK_NECK_MM = 6.0  # dough this narrow may tear or dry out, estimated
FEW_LIGHTS = 2
IDEAL = 1e3
"""Dough so many times better is no obstacle."""
LEAST_A = 1e-6


def weaknesses(
    board: Board, placing: Placing, outcome: Outcome, traces: Sequence[Trace], found: Sequence[Finding]
) -> list[Finding]:
    """All that the sums tell; `found` is what has been found so far and needs not be said twice.

    They are notes, no faults: whoever looks for what is wrong need not read them.
    """
    named = {part for finding in found if finding.code == "too-many-in-a-row" for part in finding.parts}
    return [
        *long_ways(board, placing, outcome, traces, named),
        *overloaded(board, outcome),
        *lit_in_a_row(board, placing, outcome, named),
        *weak_necks(board, placing, outcome),
    ]


def open_switches(board: Board, placing: Placing, outcome: Outcome) -> Iterator[Finding]:
    """Switches that would light something if they were closed."""
    for part in board.sculpture.parts:
        if part.kind != "switch" or part.closed:
            continue
        then = operate(lay_out(closed(board.sculpture, part.id)), placing)
        if _working(then) > _working(outcome):
            yield Finding(
                "switch-open", "fix", (part.id,), _place(board, part.id), facts={"part_kind": part.kind}
            )


def _working(outcome: Outcome) -> int:
    """How many lights are lit and how many other parts work."""
    lit = sum(state != "off" for state in outcome.states.values())
    return lit + sum(result.works for result in part_results(outcome))


def idle_parts(board: Board, outcome: Outcome) -> Iterator[Finding]:
    """Buzzers in backwards; buzzers and motors with too little current."""
    for part in board.sculpture.parts:
        current, volts = outcome.part_A[part.id], outcome.part_V[part.id]
        facts: dict[str, str | float] = {
            "part_kind": part.kind,
            "volts_V": abs(volts),
            "led_A": abs(current),
            "works_A": part.works_A,
        }
        if part.one_way and volts < -REVERSED_V:
            yield Finding("part-backwards", "fix", (part.id,), _place(board, part.id), facts=facts)
        elif LEAST_A < abs(current) < part.works_A:
            yield Finding("part-starved", "watch", (part.id,), _place(board, part.id), facts=facts)


def _place(board: Board, name: str) -> Point:
    """Half way between the two ends of a part."""
    return middle(*(e.at for n, e in board.sculpture.entries.items() if n.rpartition(".")[0] == name))


def long_ways(
    board: Board, placing: Placing, outcome: Outcome, traces: Sequence[Trace], named: set[str]
) -> Iterator[Finding]:
    """LEDs that are dim only because of the dough on their way: one finding for each lump."""
    dim = [led for led, state in outcome.states.items() if state == "dim" and led not in named]
    if not dim:
        return
    sculpture = board.sculpture
    doughs = tuple(
        replace(dough, resistivity_ohm_m=dough.resistivity_ohm_m / IDEAL) if dough.conductive else dough
        for dough in sculpture.doughs
    )
    ideal = operate(lay_out(replace(sculpture, doughs=doughs)), placing)
    walks = {trace.leg: trace for trace in traces if trace.path}
    by_lump: dict[str, list[tuple[float, str, Trace]]] = {}
    for led in dim:
        if ideal.states[led] != "bright":
            continue
        lost = [(_drop_V(outcome, placing, trace), led, trace) for trace in _own(walks, led)]
        if lost:
            worst = max(lost, key=lambda item: item[0])
            by_lump.setdefault(board.lump_at(placing[worst[2].leg]) or "", []).append(worst)
    for lump, cases in by_lump.items():
        drop_V, _, trace = max(cases, key=lambda item: item[0])
        led_ids = tuple(led for _, led, _ in cases)
        current = min(outcome.led_A[led] for led in led_ids)
        facts: dict[str, str | float] = {
            "lump": lump,
            "long_mm": _length(trace.path),
            "drop_V": drop_V,
            "emf_V": sculpture.pack.emf_V,
            "led_A": current,
        }
        yield Finding(
            "long-way", "fix", led_ids, _narrowest_place(board, lump, trace.path), trace.path, facts=facts
        )


def _own(walks: Mapping[str, Trace], led: str) -> list[Trace]:
    return [walks[leg] for leg in (f"{led}.long", f"{led}.short") if leg in walks]


def _drop_V(outcome: Outcome, placing: Placing, trace: Trace) -> float:
    """Volts lost in the dough between a leg and its lead."""
    leg, lead = placing[trace.leg], placing[trace.wanted]
    return 0.0 if leg is None or lead is None else abs(outcome.spot_V[leg] - outcome.spot_V[lead])


def _length(path: Sequence[Point]) -> float:
    return float(np.hypot(*np.diff(np.array(path), axis=0).T).sum())


def _narrowest_place(board: Board, lump: str, path: Sequence[Point]) -> Point:
    """Where along a path the dough is narrowest."""
    depth, h = board.mesh(lump).depth_mm, board.sculpture.cell_mm
    inner = path[1:-1] or path
    widths = [float(depth[int(y / h), int(x / h)]) or np.inf for x, y in inner]
    return inner[int(np.argmin(widths))]


def overloaded(board: Board, outcome: Outcome) -> Iterator[Finding]:
    """LEDs above their greatest continuous current or power."""
    for led in board.sculpture.leds:
        current, volts = outcome.led_A[led.id], outcome.legs_V[led.id]
        if is_over(outcome, led):
            facts = {
                "led_A": current,
                "safe_A": led.safe_A,
                "volts_V": volts,
                "emf_V": board.sculpture.pack.emf_V,
            }
            yield Finding("led-overloaded", "watch", (led.id,), _place(board, led.id), facts=facts)


def lit_in_a_row(board: Board, placing: Placing, outcome: Outcome, named: set[str]) -> Iterator[Finding]:
    """Rows that light, but of which each light goes out with the others."""
    for row in rows(board, placing):
        lit = all(outcome.states[led] != "off" for led in row)
        if len(row) > 1 and lit and not named & set(row):
            facts: dict[str, str | float] = {
                "crosses": listed(row[1:]),
                "count": len(row),
                "led_A": min(outcome.led_A[led] for led in row),
                "emf_V": board.sculpture.pack.emf_V,
            }
            yield Finding("in-a-row", "watch", row, middle(*(_place(board, led) for led in row)), facts=facts)


def weak_necks(board: Board, placing: Placing, outcome: Outcome) -> Iterator[Finding]:
    """One neck of a lump whose break would put out most lights."""
    lit = [led for led in board.sculpture.leds if outcome.states[led.id] != "off"]
    for lead, side in zip(LEADS, (0, 1), strict=True):
        start = placing[lead]
        lump = board.lump_at(start)
        spots = [(led.id, placing[legs(led)[side]]) for led in lit]
        here = [(name, spot) for name, spot in spots if spot is not None and board.lump_at(spot) == lump]
        if start is None or lump is None or len(here) < max(FEW_LIGHTS, len(lit) // 2 + 1):
            continue
        neck = _weakest(board, lump, start, _by_volts(outcome, start, here), len(lit))
        if neck is not None:
            yield replace(neck, facts={**neck.facts, "lump": lump, "pack_A": outcome.pack_A})


def _by_volts(outcome: Outcome, start: Point, legs_: Sequence[tuple[str, Point]]) -> list[tuple[str, Point]]:
    """Legs from the nearest to the farthest from the lead, as current feels it."""
    return sorted(legs_, key=lambda item: abs(outcome.spot_V[item[1]] - outcome.spot_V[start]))


def _weakest(
    board: Board, lump: str, start: Point, ordered: Sequence[tuple[str, Point]], lit: int
) -> Finding | None:
    """The narrowest neck that parts most lights from the lead; those before it stay lit."""
    mesh = board.mesh(lump)
    best: Finding | None = None
    for k in range(len(ordered) - max(FEW_LIGHTS, lit // 2 + 1) + 1):
        near, far = ordered[:k], ordered[k:]
        neck = narrowest(mesh, [start, *(spot for _, spot in near)], [spot for _, spot in far])
        if neck is None or not neck.lines or neck.length_mm > WEAK_NECK_MM:
            continue
        if best is None or neck.length_mm < float(best.facts["neck_mm"]):
            facts: dict[str, str | float] = {"neck_mm": neck.length_mm, "count": len(far)}
            parts = tuple(name for name, _ in far)
            best = Finding("weak-neck", "watch", parts, middle(*neck.lines[0]), facts=facts)
    return best


def too_near(sculpture: Sculpture) -> list[Finding]:
    """Gaps and walls so thin that a push may short what lies between: the thinnest for each pair of lumps.

    Whether they are is told by the eyes alone, so a short elsewhere does not hide them.
    """
    lumps = find_lumps(sculpture)
    return [*_near_touches(sculpture, lumps), *_thin_walls(sculpture, lumps)]


def _near_touches(sculpture: Sculpture, lumps: Sequence[Lump]) -> Iterator[Finding]:
    pairs, done = wired_pairs(sculpture, lumps), set[frozenset[str | None]]()
    for joint, a, b in open_joints(sculpture):
        pair = frozenset[str | None]((a, b))
        if joint.gap_mm < NEAR_TOUCH_MM and pair in pairs and pair not in done:
            done.add(pair)
            facts: dict[str, str | float] = {
                "gap_mm": joint.gap_mm,
                "dough": dough_name(sculpture, joint.between[0]),
                "other": dough_name(sculpture, joint.between[1]),
                "emf_V": sculpture.pack.emf_V,
            }
            yield Finding("near-touch", "watch", (), joint.at, facts=facts)


def _thin_walls(sculpture: Sculpture, lumps: Sequence[Lump]) -> Iterator[Finding]:
    of_piece = {piece: lump.id for lump in lumps for piece in lump.pieces}
    pairs, done = wired_pairs(sculpture, lumps), set[frozenset[str | None]]()
    for wall in sorted(sculpture.walls, key=lambda wall: wall.thinnest_mm):
        pair = frozenset(of_piece.get(piece) for piece in wall.between)
        if wall.thinnest_mm < THIN_WALL_MM and pair in pairs and pair not in done:
            done.add(pair)
            facts: dict[str, str | float] = {
                "wall_mm": wall.thinnest_mm,
                "dough": dough_name(sculpture, wall.piece),
                "emf_V": sculpture.pack.emf_V,
            }
            yield Finding("thin-wall", "watch", (), wall.at, facts=facts)

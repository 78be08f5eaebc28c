"""Random sculptures whose electrical faults are known to the millimetre, as rasters.

Drawn like those of `invent`, but over two to four lumps in a row, and with shorts of one light, of a
group or of the pack, several at a time. A truth says where the dough that should not be there lies,
and what every LED does once it is gone (after `physics`, not after the package `circuit`).
Seeds 0 to 9999 are for choosing, 10000 to 19999 for judging.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from sample_images.studio.colours import pick_colours
from sample_images.studio.invent import Draft, decorate
from sample_images.studio.invention import Invention, Lamp, Stuff, bodies_of, conducting, entries_of, lumps_of
from sample_images.studio.laying import fill, fit, lay
from sample_images.studio.physics import RESISTIVITY_OHM_M, between_entries, flows_A
from sample_images.studio.raster import Labels, Point, Rng, cell_clip, grid
from sample_images.studio.rows import (
    GOOD,
    KINDS,
    SCENARIOS,
    Plan,
    openings_of,
    outline_of,
    plan_of,
    stage_count,
)
from sample_images.studio.scene_files import THICKNESS_MM, lamps_of
from sample_images.studio.seams import Opening, Seams, find_seams, is_met, shortest_is_there, side_at
from sample_images.studio.wiring import far_inside, pack, running_off, things

ATTEMPTS = 150
SKIP = 2
"""Cells of the drawing to a cell of the sums, 0.3 mm, so that a narrow gap stays one."""
BRIGHT_A = 7e-3
"""Well above what counts as bright, so that both sets of LED values agree (estimated)."""
DIM_A = (0.8e-3, 3.5e-3)
"""Well within what counts as dim (estimated)."""


@dataclass(frozen=True)
class Battery:
    """Cells, volts and ohms of the pack; a 9 V block counts as six cells."""

    cells: int
    emf_V: float
    ohm: float


BATTERIES = (Battery(4, 6.0, 1.2), Battery(5, 7.5, 1.5), Battery(6, 9.0, 1.8), Battery(6, 9.0, 2.0))


@dataclass(frozen=True)
class Fault:
    """One fault: the codes and levels that are right, the parts it is about, and its place.

    parts: a short names `pack` or the lights that it puts out, other faults what they are about
    others: parts that may be named as well, since other shorts put them out
    """

    codes: tuple[str, ...]
    levels: tuple[str, ...]
    parts: tuple[str, ...]
    at: Point
    others: tuple[str, ...] = ()
    opening: Opening | None = None


@dataclass(frozen=True)
class Wire:
    """A wire, or a switch that is on, from dough to dough."""

    id: str
    kind: str
    a: Point
    b: Point


@dataclass(frozen=True)
class Known:
    """A sculpture with all its faults.

    mended  (R, C) uint8: labels without the shorts
    allowed codes that are right besides the faults, such as too many in a row for this pack
    then_A  current of every LED, and of `pack`, when all faults are mended
    """

    seed: int
    scenario: str
    made: Invention
    battery: Battery
    faults: tuple[Fault, ...]
    allowed: tuple[str, ...]
    mended: Labels
    then_A: dict[str, float]
    wires: tuple[Wire, ...] = ()


def known(
    seed: int,
    scenario: str | None = None,
    kind: str | None = None,
    table: Sequence[float] = (0.5, 0.5, 0.5),
    skip: int = 0,
) -> Known:
    """The sculpture of a seed; scenario and kind of the first short go round by default.

    `table`: its linear colour; `skip` asks for another sculpture of the same seed.

    Raises ValueError when none comes out right.
    """
    scenario = scenario or SCENARIOS[seed % len(SCENARIOS)]
    kind = kind or KINDS[seed // len(SCENARIOS) % len(KINDS)]
    for attempt in range(skip * ATTEMPTS, (skip + 1) * ATTEMPTS):
        made = _try(np.random.default_rng([seed, 77, attempt]), seed, scenario, kind, table)
        if made is not None:
            return made
    raise ValueError(f"no sculpture comes of seed {seed} as {scenario} with {kind}")


def _try(rng: Rng, seed: int, scenario: str, kind: str, table: Sequence[float]) -> Known | None:
    X, Y = grid()
    stages = stage_count(rng, scenario)
    sides = outline_of(rng, scenario, stages)
    if not stages < sides.max() < 16:
        return None
    seams = find_seams(sides)
    plan = plan_of(rng, scenario, kind, stages, seams)
    if plan is None:
        return None
    openings = openings_of(rng, seams, plan)
    if openings is None:
        return None
    kinds, walls = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    colours = pick_colours(rng, kinds + walls, table, rng.uniform(7, 34))
    doughs = tuple(Stuff(f"dough{i + 1}", c, i < kinds) for i, c in enumerate(colours))
    blank = np.zeros(X.shape, np.uint8)
    draft = Draft(rng, X, Y, sides, seams.away, kinds, walls, blank, blank.copy())
    whole = lay(draft, seams, openings)
    decorate(draft)
    mended = draft.labels.copy()
    for opening in openings:
        fill(draft, seams, opening, whole)
    fitted = fit(rng, draft, seams, plan, openings, mended)
    if fitted is None:
        return None
    lamps, rods = fitted
    holder = pack(rng, rods)
    rods = rods if holder else (running_off(rods[0]), running_off(rods[1]))
    made = Invention(
        seed, scenario, None, doughs, draft.labels, draft.solid, lamps, rods, holder,
        tuple(things(rng, draft.labels)), rng.uniform(0.2, 2.4),
    )  # fmt: skip
    made.lump_of.update(lumps_of(made))
    return _checked(rng, made, scenario, seams, plan, openings, mended)


def _checked(
    rng: Rng,
    made: Invention,
    scenario: str,
    seams: Seams,
    plan: Plan,
    openings: Sequence[Opening],
    mended: Labels,
) -> Known | None:
    """The sculpture with its truth; None when it is not what was planned, or has no single truth."""
    whole = replace(made, labels=mended, lump_of={})
    whole.lump_of.update(lumps_of(whole))
    if not _has_one_truth(made, seams, openings, mended):
        return None
    fixed = replace(whole, lamps=tuple(_forwards(m, plan, seams) for m in made.lamps))
    fixed.lump_of.update(lumps_of(fixed))
    battery = BATTERIES[int(rng.integers(len(BATTERIES)))] if len(plan.leds) > 1 else BATTERIES[0]
    if scenario == "good-row":
        battery = BATTERIES[int(rng.choice([0, 2]))]
    then = _currents_A(fixed, battery)
    least = min(flow for name, flow in then.items() if name != "pack")
    if least < BRIGHT_A and (len(plan.leds) == 1 or (scenario in GOOD and not DIM_A[0] < least < DIM_A[1])):
        return None
    allowed = () if least >= BRIGHT_A else ("too-many-in-a-row", "long-way")
    wires = _wires(rng, whole, seams, plan)
    if plan.wire is not None and not wires:
        return None
    faults = _faults(made, plan, seams, openings, wires)
    return Known(made.seed, scenario, made, battery, faults, allowed, mended, then, wires)


def _currents_A(made: Invention, battery: Battery) -> dict[str, float]:
    """Current of every LED and of `pack`, with what leaks through long walls of insulating dough."""
    labels = made.labels[::SKIP, ::SKIP]
    thick_m = THICKNESS_MM / 1000
    sheet = np.where(labels > 0, thick_m / RESISTIVITY_OHM_M["insulating"], 0.0)
    sheet[conducting(labels, made.doughs)] = thick_m / RESISTIVITY_OHM_M["conductive"]
    places = entries_of(made)
    cells = [cell_clip(at) for at in places.values()]
    G = between_entries(sheet, [(row // SKIP, col // SKIP) for row, col in cells])
    return flows_A(G, list(places), lamps_of(made), battery.emf_V, battery.ohm)


def _has_one_truth(made: Invention, seams: Seams, openings: Sequence[Opening], mended: Labels) -> bool:
    """Whether each opening alone is a short, and the narrowest place between what it joins."""
    places = entries_of(made)
    own = {name: side_at(seams, at) for name, at in places.items()}
    for given in ((), *((o,) for o in openings), tuple(openings)):
        labels = mended.copy()
        for o in given:
            labels[o.where] = made.labels[o.where]
        if not _same_groups(replace(made, labels=labels), {n: _with(given, s) for n, s in own.items()}):
            return False
    now, sound = (conducting(labels, made.doughs) for labels in (made.labels, mended))
    sides_of = {places[name]: side for name, side in own.items()}
    return all(is_met(seams, sound, opening) for opening in openings) and all(
        shortest_is_there(seams, now, openings, pair, sides_of) for pair in {o.pair for o in openings}
    )


def _same_groups(made: Invention, wanted: dict[str, int]) -> bool:
    """Whether entries share a body of dough just when they share a number."""
    lump = lumps_of(made)
    pairs = {(lump[name] or 0, side) for name, side in wanted.items()}
    return (
        len(pairs) == len({a for a, _ in pairs}) == len({b for _, b in pairs}) and None not in lump.values()
    )


def _with(openings: Sequence[Opening], side: int) -> int:
    """The lowest side that openings join with this one."""
    graph: nx.Graph[int] = nx.Graph([o.pair for o in openings])
    return min(nx.node_connected_component(graph, side)) if side in graph else side


def _forwards(lamp: Lamp, plan: Plan, seams: Seams) -> Lamp:
    """The LED as it should stand."""
    order = {side: i for i, side in enumerate(plan.way)}
    a, b = order[side_at(seams, lamp.long)], order[side_at(seams, lamp.short)]
    return lamp if a < b else replace(lamp, long=lamp.short, short=lamp.long)


def _wires(rng: Rng, whole: Invention, seams: Seams, plan: Plan) -> tuple[Wire, ...]:
    """The wire of the plan, its ends away from legs and leads."""
    if plan.wire is None:
        return ()
    room = far_inside(conducting(whole.labels, whole.doughs))
    X, Y = grid()
    for x, y in entries_of(whole).values():
        room[np.hypot(X - x, Y - y) < 4] = 0
    ends: list[Point] = []
    bodies = bodies_of(whole)
    for side in plan.wire:
        lump = next(whole.lump_of[n] for n, at in entries_of(whole).items() if side_at(seams, at) == side)
        ys, xs = np.nonzero((room > 1.8) & (bodies == lump))
        if not len(ys):
            return ()
        pick = int(rng.integers(len(ys)))
        ends.append((float(X[ys[pick], xs[pick]]), float(Y[ys[pick], xs[pick]])))
    return (Wire("W1", str(rng.choice(["wire", "switch"])), ends[0], ends[1]),)


def _faults(
    made: Invention, plan: Plan, seams: Seams, openings: Sequence[Opening], wires: Sequence[Wire]
) -> tuple[Fault, ...]:
    order = {side: i for i, side in enumerate(plan.way)}
    stage = {f"L{i}": _stage(m, order, seams) for i, m in enumerate(made.lamps, start=1)}
    joins = [o.pair for o in openings] + ([plan.wire] if plan.wire else [])
    spans = [sorted((order[a], order[b])) for a, b in joins]
    last = len(plan.way) - 1
    graph: nx.Graph[int] = nx.Graph([(a, b) for a, b in spans])
    graph.add_nodes_from((0, last))
    dead = nx.has_path(graph, 0, last)
    out_ = tuple(led for led, k in stage.items() if any(a <= k < b for a, b in spans))
    faults = []
    for i, (low, high) in enumerate(spans):
        own = tuple(led for led, k in stage.items() if low <= k < high)
        whole = (low, high) == (0, last)
        levels = ("stop",) if whole else ("stop", "fix") if dead else ("fix",)
        parts = ("pack",) if whole else own
        others = ("pack", *out_) if dead else out_
        if i < len(openings):
            o = openings[i]
            faults.append(Fault((o.kind,), levels, parts, o.at, others, o))
        else:
            wire = wires[0]
            at = ((wire.a[0] + wire.b[0]) / 2, (wire.a[1] + wire.b[1]) / 2)
            faults.append(Fault(("short-wire",), levels, (), at, (*others, wire.id)))
    for i, lamp in enumerate(made.lamps, start=1):
        if order[side_at(seams, lamp.long)] > order[side_at(seams, lamp.short)]:
            faults.append(Fault(("led-backwards",), ("fix",), (f"L{i}",), lamp.base))
    return tuple(faults)


def _stage(lamp: Lamp, order: dict[int, int], seams: Seams) -> int:
    return min(order[side_at(seams, lamp.long)], order[side_at(seams, lamp.short)])

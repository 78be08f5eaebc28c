"""Random sculptures whose electrical faults are known to the millimetre, as rasters.

Drawn like those of `invent`, but over two to four lumps in a row, and with shorts of one light, of a
group or of the pack, several at a time. A truth says where the dough that should not be there lies,
and what every LED does once it is gone (after `physics`, not after the package `circuit`).
Seeds 0 to 9999 are for choosing, 10000 to 19999 for judging.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import networkx as nx
import numpy as np
from scipy import ndimage

from sample_images.studio.colours import pick_colours
from sample_images.studio.invent import Draft, decorate, small_blob
from sample_images.studio.invention import Invention, Lamp, Rod, Stuff, bodies_of, entries_of, lumps_of
from sample_images.studio.outlines import coil, side_by_side, split
from sample_images.studio.raster import CELL_MM, Labels, Point, Rng, grid
from sample_images.studio.scene_files import currents_A
from sample_images.studio.seams import (
    Opening,
    Pair,
    Seams,
    find_seams,
    find_spot,
    is_met,
    opening_at,
    shortest_is_there,
    side_at,
    slit_of,
)
from sample_images.studio.wiring import far_inside, lamps_astride, pack, rods_in, running_off, things, towards

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
ATTEMPTS = 150
BRIGHT_A = 7e-3
"""Well above what counts as bright, so that both sets of LED values agree (estimated)."""
DIM_A = (0.8e-3, 3.5e-3)
"""Well within what counts as dim (estimated)."""
SPECK_MM2 = 4.0
"""Nobody lays a smaller piece (estimated)."""
CLEAR_MM = 5.0
"""No LED stands nearer to an opening (estimated)."""


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


@dataclass(frozen=True)
class _Plan:
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
    stages = _stage_count(rng, scenario)
    sides = _outline(rng, scenario, stages)
    if not stages < sides.max() < 16:
        return None
    seams = find_seams(sides)
    plan = _plan(rng, scenario, kind, stages, seams)
    if plan is None:
        return None
    openings = _openings(rng, seams, plan)
    if openings is None:
        return None
    kinds, walls = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    colours = pick_colours(rng, kinds + walls, table, rng.uniform(7, 34))
    doughs = tuple(Stuff(f"dough{i + 1}", c, i < kinds) for i, c in enumerate(colours))
    blank = np.zeros(X.shape, np.uint8)
    draft = Draft(rng, X, Y, sides, seams.away, kinds, walls, blank, blank.copy())
    whole = _lay(draft, seams, openings)
    decorate(draft)
    mended = draft.labels.copy()
    for opening in openings:
        _fill(draft, seams, opening, whole)
    fitted = _fit(rng, draft, seams, plan, openings, mended)
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


# ---------------------------------------------------------------- what is planned


def _stage_count(rng: Rng, scenario: str) -> int:
    if scenario in ("whole", "good-abreast"):
        return 1
    if scenario in ("good-row",):
        return 2
    if scenario in ("one-of-row", "group-of-row", "two-apart"):
        return int(rng.integers(2, 4))
    return int(rng.integers(1, 4)) if scenario in ("two-same", "with-backwards", "wire") else 1


def _outline(rng: Rng, scenario: str, stages: int) -> "np.ndarray[tuple[int, ...], np.dtype[np.int32]]":
    X, Y = grid()
    size = rng.uniform(20, 42)
    if scenario == "good-wound" or rng.random() < 0.15:
        return coil(rng, X, Y, size, stages + 1)
    outline = side_by_side if rng.random() < 0.4 else split
    return outline(rng, X, Y, size, stages + 1 + int(rng.random() < 0.4))[0]


def _plan(rng: Rng, scenario: str, kind: str, stages: int, seams: Seams) -> _Plan | None:
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
    return _Plan(way, tuple(leds), tuple(shorts), scenario == "with-backwards", wire)


def _openings(rng: Rng, seams: Seams, plan: _Plan) -> list[Opening] | None:
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


# ---------------------------------------------------------------- how it is laid


def _lay(draft: Draft, seams: Seams, openings: Sequence[Opening]) -> Labels:
    """Lumps, their patches of other colours, and every seam as a gap or a wall; the dough without seams."""
    rng = draft.rng
    same = rng.random() < 0.4
    for i in range(1, int(seams.sides.max()) + 1):
        here = seams.sides == i
        draft.put(here, 1 if same else 1 + int(rng.integers(0, draft.kinds)), i)
        for _ in range(int(rng.integers(0, 3)) if draft.kinds > 1 else 0):
            ys, xs = np.nonzero(here)
            pick = int(rng.integers(len(ys)))
            at = draft.place(int(ys[pick]), int(xs[pick]))
            patch = small_blob(draft, at, rng.uniform(4, 12)) & here
            draft.labels[patch] = 1 + int(rng.integers(0, draft.kinds))
    whole = draft.labels.copy()
    walled = rng.random() < 0.6
    wall = draft.any_wall()
    for pair in _pairs(seams):
        here = [o for o in openings if o.pair == pair]
        as_wall = here[0].kind in WALLED if here else (walled if rng.random() < 0.7 else rng.random() < 0.5)
        half = here[0].half_mm if here else rng.uniform(1.2, 3.2) if as_wall else rng.uniform(0.7, 2.5)
        half = max([half, *(o.half_mm for o in here)])
        ends = any(o.kind == "short-round-the-end" for o in here)
        outside = rng.uniform(0, 4) if as_wall and not ends and rng.random() < 0.5 else 0.0
        slit = slit_of(rng, seams, pair, half, here, outside)
        draft.put(slit, wall if as_wall else 0, 100 if as_wall else 0)
    _sweep(draft)
    return whole


def _sweep(draft: Draft) -> None:
    """Specks of dough that seams left become what lies round them."""
    for dough in range(1, draft.kinds + 1):
        count, parts, stats, _ = cv2.connectedComponentsWithStats((draft.labels == dough).astype(np.uint8))
        small = stats[:, cv2.CC_STAT_AREA] * CELL_MM**2 < SPECK_MM2
        speck = small[parts] & (draft.labels == dough)
        if count > 1 and speck.any():
            row, col = ndimage.distance_transform_edt(speck, return_distances=False, return_indices=True)
            draft.labels[speck] = draft.labels[row, col][speck]
            draft.solid[speck] = draft.solid[row, col][speck]


def _fill(draft: Draft, seams: Seams, opening: Opening, whole: Labels) -> None:
    """Dough where a seam should be: that of the two lumps, or a strip of any colour laid across."""
    rng, where = draft.rng, opening.where
    own = rng.random() < 0.6
    strip = opening.kind == "short-bridge" or not own or rng.random() < 0.3
    draft.labels[where] = whole[where] if own else int(rng.integers(1, draft.kinds + 1))
    draft.solid[where] = seams.sides[where]
    if strip:  # it lies on a little of both lumps
        grown = cv2.dilate(where.astype(np.uint8), np.ones((15, 15), np.uint8)) > 0
        ends = grown & seams.of(opening.pair) & np.isin(draft.solid, opening.pair)
        draft.solid[where | ends] = 101


def _pairs(seams: Seams) -> list[Pair]:
    """All pairs of sides that meet anywhere, however short."""
    met = np.unique(seams.pair[(seams.sides > 0) & (seams.away < 1.6 * CELL_MM)])
    return [(int(k) // 16, int(k) % 16) for k in met]


def _fit(
    rng: Rng, draft: Draft, seams: Seams, plan: _Plan, openings: Sequence[Opening], mended: Labels
) -> tuple[tuple[Lamp, ...], tuple[Rod, ...]] | None:
    """LEDs across every step of the way, and the leads; None without room."""
    conductive = (mended > 0) & (mended <= draft.kinds)
    room = np.asarray(far_inside(conductive), np.float32)
    clear = np.ones(conductive.shape, bool)
    for o in openings:
        clear &= np.hypot(draft.X - o.spot[0], draft.Y - o.spot[1]) > o.reach_mm + CLEAR_MM
        room[np.hypot(draft.X - o.spot[0], draft.Y - o.spot[1]) < o.reach_mm + 0.5 * CLEAR_MM] = 0
    lamps: list[Lamp] = []
    for count, here, there in zip(plan.leds, plan.way, plan.way[1:], strict=False):
        pair = (min(here, there), max(here, there))
        found = lamps_astride(rng, conductive, seams.sides, room, seams.of(pair) & clear, count, lamps)
        astride = [m for m in found if {side_at(seams, m.long), side_at(seams, m.short)} == {here, there}]
        if len(astride) < (count if len(plan.leds) > 1 or plan.flip else 1):
            return None
        lamps += [towards(m, here, seams.sides) for m in astride]
    rods = rods_in(rng, room, seams.sides, (plan.way[0], plan.way[-1]), lamps)
    if not rods:
        return None
    tint = [str(rng.choice(["red", "blue"])) for _ in lamps]
    lamps = [replace(m, colour=c) for m, c in zip(lamps, tint, strict=True)] if len(plan.leds) > 1 else lamps
    if plan.flip:
        which = int(rng.integers(len(lamps)))
        lamps[which] = replace(lamps[which], long=lamps[which].short, short=lamps[which].long)
    return tuple(lamps), rods


# ---------------------------------------------------------------- what is true of it


def _checked(
    rng: Rng,
    made: Invention,
    scenario: str,
    seams: Seams,
    plan: _Plan,
    openings: Sequence[Opening],
    mended: Labels,
) -> Known | None:
    """The sculpture with its truth; None when it is not what was planned, or has no single truth."""
    whole = replace(made, labels=mended, lump_of={})
    whole.lump_of.update(lumps_of(whole))
    places = entries_of(made)
    own = {name: side_at(seams, at) for name, at in places.items()}
    for given in ((), *((o,) for o in openings), tuple(openings)):
        labels = mended.copy()
        for o in given:
            labels[o.where] = made.labels[o.where]
        if not _same_groups(replace(made, labels=labels), {n: _with(given, s) for n, s in own.items()}):
            return None
    conductive = (made.labels > 0) & (made.labels <= sum(d.conducts for d in made.doughs))
    sides_of = {places[name]: side for name, side in own.items()}
    if plan.flip and openings and openings[0].pair not in plan.stages:
        return None
    sound = (mended > 0) & (mended <= sum(d.conducts for d in made.doughs))
    if not all(is_met(seams, sound, opening) for opening in openings):
        return None
    for pair in {o.pair for o in openings}:
        if not shortest_is_there(seams, conductive, openings, pair, sides_of):
            return None
    fixed = replace(whole, lamps=tuple(_forwards(m, plan, seams) for m in made.lamps))
    fixed.lump_of.update(lumps_of(fixed))
    battery = BATTERIES[int(rng.integers(len(BATTERIES)))] if len(plan.leds) > 1 else BATTERIES[0]
    if scenario == "good-row":
        battery = BATTERIES[int(rng.choice([0, 2]))]
    then = currents_A(fixed, battery.emf_V, battery.ohm)
    least = min(flow for name, flow in then.items() if name != "pack")
    if least < BRIGHT_A and (len(plan.leds) == 1 or (scenario in GOOD and not DIM_A[0] < least < DIM_A[1])):
        return None
    allowed = () if least >= BRIGHT_A else ("too-many-in-a-row", "long-way")
    wires = _wires(rng, whole, seams, plan)
    if plan.wire is not None and not wires:
        return None
    faults = _faults(made, plan, seams, openings, wires)
    return Known(made.seed, scenario, made, battery, faults, allowed, mended, then, wires)


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


def _forwards(lamp: Lamp, plan: _Plan, seams: Seams) -> Lamp:
    """The LED as it should stand."""
    order = {side: i for i, side in enumerate(plan.way)}
    a, b = order[side_at(seams, lamp.long)], order[side_at(seams, lamp.short)]
    return lamp if a < b else replace(lamp, long=lamp.short, short=lamp.long)


def _wires(rng: Rng, whole: Invention, seams: Seams, plan: _Plan) -> tuple[Wire, ...]:
    """The wire of the plan, its ends away from legs and leads."""
    if plan.wire is None:
        return ()
    conductive = (whole.labels > 0) & (whole.labels <= sum(d.conducts for d in whole.doughs))
    room = far_inside(conductive)
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
    made: Invention, plan: _Plan, seams: Seams, openings: Sequence[Opening], wires: Sequence[Wire]
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

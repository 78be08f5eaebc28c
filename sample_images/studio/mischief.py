"""What goes wrong with a sculpture that works, as a child would do it: each fault is a small change, as data.

Notation: H, W pixels of the label raster; places in pixels.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from api.part_schemas import PartEntry
from api.schemas import Case
from sample_images.studio.faults import Known
from sample_images.studio.hand_over import label_raster
from sample_images.studio.raster import Rng
from sample_images.studio.spice import Point, Raster, cell_at, conducts, doughs, entries_of_case, px_mm

Mask = NDArray[np.bool_]

CLEAR_MM = 3.0
"""Nothing is put nearer to another leg or lead."""
BESIDE_MM = {"leg": (1.9, 6.0), "lead": (3.7, 8.0)}
"""How far beside its lump a leg or lead may lie. Nearer, nobody could tell from above (estimated)."""
IN_WALL_MM = 1.1
DEEP_MM = 1.8
LED_MM = 30.0
"""Legs of an LED reach no further apart (estimated)."""
SPECK_MM2 = 25.0
"""Both parts of a torn lump are larger."""


@dataclass(frozen=True, eq=False)
class Change:
    """One fault: what it is called, the parts it is about, its place, and all that is changed by it.

    where, dough (H, W): cells that change, and their labels then
    """

    kind: str
    parts: tuple[str, ...]
    at: Point
    entries: Mapping[str, Point] = field(default_factory=dict)
    where: Mask | None = None
    dough: Raster | None = None
    wire: PartEntry | None = None


Trick = Callable[[Rng, Known, Case, Raster], Change | None]


def changed(case: Case, raster: Raster, change: Change) -> tuple[Case, Raster]:
    """The sculpture with a fault."""
    if change.where is not None and change.dough is not None:
        raster = np.where(change.where, change.dough, raster)
    case = placed(case, change.entries)
    if change.wire is not None:
        case = case.model_copy(update={"parts": (*case.parts, change.wire)})
    return case, raster


def placed(case: Case, entries: Mapping[str, Point]) -> Case:
    """The case with legs, leads or ends of parts elsewhere."""
    if case.pack is None:
        raise ValueError("the case has no pack")
    at = entries_of_case(case) | dict(entries)
    pack = case.pack.model_copy(update={"plus": at["pack.plus"], "minus": at["pack.minus"]})
    leds = tuple(
        led.model_copy(update={"long_leg": at[f"{led.id}.long"], "short_leg": at[f"{led.id}.short"]})
        for led in case.leds
    )
    parts = tuple(
        part.model_copy(update={"a": at[f"{part.id}.a"], "b": at[f"{part.id}.b"]}) for part in case.parts
    )
    return case.model_copy(update={"pack": pack, "leds": leds, "parts": parts})


# ---------------------------------------------------------------- shorts


def short(made: Known, index: int) -> Change:
    """One of the openings of a known sculpture."""
    openings = [fault for fault in made.faults if fault.opening is not None]
    fault = openings[index]
    assert fault.opening is not None
    where = label_raster(fault.opening.where.astype(np.uint8)) > 0
    ys, xs = np.nonzero(where)
    at = (float(xs.mean()) + 0.5, float(ys.mean()) + 0.5)
    return Change(fault.codes[0], (), at, where=where, dough=label_raster(made.made.labels))


def wire(rng: Rng, _: Known, case: Case, raster: Raster) -> Change | None:
    """A wire, or a switch that is on, between two lumps."""
    bodies, room, own = _lumps(case, raster)
    lumps = sorted({body for body in own.values() if body})
    if len(lumps) < 2:
        return None
    ends = []
    for lump in rng.choice(lumps, 2, replace=False):
        spot = _pick(rng, _clear(case, (bodies == lump) & (room > DEEP_MM)))
        if spot is None:
            return None
        ends.append(spot)
    (a, b), kind = ends, str(rng.choice(["wire", "switch"]))
    told = {"id": f"W{len(case.parts) + 1}", "kind": kind, "a": a, "b": b}
    part = PartEntry.model_validate(told)
    return Change("short-wire", (part.id,), ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), wire=part)


# ---------------------------------------------------------------- legs and leads


def led_backwards(rng: Rng, _: Known, case: Case, __: Raster) -> Change:
    """One LED turned round, or several."""
    count = 1 if len(case.leds) < 2 or rng.random() < 0.6 else int(rng.integers(2, len(case.leds) + 1))
    which = sorted(rng.choice(len(case.leds), count, replace=False))
    entries: dict[str, Point] = {}
    for led in (case.leds[i] for i in which):
        entries |= {f"{led.id}.long": led.short_leg, f"{led.id}.short": led.long_leg}
    first = case.leds[which[0]]
    return Change("led-backwards", tuple(case.leds[i].id for i in which), first.long_leg, entries)


def leads_swapped(_: Rng, __: Known, case: Case, ___: Raster) -> Change:
    """The red lead where the black one should be, and the other way round."""
    at = entries_of_case(case)
    swapped = {"pack.plus": at["pack.minus"], "pack.minus": at["pack.plus"]}
    return Change("leads-swapped", ("pack",), at["pack.plus"], swapped)


def leg_out(rng: Rng, _: Known, case: Case, raster: Raster) -> Change | None:
    """A leg or a lead on the table, a few mm beside its lump."""
    name = _any_entry(rng, case, leads=0.3)
    bodies, _room, own = _lumps(case, raster)
    near, far = BESIDE_MM["lead" if name.startswith("pack.") else "leg"]
    free = (raster == 0) & (_away(raster > 0, case) > near)
    beside = _away(bodies == own[name], case)
    others = _away(conducts(case, raster) & (bodies != own[name]), case)
    return _moved(rng, case, name, free & (beside < far) & (beside < others), "leg-out")


def leg_in_insulator(rng: Rng, _: Known, case: Case, raster: Raster) -> Change | None:
    """A leg in a wall."""
    name = _any_entry(rng, case, leads=0.0)
    wall = (raster > 0) & ~conducts(case, raster)
    return _moved(rng, case, name, _inside(wall, case) > IN_WALL_MM, "leg-in-insulator", clear_mm=2.0)


def legs_in_one_lump(rng: Rng, _: Known, case: Case, raster: Raster) -> Change | None:
    """A leg in the lump of the other leg."""
    name = _any_entry(rng, case, leads=0.0)
    bodies, room, own = _lumps(case, raster)
    led, _dot, leg = name.partition(".")
    there = own[f"{led}.{'short' if leg == 'long' else 'long'}"]
    if not there or there == own[name]:
        return None
    return _moved(rng, case, name, (bodies == there) & (room > DEEP_MM), "legs-in-one-lump")


def leads_in_one_lump(rng: Rng, _: Known, case: Case, raster: Raster) -> Change | None:
    """A lead in the lump of the other lead."""
    name, other = rng.permutation(["pack.plus", "pack.minus"])
    bodies, room, own = _lumps(case, raster)
    if not own[other] or own[other] == own[name]:
        return None
    wanted = (bodies == own[other]) & (room > DEEP_MM)
    return _moved(rng, case, str(name), wanted, "leads-in-one-lump", clear_mm=4.0)


def _any_entry(rng: Rng, case: Case, leads: float) -> str:
    """A lead with this chance, else a leg."""
    if rng.random() < leads:
        return str(rng.choice(["pack.plus", "pack.minus"]))
    led = case.leds[int(rng.integers(len(case.leds)))]
    return f"{led.id}.{rng.choice(['long', 'short'])}"


def _moved(
    rng: Rng, case: Case, name: str, wanted: Mask, kind: str, clear_mm: float = CLEAR_MM
) -> Change | None:
    """The entry at one of the nearer places that are wanted."""
    at = entries_of_case(case)
    led, _, leg = name.partition(".")
    other = at.get(f"{led}.{ {'long': 'short', 'short': 'long'}.get(leg, '') }")
    h = px_mm(case)
    free = _clear(case, wanted, clear_mm, but=name)
    if other is not None and len(free):
        free = free[np.hypot(*(free - other).T) * h < LED_MM]
    if not len(free):
        return None
    away = np.hypot(*(free - at[name]).T) * h + rng.uniform(0, 5, len(free))
    best = free[int(np.argmin(away))]
    spot = (float(best[0]), float(best[1]))
    return Change(kind, (name,), spot, {name: spot})


# ---------------------------------------------------------------- a torn lump


def gap_in_lump(rng: Rng, _: Known, case: Case, raster: Raster) -> Change | None:
    """A lump torn in two between two things that go into it."""
    bodies, _room, own = _lumps(case, raster)
    at = entries_of_case(case)
    lumps = [body for body in set(own.values()) if body and list(own.values()).count(body) > 1]
    if not lumps:
        return None
    body = int(rng.choice(sorted(lumps)))
    one, other = rng.choice([name for name in own if own[name] == body], 2, replace=False)
    p, q = np.array(at[one]), np.array(at[other])
    middle = p + rng.uniform(0.3, 0.7) * (q - p)
    turn = float(np.arctan2(*(q - p)[::-1])) + rng.uniform(-0.5, 0.5)
    half, h = rng.uniform(0.5, 2.0), px_mm(case)
    rows, cols = np.ogrid[: raster.shape[0], : raster.shape[1]]
    x, y = (cols + 0.5 - middle[0]) * h, (rows + 0.5 - middle[1]) * h
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    lean = rng.uniform(0.3, 1.2) * np.sin(v / rng.uniform(3, 8) + rng.uniform(0, 6.3))
    where = (np.abs(u - lean) < half) & (bodies == body)
    if not _tears_in_two(where, bodies == body, h) or _near_entries(case, where):
        return None
    return Change("gap-in-lump", (), (float(middle[0]), float(middle[1])), where=where,
                  dough=np.zeros_like(raster))  # fmt: skip


def _tears_in_two(where: Mask, lump: Mask, h: float) -> bool:
    """Whether one tear makes two large parts of a lump and nothing else."""
    count, _, stats, _ = cv2.connectedComponentsWithStats((lump & ~where).astype(np.uint8), connectivity=4)
    tears = cv2.connectedComponents(where.astype(np.uint8), connectivity=8)[0] - 1
    return count == 3 and tears == 1 and stats[1:, cv2.CC_STAT_AREA].min() * h * h > SPECK_MM2


def _near_entries(case: Case, where: Mask) -> bool:
    away = _away(where, case)
    cells = [cell_at(at, where.shape) for at in entries_of_case(case).values()]
    return any(cell is not None and away[cell] < 1.5 for cell in cells)


# ---------------------------------------------------------------- places


def _lumps(case: Case, raster: Raster) -> tuple[NDArray[np.int32], NDArray[np.float32], dict[str, int]]:
    """Bodies of conductive dough (H, W), mm inside them (H, W), and the body of every entry."""
    dough = conducts(case, raster)
    bodies = np.asarray(cv2.connectedComponents(dough.astype(np.uint8), connectivity=4)[1], np.int32)
    own = {
        name: int(bodies[cell_at(at, raster.shape) or (0, 0)]) for name, at in entries_of_case(case).items()
    }
    return bodies, _inside(dough, case), own


def _inside(mask: Mask, case: Case) -> NDArray[np.float32]:
    return np.asarray(cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) * px_mm(case), np.float32)


def _away(mask: Mask, case: Case) -> NDArray[np.float32]:
    """Distance (H, W) in mm to a mask; far where it is empty."""
    return _inside(~mask, case) if mask.any() else np.full(mask.shape, 1e3, np.float32)


def _clear(case: Case, mask: Mask, clear_mm: float = CLEAR_MM, but: str = "") -> NDArray[np.float64]:
    """Places (n, 2) of a mask that are clear of all entries but one."""
    rows, cols = np.nonzero(mask)
    found = np.stack([cols + 0.5, rows + 0.5], axis=1)
    for name, at in entries_of_case(case).items():
        if name != but:
            found = found[np.hypot(*(found - at).T) * px_mm(case) > clear_mm]
    return found


def _pick(rng: Rng, places: NDArray[np.float64]) -> Point | None:
    if not len(places):
        return None
    x, y = places[int(rng.integers(len(places)))]
    return float(x), float(y)


OTHERS: Mapping[str, Trick] = {
    "short-wire": wire,
    "led-backwards": led_backwards,
    "leads-swapped": leads_swapped,
    "leg-out": leg_out,
    "leg-in-insulator": leg_in_insulator,
    "legs-in-one-lump": legs_in_one_lump,
    "leads-in-one-lump": leads_in_one_lump,
    "gap-in-lump": gap_in_lump,
}
"""All faults but shorts by dough, which `faults` makes, and rows too long for the pack."""


def wall_label(case: Case) -> int:
    """Label of the first insulating dough, 0 without any."""
    return next((i for i, d in enumerate(doughs(case), start=1) if d.role == "insulating"), 0)

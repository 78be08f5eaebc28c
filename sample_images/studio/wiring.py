"""LEDs, leads, pack and other things on and beside an invented sculpture."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.colours import dough_colour
from sample_images.studio.invention import Lamp, Rod, Thing
from sample_images.studio.raster import (
    CELL_MM,
    HALF_X_MM,
    HALF_Y_MM,
    Floats,
    Labels,
    Mask,
    Point,
    Rng,
    bent,
    cell_clip,
    cell_of,
    point,
)

LEGS_APART_MM = 2.5
"""Two legs nearer than this would touch each other."""


def wire(
    rng: Rng, labels: Labels, sides: NDArray[np.int32], kinds: int, fault: str
) -> tuple[tuple[Lamp, ...], tuple[Rod, ...]] | None:
    """LEDs and leads of a circuit that works but for its fault; None when there is no room.

    `sides` (R, C): ids of the parts that seams make of the outline; doughs 1 to `kinds` conduct.
    """
    conductive = (labels > 0) & (labels <= kinds)
    room = np.asarray(far_inside(conductive), np.float32)
    lamps = lamps_astride(rng, conductive, sides, room)
    chosen = _chain(lamps, sides) if fault == "too-many-in-a-row" else _abreast(lamps, sides)
    if chosen is None or (fault == "led-backwards" and len(chosen[2]) < 2):
        return None
    plus, minus, lamps = chosen
    if fault == "led-backwards":
        which = int(rng.integers(len(lamps)))
        lamps[which] = replace(lamps[which], long=lamps[which].short, short=lamps[which].long)
    if fault in ("leg-out", "leg-in-insulator"):
        lamps[-1] = _misplaced(rng, lamps[-1], labels == 0 if fault == "leg-out" else labels > kinds)
    rods = rods_in(rng, room, sides, (plus, minus), lamps)
    return (tuple(lamps), rods) if rods else None


def far_inside(mask: Mask) -> Floats:
    """Distance (R, C) in mm to the nearest cell that is not in the mask."""
    return np.asarray(cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) * CELL_MM, np.float32)


def _pairs(lamps: Sequence[Lamp], sides: NDArray[np.int32]) -> list[tuple[int, int]]:
    """The two sides of each LED, lower first."""
    pairs = [(int(sides[cell_clip(m.long)]), int(sides[cell_clip(m.short)])) for m in lamps]
    return [(min(p), max(p)) for p in pairs]


def towards(lamp: Lamp, plus: int, sides: NDArray[np.int32]) -> Lamp:
    """The LED with its long leg on the side `plus`."""
    if sides[cell_clip(lamp.long)] == plus:
        return lamp
    return replace(lamp, long=lamp.short, short=lamp.long)


def _abreast(lamps: Sequence[Lamp], sides: NDArray[np.int32]) -> tuple[int, int, list[Lamp]] | None:
    """Plus and minus side, and the LEDs across the two sides that most LEDs span, all the right way."""
    pairs = _pairs(lamps, sides)
    if not pairs:
        return None
    best = max(set(pairs), key=lambda p: (pairs.count(p), p))
    plus, minus = best if sides[cell_clip(lamps[0].long)] != best[1] else best[::-1]
    return plus, minus, [towards(m, plus, sides) for m, p in zip(lamps, pairs, strict=True) if p == best]


def _chain(lamps: Sequence[Lamp], sides: NDArray[np.int32]) -> tuple[int, int, list[Lamp]] | None:
    """Plus and minus side that no LED joins directly, and the LEDs to and from a side between them."""
    pairs = _pairs(lamps, sides)
    for middle in sorted({side for pair in pairs for side in pair}):
        ends = sorted({side for pair in pairs for side in pair if middle in pair} - {middle})
        if len(ends) < 2:
            continue
        plus, minus = ends[:2]
        known = list(zip(lamps, pairs, strict=True))
        first = [towards(m, plus, sides) for m, p in known if {*p} == {plus, middle}]
        then = [towards(m, middle, sides) for m, p in known if {*p} == {middle, minus}]
        return plus, minus, first + then
    return None


def lamps_astride(
    rng: Rng,
    conductive: Mask,
    sides: NDArray[np.int32],
    room: Floats,
    within: Mask | None = None,
    most: int | None = None,
    others: Sequence[Lamp] = (),
) -> list[Lamp]:
    """LEDs astride the narrow places between two sides, none in the way of `others`.

    `within` (R, C): where their middles may be; `most`: how many, by default at random.
    """
    gap = far_inside(~conductive)
    ridge = (gap > 0.2) & (gap < 5.5) & (True if within is None else within)
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (25, 25))
    coarse = conductive[1::3, 1::3].astype(np.uint8)
    closed = cv2.resize(cv2.morphologyEx(coarse, cv2.MORPH_CLOSE, brush), conductive.shape[::-1])
    ys, xs = np.nonzero(ridge & (closed > 0))
    out = list(others)
    most = most or int(rng.integers(2, 6))
    for _ in range(80 if len(ys) else 0):
        pick = int(rng.integers(len(ys)))
        at = np.array([(xs[pick] + 0.5) * CELL_MM - HALF_X_MM, (ys[pick] + 0.5) * CELL_MM - HALF_Y_MM])
        if any(np.hypot(*(at - np.array(lamp.base))) < 9 for lamp in out):
            continue
        feet = _astride(rng, at, sides, room)
        legs = [np.array(foot) for lamp in out for foot in (lamp.long, lamp.short)]
        if feet is None or any(np.hypot(*(foot - leg)) < LEGS_APART_MM for foot in feet for leg in legs):
            continue
        lamp = _lamp(rng, *feet)
        if any(_collide(lamp, other) for other in out):
            continue
        out.append(lamp)
        if len(out) == len(others) + most:
            break
    return out[len(others) :]


def _collide(one: Lamp, other: Lamp) -> bool:
    """Whether two LEDs would stand or lie in each other."""
    apart = one.radius_mm + other.radius_mm + 0.5
    spots = [[np.array(m.base) + t * np.subtract(m.head, m.base) for t in (0, 0.5, 1)] for m in (one, other)]
    return any(float(np.hypot(*(p - q))) < apart for p in spots[0] for q in spots[1])


def _astride(
    rng: Rng, at: NDArray[np.float64], sides: NDArray[np.int32], room: Floats
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Feet on two sides of a place, each at least 1.2 mm inside the dough."""
    first = rng.uniform(0, np.pi)
    for k in range(12):
        turn = first + k * np.pi / 12
        way = np.array([np.cos(turn), np.sin(turn)])
        p, q = (_foothold(rng, at, sign * way, room) for sign in (-1, 1))
        if p is None or q is None:
            continue
        one, other = sides[cell_clip((p[0], p[1]))], sides[cell_clip((q[0], q[1]))]
        if one > 0 and other > 0 and one != other:
            return p, q
    return None


def _foothold(
    rng: Rng, at: NDArray[np.float64], way: NDArray[np.float64], room: Floats
) -> NDArray[np.float64] | None:
    """The first place that way with dough enough round it."""
    for far in np.arange(2.5, 11, 0.7):
        p = at + far * way
        if room[cell_clip((p[0], p[1]))] > 1.6:
            p = p + way * rng.uniform(0, 1.5)
            return p if room[cell_clip((p[0], p[1]))] > 1.2 else None
    return None


def _lamp(rng: Rng, p: NDArray[np.float64], q: NDArray[np.float64]) -> Lamp:
    if rng.random() < 0.5:
        p, q = q, p
    middle = (p + q) / 2 + rng.normal(0, 0.8, 2)
    radius = float(rng.choice([1.5, 2.5, 2.5, 2.5, 5.0]))
    side = (q - p) / max(np.hypot(*(q - p)), 1e-6)
    across = np.array([-side[1], side[0]]) * rng.choice([-1, 1])
    lean = rng.uniform(0, 3) if rng.random() < 0.4 else rng.uniform(3.5, 6.2)
    lean *= (radius / 2.5) ** 0.75
    head = middle + lean * (across + rng.normal(0, 0.15) * side)
    colour = str(rng.choice(["red", "green", "blue", "yellow", "white", "orange"]))
    lit = str(rng.choice(["off", "off", "dim", "bright"]))
    return Lamp(colour, point(p), point(q), point(middle), point(head), radius, lit)


def _misplaced(rng: Rng, lamp: Lamp, wanted: Mask) -> Lamp:
    """The LED with its long leg moved to where it is wanted, if that is near."""
    room = far_inside(wanted)
    ys, xs = np.nonzero(room > 1.2)
    if not len(ys):
        return lamp
    x = (xs + 0.5) * CELL_MM - HALF_X_MM
    y = (ys + 0.5) * CELL_MM - HALF_Y_MM
    d = np.hypot(x - lamp.long[0], y - lamp.long[1]) + rng.uniform(0, 3, len(x))
    best = int(np.argmin(d))
    return lamp if d[best] > 16 else replace(lamp, long=(float(x[best]), float(y[best])))


def rods_in(
    rng: Rng, room: Floats, sides: NDArray[np.int32], wanted: tuple[int, int], lamps: Sequence[Lamp]
) -> tuple[Rod, ...]:
    """The red and the black lead in the two wanted sides, coming from outside; none without room."""
    out: list[Rod] = []
    away = rng.uniform(0, 2 * np.pi)
    legs = [foot for lamp in lamps for foot in (lamp.long, lamp.short)]
    for red, side in zip((True, False), wanted, strict=True):
        ys, xs = np.nonzero((room > 1.8) & (room < 9) & (sides == side))
        if len(ys) < 10:
            return ()
        for _ in range(40):
            pick = int(rng.integers(len(ys)))
            at = np.array([(xs[pick] + 0.5) * CELL_MM - HALF_X_MM, (ys[pick] + 0.5) * CELL_MM - HALF_Y_MM])
            if all(np.hypot(*(at - np.array(o))) > 4 for o in [rod.at for rod in out] + legs):
                break
        else:
            return ()
        out.append(_rod(rng, at, away, red))
    return tuple(out)


def _rod(rng: Rng, at: NDArray[np.float64], away: float, red: bool) -> Rod:
    """A lead that goes in at a place; its wire wanders off towards the angle `away`."""
    turn = float(np.arctan2(at[1], at[0]) + rng.normal(0, 0.9))
    way = np.array([np.cos(turn), np.sin(turn)])
    rod = at + way * rng.uniform(0.5, 12)
    sleeve = rod + way * rng.uniform(2, 9)
    points = [sleeve]
    goal = np.array([np.cos(away), np.sin(away)]) * 75
    for _ in range(3):
        aim = np.arctan2(*(goal - points[-1])[::-1])
        turn = turn + 0.5 * np.arctan2(np.sin(aim - turn), np.cos(aim - turn)) + rng.normal(0, 0.7)
        points.append(points[-1] + rng.uniform(8, 24) * np.array([np.cos(turn), np.sin(turn)]))
    points.append(goal + rng.normal(0, 6, 2))
    wire_ = tuple(bent([(float(x), float(y)) for x, y in points]))
    return Rod(point(at), point(rod), point(sleeve), wire_, red)


def pack(rng: Rng, rods: Sequence[Rod]) -> tuple[Point, float, float, float] | None:
    """Middle, half sides and turn of the pack, at the far ends of the wires."""
    if rng.random() < 0.3:
        return None
    end = np.mean([rod.wire[-1] for rod in rods], axis=0)
    return (float(end[0]), float(end[1])), rng.uniform(18, 33), rng.uniform(18, 33), rng.uniform(0, np.pi)


def running_off(rod: Rod) -> Rod:
    """The lead with its wire going on out of any picture, to a pack that nobody sees."""
    end = np.array(rod.wire[-1])
    return replace(rod, wire=(*rod.wire, point(end / np.hypot(*end) * 320)))


def things(rng: Rng, labels: Labels) -> list[Thing]:
    """Other things: crumbs, toys, paper, a pencil, fingers."""
    out = []
    for _ in range(rng.integers(0, 4)):
        at = np.array([rng.uniform(-70, 70), rng.uniform(-60, 60)])
        row, col = cell_of((at[0], at[1]))
        if labels[row, col] > 0:
            continue
        count, r = int(rng.integers(3, 11)), rng.choice([rng.uniform(0.8, 2.5), rng.uniform(3, 14)])
        turn = np.sort(rng.uniform(0, 2 * np.pi, count))
        rim = at + np.stack([np.cos(turn), np.sin(turn)], 1) * r * rng.uniform(0.5, 1.2, count)[:, None]
        free = np.array([[0 if labels[cell_clip((x, y))] == 0 else 1] for x, y in rim])
        if free.any() or count < 3:
            continue
        out.append(Thing(tuple(point(v) for v in rim), dough_colour(rng), rng.uniform(0.2, 9), False))
    if rng.random() < 0.16:
        out += _fingers(rng)
    return out


def _fingers(rng: Rng) -> list[Thing]:
    """One to three fingers that reach in from outside and may lie on the dough."""
    tone = rng.uniform(0, 1)
    skin = (0.10 + 0.62 * tone, 0.05 + 0.36 * tone, 0.03 + 0.25 * tone)
    turn = rng.uniform(0, 2 * np.pi)
    out = []
    for i in range(rng.integers(1, 4)):
        way = np.array([np.cos(turn + 0.12 * i), np.sin(turn + 0.12 * i)])
        side = np.array([-way[1], way[0]])
        tip = way * rng.uniform(22, 45) + side * (i * 15.0 - 10)
        r = rng.uniform(5.5, 8)
        round_ = [tip + r * (np.cos(a) * -way + np.sin(a) * side) for a in np.linspace(-1.4, 1.4, 9)]
        far = tip + way * 200
        near = tip + way * 12
        rim = [far - side * r, near - side * r, *round_, near + side * r, far + side * r]
        out.append(Thing(tuple((float(x), float(y)) for x, y in rim), skin, 14.0, True))
    return out

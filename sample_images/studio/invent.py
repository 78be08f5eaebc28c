"""Random sculptures with truth, as rasters: any number of them, each from its seed.

A sculpture is drawn in mm on a grid of `CELL_MM`; the table lies under all of it. What is drawn
here is only geometry; `quick` and `traced` make photos of it.

Notation: R, C cells (rows, columns); X, Y (R, C) mm, x to the right, y down, origin in the middle.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Labels = NDArray[np.uint8]
Point = tuple[float, float]
Rng = np.random.Generator

CELL_MM = 0.15
HALF_X_MM, HALF_Y_MM = 84.0, 72.0
FAULTS = (
    "none",
    "short-pressed-together",
    "short-bridge",
    "short-round-the-end",
    "short-over-the-wall",
    "near-touch",
    "thin-wall",
    "leg-out",
    "leg-in-insulator",
    "led-backwards",
    "too-many-in-a-row",
    "gap-in-lump",
)
"""What may be wrong with a sculpture, by the codes of the report."""


@dataclass(frozen=True)
class Stuff:
    """A dough: its linear colour (3,), whether it conducts."""

    name: str
    rgb: tuple[float, float, float]
    conducts: bool


@dataclass(frozen=True)
class Lamp:
    """An LED: feet of its legs, the middle of its base and of its head, radius [mm]."""

    colour: str
    long: Point
    short: Point
    base: Point
    head: Point
    radius_mm: float
    lit: str


@dataclass(frozen=True)
class Rod:
    """A lead: where it goes in, and the line of rod, sleeve and wire from there on [mm]."""

    at: Point
    rod_end: Point
    sleeve_end: Point
    wire: tuple[Point, ...]
    red: bool


@dataclass(frozen=True)
class Invention:
    """One sculpture.

    labels (R, C) uint8: 0 table, i the i-th of `doughs`, underneath whatever lies on top
    solid  (R, C) uint8: id of the body of dough that was shaped by itself, 0 none
    clumsy depth in mm of the creases between bodies that are pressed together
    """

    seed: int
    fault: str
    fault_at: Point | None
    doughs: tuple[Stuff, ...]
    labels: Labels
    solid: Labels
    lamps: tuple[Lamp, ...]
    rods: tuple[Rod, ...]
    pack: tuple[Point, float, float, float] | None
    things: tuple["Thing", ...]
    clumsy: float
    lump_of: dict[str, int | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Thing:
    """Something else on the table or on the dough: a closed outline [mm], colour, height [mm]."""

    outline: tuple[Point, ...]
    rgb: tuple[float, float, float]
    top_mm: float
    on_top: bool


def grid() -> tuple[Floats, Floats]:
    """X, Y (R, C) in mm of the cell centres."""
    x = np.arange(-HALF_X_MM, HALF_X_MM, CELL_MM, dtype=np.float32) + CELL_MM / 2
    y = np.arange(-HALF_Y_MM, HALF_Y_MM, CELL_MM, dtype=np.float32) + CELL_MM / 2
    gx, gy = np.meshgrid(x, y)
    return gx, gy


def cell_of(at: Point) -> tuple[int, int]:
    """Row and column of a place in mm."""
    return int((at[1] + HALF_Y_MM) / CELL_MM), int((at[0] + HALF_X_MM) / CELL_MM)


def to_cells(points: Sequence[Point]) -> NDArray[np.float32]:
    """Places (n, 2) as (column, row), cell centres at whole numbers."""
    p = np.asarray(points, np.float32).reshape(-1, 2)
    return np.stack([(p[:, 0] + HALF_X_MM) / CELL_MM - 0.5, (p[:, 1] + HALF_Y_MM) / CELL_MM - 0.5], 1)


def depth_of(mask: Mask) -> Floats:
    """Signed distance in mm to the rim of a mask, positive inside."""
    inside = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    outside = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5)
    return np.asarray((inside - outside) * CELL_MM, np.float32)


def smooth(rng: Rng, shape: tuple[int, int], size_mm: float, cell_mm: float = CELL_MM) -> Floats:
    """Noise (R, C) of about unit spread whose humps are `size_mm` wide."""
    step = max(1.0, size_mm / cell_mm / 2.5)
    rows, cols = (int(np.ceil(n / step)) + 4 for n in shape)
    small = cv2.GaussianBlur(rng.standard_normal((rows, cols)).astype(np.float32), (0, 0), 1.2)
    small /= small.std() + 1e-6
    size = (max(shape[1], int(cols * step)), max(shape[0], int(rows * step)))
    return np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_CUBIC)[: shape[0], : shape[1]])


# ---------------------------------------------------------------- silhouettes


def _blob(rng: Rng, at: Point, size_mm: float, X: Floats, Y: Floats, wild: float = 0.18) -> Mask:
    """A roundish or long body with a wavy rim."""
    turn, ratio = rng.uniform(0, np.pi), rng.uniform(0.45, 1.0)
    u = (X - at[0]) * np.cos(turn) + (Y - at[1]) * np.sin(turn)
    v = -(X - at[0]) * np.sin(turn) + (Y - at[1]) * np.cos(turn)
    angle = np.arctan2(v / ratio, u)
    rim = np.ones_like(angle)
    for k in range(2, 7):
        rim += rng.normal(0, wild / k) * np.cos(k * angle + rng.uniform(0, 2 * np.pi))
    power = rng.choice([2.0, 2.0, 3.5])
    r = (np.abs(u / size_mm) ** power + np.abs(v / size_mm / ratio) ** power) ** (1 / power)
    return np.asarray(r < rim)


def _rope(points: Sequence[Point], radius_mm: Sequence[float]) -> Mask:
    """A sausage along points with radii spread along it."""
    shape = grid_shape()
    out = np.zeros(shape, np.uint8)
    p = to_cells(points)
    r = np.interp(np.linspace(0, 1, len(p)), np.linspace(0, 1, len(radius_mm)), radius_mm)
    for (a, b), ra in zip(zip(p[:-1], p[1:], strict=True), r[:-1], strict=True):
        ends = [tuple(int(v * 16) for v in e) for e in (a, b)]
        cv2.line(out, ends[0], ends[1], 1, max(1, round(2 * ra / CELL_MM)), cv2.LINE_8, 4)
    return out.astype(bool)


def grid_shape() -> tuple[int, int]:
    """Rows and columns of the grid."""
    return round(2 * HALF_Y_MM / CELL_MM), round(2 * HALF_X_MM / CELL_MM)


def bent(points: Sequence[Point], steps: int = 10) -> list[Point]:
    """A smooth line through points (Catmull-Rom)."""
    p = np.array([points[0], *points, points[-1]], float)
    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    parts = [
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True)
    ]
    return [(float(x), float(y)) for x, y in np.vstack([*parts, p[-1:]])]


def _silhouette(rng: Rng, X: Floats, Y: Floats, size: float) -> Mask:
    """The outline of the whole: one to four blobs and limbs grown together."""
    at = (rng.uniform(-12, 12), rng.uniform(-10, 10))
    body = _blob(rng, at, size, X, Y)
    for _ in range(rng.integers(0, 4)):
        turn, far = rng.uniform(0, 2 * np.pi), size * rng.uniform(0.6, 1.0)
        to = (at[0] + far * np.cos(turn), at[1] + far * np.sin(turn))
        if rng.random() < 0.5:
            body |= _blob(rng, to, size * rng.uniform(0.25, 0.5), X, Y)
        else:
            tip = (to[0] + rng.normal(0, 9) + 10 * np.cos(turn), to[1] + rng.normal(0, 9) + 10 * np.sin(turn))
            body |= _rope(bent([at, to, tip]), (rng.uniform(5, 9), rng.uniform(3, 6)))
    soft = depth_of(body)
    return np.asarray(cv2.GaussianBlur(soft, (0, 0), 1.6 / CELL_MM) > 0)


# ---------------------------------------------------------------- seams


def _seam(rng: Rng, X: Floats, Y: Floats, size: float) -> Floats:
    """A field (R, C) in mm that is about the signed distance to a random seam."""
    if rng.random() < 0.22:
        at = (rng.normal(0, size * 0.25), rng.normal(0, size * 0.2))
        r = size * rng.uniform(0.28, 0.55)
        stretch = rng.uniform(0.75, 1.3)
        field = np.hypot((X - at[0]) * stretch, Y - at[1]) - r
        field = field + smooth(rng, X.shape, 14) * rng.uniform(0, 1.2)
        return np.asarray(field / max(stretch, 1.0), np.float32)
    turn = rng.uniform(0, np.pi)
    off = rng.normal(0, size * 0.28)
    u = X * np.cos(turn) + Y * np.sin(turn)
    v = -X * np.sin(turn) + Y * np.cos(turn) - off
    v = v + rng.uniform(0, 5) * np.sin(u / rng.uniform(9, 26) + rng.uniform(0, 6.3))
    v = v + rng.uniform(0, 1.0) * smooth(rng, X.shape, 9)
    dy, dx = np.gradient(cv2.GaussianBlur(v.astype(np.float32), (0, 0), 3), CELL_MM)
    return np.asarray(v / np.maximum(np.hypot(dx, dy), 0.6), np.float32)


# ---------------------------------------------------------------- colours


def _colour(rng: Rng) -> tuple[float, float, float]:
    """A dough colour, linear RGB: food dye in flour, so mostly light and not too saturated."""
    kind = rng.random()
    if kind < 0.14:  # undyed
        level = rng.uniform(0.55, 0.85)
        warm = rng.uniform(0.72, 1.0)
        return level, level * (0.5 + 0.5 * warm), level * warm * rng.uniform(0.75, 1.0)
    if kind < 0.24:  # brown, black, grey
        level = rng.uniform(0.02, 0.3)
        return level, level * rng.uniform(0.45, 1.0), level * rng.uniform(0.2, 1.0)
    hsv = np.array([[[rng.uniform(0, 360), rng.uniform(0.25, 0.95), rng.uniform(0.45, 1.0)]]], np.float32)
    srgb = cv2.cvtColor(hsv, cv2.COLOR_HSV2RGB)[0, 0]
    r, g, b = np.clip(srgb, 0.02, 1) ** 2.2
    return float(r), float(g), float(b)


def apart(one: Sequence[float], other: Sequence[float]) -> float:
    """Distance of two linear colours in CIELAB (CIE 1976)."""
    lab = cv2.cvtColor(np.clip([[one, other]], 0, 1).astype(np.float32) ** (1 / 2.2), cv2.COLOR_RGB2LAB)
    return float(np.linalg.norm(lab[0, 0] - lab[0, 1]))


def pick_colours(rng: Rng, count: int, table: Sequence[float], least: float) -> list[tuple[float, float, float]]:
    """Colours at least `least` CIELAB units from each other and nearly so from the table."""
    out: list[tuple[float, float, float]] = []
    alike = rng.random()
    for trial in range(400):
        new = _colour(rng)
        if alike < 0.3:  # one dough is much like the table, or like another dough
            near = np.array(table if alike < 0.18 or not out else out[0])
            new = tuple(float(v) for v in np.clip(near * np.exp(rng.normal(0, 0.2, 3)), 0.01, 0.95))
            if 6 < apart(new, table) and all(apart(new, c) > 6 for c in out):
                out.append(new)
                alike = 1.0
            continue
        want = least * (0.995**trial)
        if all(apart(new, c) > want for c in out) and apart(new, table) > want * 0.8:
            out.append(new)
            if len(out) == count:
                break
    while len(out) < count:
        out.append(_colour(rng))
    return out


# ---------------------------------------------------------------- the sculpture


@dataclass
class _Draft:
    """A sculpture in the making; `lump` counts shaped bodies, `kind` the dough of each body."""

    rng: Rng
    X: Floats
    Y: Floats
    lump: NDArray[np.int32]
    wall: Mask
    seams: list[tuple[Floats, int, int]]
    dough_of: dict[int, int]
    fault_at: Point | None = None


def invent(seed: int, fault: str | None = None, table: Sequence[float] = (0.5, 0.5, 0.5)) -> Invention:
    """The sculpture of a seed; `fault` is one of FAULTS, by default at random. `table`: linear colour."""
    for attempt in range(20):
        rng = np.random.default_rng([seed, attempt])
        made = _try(rng, seed, fault or str(rng.choice(FAULTS)), table)
        if made is not None:
            return made
    raise ValueError(f"no sculpture comes of seed {seed}")


def _try(rng: Rng, seed: int, fault: str, table: Sequence[float]) -> Invention | None:
    X, Y = grid()
    size = rng.uniform(17, 42)
    wanted = 3 if fault == "too-many-in-a-row" else int(rng.choice([2, 2, 2, 3, 3, 4]))
    if rng.random() < 0.25:
        parts = _side_by_side(rng, X, Y, size, wanted)
    else:
        parts = _split(rng, X, Y, size, wanted)
    lumps, seam = parts
    count = int(lumps.max())
    if count < 2:
        return None
    kinds = int(rng.integers(1, 4))
    walls = int(rng.integers(1, 3))
    colours = pick_colours(rng, kinds + walls, table, rng.uniform(7, 34))
    doughs = tuple(Stuff(f"dough{i + 1}", c, i < kinds) for i, c in enumerate(colours))
    labels = np.zeros(X.shape, np.uint8)
    solid = np.zeros(X.shape, np.uint8)
    same = rng.random() < 0.5
    for i in range(1, count + 1):
        labels[lumps == i] = 1 if same else 1 + int(rng.integers(0, kinds))
        solid[lumps == i] = i
    body = lumps > 0
    place = _lay_seam(rng, X, Y, lumps, labels, solid, seam, kinds, walls, fault)
    if place is False:
        return None
    _decorate(rng, X, Y, labels, solid, kinds, walls, body)
    lamps = _lamps(rng, labels, kinds, fault)
    if not lamps:
        return None
    rods = _rods(rng, labels, kinds, lamps)
    if len(rods) < 2:
        return None
    things = tuple(_things(rng, labels))
    pack = _pack(rng, rods)
    made = Invention(
        seed, fault, place if isinstance(place, tuple) else None, doughs, labels, solid, tuple(lamps),
        tuple(rods), pack, things, rng.uniform(0.2, 2.4),
    )  # fmt: skip
    made.lump_of.update(lumps_of(made))
    return made


def _split(rng: Rng, X: Floats, Y: Floats, size: float, wanted: int) -> tuple[NDArray[np.int32], Floats]:
    """A silhouette cut by seams: lumps (R, C) without gaps, and the distance to the nearest seam."""
    body = _silhouette(rng, X, Y, size)
    side = np.zeros(X.shape, np.int32)
    seam = np.full(X.shape, 1e3, np.float32)
    for i in range(wanted - 1):
        new = _seam(rng, X, Y, size)
        where = side == int(rng.integers(0, i + 1)) if rng.random() < 0.4 else np.ones_like(body)
        side[where & (new > 0)] += 1 << i
        seam = np.where(where, np.minimum(seam, np.abs(new)), seam)
    lumps = np.zeros(X.shape, np.int32)
    number = 0
    for value in np.unique(side[body]):
        n, parts, stats, _ = cv2.connectedComponentsWithStats(((side == value) & body).astype(np.uint8))
        for k in range(1, n):
            if stats[k, cv2.CC_STAT_AREA] * CELL_MM**2 > 90:
                number += 1
                lumps[parts == k] = number
    return lumps, np.asarray(seam, np.float32)


def _side_by_side(
    rng: Rng, X: Floats, Y: Floats, size: float, wanted: int
) -> tuple[NDArray[np.int32], Floats]:
    """Blobs or slabs in a row or ring, grown until they meet; seams lie half-way (a Voronoi cut)."""
    turn = rng.uniform(0, 2 * np.pi)
    masks = []
    step = size * rng.uniform(0.55, 0.85)
    for i in range(wanted):
        far = (i - (wanted - 1) / 2) * step
        at = (far * np.cos(turn) + rng.normal(0, 2), far * np.sin(turn) + rng.normal(0, 2))
        masks.append(_blob(rng, at, size * rng.uniform(0.45, 0.7), X, Y, 0.12))
    depths = np.stack([depth_of(m) for m in masks])
    best = np.sort(depths, axis=0)
    lumps = np.where(best[-1] > 0, depths.argmax(axis=0) + 1, 0).astype(np.int32)
    return lumps, np.asarray(np.maximum((best[-1] - best[-2]) / 2, 0), np.float32)


def _lay_seam(
    rng: Rng,
    X: Floats,
    Y: Floats,
    lumps: NDArray[np.int32],
    labels: Labels,
    solid: Labels,
    seam: Floats,
    kinds: int,
    walls: int,
    fault: str,
) -> Point | None | bool:
    """Turn seams into gaps or walls in place, with the fault; False when it does not fit."""
    walled = fault in ("short-round-the-end", "short-over-the-wall", "thin-wall", "leg-in-insulator") or (
        fault not in ("short-bridge", "near-touch", "short-pressed-together") and rng.random() < 0.6
    )
    wavy = 1 + 0.25 * smooth(rng, X.shape, 10)
    half = (rng.uniform(1.4, 4.2) if walled else rng.uniform(0.7, 3.0)) * np.clip(wavy, 0.5, 1.6)
    if not walled and rng.random() < 0.3:  # a narrow gap all along
        half = rng.uniform(0.2, 0.9) * np.clip(wavy, 0.7, 1.4)
    if fault == "thin-wall":
        half = rng.uniform(0.45, 0.8) * np.clip(wavy, 0.7, 1.3)
    body = lumps > 0
    line = (seam < CELL_MM) & body
    ys, xs = np.nonzero(line)
    if len(ys) < 30:
        return False
    inner = depth_of(body)
    spot: Point | None = None
    pick = int(rng.integers(len(ys)))
    at = (float(X[ys[pick], xs[pick]]), float(Y[ys[pick], xs[pick]]))
    along = np.hypot(X - at[0], Y - at[1])
    if fault == "near-touch":
        half = np.where(along < rng.uniform(2, 8), rng.uniform(0.2, 0.5), half)
        half = cv2.GaussianBlur(np.asarray(half, np.float32), (0, 0), 1.0 / CELL_MM)
        spot = at
    open_ = np.zeros_like(body)
    if fault in ("short-bridge", "short-pressed-together", "short-over-the-wall"):
        wide = rng.uniform(1.3, 3.0) if fault == "short-bridge" else rng.uniform(1.5, 6.0)
        open_ = along < wide
        spot = at
    elif fault == "short-round-the-end":
        rim = np.argsort(inner[ys, xs])[: max(1, len(ys) // 25)]
        pick = int(rng.choice(rim))
        at = (float(X[ys[pick], xs[pick]]), float(Y[ys[pick], xs[pick]]))
        open_ = np.hypot(X - at[0], Y - at[1]) < rng.uniform(2.5, 8.0)
        spot = at
    slit = (seam < half) & ~open_
    reach = rng.uniform(0, 4) if rng.random() < 0.6 else 0.0
    if walled:
        wall = slit & (inner > -reach)
        if rng.random() < 0.3:  # a little table shows beside the wall
            shift = rng.normal(0, 0.8, 2) / CELL_MM
            moved = cv2.warpAffine(
                wall.astype(np.uint8), np.float32([[1, 0, shift[0]], [0, 1, shift[1]]]), wall.shape[::-1]
            )
            gap = slit & ~moved.astype(bool)
            wall &= moved.astype(bool)
            labels[gap], solid[gap] = 0, 0
        kind = kinds + 1 + int(rng.integers(0, walls))
        labels[wall], solid[wall] = kind, 100
    else:
        labels[slit], solid[slit] = 0, 0
    if fault == "gap-in-lump":
        spot = _crack(rng, X, Y, lumps, labels, solid, slit)
    if fault in ("short-bridge", "short-over-the-wall"):
        strip = open_ & (seam < half + 1)
        solid[strip & (labels > 0)] = 101
    return spot


def _crack(
    rng: Rng, X: Floats, Y: Floats, lumps: NDArray[np.int32], labels: Labels, solid: Labels, slit: Mask
) -> Point | None:
    """A tear through one lump."""
    which = int(rng.integers(1, lumps.max() + 1))
    ys, xs = np.nonzero((lumps == which) & ~slit)
    if not len(ys):
        return None
    at = (float(X[ys].mean()), float(np.median(Y[ys, 0])))
    turn = rng.uniform(0, np.pi)
    v = (
        -(X - at[0]) * np.sin(turn) + (Y - at[1]) * np.cos(turn)
        + 1.2 * smooth(rng, X.shape, 5) * rng.uniform(0.3, 1)
    )  # fmt: skip
    tear = (np.abs(v) < rng.uniform(0.3, 1.5)) & (lumps == which)
    upper = (v > 0) & (lumps == which) & (solid == which)
    solid[upper] = 50 + which
    labels[tear], solid[tear] = 0, 0
    return at


def _decorate(
    rng: Rng, X: Floats, Y: Floats, labels: Labels, solid: Labels, kinds: int, walls: int, body: Mask
) -> None:
    """Eyes, spots and crumbs of any dough, on the sculpture's rim or beside it, never across a seam."""
    number = 110
    away = depth_of(body)
    for _ in range(rng.integers(0, 6)):
        r = rng.choice([rng.uniform(1.2, 4), rng.uniform(4, 9)])
        ys, xs = np.nonzero((away > -r - 12) & (away < r * 0.5))
        if not len(ys):
            return
        pick = int(rng.integers(len(ys)))
        at = (float(X[ys[pick], xs[pick]]), float(Y[ys[pick], xs[pick]]))
        spot = _blob(rng, at, r, X, Y, 0.1)
        near = spot & (labels > 0)
        met = np.unique(solid[near])
        insulating = rng.random() < 0.6
        kind = kinds + 1 + int(rng.integers(0, walls)) if insulating else 1 + int(rng.integers(0, kinds))
        grown = cv2.dilate(spot.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)
        if len(np.unique(solid[grown & (labels > 0)])) > 1 or (not insulating and len(met) > 1):
            continue
        put = spot if rng.random() < 0.3 else spot & (labels == 0)
        labels[put], solid[put] = kind, number
        number += 1


def conducting(labels: Labels, doughs: Sequence[Stuff]) -> Mask:
    """Cells of conductive dough, (R, C)."""
    table = np.zeros(256, bool)
    table[1 : len(doughs) + 1] = [d.conducts for d in doughs]
    return np.asarray(table[labels])


def _lamps(rng: Rng, labels: Labels, kinds: int, fault: str) -> list[Lamp]:
    """LEDs astride the narrow places between bodies."""
    conductive = (labels > 0) & (labels <= kinds)
    n, bodies, stats, _ = cv2.connectedComponentsWithStats(conductive.astype(np.uint8), connectivity=4)
    room = cv2.distanceTransform(conductive.astype(np.uint8), cv2.DIST_L2, 5) * CELL_MM
    gap = cv2.distanceTransform((~conductive).astype(np.uint8), cv2.DIST_L2, 5) * CELL_MM
    ridge = (~conductive) & (gap > 0.2) & (gap < 5.5)
    closed = cv2.morphologyEx(
        conductive.astype(np.uint8), cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (73, 73))
    ).astype(bool)
    ys, xs = np.nonzero(ridge & closed)
    out: list[Lamp] = []
    if not len(ys):
        return out
    for _ in range(60):
        pick = int(rng.integers(len(ys)))
        at = np.array([(xs[pick] + 0.5) * CELL_MM - HALF_X_MM, (ys[pick] + 0.5) * CELL_MM - HALF_Y_MM])
        if any(np.hypot(*(at - np.array(lamp.base))) < 9 for lamp in out):
            continue
        feet = _astride(rng, at, conductive, room)
        if feet is None:
            continue
        out.append(_lamp(rng, *feet))
        if len(out) >= rng.integers(1, 6):
            break
    if fault in ("leg-out", "leg-in-insulator") and out:
        _misplace(rng, out, labels, kinds, fault)
    return out


def _astride(
    rng: Rng, at: NDArray[np.float64], conductive: Mask, room: Floats
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Feet on two sides of a place, each at least 1.6 mm inside the dough."""
    first = rng.uniform(0, np.pi)
    for k in range(12):
        turn = first + k * np.pi / 12
        way = np.array([np.cos(turn), np.sin(turn)])
        feet = []
        for sign in (-1, 1):
            for far in np.arange(2.5, 11, 0.7):
                p = at + sign * far * way
                row, col = cell_of((p[0], p[1]))
                if not (0 <= row < room.shape[0] and 0 <= col < room.shape[1]):
                    break
                if room[row, col] > 1.6:
                    feet.append(p + sign * way * rng.uniform(0, 1.5))
                    break
        if len(feet) == 2:
            rows = [cell_of((p[0], p[1])) for p in feet]
            if all(
                0 <= r < room.shape[0] and 0 <= c < room.shape[1] and room[r, c] > 1.2 for r, c in rows
            ):
                return feet[0], feet[1]
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
    return Lamp(colour, (p[0], p[1]), (q[0], q[1]), tuple(middle), tuple(head), radius, lit)


def _misplace(rng: Rng, lamps: list[Lamp], labels: Labels, kinds: int, fault: str) -> None:
    """Move the long leg of the last LED to the table or into a wall."""
    wanted = labels == 0 if fault == "leg-out" else labels > kinds
    room = cv2.distanceTransform(wanted.astype(np.uint8), cv2.DIST_L2, 5) * CELL_MM
    lamp = lamps[-1]
    ys, xs = np.nonzero(room > 1.2)
    if not len(ys):
        return
    x = (xs + 0.5) * CELL_MM - HALF_X_MM
    y = (ys + 0.5) * CELL_MM - HALF_Y_MM
    d = np.hypot(x - lamp.long[0], y - lamp.long[1]) + rng.uniform(0, 3, len(x))
    best = int(np.argmin(d))
    if d[best] > 16:
        return
    lamps[-1] = Lamp(
        lamp.colour, (float(x[best]), float(y[best])), lamp.short, lamp.base, lamp.head, lamp.radius_mm, "off"
    )


def _rods(rng: Rng, labels: Labels, kinds: int, lamps: Sequence[Lamp]) -> list[Rod]:
    """A red and a black lead somewhere in the conductive dough, coming from outside."""
    conductive = (labels > 0) & (labels <= kinds)
    room = cv2.distanceTransform(conductive.astype(np.uint8), cv2.DIST_L2, 5) * CELL_MM
    ys, xs = np.nonzero((room > 1.8) & (room < 9))
    out: list[Rod] = []
    if len(ys) < 10:
        return out
    away = rng.uniform(0, 2 * np.pi)
    for red in (True, False):
        for _ in range(40):
            pick = int(rng.integers(len(ys)))
            at = np.array([(xs[pick] + 0.5) * CELL_MM - HALF_X_MM, (ys[pick] + 0.5) * CELL_MM - HALF_Y_MM])
            others = [rod.at for rod in out] + [f for lamp in lamps for f in (lamp.long, lamp.short)]
            if all(np.hypot(*(at - np.array(o))) > 4 for o in others):
                break
        outward = np.arctan2(at[1], at[0]) + rng.normal(0, 0.9)
        way = np.array([np.cos(outward), np.sin(outward)])
        rod = at + way * rng.uniform(0.5, 12)
        sleeve = rod + way * rng.uniform(2, 9)
        points = [sleeve]
        turn = outward
        goal = np.array([np.cos(away), np.sin(away)]) * 75
        for _ in range(3):
            aim = np.arctan2(*(goal - points[-1])[::-1])
            turn = turn + 0.5 * np.arctan2(np.sin(aim - turn), np.cos(aim - turn)) + rng.normal(0, 0.7)
            points.append(points[-1] + rng.uniform(8, 24) * np.array([np.cos(turn), np.sin(turn)]))
        points.append(goal + rng.normal(0, 6, 2))
        wire = tuple(bent([(float(x), float(y)) for x, y in points]))
        out.append(Rod((float(at[0]), float(at[1])), tuple(rod), tuple(sleeve), wire, red))
    return out


def _pack(rng: Rng, rods: Sequence[Rod]) -> tuple[Point, float, float, float] | None:
    """Middle, half sides and turn of the pack, at the far ends of the wires."""
    if rng.random() < 0.3:
        return None
    end = np.mean([rod.wire[-1] for rod in rods], axis=0)
    return (float(end[0]), float(end[1])), rng.uniform(18, 33), rng.uniform(18, 33), rng.uniform(0, np.pi)


def _things(rng: Rng, labels: Labels) -> list[Thing]:
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
        out.append(Thing(tuple((float(x), float(y)) for x, y in rim), _colour(rng), rng.uniform(0.2, 9), False))
    if rng.random() < 0.16:
        out += _fingers(rng)
    return out


def cell_clip(at: Point) -> tuple[int, int]:
    """Row and column of the cell nearest to a place."""
    rows, cols = grid_shape()
    row, col = cell_of(at)
    return min(max(row, 0), rows - 1), min(max(col, 0), cols - 1)


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
        far = tip + way * 90
        rim = [far - side * r, *round_, far + side * r]
        out.append(Thing(tuple((float(x), float(y)) for x, y in rim), skin, 14.0, True))
    return out


def lumps_of(made: Invention) -> dict[str, int | None]:
    """The conductive body in which each entry is, None where it misses."""
    conductive = conducting(made.labels, made.doughs)
    _, bodies = cv2.connectedComponents(conductive.astype(np.uint8), connectivity=4)
    out: dict[str, int | None] = {}
    for name, at in entries_of(made).items():
        row, col = cell_clip(at)
        out[name] = int(bodies[row, col]) or None
    return out


def entries_of(made: Invention) -> dict[str, Point]:
    """All entries by name, in mm."""
    out: dict[str, Point] = {}
    for rod in made.rods:
        out["pack.plus" if rod.red else "pack.minus"] = rod.at
    for i, lamp in enumerate(made.lamps, start=1):
        out[f"L{i}.long"], out[f"L{i}.short"] = lamp.long, lamp.short
    return out

"""A quick photo of an invention: a shaded relief instead of traced light, about a second each.

Light falls from a lamp and from all round; creases darken, things throw soft shadows, dough glistens,
LEDs glow, a lens looks from a point and a phone makes a JPEG of it. Everything varies with the seed.

Notation: R, C cells of `invent.CELL_MM`; H, W photo pixels.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.invent import (
    CELL_MM,
    HALF_X_MM,
    HALF_Y_MM,
    Floats,
    Invention,
    Lamp,
    Point,
    Rng,
    Rod,
    Thing,
    depth_of,
    grid,
    grid_shape,
    smooth,
    to_cells,
)

LED, METAL, RED, DARK, OTHER = 1, 2, 3, 4, 5
"""What lies on top, one more than its place in `vision.seen.THINGS`; 0 is nothing."""
PLASTIC = {
    "red": (0.62, 0.03, 0.02),
    "green": (0.05, 0.45, 0.12),
    "blue": (0.04, 0.12, 0.62),
    "yellow": (0.72, 0.5, 0.03),
    "orange": (0.75, 0.25, 0.03),
    "white": (0.78, 0.78, 0.76),
}
GLOW = {
    "red": (1.0, 0.05, 0.03),
    "green": (0.12, 1.0, 0.2),
    "blue": (0.08, 0.22, 1.0),
    "yellow": (1.0, 0.58, 0.05),
    "orange": (1.0, 0.3, 0.03),
    "white": (0.92, 0.95, 1.0),
}


@dataclass(frozen=True)
class View:
    """A quick photo with its truth.

    photo  (H, W, 3) uint8 sRGB
    labels (H, W) uint8: the dough underneath whatever lies on top, 0 table
    things (H, W) uint8: what lies on top, 0 nothing
    to_px  (3, 3): table mm to photo px
    """

    photo: NDArray[np.uint8]
    labels: NDArray[np.uint8]
    things: NDArray[np.uint8]
    to_px: NDArray[np.float64]


@dataclass
class _Stage:
    """Layers (R, C) that things are put on in turn."""

    height: Floats
    albedo: Floats
    glow: Floats
    gloss: Floats
    things: NDArray[np.uint8]


def table_colour(rng: Rng) -> tuple[float, float, float]:
    """Linear colour of a table: wood, white, grey, black, or a plain cloth."""
    kind = rng.random()
    if kind < 0.3:
        level = rng.uniform(0.12, 0.65)
        return level, level * rng.uniform(0.55, 0.78), level * rng.uniform(0.22, 0.5)
    if kind < 0.62:
        level = rng.choice([rng.uniform(0.5, 0.9), rng.uniform(0.1, 0.5), rng.uniform(0.01, 0.08)])
        tint = rng.normal(1, 0.05, 3)
        return tuple(float(v) for v in np.clip(level * tint, 0.005, 0.95))  # type: ignore[return-value]
    hsv = np.array([[[rng.uniform(0, 360), rng.uniform(0.1, 0.8), rng.uniform(0.3, 0.98)]]], np.float32)
    r, g, b = cv2.cvtColor(hsv, cv2.COLOR_HSV2RGB)[0, 0] ** 2.2
    return float(r), float(g), float(b)


def photograph(
    made: Invention,
    table: Sequence[float],
    mm_per_px: float | None = None,
    take: int = 0,
    frame_mm: tuple[float, float] = (2 * HALF_X_MM - 18, 2 * HALF_Y_MM - 18),
    relief: float = 1.0,
) -> View:
    """The photo of an invention on a table of this linear colour; `mm_per_px` by default at random.

    Each `take` is another light, lens and phone; `frame_mm` is how much of the table the photo holds.
    `relief` below 1 takes light and shade away, as flat light from all round does.
    """
    rng = np.random.default_rng([made.seed, 77, take])
    stage = _set(rng, made, table)
    lit = _light(rng, made, stage)
    if relief < 1:
        lit = relief * lit + (1 - relief) * (0.8 * stage.albedo + stage.glow)
    return _shoot(rng, made, stage, lit, mm_per_px or float(rng.uniform(0.09, 0.22)), frame_mm)


# ---------------------------------------------------------------- the stage


def _set(rng: Rng, made: Invention, table: Sequence[float]) -> _Stage:
    height = _dough_height(rng, made)
    shape = height.shape
    albedo = _table(rng, shape, table)
    gloss = np.full(shape, rng.choice([0.0, 0.02, 0.1]), np.float32)
    shine, grain = rng.uniform(0, 0.16), rng.uniform(0.2, 1.8)
    patchy = rng.uniform(0.01, 0.07) * smooth(rng, shape, rng.uniform(4, 14))
    patchy = patchy + 0.012 * grain * smooth(rng, shape, 0.45)
    salt = np.maximum(smooth(rng, shape, 0.4) - rng.uniform(2.2, 4), 0) * rng.uniform(0, 0.3)
    for i, dough in enumerate(made.doughs, start=1):
        where = made.labels == i
        albedo[where] = np.array(dough.rgb, np.float32) * (1 + patchy[where])[:, None] + salt[where][:, None]
        gloss[where] = shine
    stage = _Stage(height, albedo, np.zeros((*shape, 3), np.float32), gloss, np.zeros(shape, np.uint8))
    for thing in made.things:
        if not thing.on_top:
            _put_thing(rng, stage, thing)
    if made.pack is not None:
        _put_pack(rng, stage, made.pack)
    for lamp in made.lamps:
        _put_lamp(rng, stage, lamp)
    for rod in made.rods:
        _put_rod(rng, stage, rod)
    for thing in made.things:
        if thing.on_top:
            _put_thing(rng, stage, thing)
    np.clip(stage.albedo, 0.003, 0.97, out=stage.albedo)
    return stage


def _dough_height(rng: Rng, made: Invention) -> Floats:
    """Height (R, C) in mm: round rims, creases where bodies are pressed together, lumps and dents."""
    shape = made.labels.shape
    height = np.zeros(shape, np.float32)
    all_ = depth_of(made.labels > 0)
    rough = 0.5 * rng.uniform(0.2, 1.3) * smooth(rng, shape, 6) + 0.12 * rng.uniform(0.2, 1.5) * smooth(rng, shape, 1.8)
    rough += 0.02 * rng.uniform(0.2, 2.5) * smooth(rng, shape, 0.6)
    edge, top = rng.uniform(2.0, 8), rng.uniform(5, 16)
    for number in np.unique(made.solid[made.solid > 0]):
        where = made.solid == number
        own = depth_of(where)
        depth = np.maximum(own, np.minimum(all_ - made.clumsy, own + rng.uniform(0.3, 4)))
        here_top = top * rng.uniform(0.75, 1.15)
        here_edge = min(edge, here_top) * rng.uniform(0.8, 1.2)
        d = np.clip(depth / here_edge, 0, 1)
        rim = np.sqrt(np.maximum(1 - (1 - d) ** 2.2, 0))
        dome = rng.uniform(0, 2.5) * np.tanh(np.maximum(depth - here_edge, 0) / 12)
        body = (here_top + dome + rough) * rim
        height[where] = np.maximum(body, 0.05)[where]
    return height


def _table(rng: Rng, shape: tuple[int, int], base: Sequence[float]) -> Floats:
    """Albedo (R, C, 3) of the table: plain, grained, woven, striped, chequered, spotted or sheeted."""
    rows, cols = (np.arange(n, dtype=np.float32) * CELL_MM for n in shape)
    turn = rng.uniform(0, np.pi)
    u = cols[None] * np.cos(turn) + rows[:, None] * np.sin(turn)
    v = -cols[None] * np.sin(turn) + rows[:, None] * np.cos(turn)
    t = rng.uniform(0, 0.03) * smooth(rng, shape, 2) + rng.uniform(0, 0.06) * smooth(rng, shape, 25)
    kind = rng.choice(["plain", "plain", "wood", "wood", "cloth", "stripes", "checks", "spots", "sheet"])
    other = np.array(base, np.float32)
    strength = rng.uniform(0.1, 0.5)
    if kind == "wood":
        bend = 4 * smooth(rng, shape, 60) + 0.8 * smooth(rng, shape, 12)
        ring = 0.5 + 0.5 * np.sin((v + bend) * rng.uniform(0.3, 1.5))
        t = t - strength * ring**2 + 0.05 * np.sin(v * 9 + bend)
        if rng.random() < 0.5:
            width = rng.uniform(25, 90)
            t = t - 0.6 * (np.abs(v % width - width / 2) > width / 2 - rng.uniform(0.2, 0.8))
    elif kind == "cloth":
        pitch = rng.uniform(0.4, 1.3)
        t = t + 0.5 * strength * np.sin(2 * np.pi * u / pitch) * np.sin(2 * np.pi * v / pitch)
    picture = np.asarray(base, np.float32) * np.exp(t)[..., None]
    if kind in ("stripes", "checks", "spots", "sheet"):
        hsv = np.array([[[rng.uniform(0, 360), rng.uniform(0, 0.7), rng.uniform(0.3, 1)]]], np.float32)
        other = cv2.cvtColor(hsv, cv2.COLOR_HSV2RGB)[0, 0] ** 2.2
        if rng.random() < 0.6:  # the same hue, darker or lighter
            other = np.clip(np.asarray(base, np.float32) * rng.choice([0.5, 0.75, 1.3]), 0, 0.95)
        wide = rng.uniform(4, 30)
        stripe = (u % wide) < wide * rng.uniform(0.1, 0.5)
        if kind == "checks":
            mix = 0.5 * stripe + 0.5 * ((v % wide) < wide / 2)
        elif kind == "spots":
            mix = (np.hypot(u % wide - wide / 2, v % wide - wide / 2) < wide * rng.uniform(0.1, 0.35)) * 1.0
        elif kind == "sheet":
            mix = (u > rng.uniform(-10, 90)) * 1.0
        else:
            mix = stripe * 1.0
        mix = np.asarray(mix, np.float32)[..., None]
        picture = picture * (1 - mix) + other * np.exp(t)[..., None] * mix
    return np.asarray(picture, np.float32)


def _window(stage: _Stage, points: NDArray[np.float32], margin_mm: float) -> tuple[slice, slice] | None:
    """Rows and columns round places (n, 2) [cells]; None when outside."""
    m = margin_mm / CELL_MM + 2
    low, high = points.min(axis=0) - m, points.max(axis=0) + m
    rows, cols = stage.height.shape
    a, b = max(0, int(low[1])), min(rows, int(high[1]) + 1)
    c, d = max(0, int(low[0])), min(cols, int(high[0]) + 1)
    return (slice(a, b), slice(c, d)) if a < b and c < d else None


def _strip(box: tuple[slice, slice], p: NDArray[np.float32], q: NDArray[np.float32]) -> tuple[Floats, Floats]:
    """Signed distance across [mm] and place along (0 to 1, clipped) the segment p q, in a window."""
    y, x = np.mgrid[box[0], box[1]].astype(np.float32)
    d = q - p
    length2 = max(float(d @ d), 1e-6)
    t = np.clip(((x - p[0]) * d[0] + (y - p[1]) * d[1]) / length2, 0, 1)
    ox, oy = x - p[0] - t * d[0], y - p[1] - t * d[1]
    sign = np.sign(d[0] * oy - d[1] * ox) + (d[0] * oy - d[1] * ox == 0)
    return np.asarray(np.hypot(ox, oy) * sign * CELL_MM, np.float32), np.asarray(t, np.float32)


def _lay(stage: _Stage, box: tuple[slice, slice], alpha: Floats, colour: Floats, kind: int, top: Floats | float) -> None:
    """Paint a thing in a window."""
    a = alpha[..., None]
    stage.albedo[box] = stage.albedo[box] * (1 - a) + colour * a
    stage.glow[box] *= 1 - a
    on = alpha > 0.5
    stage.things[box][on] = kind
    stage.height[box] = np.where(on, np.maximum(stage.height[box], top), stage.height[box])
    stage.gloss[box][on] = 0.0


def _line(
    rng: Rng, stage: _Stage, points: Sequence[Point], half_mm: float, rgb: Sequence[float], kind: int, lift_mm: float
) -> None:
    """A round wire or rod along points, shaded across."""
    p = to_cells(points)
    shine, side = rng.uniform(0.1, 1.0), rng.uniform(-0.6, 0.6)
    whole = _window(stage, p, half_mm)
    if whole is None:
        return
    top, left = whole[0].start, whole[1].start
    nearest = np.full(stage.height[whole].shape, 1e3, np.float32)
    for a, b in zip(p[:-1], p[1:], strict=True):
        box = _window(stage, np.stack([a, b]), half_mm)
        if box is not None:
            part = nearest[box[0].start - top : box[0].stop - top, box[1].start - left : box[1].stop - left]
            across, _ = _strip(box, a, b)
            np.copyto(part, across, where=np.abs(across) < np.abs(part))
    s = nearest / half_mm
    alpha = np.clip((half_mm - np.abs(nearest)) / CELL_MM + 0.5, 0, 1)
    level = 0.35 + 0.65 * np.sqrt(np.maximum(1 - (np.clip(s - side, -1, 1)) ** 2, 0))
    spark = shine * np.exp(-np.minimum(((s - side) / 0.25) ** 2, 50))
    colour = np.asarray(rgb, np.float32) * level[..., None]
    colour = colour + spark[..., None] * (0.5 if kind == METAL else 0.15)
    base = cv2.blur(stage.height[whole], (15, 15)) + lift_mm
    _lay(
        stage, whole, np.asarray(alpha, np.float32), np.asarray(colour, np.float32), kind,
        np.asarray(base, np.float32),
    )  # fmt: skip


def _put_lamp(rng: Rng, stage: _Stage, lamp: Lamp) -> None:
    r = lamp.radius_mm
    p, q, base, head = (np.array(v) for v in (lamp.long, lamp.short, lamp.base, lamp.head))
    side = (q - p) / max(np.hypot(*(q - p)), 1e-6)
    metal = np.array([0.45, 0.45, 0.44]) * rng.uniform(0.5, 1.6)
    for foot, sign in ((p, -1), (q, 1)):
        root = base + sign * side * min(1.27, r * 0.5)
        elbow = base + sign * side * rng.uniform(1.3, max(1.4, 0.9 * np.hypot(*(foot - base)))) + rng.normal(0, 0.3, 2)
        tip = foot + side * sign * rng.uniform(-0.2, 0.3)
        _line(rng, stage, [tuple(root), tuple(elbow), tuple(tip)], rng.uniform(0.22, 0.36), metal, METAL, 1.0)
    cells = to_cells([tuple(base), tuple(head)])
    box = _window(stage, cells, r * 1.25)
    if box is None:
        return
    alpha, rim, gone = _bullet(box, cells, r)
    y, x = np.mgrid[box[0], box[1]].astype(np.float32)
    skin = np.array(PLASTIC[lamp.colour]) if rng.random() < 0.7 else np.array([0.72, 0.72, 0.72])
    clear = rng.choice([rng.uniform(0.0, 0.4), rng.uniform(0.4, 0.85)])
    shade = (0.3 + 0.7 * np.sqrt(1 - np.minimum(rim, 1) ** 2))[..., None]
    colour = skin * shade * (1 - clear) + cv2.blur(stage.albedo[box], (5, 5)) * clear * shade
    for _ in range(rng.integers(0, 4)):  # what shines through a clear body, and what mirrors in it
        at = cells[0] + (cells[1] - cells[0]) * rng.uniform(0, 1) + rng.normal(0, 0.3 * r, 2) / CELL_MM
        size = r * rng.uniform(0.12, 0.4)
        spot = np.exp(-np.minimum((np.hypot(x - at[0], y - at[1]) * CELL_MM / size) ** 2, 50))[..., None]
        colour = colour * (1 - spot * clear) if rng.random() < 0.5 else colour + rng.uniform(0.1, 0.9) * spot
    top = stage.height[box].max() * 0.8 + rng.uniform(2, 7)
    _lay(stage, box, alpha, np.asarray(colour, np.float32), LED, float(top))
    if lamp.lit == "off":
        return
    strength = rng.uniform(0.25, 1.2) if lamp.lit == "dim" else rng.uniform(0.8, 6.0)
    tint = np.array(GLOW[lamp.colour], np.float32)
    core = np.exp(-((np.hypot(x - cells[1][0], y - cells[1][1]) * CELL_MM / (rng.uniform(0.5, 1.6) * r)) ** 2))
    body = (rng.uniform(0.15, 0.9) * (1 - 0.5 * gone) + core)[..., None]
    stage.glow[box] += alpha[..., None] * body * (tint + rng.uniform(0.1, 0.5) * core[..., None]) * strength
    far = _far(stage, cells[1])
    fall = strength * rng.uniform(0.03, 0.35) / (1 + (np.maximum(far - r, 0) / rng.uniform(1.5, 5)) ** 2) ** 1.5
    stage.glow += np.where(stage.things == LED, 0, fall)[..., None] * tint * stage.albedo


def _bullet(box: tuple[slice, slice], cells: NDArray[np.float32], r: float) -> tuple[Floats, Floats, Floats]:
    """An LED's outline in a window: cover, place across (0 to 1) and along (0 base, 1 head).

    Seen from the side it has a flat base with a flange and a round head; from above it is a disc.
    """
    across, t = _strip(box, cells[0], cells[1])
    d = np.abs(across)
    length = float(np.hypot(*(cells[1] - cells[0]))) * CELL_MM
    radius = np.full_like(d, r)
    if length < 0.4 * r:  # seen from above: the flange shows all round
        cover = r * 1.12 - d
    else:
        y, x = np.mgrid[box[0], box[1]].astype(np.float32)
        way = (cells[1] - cells[0]) * CELL_MM / max(length, 1e-6)
        along = (x - cells[0][0]) * way[0] + (y - cells[0][1]) * way[1]
        radius = np.where(along < 1.0 / CELL_MM, np.float32(r * 1.16), np.float32(r))
        lying = min(1.0, length / (1.3 * r))
        back = along * CELL_MM + (1 - lying) * r * 1.1
        cover = np.minimum(radius - d, np.where(along < 0, back, 1e3))
        cover = np.where(along < 0, np.minimum(back, radius - np.where(lying < 1, d, np.abs(_side(x, y, cells)))), cover)
    alpha = np.clip(cover / CELL_MM + 0.5, 0, 1)
    return np.asarray(alpha, np.float32), np.asarray(d / radius, np.float32), t


def _side(x: Floats, y: Floats, cells: NDArray[np.float32]) -> Floats:
    """Distance in mm to the endless line through both places."""
    d = (cells[1] - cells[0]) / max(float(np.hypot(*(cells[1] - cells[0]))), 1e-6)
    return np.asarray(np.abs((x - cells[0][0]) * d[1] - (y - cells[0][1]) * d[0]) * CELL_MM, np.float32)


def _far(stage: _Stage, at: NDArray[np.float32]) -> Floats:
    """Distance of every cell to a place [cells], in mm."""
    rows, cols = stage.height.shape
    y = np.arange(rows, dtype=np.float32)[:, None] - at[1]
    x = np.arange(cols, dtype=np.float32)[None] - at[0]
    return np.asarray(np.hypot(x, y) * CELL_MM, np.float32)


def _put_rod(rng: Rng, stage: _Stage, rod: Rod) -> None:
    red = np.array([rng.uniform(0.3, 0.75), rng.uniform(0.01, 0.05), rng.uniform(0.01, 0.05)])
    dark = np.full(3, rng.uniform(0.004, 0.05))
    colour, kind = (red, RED) if rod.red else (dark, DARK)
    metal = np.array([0.42, 0.42, 0.41]) * rng.uniform(0.6, 1.5)
    _line(rng, stage, [rod.sleeve_end, *rod.wire], rng.uniform(0.55, 1.2), colour, kind, rng.uniform(1, 4))
    if np.hypot(*np.subtract(rod.rod_end, rod.at)) > 1:
        _line(rng, stage, [rod.at, rod.rod_end], rng.uniform(0.4, 1.1), metal, METAL, 1.5)
    _line(rng, stage, [rod.rod_end, rod.sleeve_end], rng.uniform(1.0, 2.0), colour, kind, 2.5)


def _put_thing(rng: Rng, stage: _Stage, thing: Thing) -> None:
    rim = to_cells(bent_closed(thing.outline))
    mask = np.zeros(stage.height.shape, np.uint8)
    cv2.fillPoly(mask, [np.asarray(np.round(rim * 16), np.int32)], 1, cv2.LINE_8, 4)
    if not mask.any():
        return
    box = _window(stage, rim, 2)
    if box is None:
        return
    part = mask[box].astype(bool)
    depth = cv2.distanceTransform(mask[box], cv2.DIST_L2, 5) * CELL_MM
    edge = min(thing.top_mm, 6.0) + 0.1
    rim_ = np.sqrt(np.maximum(1 - (1 - np.clip(depth / edge, 0, 1)) ** 2, 0))
    colour = np.array(thing.rgb, np.float32) * (1 + 0.06 * smooth(rng, part.shape, 3))[..., None]
    alpha = cv2.GaussianBlur(part.astype(np.float32), (0, 0), 0.7)
    _lay(stage, box, alpha, np.asarray(colour, np.float32), OTHER, thing.top_mm * np.asarray(rim_, np.float32) + 0.1)


def bent_closed(points: Sequence[Point]) -> list[Point]:
    """A smooth closed line through points."""
    p = np.array([points[-1], *points, points[0], points[1]], float)
    t = np.linspace(0, 1, 8, endpoint=False)[:, None]
    parts = [
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True)
    ]
    return [(float(x), float(y)) for x, y in np.vstack(parts)]


def _put_pack(rng: Rng, stage: _Stage, pack: tuple[Point, float, float, float]) -> None:
    (x, y), a, b, turn = pack
    ex, ey = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    rim = [np.array([x, y]) + i * a * ex + j * b * ey for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    p = to_cells([(float(v[0]), float(v[1])) for v in rim])
    mask = np.zeros(stage.height.shape, np.uint8)
    cv2.fillConvexPoly(mask, np.asarray(np.round(p * 16), np.int32), 1, cv2.LINE_8, 4)
    on = (mask > 0) & (stage.height < 0.1)
    X, Y = grid()
    u = (X - x) * ex[0] + (Y - y) * ex[1]
    ribs = 1 + 0.3 * (np.abs((u % 15) - 7.5) < 0.8)
    level = rng.uniform(0.01, 0.07)
    stage.albedo[on] = (level * ribs[on])[:, None] * np.ones(3, np.float32)
    stage.height[on] = rng.uniform(8, 17)
    stage.things[on] = DARK


# ---------------------------------------------------------------- light


def _light(rng: Rng, made: Invention, stage: _Stage) -> Floats:
    """Light that leaves towards the lens, (R, C, 3) linear."""
    h = cv2.GaussianBlur(stage.height, (0, 0), 0.8)
    gy, gx = np.gradient(h, CELL_MM)
    norm = 1 / np.sqrt(1 + gx**2 + gy**2)
    turn, steep = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(25, 75))
    lx, ly, lz = np.cos(turn) * np.cos(steep), np.sin(turn) * np.cos(steep), np.sin(steep)
    diffuse = np.maximum((-gx * lx - gy * ly + lz) * norm, 0)
    shadow = _shadow(h, turn, np.tan(steep), rng.uniform(0.05, 0.6))
    sky = _open_sky(h)
    share = rng.uniform(0.1, 0.75)
    warm = np.array([1, rng.uniform(0.8, 1.0), rng.uniform(0.55, 1.05)], np.float32)
    cool = np.array([rng.uniform(0.8, 1.05), 1, rng.uniform(0.9, 1.25)], np.float32)
    if rng.random() < 0.15:
        warm = warm * np.array([1, rng.uniform(0.6, 1), rng.uniform(0.4, 1)], np.float32)
    direct = (share / max(lz, 0.3) * diffuse * shadow)[..., None] * warm
    around = ((1 - share) * sky)[..., None] * cool
    hidden = np.clip(1 - sky, 0, 1)[..., None]
    spread = cv2.blur(cv2.resize(stage.albedo, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA), (9, 9))
    spread = cv2.resize(spread, stage.height.shape[::-1], interpolation=cv2.INTER_LINEAR)
    bounced = rng.uniform(0.2, 0.55) * hidden * spread
    uneven = 1 + rng.uniform(0, 0.3) * smooth(rng, h.shape, 90)
    light = stage.albedo * (direct + around + bounced) * np.clip(uneven, 0.3, 2)[..., None]
    half = np.array([lx, ly, lz + 1]) / np.sqrt(2 + 2 * lz)
    shine = np.maximum((-gx * half[0] - gy * half[1] + half[2]) * norm, 0) ** rng.uniform(15, 120)
    light = light + (stage.gloss * shine * shadow * share * rng.uniform(0.5, 4))[..., None] * warm
    bare = stage.things > 0  # things were shaded when they were put there
    light[bare] = stage.albedo[bare] * (0.35 + 0.65 * (share * shadow[bare] + 1 - share))[:, None] * (share * warm + (1 - share) * cool)
    glow = stage.glow
    bloom = cv2.resize(glow, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(bloom, (0, 0), 1.5) * 0.25 + cv2.GaussianBlur(bloom, (0, 0), 6) * 0.08
    wide = cv2.resize(wide, glow.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(light + glow + rng.uniform(0, 0.5) * wide, np.float32)


def _shadow(h: Floats, turn: float, rise: float, soft: float) -> Floats:
    """How much of the lamp each cell sees, (R, C), from half as many rows and columns."""
    small = cv2.resize(h, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    most = np.zeros_like(small)
    cell = CELL_MM * 2
    reach = min(float(small.max()) / rise, 30.0)
    step = 0.45
    for far in np.arange(step, reach + step, step):
        dx, dy = np.cos(turn) * far / cell, np.sin(turn) * far / cell
        moved = cv2.warpAffine(small, np.float32([[1, 0, -dx], [0, 1, -dy]]), small.shape[::-1])
        most = np.maximum(most, (moved - small - far * rise) / (0.25 + soft * far))
        step = 0.45 + far * 0.05
    dark = 1 - np.clip(most * 1.2, 0, 1)
    dark = cv2.GaussianBlur(np.asarray(dark, np.float32), (0, 0), 0.8)
    return np.asarray(cv2.resize(dark, h.shape[::-1], interpolation=cv2.INTER_LINEAR))


def _open_sky(h: Floats) -> Floats:
    """Rough share of the sky that each cell sees, (R, C)."""
    out = np.ones_like(h)
    for sigma_mm, weight in ((0.5, 0.5), (1.2, 0.5), (3.0, 0.45), (8.0, 0.3)):
        f = min(1.0, 0.6 / sigma_mm)
        small = cv2.resize(h, None, fx=f, fy=f, interpolation=cv2.INTER_AREA) if f < 1 else h
        mean = cv2.GaussianBlur(small, (0, 0), sigma_mm / CELL_MM * f)
        mean = cv2.resize(mean, h.shape[::-1], interpolation=cv2.INTER_LINEAR) if f < 1 else mean
        out *= np.exp(-weight * np.clip((mean - h) / sigma_mm, -0.2, 6))
    return np.asarray(np.clip(out, 0.03, 1.15), np.float32)


# ---------------------------------------------------------------- lens and phone


def _shoot(
    rng: Rng, made: Invention, stage: _Stage, lit: Floats, mm_per_px: float, frame_mm: tuple[float, float]
) -> View:
    lens_mm = rng.uniform(230, 500)
    over = np.array([rng.normal(0, 25), rng.normal(0, 25)])
    source = _parallax(stage.height, over, lens_mm)
    ys, xs = np.nonzero(made.labels)
    middle = (float(xs.mean()) * CELL_MM - HALF_X_MM, float(ys.mean()) * CELL_MM - HALF_Y_MM)
    to_px, size = _pose(rng, mm_per_px, middle, frame_mm)
    cells = np.array([[CELL_MM, 0, -HALF_X_MM + CELL_MM / 2], [0, CELL_MM, -HALF_Y_MM + CELL_MM / 2], [0, 0, 1]])
    whole = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1]]) @ to_px @ cells
    back = np.linalg.inv(whole)
    cols, rows = size
    x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    w = back[2, 0] * x + back[2, 1] * y + back[2, 2]
    mx = np.asarray((back[0, 0] * x + back[0, 1] * y + back[0, 2]) / w, np.float32)
    my = np.asarray((back[1, 0] * x + back[1, 1] * y + back[1, 2]) / w, np.float32)
    sx = cv2.remap(source[..., 0], mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    sy = cv2.remap(source[..., 1], mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    blur = max(0.0, mm_per_px / CELL_MM - 1) * 0.45
    seen = cv2.GaussianBlur(lit, (0, 0), blur) if blur > 0.2 else lit
    light = cv2.remap(seen, sx, sy, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    labels = cv2.remap(made.labels, sx, sy, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    things = cv2.remap(stage.things, sx, sy, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    return View(_develop(rng, light, mm_per_px), labels, things, to_px)


def _parallax(height: Floats, over: NDArray[np.float64], lens_mm: float) -> Floats:
    """Which cell (column, row) is seen in the direction of each table cell, (R, C, 2)."""
    rows, cols = height.shape
    gx, gy = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    cx, cy = to_cells([(float(over[0]), float(over[1]))])[0]
    soft = cv2.GaussianBlur(height, (0, 0), 1.0)
    qx, qy = gx, gy
    for _ in range(4):
        h = cv2.remap(soft, qx, qy, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        k = h / lens_mm
        qx = np.asarray(gx - (gx - cx) * k, np.float32)
        qy = np.asarray(gy - (gy - cy) * k, np.float32)
    return np.stack([qx, qy], axis=-1)


def _pose(
    rng: Rng, mm_per_px: float, middle: Point, frame_mm: tuple[float, float]
) -> tuple[NDArray[np.float64], tuple[int, int]]:
    """Table mm to photo px (3, 3), with a turn and a slight tilt; and the size (W, H)."""
    cols, rows = round(frame_mm[0] / mm_per_px), round(frame_mm[1] / mm_per_px)
    turn = rng.choice([0.0, np.pi / 2, np.pi, -np.pi / 2]) + rng.normal(0, 0.12)
    c, s = np.cos(turn) / mm_per_px, np.sin(turn) / mm_per_px
    tilt = rng.normal(0, 0.00025, 2)
    place = np.array([[1, 0, -middle[0] + rng.normal(0, 8)], [0, 1, -middle[1] + rng.normal(0, 8)], [0, 0, 1]])
    frame = np.array([[1, 0, cols / 2], [0, 1, rows / 2], [0, 0, 1]])
    return frame @ np.array([[c, -s, 0], [s, c, 0], [tilt[0], tilt[1], 1]]) @ place, (cols, rows)


def _develop(rng: Rng, light: Floats, mm_per_px: float) -> NDArray[np.uint8]:
    """What a phone makes of it, (H, W, 3) uint8 sRGB."""
    gain = float(np.exp(rng.normal(0.0, 0.25))) * 0.6 / np.quantile(light[::8, ::8].max(axis=2), 0.9)
    balance = np.exp(rng.normal(0, 0.06, 3))
    scene = light * np.float32(gain) * balance.astype(np.float32)
    if rng.random() < 0.5:
        scene = cv2.GaussianBlur(scene, (0, 0), rng.uniform(0.25, 0.9) * 0.15 / mm_per_px + 0.2)
    if rng.random() < 0.15:
        scene = _moved(rng, scene, rng.uniform(0.2, 0.8) / mm_per_px)
    rows, cols = scene.shape[:2]
    y, x = np.ogrid[:rows, :cols]
    off = ((x - cols / 2) ** 2 + (y - rows / 2) ** 2) / ((rows**2 + cols**2) / 4)
    scene = scene * (1 - rng.uniform(0, 0.3) * off.astype(np.float32))[..., None]
    knee = rng.uniform(0.6, 1.0)
    rest = 1 - knee + 1e-3
    levels = np.linspace(0, 8, 4097)  # the tone curve as a table
    tone = np.where(levels < knee, levels, knee + rest * (1 - np.exp(-np.maximum(levels - knee, 0) / rest)))
    curve = np.asarray(np.clip(tone, 0, 1) ** (1 / rng.uniform(2.0, 2.5)), np.float32)
    picture = curve[np.asarray(np.clip(scene, 0, 8) * 512, np.uint16)]
    if rng.random() < 0.4:
        picture = 0.5 + (picture - 0.5) * rng.uniform(0.9, 1.25)
    if rng.random() < 0.6:
        picture = picture + rng.uniform(0.1, 0.7) * (picture - cv2.GaussianBlur(picture, (0, 0), 1.1))
    if rng.random() < 0.3:  # some phones make colours stronger
        grey = picture.mean(axis=2, keepdims=True)
        picture = grey + (picture - grey) * rng.uniform(0.85, 1.3)
    noise = rng.choice([0.002, 0.006, 0.012, 0.022])
    picture = picture + noise * (_grain(rng, rows, cols) + 0.6 * cv2.resize(_grain(rng, rows // 2 + 1, cols // 2 + 1), (cols, rows)))
    return np.asarray(np.rint(np.clip(picture, 0, 1) * 255), np.uint8)


def _grain(rng: Rng, rows: int, cols: int) -> Floats:
    """Sensor noise (rows, cols, 3) of unit spread; a large patch repeats, which nobody sees."""
    tile = rng.standard_normal((min(rows, 300), min(cols, 300), 3), np.float32)
    return np.asarray(np.tile(tile, (-(-rows // tile.shape[0]), -(-cols // tile.shape[1]), 1))[:rows, :cols])


def _moved(rng: Rng, scene: Floats, length_px: float) -> Floats:
    """Blur by a moving hand."""
    n = max(3, int(length_px) | 1)
    kernel = np.zeros((n, n), np.float32)
    turn = rng.uniform(0, np.pi)
    d = (n - 1) / 2 * np.array([np.cos(turn), np.sin(turn)])
    a, b = np.round((n - 1) / 2 - d).astype(int), np.round((n - 1) / 2 + d).astype(int)
    cv2.line(kernel, (int(a[0]), int(a[1])), (int(b[0]), int(b[1])), 1.0)
    return np.asarray(cv2.filter2D(scene, -1, kernel / kernel.sum()))

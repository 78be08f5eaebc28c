"""LEDs, leads, pack and other things on the stage of a quick photo."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.invention import Lamp, Rod, Thing
from sample_images.studio.raster import CELL_MM, Floats, Point, Rng, point, smooth, to_cells
from sample_images.studio.stage import DARK, LED, METAL, OTHER, RED, Stage, lay, line, strip, window

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


def put_lamp(rng: Rng, stage: Stage, lamp: Lamp) -> None:
    r = lamp.radius_mm
    p, q, base, head = (np.array(v) for v in (lamp.long, lamp.short, lamp.base, lamp.head))
    side = (q - p) / max(np.hypot(*(q - p)), 1e-6)
    metal = np.array([0.45, 0.45, 0.44]) * rng.uniform(0.5, 1.6)
    for foot, sign in ((p, -1), (q, 1)):
        root = base + sign * side * min(1.27, r * 0.5)
        reach = rng.uniform(1.3, max(1.4, 0.9 * float(np.hypot(*(foot - base)))))
        elbow = base + sign * side * reach + rng.normal(0, 0.3, 2)
        tip = foot + side * sign * rng.uniform(-0.2, 0.3)
        way = [point(v) for v in (root, elbow, tip)]
        line(rng, stage, way, rng.uniform(0.22, 0.36), metal, METAL, 1.0)
    cells = to_cells([point(base), point(head)], stage.height.shape)
    box = window(stage, cells, r * 1.25)
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
    lay(stage, box, alpha, np.asarray(colour, np.float32), LED, float(top))
    if lamp.lit == "off":
        return
    strength = rng.uniform(0.25, 1.2) if lamp.lit == "dim" else rng.uniform(0.8, 6.0)
    tint = np.array(GLOW[lamp.colour], np.float32)
    core = np.exp(
        -((np.hypot(x - cells[1][0], y - cells[1][1]) * CELL_MM / (rng.uniform(0.5, 1.6) * r)) ** 2)
    )
    body = (rng.uniform(0.15, 0.9) * (1 - 0.5 * gone) + core)[..., None]
    stage.glow[box] += alpha[..., None] * body * (tint + rng.uniform(0.1, 0.5) * core[..., None]) * strength
    far = _far(stage, cells[1])
    fall = (
        strength * rng.uniform(0.03, 0.35) / (1 + (np.maximum(far - r, 0) / rng.uniform(1.5, 5)) ** 2) ** 1.5
    )
    stage.glow += np.where(stage.things == LED, 0, fall)[..., None] * tint * stage.albedo


def _bullet(box: tuple[slice, slice], cells: NDArray[np.float32], r: float) -> tuple[Floats, Floats, Floats]:
    """An LED's outline in a window: cover, place across (0 to 1) and along (0 base, 1 head).

    Seen from the side it has a flat base with a flange and a round head; from above it is a disc.
    """
    across, t = strip(box, cells[0], cells[1])
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
        beside = d if lying < 1 else np.abs(_side(x, y, cells))
        cover = np.where(along < 0, np.minimum(back, radius - beside), cover)
    alpha = np.clip(cover / CELL_MM + 0.5, 0, 1)
    return np.asarray(alpha, np.float32), np.asarray(d / radius, np.float32), t


def _side(x: Floats, y: Floats, cells: NDArray[np.float32]) -> Floats:
    """Distance in mm to the endless line through both places."""
    d = (cells[1] - cells[0]) / max(float(np.hypot(*(cells[1] - cells[0]))), 1e-6)
    return np.asarray(np.abs((x - cells[0][0]) * d[1] - (y - cells[0][1]) * d[0]) * CELL_MM, np.float32)


def _far(stage: Stage, at: NDArray[np.float32]) -> Floats:
    """Distance of every cell to a place [cells], in mm."""
    rows, cols = stage.height.shape
    y = np.arange(rows, dtype=np.float32)[:, None] - at[1]
    x = np.arange(cols, dtype=np.float32)[None] - at[0]
    return np.asarray(np.hypot(x, y) * CELL_MM, np.float32)


def put_rod(rng: Rng, stage: Stage, rod: Rod) -> None:
    red = np.array([rng.uniform(0.3, 0.75), rng.uniform(0.01, 0.05), rng.uniform(0.01, 0.05)])
    dark = np.full(3, rng.uniform(0.004, 0.05))
    colour, kind = (red, RED) if rod.red else (dark, DARK)
    metal = np.array([0.42, 0.42, 0.41]) * rng.uniform(0.6, 1.5)
    line(rng, stage, [rod.sleeve_end, *rod.wire], rng.uniform(0.55, 1.2), colour, kind, rng.uniform(1, 4))
    if np.hypot(*np.subtract(rod.rod_end, rod.at)) > 1:
        line(rng, stage, [rod.at, rod.rod_end], rng.uniform(0.4, 1.1), metal, METAL, 1.5)
    line(rng, stage, [rod.rod_end, rod.sleeve_end], rng.uniform(1.0, 2.0), colour, kind, 2.5)


def put_thing(rng: Rng, stage: Stage, thing: Thing) -> None:
    rim = to_cells(bent_closed(thing.outline), stage.height.shape)
    mask = np.zeros(stage.height.shape, np.uint8)
    cv2.fillPoly(mask, [np.asarray(np.round(rim * 16), np.int32)], 1, cv2.LINE_8, 4)
    if not mask.any():
        return
    box = window(stage, rim, 2)
    if box is None:
        return
    part = mask[box].astype(bool)
    depth = cv2.distanceTransform(mask[box], cv2.DIST_L2, 5) * CELL_MM
    edge = min(thing.top_mm, 6.0) + 0.1
    rim_ = np.sqrt(np.maximum(1 - (1 - np.clip(depth / edge, 0, 1)) ** 2, 0))
    colour = np.array(thing.rgb, np.float32) * (1 + 0.06 * smooth(rng, part.shape, 3))[..., None]
    alpha = cv2.GaussianBlur(part.astype(np.float32), (0, 0), 0.7)
    top = np.asarray(thing.top_mm * rim_ + 0.1, np.float32)
    lay(stage, box, np.asarray(alpha, np.float32), np.asarray(colour, np.float32), OTHER, top)


def bent_closed(points: Sequence[Point]) -> list[Point]:
    """A smooth closed line through points."""
    p = np.array([points[-1], *points, points[0], points[1]], float)
    t = np.linspace(0, 1, 8, endpoint=False)[:, None]
    parts = [
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True)
    ]
    return [(float(x), float(y)) for x, y in np.vstack(parts)]


def put_pack(rng: Rng, stage: Stage, pack: tuple[Point, float, float, float]) -> None:
    (x, y), a, b, turn = pack
    ex, ey = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    rim = [np.array([x, y]) + i * a * ex + j * b * ey for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    p = to_cells([(float(v[0]), float(v[1])) for v in rim], stage.height.shape)
    mask = np.zeros(stage.height.shape, np.uint8)
    cv2.fillConvexPoly(mask, np.asarray(np.round(p * 16), np.int32), 1, cv2.LINE_8, 4)
    on = (mask > 0) & (stage.height < 0.1)
    (col, row), (rows, cols) = to_cells([(x, y)], stage.height.shape)[0], stage.height.shape
    right = (np.arange(cols, dtype=np.float32) - col)[None] * CELL_MM
    down = (np.arange(rows, dtype=np.float32) - row)[:, None] * CELL_MM
    u = right * ex[0] + down * ex[1]
    ribs = 1 + 0.3 * (np.abs((u % 15) - 7.5) < 0.8)
    level = rng.uniform(0.01, 0.07)
    stage.albedo[on] = (level * ribs[on])[:, None] * np.ones(3, np.float32)
    stage.height[on] = rng.uniform(8, 17)
    stage.things[on] = DARK

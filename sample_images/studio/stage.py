"""The stage of a quick photo: layers for dough and table, and how things are put on them.

Notation: R, C cells of `raster.CELL_MM`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.invention import Invention
from sample_images.studio.raster import CELL_MM, Floats, Point, Rng, depth_of, smooth, to_cells

LED, METAL, RED, DARK, OTHER = 1, 2, 3, 4, 5
"""What lies on top, one more than its place in `vision.seen.THINGS`; 0 is nothing."""


@dataclass
class Stage:
    """Layers (R, C) that things are put on in turn; `dough`: height in mm before that."""

    height: Floats
    dough: Floats
    albedo: Floats
    glow: Floats
    gloss: Floats
    things: NDArray[np.uint8]


def dough_height(rng: Rng, made: Invention) -> Floats:
    """Height (R, C) in mm: round rims, creases where bodies are pressed together, lumps and dents."""
    shape = made.labels.shape
    height = np.zeros(shape, np.float32)
    all_ = depth_of(made.labels > 0)
    rough = 0.5 * rng.uniform(0.2, 1.3) * smooth(rng, shape, 6)
    rough += 0.12 * rng.uniform(0.2, 1.5) * smooth(rng, shape, 1.8)
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


def paint_dough(rng: Rng, made: Invention, albedo: Floats) -> float:
    """Paint all doughs into an albedo (R, C, 3), patchy and with grains of salt; how much they shine."""
    shape = made.labels.shape
    shine, grain = rng.uniform(0, 0.16), rng.uniform(0.2, 1.8)
    patchy = rng.uniform(0.01, 0.07) * smooth(rng, shape, rng.uniform(4, 14))
    patchy = patchy + 0.012 * grain * smooth(rng, shape, 0.45)
    salt = np.maximum(smooth(rng, shape, 0.4) - rng.uniform(2.2, 4), 0) * rng.uniform(0, 0.3)
    for i, dough in enumerate(made.doughs, start=1):
        where = made.labels == i
        albedo[where] = np.array(dough.rgb, np.float32) * (1 + patchy[where])[:, None] + salt[where][:, None]
    return float(shine)


def table_picture(rng: Rng, shape: tuple[int, int], base: Sequence[float]) -> Floats:
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


def window(stage: Stage, points: NDArray[np.float32], margin_mm: float) -> tuple[slice, slice] | None:
    """Rows and columns round places (n, 2) [cells]; None when outside."""
    m = margin_mm / CELL_MM + 2
    low, high = points.min(axis=0) - m, points.max(axis=0) + m
    rows, cols = stage.height.shape
    a, b = max(0, int(low[1])), min(rows, int(high[1]) + 1)
    c, d = max(0, int(low[0])), min(cols, int(high[0]) + 1)
    return (slice(a, b), slice(c, d)) if a < b and c < d else None


def strip(box: tuple[slice, slice], p: NDArray[np.float32], q: NDArray[np.float32]) -> tuple[Floats, Floats]:
    """Signed distance across [mm] and place along (0 to 1, clipped) the segment p q, in a window."""
    y, x = np.mgrid[box[0], box[1]].astype(np.float32)
    d = q - p
    length2 = max(float(d @ d), 1e-6)
    t = np.clip(((x - p[0]) * d[0] + (y - p[1]) * d[1]) / length2, 0, 1)
    ox, oy = x - p[0] - t * d[0], y - p[1] - t * d[1]
    sign = np.sign(d[0] * oy - d[1] * ox) + (d[0] * oy - d[1] * ox == 0)
    return np.asarray(np.hypot(ox, oy) * sign * CELL_MM, np.float32), np.asarray(t, np.float32)


def lay(
    stage: Stage, box: tuple[slice, slice], alpha: Floats, colour: Floats, kind: int, top: Floats | float
) -> None:
    """Paint a thing in a window."""
    a = alpha[..., None]
    stage.albedo[box] = stage.albedo[box] * (1 - a) + colour * a
    stage.glow[box] *= 1 - a
    on = alpha > 0.5
    stage.things[box][on] = kind
    stage.height[box] = np.where(on, np.maximum(stage.height[box], top), stage.height[box])
    stage.gloss[box][on] = 0.0


def line(
    rng: Rng,
    stage: Stage,
    points: Sequence[Point],
    half_mm: float,
    rgb: NDArray[np.float64],
    kind: int,
    lift_mm: float,
) -> None:
    """A round wire or rod along points, shaded across."""
    p = to_cells(points, stage.height.shape)
    shine, side = rng.uniform(0.1, 1.0), rng.uniform(-0.6, 0.6)
    whole = window(stage, p, half_mm)
    if whole is None:
        return
    top, left = whole[0].start, whole[1].start
    nearest = np.full(stage.height[whole].shape, 1e3, np.float32)
    for a, b in pairwise(p):
        box = window(stage, np.stack([a, b]), half_mm)
        if box is not None:
            part = nearest[box[0].start - top : box[0].stop - top, box[1].start - left : box[1].stop - left]
            across, _ = strip(box, a, b)
            np.copyto(part, across, where=np.abs(across) < np.abs(part))
    s = nearest / half_mm
    alpha = np.clip((half_mm - np.abs(nearest)) / CELL_MM + 0.5, 0, 1)
    level = 0.35 + 0.65 * np.sqrt(np.maximum(1 - (np.clip(s - side, -1, 1)) ** 2, 0))
    spark = shine * np.exp(-np.minimum(((s - side) / 0.25) ** 2, 50))
    colour = np.asarray(rgb, np.float32) * level[..., None]
    colour = colour + spark[..., None] * (0.5 if kind == METAL else 0.15)
    base = cv2.blur(stage.height[whole], (15, 15)) + lift_mm
    lay(
        stage, whole, np.asarray(alpha, np.float32), np.asarray(colour, np.float32), kind,
        np.asarray(base, np.float32),
    )  # fmt: skip

"""Table tops: pictures in linear RGB, drawn by numpy, 5 pixels a millimetre."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from sample_images.studio.shapes import Array, Point, noise

PER_MM = 5
WIDTH_MM, HEIGHT_MM = 340, 280
SHAPE = (HEIGHT_MM * PER_MM, WIDTH_MM * PER_MM)


def linear(hex_colour: str) -> Array:
    """A written sRGB colour such as '#d8b48a' as linear RGB."""
    s = np.array([int(hex_colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.asarray(np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4))


def _mix(a: str, b: str, t: Array) -> Array:
    t = np.clip(t, 0, 1)[..., None]
    return np.asarray(linear(a) * (1 - t) + linear(b) * t)


def wood(rng: np.random.Generator, light: str, dark: str, plank_mm: float = 74.0) -> Array:
    """Planed boards: year rings cut lengthwise, fine pores, a dark joint between two boards."""
    rows = np.mgrid[: SHAPE[0], : SHAPE[1]][0].astype(float)
    y = rows / PER_MM
    plank = np.floor((y + 21) / plank_mm).astype(int)
    plank -= plank.min()
    shift = rng.uniform(0, 60, plank.max() + 1)[plank]
    bend = 5.0 * noise(rng, SHAPE, (70, 420)) + 1.1 * noise(rng, SHAPE, (16, 260))
    phase = (y + shift) * 0.19 + 0.55 * bend
    ring = 0.5 + 0.5 * np.sin(2 * np.pi * phase * 0.55)
    pores = noise(rng, SHAPE, (0.7, 26))
    slow = noise(rng, SHAPE, (30, 300))
    t = 0.30 + 0.26 * ring**3 + 0.075 * pores + 0.05 * slow
    t = t + rng.uniform(-0.12, 0.12, plank.max() + 1)[plank]
    top = _mix(light, dark, t)
    joint = np.abs((y + 21) % plank_mm - plank_mm / 2) > plank_mm / 2 - 0.35
    top[joint] *= 0.35
    return top


def cloth(rng: np.random.Generator, ground: str, thread: str) -> Array:
    """Plain-woven linen: threads 0.7 mm apart, some thicker than others."""
    rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    wobble = 1.2 * noise(rng, SHAPE, 40)
    u, v = (cols + wobble) / PER_MM / 0.7, (rows + wobble) / PER_MM / 0.7
    over = np.sin(np.pi * u) ** 2 * (np.floor(u + 0) + np.floor(v)) % 2
    weave = 0.5 + 0.25 * np.sin(2 * np.pi * u) * np.sin(2 * np.pi * v) + 0.08 * (over - 0.5)
    slub_warp = noise(rng, SHAPE, (90, 1.2))
    slub_weft = noise(rng, SHAPE, (1.2, 90))
    t = weave + 0.10 * slub_warp + 0.10 * slub_weft + 0.05 * noise(rng, SHAPE, 60)
    return _mix(ground, thread, t)


def paper(rng: np.random.Generator, sheet: str, fibre: str) -> Array:
    """Wrapping paper: cloudy, with short fibres lying any way."""
    cloudy = 0.10 * noise(rng, SHAPE, 30) + 0.10 * noise(rng, SHAPE, 5) + 0.07 * noise(rng, SHAPE, 1)
    flecks = np.zeros(SHAPE)
    for size in ((0.8, 6), (6, 0.8), (3, 3)):
        flecks += np.maximum(noise(rng, SHAPE, size) - 2.1, 0)
    return _mix(sheet, fibre, 0.28 + cloudy + 0.5 * flecks)


def crosses(top: Array, points: Sequence[Point], pencil: str) -> Array:
    """Two crosses drawn on the table, the scale of the picture."""
    rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    x, y = cols / PER_MM - WIDTH_MM / 2, rows / PER_MM - HEIGHT_MM / 2
    marked = top.copy()
    for px, py in points:
        u, v = np.abs(x - px), np.abs(y - py)
        line = (np.minimum(u, v) < 0.32) & (np.maximum(u, v) < 3.2)
        marked[line] = 0.3 * marked[line] + 0.7 * linear(pencil)
    return marked


def relief(rng: np.random.Generator, kind: str, shape: tuple[int, int]) -> NDArray[np.float64]:
    """Height (R, C) in mm of the table top, never above 0, on 1 mm cells."""
    if kind == "wood":
        return np.zeros(shape)
    if kind == "cloth":
        field = 0.5 * noise(rng, shape, (26, 9)) + 0.18 * noise(rng, shape, 5)
    else:
        creases = np.abs(noise(rng, shape, (40, 30)))
        field = 0.9 * np.minimum(creases, 0.5) + 0.05 * noise(rng, shape, 6)
    return np.asarray(field - field.max())


def sample(field: Array, x: Array, y: Array) -> Array:
    """Bilinear look-up of a relief on 1 mm cells whose middle is the origin."""
    rows, cols = field.shape
    return np.asarray(map_coordinates(field, [y + rows / 2, x + cols / 2], order=1, mode="nearest"))

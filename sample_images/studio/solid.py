"""Invented sculptures as solid things: meshes with what they are made of, for traced photos.

Meshes have x to the right, y up, z towards the lens, in mm; inventions have y down.
"""

from collections.abc import Callable, Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter1d, maximum_filter1d

from sample_images.studio.build import METAL, NOT_DOUGH, Part, cap, pack_parts, smooth_way
from sample_images.studio.invention import Invention, Lamp, Rod, Thing
from sample_images.studio.props import GLOW, PLASTIC, bent_closed
from sample_images.studio.raster import (
    CELL_MM,
    HALF_X_MM,
    HALF_Y_MM,
    Floats,
    Mask,
    Point,
    Rng,
    depth_of,
    row_and_column,
    smooth,
    to_cells,
)
from sample_images.studio.shapes import Array, Mesh, tube

DOUGH = 100
"""Label of all dough; which one it is, its place tells."""
LEAN_MM = 6.2
"""From the base of an LED of 5 mm to the middle of its round head."""
BRIGHT, DIM = 9.0, 0.9
Top = Callable[[Point], float]


def top_of(height: Floats) -> Top:
    """Look up a height (R, C) at places in mm, 0 outside."""

    def top(at: Point) -> float:
        if abs(at[0]) >= HALF_X_MM or abs(at[1]) >= HALF_Y_MM:
            return 0.0
        return float(height[row_and_column(at, height.shape)])

    return top


def relief_mesh(inside: Mask, height: Floats, colours: Floats) -> Mesh:
    """Cells of a mask as a surface at their heights that falls to the table at the rim."""
    near = cv2.dilate(inside.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    _, (row, col) = distance_transform_edt(~inside, return_indices=True)
    number = np.full(inside.shape, -1)
    number[near] = np.arange(int(near.sum()))
    a, b, c, d = (v.ravel() for v in (number[:-1, :-1], number[:-1, 1:], number[1:, :-1], number[1:, 1:]))
    i, j, k, m = (v.ravel() for v in (inside[:-1, :-1], inside[:-1, 1:], inside[1:, :-1], inside[1:, 1:]))
    faces = np.vstack([np.stack([a, c, d], -1)[i | k | m], np.stack([a, d, b], -1)[i | m | j]])
    y, x = np.nonzero(near)
    z = np.where(inside[near], height[near], -0.05)
    rows, cols = inside.shape
    points = [(x + 0.5 - cols / 2) * CELL_MM, (rows / 2 - y - 0.5) * CELL_MM, z]
    return Mesh(np.stack(points, 1), faces.astype(np.int32), colours[row[near], col[near]].astype(np.float64))


def dough_part(made: Invention, height: Floats, albedo: Floats, shine: float) -> Part:
    """All dough as one surface; `albedo` (R, C, 3)."""
    surface = {
        "type": "principled",
        "base_color": {"type": "mesh_attribute", "name": "vertex_color"},
        "roughness": 0.45 + 0.3 * (1 - shine / 0.16),
        "specular": 0.25 + shine,
    }
    return Part(relief_mesh(made.labels > 0, height, np.clip(albedo, 0, 0.97)), surface, DOUGH)


def plastic(rgb: Sequence[float], alpha: float = 0.15) -> dict[str, Any]:
    """A smooth or dull plastic of a linear colour."""
    value = [float(v) for v in rgb]
    return {
        "type": "roughplastic",
        "diffuse_reflectance": {"type": "rgb", "value": value},
        "alpha": alpha,
    }


def up(at: Point | NDArray[np.float64], z: float) -> Array:
    """A place of the invention with its height, y turned up."""
    return np.array([float(at[0]), -float(at[1]), z])


# ---------------------------------------------------------------- LEDs


def lamp_parts(rng: Rng, lamp: Lamp, top: Top) -> list[Part]:
    """An LED that stands, leans or lies, on bent legs."""
    r = lamp.radius_mm
    p, q, base2, head2 = (np.array(v) for v in (lamp.long, lamp.short, lamp.base, lamp.head))
    length = LEAN_MM * (r / 2.5) ** 0.75
    flat = min(float(np.hypot(*(head2 - base2))), 0.98 * length)
    rise = float(np.sqrt(length**2 - flat**2))
    lying = flat / length
    under = max(top(lamp.base), top(lamp.head), 0.6 * max(top(lamp.long), top(lamp.short)))
    base = up(base2, under + lying * 1.16 * r + (1 - lying) * 2.5)
    head = up(base2 + (head2 - base2) * min(1.0, length / max(float(np.hypot(*(head2 - base2))), 1e-6)),
              float(base[2]) + rise)  # fmt: skip
    axis = (head - base) / np.linalg.norm(head - base)
    glow, rim = _glow(lamp)
    clear = rng.random() < 0.3 and lamp.lit == "off"
    skin = plastic((0.62, 0.63, 0.62) if clear else PLASTIC[lamp.colour], 0.08)
    shapes: list[tuple[Any, Any]] = [
        (_cylinder(base, base + 0.4 * r * axis, 1.16 * r), rim),
        (_cylinder(base + 0.4 * r * axis, head, r), rim),
        ({"type": "sphere", "center": list(head), "radius": r}, glow),
        (cap(base + 0.4 * r * axis, axis, 1.16 * r), rim),
        (cap(base, axis, 1.16 * r), None),
    ]
    parts = [Part(shape, skin, NOT_DOUGH, light) for shape, light in shapes]
    side = (q - p) / max(float(np.hypot(*(q - p))), 1e-6)
    for sign, foot in ((-1, p), (1, q)):
        parts.append(_leg(base, axis, sign * side, foot, min(1.27, r / 2), top))
    return parts


def _cylinder(p: Array, q: Array, r: float) -> dict[str, Any]:
    return {"type": "cylinder", "p0": list(p), "p1": list(q), "radius": r}


def _glow(lamp: Lamp) -> tuple[tuple[float, float, float] | None, tuple[float, float, float] | None]:
    """Light of the head and of the body, None when off."""
    if lamp.lit == "off":
        return None, None
    strength = BRIGHT if lamp.lit == "bright" else DIM
    r, g, b = (strength * (c + 0.1) for c in GLOW[lamp.colour])
    return (r, g, b), (0.25 * r, 0.25 * g, 0.25 * b)


def _leg(
    base: Array, axis: Array, out: NDArray[np.float64], foot: NDArray[np.float64], root: float, top: Top
) -> Part:
    """A leg from the base of an LED outwards and down into the dough, or onto the table."""
    way3 = np.array([out[0], -out[1], 0.0])
    dough = top((float(foot[0]), float(foot[1])))
    start = base + root * way3
    elbow = up(foot, max(float(base[2]) * 0.6 + dough * 0.4, dough + 1.2)) - 1.2 * way3
    end = up(foot, dough - 3.5 if dough > 0.5 else 0.25) + 0.3 * way3
    way = [start + 0.4 * axis, start - 0.8 * axis, elbow, up(foot, dough + 0.4), end]
    return Part(tube(smooth_way(way), 0.27), METAL, NOT_DOUGH)


# ---------------------------------------------------------------- leads and pack


def rod_parts(rng: Rng, rod: Rod, top: Top) -> list[Part]:
    """A bare rod pushed slantwise into the dough, its sleeve, and wire that lies where it falls."""
    red = (rng.uniform(0.3, 0.7), rng.uniform(0.01, 0.04), rng.uniform(0.01, 0.04))
    paint = plastic(red if rod.red else (0.015, 0.015, 0.017), 0.2)
    at, end, sleeve = (np.array(v) for v in (rod.at, rod.rod_end, rod.sleeve_end))
    entry = up(at, top(rod.at))
    slope = rng.uniform(0.15, 0.6)
    rod3 = up(end, max(top(rod.rod_end) + 1.4, top(rod.at) + slope * float(np.hypot(*(end - at)))))
    sleeve3 = up(sleeve, max(top(rod.sleeve_end) + 1.8, float(rod3[2]) + 1.0))
    inwards = (at - end) / max(float(np.hypot(*(at - end))), 1e-6)
    tip = up(at + 1.2 * inwards, top(rod.at) - 4.0)
    back = (rod3 - sleeve3) / max(float(np.linalg.norm(rod3 - sleeve3)), 1e-6)
    radius, wire_mm = rng.uniform(0.5, 1.0), rng.uniform(0.55, 1.1)
    wire = _lying(rod.wire, float(sleeve3[2]), wire_mm, top)
    return [
        Part(tube([list(tip), list(entry), list(rod3)], radius, 20), METAL, NOT_DOUGH),
        Part(tube([list(rod3), list(sleeve3)], 1.7, 20), paint, NOT_DOUGH),
        Part(cap(rod3, back, 1.7), paint, NOT_DOUGH),
        Part(cap(sleeve3, -back, 1.7), paint, NOT_DOUGH),
        Part(tube(wire, wire_mm, 14), paint, NOT_DOUGH),
    ]


def _lying(way: Sequence[Point], start_mm: float, radius: float, top: Top) -> list[list[float]]:
    """A wire that falls from a height and then lies on table and dough, bending over their edges."""
    p = np.array(way)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))])
    steps = np.linspace(0, along[-1], max(4, int(along[-1] / 1.2)))
    x, y = np.interp(steps, along, p[:, 0]), np.interp(steps, along, p[:, 1])
    under = np.array([top((float(a), float(b))) for a, b in zip(x, y, strict=True)]) + radius
    soft = gaussian_filter1d(maximum_filter1d(under, 5), 3.0, mode="nearest")
    z = np.maximum(np.maximum(under, soft), start_mm - 0.55 * steps)
    z[0] = start_mm
    return [[float(a), float(-b), float(c)] for a, b, c in zip(x, y, z, strict=True)]


def holder_parts(made: Invention) -> list[Part]:
    """The pack, moved outwards until it lies beside the dough."""
    if made.pack is None:
        return []
    (x, y), _, _, turn = made.pack
    way = np.array([x, y]) / max(float(np.hypot(x, y)), 1e-6)
    rows, cols = np.nonzero(made.labels)
    dough = np.stack([(cols + 0.5) * CELL_MM - HALF_X_MM, (rows + 0.5) * CELL_MM - HALF_Y_MM], 1)[::7]
    middle = np.array([x, y])
    c, s = np.cos(turn), np.sin(turn)
    for _ in range(40):
        u, v = (dough - middle) @ np.array([c, s]), (dough - middle) @ np.array([-s, c])
        if not ((np.abs(u) < 36) & (np.abs(v) < 36)).any():
            break
        middle = middle + 3 * way
    parts, _, _ = pack_parts((float(middle[0]), float(middle[1])), float(np.degrees(turn)), -1)
    return parts


# ---------------------------------------------------------------- other things


def thing_parts(rng: Rng, thing: Thing, top: Top) -> list[Part]:
    """A crumb, a toy, a scrap of paper; or a finger that lies on the dough."""
    return _finger(thing, top) if thing.on_top else _crumb(rng, thing)


def _crumb(rng: Rng, thing: Thing) -> list[Part]:
    shape = (round(2 * HALF_Y_MM / CELL_MM), round(2 * HALF_X_MM / CELL_MM))
    mask = np.zeros(shape, np.uint8)
    rim = to_cells(bent_closed(thing.outline), shape)
    cv2.fillPoly(mask, [np.asarray(np.round(rim * 16), np.int32)], 1, cv2.LINE_8, 4)
    if not mask.any():
        return []
    edge = min(thing.top_mm, 6.0) + 0.1
    d = np.clip(depth_of(mask > 0) / edge, 0, 1)
    height = np.asarray(thing.top_mm * np.sqrt(np.maximum(1 - (1 - d) ** 2, 0)) + 0.1, np.float32)
    colour = np.array(thing.rgb, np.float32) * (1 + 0.06 * smooth(rng, shape, 3))[..., None]
    surface = {
        "type": "principled",
        "base_color": {"type": "mesh_attribute", "name": "vertex_color"},
        "roughness": 0.6,
    }
    mesh = relief_mesh(mask > 0, height, np.asarray(np.clip(colour, 0, 0.97), np.float32))
    return [Part(mesh, surface, NOT_DOUGH)]


def _finger(thing: Thing, top: Top) -> list[Part]:
    """A finger as a capsule that comes down from the hand."""
    o = np.array(thing.outline)
    far, r = (o[0] + o[-1]) / 2, float(np.hypot(*(o[0] - o[-1]))) / 2
    front = o[len(o) // 2]
    way = (far - front) / max(float(np.hypot(*(far - front))), 1e-6)
    tip = front + r * way
    steps = [tip + s * way for s in (0.0, 14.0, 30.0, 60.0, 110.0, 200.0)]
    lifts = (0.0, 1.5, 4.0, 14.0, 35.0, 60.0)
    z0 = max(top((float(t[0]), float(t[1]))) for t in steps[:3]) + 0.85 * r
    line = smooth_way([up(s, z0 + lift) for s, lift in zip(steps, lifts, strict=True)])
    skin = {
        "type": "principled",
        "base_color": {"type": "rgb", "value": [float(v) for v in thing.rgb]},
        "roughness": 0.5,
    }
    ball = {"type": "sphere", "center": line[0], "radius": r}
    nail_at = np.array(line[0]) + np.array([-way[0] * 0.35 * r, way[1] * 0.35 * r, 0.45 * r])
    nail = {"type": "sphere", "center": [float(v) for v in nail_at], "radius": 0.62 * r}
    pale = skin | {
        "base_color": {"type": "rgb", "value": [float(min(0.9, v * 1.2 + 0.03)) for v in thing.rgb]}
    }
    return [
        Part(ball, skin, NOT_DOUGH),
        Part(nail, pale, NOT_DOUGH),
        Part(tube(line, r, 32), skin, NOT_DOUGH),
    ]

"""Shapes of dough: depth fields on the table, and the soft bodies that stand on them.

Notation: X, Y are (R, C) coordinates in mm, x to the right, y towards the viewer, origin in the
middle of the picture. A depth field is (R, C) in mm: positive inside, 0 on the rim, negative outside.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

Array = NDArray[np.float64]
Point = tuple[float, float]
Depth = Callable[[Array, Array], Array]

HALF_X_MM, HALF_Y_MM, CELL_MM = 140.0, 110.0, 0.25


def disc(x: float, y: float, r: float) -> Depth:
    return lambda X, Y: r - np.hypot(X - x, Y - y)


def ellipse(x: float, y: float, rx: float, ry: float) -> Depth:
    """An ellipse; the depth is right near the rim only (first order)."""

    def depth(X: Array, Y: Array) -> Array:
        k = np.hypot((X - x) / rx, (Y - y) / ry)
        slope = np.hypot((X - x) / rx**2, (Y - y) / ry**2)
        return np.asarray(np.where(k > 0.05, k * (1 - k) / np.maximum(slope, 1e-9), min(rx, ry)))

    return depth


def capsule(p: Point, q: Point, rp: float, rq: float) -> Depth:
    """A sausage from p to q whose radius goes from rp to rq."""

    def depth(X: Array, Y: Array) -> Array:
        dx, dy = q[0] - p[0], q[1] - p[1]
        t = np.clip(((X - p[0]) * dx + (Y - p[1]) * dy) / (dx * dx + dy * dy), 0, 1)
        return np.asarray(rp + (rq - rp) * t - np.hypot(X - p[0] - t * dx, Y - p[1] - t * dy))

    return depth


def polygon(corners: Sequence[Point], rounding: float) -> Depth:
    """A polygon grown by `rounding` mm, which rounds its corners."""

    def depth(X: Array, Y: Array) -> Array:
        nearest = np.full(X.shape, np.inf)
        inside = np.zeros(X.shape, dtype=bool)
        for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
            ex, ey = bx - ax, by - ay
            t = np.clip(((X - ax) * ex + (Y - ay) * ey) / (ex * ex + ey * ey), 0, 1)
            nearest = np.minimum(nearest, np.hypot(X - ax - t * ex, Y - ay - t * ey))
            if ey:
                crosses = ((ay > Y) != (by > Y)) & ((Y - ay) / ey * ex + ax > X)
                inside ^= crosses
        return np.asarray(np.where(inside, nearest, -nearest) + rounding)

    return depth


def curve(points: Sequence[Point], steps: int = 12) -> list[Point]:
    """A smooth line through the points (Catmull-Rom)."""
    p = np.array([points[0], *points, points[-1]], dtype=float)
    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    parts = [
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True)
    ]
    return [(float(x), float(y)) for x, y in np.vstack([*parts, p[-1:]])]


def arc(x: float, y: float, r: float, start_deg: float, end_deg: float, steps: int = 30) -> list[Point]:
    angles = np.radians(np.linspace(start_deg, end_deg, steps))
    return [(float(x + r * np.cos(a)), float(y + r * np.sin(a))) for a in angles]


def rope(points: Sequence[Point], radii: Sequence[float]) -> Depth:
    """A rope of dough along the points; the radii are spread evenly along it."""
    r = np.interp(np.linspace(0, 1, len(points)), np.linspace(0, 1, len(radii)), radii)
    links = [
        capsule(a, b, float(ra), float(rb))
        for a, b, ra, rb in zip(points[:-1], points[1:], r[:-1], r[1:], strict=True)
    ]

    def depth(X: Array, Y: Array) -> Array:
        result = links[0](X, Y)
        for link in links[1:]:
            result = np.maximum(result, link(X, Y))
        return result

    return depth


def join(*shapes: Depth, soft: float = 4.0) -> Depth:
    """Shapes kneaded into one; `soft` mm rounds the inner corners."""

    def depth(X: Array, Y: Array) -> Array:
        result = shapes[0](X, Y)
        for shape in shapes[1:]:
            other = shape(X, Y)
            k = np.maximum(soft - np.abs(result - other), 0) / soft
            result = np.maximum(result, other) + k * k * soft / 4
        return result

    return depth


def cut(shape: Depth, *tools: Depth, grow: float = 0.0) -> Depth:
    """A shape less the tools, each tool grown by `grow` mm (negative: the two overlap)."""

    def depth(X: Array, Y: Array) -> Array:
        result = shape(X, Y)
        for tool in tools:
            result = np.minimum(result, -tool(X, Y) - grow)
        return result

    return depth


def meet(one: Depth, other: Depth) -> Depth:
    """What two shapes have in common."""
    return lambda X, Y: np.minimum(one(X, Y), other(X, Y))


def noise(rng: np.random.Generator, shape: tuple[int, int], size: float | tuple[float, float]) -> Array:
    """Smooth noise (R, C) of unit spread; `size` cells is the width of its humps."""
    field = gaussian_filter(rng.standard_normal(shape), size, mode="wrap")
    return np.asarray(field / field.std())


@dataclass(frozen=True)
class Ground:
    """The grid on which everything is drawn, a little warped so that no line is ruler-straight."""

    X: Array
    Y: Array
    warped_X: Array
    warped_Y: Array

    def depth(self, shape: Depth) -> Array:
        return shape(self.warped_X, self.warped_Y)

    def at(self, field: Array, point: Point) -> float:
        """The value of a field at a table point."""
        row = (point[1] + HALF_Y_MM) / CELL_MM
        col = (point[0] + HALF_X_MM) / CELL_MM
        return float(map_coordinates(field, [[row], [col]], order=1)[0])


def ground(rng: np.random.Generator) -> Ground:
    x = np.arange(-HALF_X_MM, HALF_X_MM + CELL_MM / 2, CELL_MM)
    y = np.arange(-HALF_Y_MM, HALF_Y_MM + CELL_MM / 2, CELL_MM)
    X, Y = np.meshgrid(x, y)

    def shift() -> Array:
        return 0.75 * noise(rng, X.shape, 14 / CELL_MM) + 0.2 * noise(rng, X.shape, 4 / CELL_MM)

    return Ground(X, Y, X + shift(), Y + shift())


def heights(
    depth: Array, rng: np.random.Generator, top_mm: float, edge_mm: float, grooves: Array | None
) -> Array:
    """Height (R, C) in mm of a soft body: a rounded rim, a slight dome, lumps, dents of fingers."""
    d = np.clip(depth / edge_mm, 0, 1)
    rim = np.sqrt(np.maximum(1 - (1 - d) ** 2.2, 0))
    dome = 1.3 * np.tanh(np.maximum(depth - edge_mm, 0) / 12)
    shape = depth.shape
    lumpy = 0.34 * noise(rng, shape, 5 / CELL_MM) + 0.16 * noise(rng, shape, 1.8 / CELL_MM)
    crumb = 0.022 * noise(rng, shape, 0.5 / CELL_MM)
    body = (top_mm + dome + lumpy + _finger_dents(rng, shape)) * rim + crumb * np.minimum(rim * 2, 1)
    if grooves is not None:
        body = body - grooves * rim
    return np.asarray(np.where(depth > 0, np.maximum(body, 0.02), 0.0))


def _finger_dents(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    field = np.zeros(shape)
    spots = rng.integers(0, shape[0] * shape[1], 26)
    field.ravel()[spots] = -rng.uniform(0.6, 1.6, len(spots))
    wide = 4.2 / CELL_MM
    return np.asarray(gaussian_filter(field, wide) * 2 * np.pi * wide**2)


def groove_field(where: Ground, lines: Sequence[Sequence[Point]], width_mm: float = 1.0) -> Array:
    """Depth (R, C) in mm of the marks drawn into the dough with a stick."""
    total = np.zeros(where.X.shape)
    for line in lines:
        away = -rope(line, (0.0, 0.0))(where.X, where.Y)
        total = np.maximum(total, 1.3 * np.exp(-((np.maximum(away, 0) / width_mm) ** 2)))
    return total


@dataclass(frozen=True)
class Mesh:
    """Triangles: `points` (n, 3) mm with z up, `faces` (m, 3), `colours` (n, 3) linear, `uv` (n, 2)."""

    points: Array
    faces: NDArray[np.int32]
    colours: Array | None = None
    uv: Array | None = None


def body_mesh(where: Ground, depth: Array, height: Array, colours: Array) -> Mesh:
    """A soft body as triangles; rim vertices are moved onto the rim, so that it is not stepped."""
    inside = depth > 0
    near = inside.copy()
    for axis in (0, 1):
        for step in (-1, 1):
            near |= np.roll(inside, step, axis)
    near |= np.roll(np.roll(inside, 1, 0), 1, 1) | np.roll(np.roll(inside, -1, 0), -1, 1)
    gy, gx = np.gradient(depth, CELL_MM)
    norm = np.maximum(gx**2 + gy**2, 0.05)
    push = np.where(inside, 0.0, np.clip(-depth, 0, 1.5 * CELL_MM))
    x, y = where.X + push * gx / norm, where.Y + push * gy / norm
    number = np.full(depth.shape, -1)
    number[near] = np.arange(int(near.sum()))
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, :-1], number[1:, 1:]
    faces = np.vstack(
        [
            np.stack([a, c, d], -1).reshape(-1, 3),
            np.stack([a, d, b], -1).reshape(-1, 3),
        ]
    )
    touched = np.concatenate([_any_inside(inside, "acd"), _any_inside(inside, "adb")])
    faces = faces[(faces >= 0).all(1) & touched]
    points = np.stack([x[near], -y[near], np.where(inside, height, -0.05)[near]], 1)
    return Mesh(points, faces.astype(np.int32), colours[near])


def _any_inside(inside: NDArray[np.bool_], corners: str) -> NDArray[np.bool_]:
    views = {"a": inside[:-1, :-1], "b": inside[:-1, 1:], "c": inside[1:, :-1], "d": inside[1:, 1:]}
    result = np.zeros(views["a"].shape, dtype=bool)
    for corner in corners:
        result |= views[corner]
    return result.ravel()


def tube(points: Sequence[Sequence[float]], radius: float, sides: int = 14) -> Mesh:
    """A round wire along points (x, y, z up)."""
    p = np.array(points, dtype=float)
    along = np.gradient(p, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    first = np.cross(along, [0.0, 0.03, 1.0])
    flat = np.linalg.norm(first, axis=1, keepdims=True) < 0.05
    first = np.where(flat, np.cross(along, [1.0, 0.0, 0.0]), first)
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    second = np.cross(along, first)
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)[None, :, None]
    ring = p[:, None] + radius * (np.cos(turn) * first[:, None] + np.sin(turn) * second[:, None])
    i = np.arange(len(p) - 1)[:, None] * sides
    j, k = np.arange(sides)[None], (np.arange(sides)[None] + 1) % sides
    faces = np.vstack(
        [
            np.stack([i + j, i + k, i + sides + k], -1).reshape(-1, 3),
            np.stack([i + j, i + sides + k, i + sides + j], -1).reshape(-1, 3),
        ]
    )
    return Mesh(ring.reshape(-1, 3), faces.astype(np.int32))

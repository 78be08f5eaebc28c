"""From scene data to the things that stand on the table: meshes with what they are made of."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from sample_images.studio.scenes import Lead, Led, Sample
from sample_images.studio.shapes import (
    CELL_MM,
    Array,
    Ground,
    Mesh,
    Point,
    body_mesh,
    curve,
    groove_field,
    ground,
    heights,
    noise,
    tube,
)
from sample_images.studio.tables import linear

NOT_DOUGH = 255
LED_COLOURS = {
    "red": "#e0241c",
    "green": "#27a844",
    "blue": "#2a5be0",
    "yellow": "#e8b21c",
    "white": "#e9e9e6",
}
GLOW = {
    "red": (1.0, 0.10, 0.06),
    "green": (0.12, 1.0, 0.22),
    "blue": (0.12, 0.3, 1.0),
    "yellow": (1.0, 0.62, 0.08),
    "white": (0.95, 0.97, 1.0),
}


@dataclass(frozen=True)
class Part:
    """One thing in the picture: a mesh or a Mitsuba shape, its surface, its label, its own light."""

    shape: Mesh | dict[str, Any]
    surface: dict[str, Any]
    label: int
    glow: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Bodies:
    """The dough of a scene: depth and height fields of its pieces, in their order."""

    where: Ground
    depths: tuple[Array, ...]
    heights: tuple[Array, ...]

    def top(self, at: Point) -> float:
        """Height in mm of the dough at a table point, 0 on the table."""
        return max(self.where.at(h, at) for h in self.heights)


def knead(sample: Sample) -> Bodies:
    """All bodies of a sample; the same seed always gives the same bodies."""
    rng = np.random.default_rng(sample.seed)
    where = ground(rng)
    depths, tops = [], []
    for piece in sample.pieces:
        depth = where.depth(piece.shape)
        grooves = groove_field(where, piece.lines) if piece.lines else None
        depths.append(depth)
        tops.append(heights(depth, rng, piece.top_mm, piece.edge_mm, grooves))
    return Bodies(where, tuple(depths), tuple(tops))


def dough_parts(sample: Sample, bodies: Bodies) -> list[Part]:
    rng = np.random.default_rng(sample.seed + 1)
    parts = []
    shape = bodies.where.X.shape
    for piece, depth, height in zip(sample.pieces, bodies.depths, bodies.heights, strict=True):
        place = [d.name for d in sample.doughs].index(piece.dough)
        patchy = 1 + 0.035 * noise(rng, shape, 6 / CELL_MM) + 0.02 * noise(rng, shape, 0.6 / CELL_MM)
        salt = np.maximum(noise(rng, shape, 0.35 / CELL_MM) - 3.0, 0) * 0.25
        colours = np.clip(
            linear(sample.doughs[place].hex)[None, None] * patchy[..., None] + salt[..., None], 0, 1
        )
        surface = {
            "type": "principled",
            "base_color": {"type": "mesh_attribute", "name": "vertex_color"},
            "roughness": 0.48,
            "specular": 0.42,
        }
        parts.append(Part(body_mesh(bodies.where, depth, height, colours), surface, place + 1))
    return parts


def _plastic(hex_colour: str, alpha: float = 0.15) -> dict[str, Any]:
    return {
        "type": "roughplastic",
        "diffuse_reflectance": {"type": "rgb", "value": linear(hex_colour).tolist()},
        "alpha": alpha,
    }


METAL = {
    "type": "roughconductor",
    "material": "Ag",
    "alpha": 0.22,
    "specular_reflectance": {"type": "rgb", "value": 0.82},
}


def led_parts(led: Led, state: str, bodies: Bodies) -> list[Part]:
    """An LED of 5 mm that stands astride the gap, its legs bent outwards and pressed in."""
    p, q = np.array(led.long), np.array(led.short)
    middle, apart = (p + q) / 2, float(np.hypot(*(q - p)))
    side = (q - p) / apart
    z0 = max(bodies.top(tuple(middle)), 7.0) + 2.2
    lean = np.array([led.lean[0], -led.lean[1], 1.0])
    lean /= np.linalg.norm(lean)
    base = np.array([middle[0], -middle[1], z0])
    along = np.array([side[0], -side[1], 0.0])
    parts = []
    for sign, foot, is_long in ((-1, p, True), (1, q, False)):
        top = bodies.top((float(foot[0]), float(foot[1])))
        bend = 1.0 if is_long else 0.2
        way = [
            base + sign * 1.27 * along + 0.4 * lean,
            base + sign * 1.5 * along - 1.0 * lean,
            np.array([foot[0], -foot[1], max(z0 - 1.0, top + 1.6) + bend]) - sign * 1.2 * along,
            np.array([foot[0], -foot[1], top + 0.5]),
            np.array([foot[0], -foot[1], top - 3.5 if top > 0 else 0.25]) + sign * 0.3 * along,
        ]
        parts.append(Part(tube(smooth_way(way), 0.27), METAL, NOT_DOUGH))
    lit = state != "off"
    strength = 9.0 if state == "bright" else 0.9
    red, green, blue = (strength * c for c in GLOW[led.colour])
    core = 0.10 * strength
    glow = (red + core, green + core, blue + core) if lit else None
    rim = (0.25 * red, 0.25 * green, 0.25 * blue) if lit else None
    skin = _plastic(LED_COLOURS[led.colour], 0.08)
    head = base + 5.2 * lean
    shapes: list[tuple[dict[str, Any], Any]] = [
        ({"type": "cylinder", "p0": list(base), "p1": list(base + 1.0 * lean), "radius": 2.9}, rim),
        ({"type": "cylinder", "p0": list(base + 1.0 * lean), "p1": list(head), "radius": 2.5}, rim),
        ({"type": "sphere", "center": list(head), "radius": 2.5}, glow),
    ]
    parts += [Part(shape, skin, NOT_DOUGH, light) for shape, light in shapes]
    parts.append(Part(cap(base + 1.0 * lean, lean, 2.9), skin, NOT_DOUGH, rim))
    parts.append(Part(cap(base, lean, 2.9), skin, NOT_DOUGH, None))
    return parts


def cap(at: Array, normal: Array, radius: float) -> Mesh:
    """A disc at right angles to its normal."""
    first = np.cross(normal, [0.3, 1.0, 0.1])
    first /= np.linalg.norm(first)
    second = np.cross(normal, first)
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)[:, None]
    ring = at + radius * (np.cos(turn) * first + np.sin(turn) * second)
    faces = [[24, i, (i + 1) % 24] for i in range(24)]
    return Mesh(np.vstack([ring, at[None]]), np.array(faces, dtype=np.int32))


def smooth_way(way: list[Array], steps: int = 8) -> list[list[float]]:
    xy = curve([(float(v[0]), float(v[1])) for v in way], steps)
    zz = curve([(float(v[2]), 0.0) for v in way], steps)
    return [[x, y, z] for (x, y), (z, _) in zip(xy, zz, strict=True)]


def lead_parts(lead: Lead, colour: str, start: Array, bodies: Bodies) -> list[Part]:
    """A lead: a bare rod pushed slantwise into the dough, a sleeve, and wire to the pack."""
    top = bodies.top(lead.at)
    angle = np.radians(lead.way_deg)
    out = np.array([np.cos(angle), -np.sin(angle), 0.42])
    out /= np.linalg.norm(out)
    entry = np.array([lead.at[0], -lead.at[1], top])
    rod_end, sleeve_end = entry + 11.5 * out, entry + 20.0 * out
    via = [np.array([x, -y, 1.2]) for x, y in lead.via]
    wire = smooth_way([entry + 18.0 * out, entry + 23.0 * out, *via, start], 14)
    for point in wire[16:]:
        point[2] = max(point[2], bodies.top((point[0], -point[1])) + 1.0, 1.0)
    return [
        Part(tube([list(entry - 6 * out), list(entry), list(rod_end)], 0.95, 20), METAL, NOT_DOUGH),
        Part(tube([list(rod_end - 0.5 * out), list(sleeve_end)], 1.75, 20), _plastic(colour, 0.2), NOT_DOUGH),
        Part(cap(rod_end - 0.5 * out, -out, 1.75), _plastic(colour, 0.2), NOT_DOUGH),
        Part(tube(wire, 0.95, 16), _plastic(colour, 0.2), NOT_DOUGH),
    ]


def pack_parts(at: Point, turn_deg: float, wires: int) -> tuple[list[Part], Array, Array]:
    """A plain open holder with four cells; also where the red and the black wire leave it."""
    turn = np.radians(turn_deg)
    ex = np.array([np.cos(turn), -np.sin(turn), 0.0])
    ey = np.array([np.sin(turn), np.cos(turn), 0.0])
    middle = np.array([at[0], -at[1], 0.0])
    parts = []

    def box(u: float, v: float, w: float, a: float, b: float, c: float) -> None:
        """A block in the holder: middle (u, v, w) and half sizes (a, b, c) in mm."""
        corners = [
            middle + (u + i * a) * ex + (v + j * b) * ey + np.array([0, 0, w + k * c])
            for k in (-1, 1)
            for j in (-1, 1)
            for i in (-1, 1)
        ]
        parts.append(Part(_block(corners), _plastic("#26282b", 0.25), NOT_DOUGH))

    box(0, 0, 1.0, 33, 33, 1.0)
    for v in (-32.0, 32.0):
        box(0, v, 7, 33, 1.2, 7)
    for u in (-32.0, 32.0):
        box(u, 0, 7.5, 1.4, 33, 7.5)
    for i in range(4):
        v = (i - 1.5) * 15.2
        box(0, v + 7.6, 3.2, 30, 0.5, 3.2)
        way = 1 if i % 2 else -1
        cell = middle + v * ey + np.array([0, 0, 9.2])
        ring = [cell + s * way * ex for s in (-25.0, 14.0, 24.4)]
        parts.append(Part(tube([list(ring[0]), list(ring[1])], 7.0, 40), _plastic("#4a5563", 0.2), NOT_DOUGH))
        parts.append(Part(tube([list(ring[1]), list(ring[2])], 7.0, 40), _plastic("#b9bcc0", 0.2), NOT_DOUGH))
        parts.append(Part(tube([list(ring[2]), list(ring[2] + 1.6 * way * ex)], 2.6, 24), METAL, NOT_DOUGH))
        parts.append(Part(cap(ring[0], -way * ex, 7.0), METAL, NOT_DOUGH))
        parts.append(Part(cap(ring[2], way * ex, 7.0), METAL, NOT_DOUGH))
    plus = middle + wires * 33 * ex + 14 * ey + np.array([0, 0, 4.0])
    minus = middle + wires * 33 * ex - 14 * ey + np.array([0, 0, 4.0])
    return parts, plus, minus


def _block(corners: list[Array]) -> Mesh:
    """A box with its own corner points for each side, so that its edges stay sharp."""
    quads = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
    points = np.array([corners[i] for quad in quads for i in quad])
    faces = np.array([[4 * i, 4 * i + j, 4 * i + j + 1] for i in range(6) for j in (1, 2)], dtype=np.int32)
    return Mesh(points, faces)


def all_parts(sample: Sample, bodies: Bodies, states: dict[str, str]) -> list[Part]:
    parts = dough_parts(sample, bodies)
    for led in sample.leds:
        parts += led_parts(led, states[led.id], bodies)
    pack, plus, minus = pack_parts(sample.pack_at, sample.pack_turn_deg, sample.pack_wires)
    parts += pack
    parts += lead_parts(sample.plus, "#c8201c", plus, bodies)
    return parts + lead_parts(sample.minus, "#1d1d1f", minus, bodies)

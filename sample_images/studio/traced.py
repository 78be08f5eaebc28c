"""Photos of inventions with traced light: another renderer than the one that lessons are made with.

Needs the dependency group `studio`, like `make`; `render` says how the light is traced.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.build import NOT_DOUGH, Part
from sample_images.studio.colours import Colour
from sample_images.studio.invention import Invention
from sample_images.studio.raster import CELL_MM, HALF_X_MM, HALF_Y_MM, Labels, Point, Rng, to_cells
from sample_images.studio.render import WIDTH as CAMERA_WIDTH
from sample_images.studio.render import Camera, Light, develop, photo_light, scene_of, table_part
from sample_images.studio.scene_files import Shot, shown
from sample_images.studio.shapes import Array, Mesh
from sample_images.studio.solid import (
    DOUGH,
    dough_part,
    holder_parts,
    lamp_parts,
    rod_parts,
    thing_parts,
    top_of,
)
from sample_images.studio.stage import dough_height, paint_dough, table_picture
from sample_images.studio.tables import HEIGHT_MM, SHAPE, WIDTH_MM, cloth, paper, relief, wood

SIZE, SAMPLES_PER_PX = (1200, 900), 16
MOST_TILT_DEG = 12.0
TOPS: dict[str, Callable[[Rng, str, str], Array]] = {"wood": wood, "cloth": cloth, "paper": paper}
WIDEST_MM = 240.0
"""Of the table in the photo; the table that is drawn ends soon after."""


def traced_shot(rng: Rng, made: Invention, table: Colour, span_mm: float) -> Shot:
    """A traced photo of a sculpture `span_mm` wide; left black where it would not show the truth."""
    height = dough_height(rng, made)
    albedo = np.zeros((*height.shape, 3), np.float32)
    shine = paint_dough(rng, made, albedo)
    top = top_of(height)
    ground = [_table(rng, table), _floor(rng), dough_part(made, height, albedo, shine)]
    over: list[Part] = holder_parts(made)
    for lamp in made.lamps:
        over += lamp_parts(rng, lamp, top)
    for rod in made.rods:
        over += rod_parts(rng, rod, top)
    for thing in made.things:
        over += thing_parts(rng, thing, top)
    camera = _camera(rng, made, span_mm)
    light = _light(rng)
    factor = SIZE[0] / CAMERA_WIDTH

    def px_of(at: Point, on_dough: bool = True) -> Point:
        x, y = camera.to_px(at[0], at[1], top(at) if on_dough else 0.0)
        return x * factor, y * factor

    whole, _ = _cast(ground, camera, made)
    _, things = _cast([*ground, *over], camera, made)
    shot = Shot(np.zeros((*whole.shape, 3), np.uint8), whole, things, px_of)
    if not shown(made, shot):
        return shot
    scene = photo_light([*ground, *over], camera, light, SIZE, SAMPLES_PER_PX)
    return replace(shot, photo=_developed(rng, scene))


def _table(rng: Rng, colour: Colour) -> Part:
    """A table of about this linear colour; half of them are drawn as for quick photos, which is soon done."""
    if rng.random() < 0.5:
        drawn = np.clip(table_picture(rng, SHAPE, colour), 0.003, 0.97).astype(float)
        return table_part(drawn, np.zeros((HEIGHT_MM + 1, WIDTH_MM + 1)))
    light, dark = _hex(colour), _hex([v * rng.uniform(0.35, 0.85) for v in colour])
    kind = str(rng.choice(["wood", "cloth", "paper", "paper"]))
    top = TOPS[kind](rng, light, dark)
    if rng.random() < 0.3:  # plainer
        top = 0.25 * top + 0.75 * top.mean(axis=(0, 1))
    return table_part(top, relief(rng, kind, (HEIGHT_MM + 1, WIDTH_MM + 1)))


def _floor(rng: Rng) -> Part:
    """What is seen beyond the edge of the table, in one colour, a little lower."""
    grey = rng.uniform(0.03, 0.6) * rng.uniform(0.7, 1.0, 3)
    corners = np.array([[x, y, -3.0] for x, y in ((-700, -700), (700, -700), (700, 700), (-700, 700))], float)
    faces = np.array([[0, 1, 2], [0, 2, 3]], np.int32)
    surface = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [float(v) for v in grey]}}
    return Part(Mesh(corners, faces), surface, 0)


def _hex(colour: Sequence[float]) -> str:
    """A linear colour as written sRGB."""
    c = np.clip(colour, 0, 1)
    s = np.where(c <= 0.0031308, 12.92 * c, 1.055 * c ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(float(v) * 255):02x}" for v in s)


def _camera(rng: Rng, made: Invention, span_mm: float) -> Camera:
    """A phone somewhere above the sculpture, tilted by up to 12 degrees, held any way round."""
    fov = rng.uniform(28, 48)
    wide = float(np.clip(span_mm / rng.uniform(0.3, 0.6), 110, WIDEST_MM))
    far = wide / 2 / np.tan(np.radians(fov) / 2)
    rows, cols = np.nonzero(made.labels)
    x = float(cols.mean()) * CELL_MM - HALF_X_MM + rng.normal(0, 6)
    y = float(rows.mean()) * CELL_MM - HALF_Y_MM + rng.normal(0, 6)
    tilt, turn = np.radians(rng.uniform(0, MOST_TILT_DEG)), rng.uniform(0, 2 * np.pi)
    eye = (x + far * np.sin(tilt) * np.cos(turn), -y + far * np.sin(tilt) * np.sin(turn), far * np.cos(tilt))
    roll = float(rng.choice([0.0, 90.0, 180.0, 270.0]) + rng.normal(0, 6))
    return Camera((float(eye[0]), float(eye[1]), float(eye[2])), (x, -y), roll, float(fov))


def _light(rng: Rng) -> Light:
    """A lamp or window on any side, large or small, warm or cool, in a bright or a dark room."""
    turn, steep = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(30, 72))
    far, half = rng.uniform(600, 900), rng.uniform(40, 190)
    at = (far * np.cos(turn) * np.cos(steep), far * np.sin(turn) * np.cos(steep), far * np.sin(steep))
    strength = 13.0 * (90 / half) ** 2 * (far / 670) ** 2
    warm = (1.0, rng.uniform(0.78, 1.0), rng.uniform(0.55, 1.05))
    level = float(np.exp(rng.uniform(np.log(0.15), np.log(1.2))))
    room = (level * rng.uniform(0.85, 1.05), level, level * rng.uniform(0.9, 1.2))
    return Light((float(at[0]), float(at[1]), float(at[2])), float(half), warm, float(strength), room)


def _cast(parts: Sequence[Part], camera: Camera, made: Invention) -> tuple[Labels, NDArray[np.bool_]]:
    """The dough that each pixel's ray meets first (H, W), 0 table; and whether it meets another thing."""
    values = scene_of(parts, camera, SIZE, "where:position,label:albedo")
    kind = np.rint(values[..., -1] * 255)
    where = values[..., -6:-3]
    cells = to_cells(np.stack([where[..., 0], -where[..., 1]], -1).reshape(-1, 2), made.labels.shape)
    col, row = np.rint(cells).astype(int).T
    rows, cols = made.labels.shape
    found = made.labels[np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)].reshape(kind.shape)
    return np.where(kind == DOUGH, found, 0).astype(np.uint8), np.asarray(kind == NOT_DOUGH)


def _developed(rng: Rng, scene: Array) -> NDArray[np.uint8]:
    """The photo as a phone sets it: exposure by its brightest parts, white not quite white."""
    usual = float(np.quantile(scene[::4, ::4].max(axis=2), 0.9))
    exposure = 0.62 / max(usual, 1e-3) * float(np.exp(rng.normal(0, 0.25)))
    balance = np.exp(rng.normal(0, 0.06, 3))
    photo: Any = develop(scene * balance, int(rng.integers(1 << 30)), exposure)
    if rng.random() < 0.4:
        photo = cv2.GaussianBlur(photo, (0, 0), rng.uniform(0.4, 1.0))
    return np.asarray(photo, np.uint8)

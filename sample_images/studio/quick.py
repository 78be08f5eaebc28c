"""A quick photo of an invention: a shaded relief instead of traced light, about a second each.

Light falls from a lamp and from all round; creases darken, things throw soft shadows, dough glistens,
LEDs glow, a lens looks from a point and a phone makes a JPEG of it. Everything varies with the seed.

Notation: R, C cells of `raster.CELL_MM`; H, W photo pixels.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.invention import Invention
from sample_images.studio.phone import develop
from sample_images.studio.props import put_lamp, put_pack, put_rod, put_thing
from sample_images.studio.raster import (
    CELL_MM,
    HALF_X_MM,
    HALF_Y_MM,
    Floats,
    Point,
    Rng,
    point,
    row_and_column,
    to_cells,
)
from sample_images.studio.shading import shaded
from sample_images.studio.stage import Stage, dough_height, paint_dough, table_picture


@dataclass(frozen=True)
class View:
    """A quick photo with its truth.

    photo  (H, W, 3) uint8 sRGB
    labels (H, W) uint8: the dough underneath whatever lies on top, 0 table
    things (H, W) uint8: what lies on top, 0 nothing
    to_px  (3, 3): table mm to photo px
    dough  (R, C) height in mm of the dough, without what lies on it
    over, lens_mm  where and how high the lens is above the table, in mm, for what stands on it
    """

    photo: NDArray[np.uint8]
    labels: NDArray[np.uint8]
    things: NDArray[np.uint8]
    to_px: NDArray[np.float64]
    dough: Floats
    over: NDArray[np.float64]
    lens_mm: float

    def px_of(self, at: Point, on_dough: bool = True) -> Point:
        """Where a place in mm is seen in the photo [px], on top of the dough or on the table."""
        height = float(self.dough[row_and_column(at, self.dough.shape)]) if on_dough else 0.0
        k = height / self.lens_mm
        place = self.over + (np.array(at) - self.over) / (1 - k)
        x, y, w = self.to_px @ np.array([*place, 1.0])
        return float(x / w), float(y / w)


def table_colour(rng: Rng) -> tuple[float, float, float]:
    """Linear colour of a table: wood, white, grey, black, or a plain cloth."""
    kind = rng.random()
    if kind < 0.3:
        level = rng.uniform(0.12, 0.65)
        return level, level * rng.uniform(0.55, 0.78), level * rng.uniform(0.22, 0.5)
    if kind < 0.62:
        level = rng.choice([rng.uniform(0.5, 0.9), rng.uniform(0.1, 0.5), rng.uniform(0.01, 0.08)])
        r, g, b = np.clip(level * rng.normal(1, 0.05, 3), 0.005, 0.95)
        return float(r), float(g), float(b)
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
    table_mm: tuple[float, float] = (2 * HALF_X_MM, 2 * HALF_Y_MM),
) -> View:
    """The photo of an invention on a table of this linear colour; `mm_per_px` by default at random.

    Each `take` is another light, lens and phone; `frame_mm` is how much of the table the photo holds.
    `relief` below 1 takes light and shade away, as flat light from all round does. `table_mm`: how
    much of the table is drawn; larger ones take longer.
    """
    made = _spread(made, table_mm)
    rng = np.random.default_rng([made.seed, 77, take])
    stage = _set(rng, made, table)
    lit = shaded(rng, stage)
    if relief < 1:
        lit = relief * lit + (1 - relief) * (0.8 * stage.albedo + stage.glow)
    return _shoot(rng, made, stage, lit, mm_per_px or float(rng.uniform(0.09, 0.22)), frame_mm)


def _set(rng: Rng, made: Invention, table: Sequence[float]) -> Stage:
    height = dough_height(rng, made)
    shape = height.shape
    albedo = table_picture(rng, shape, table)
    gloss = np.full(shape, rng.choice([0.0, 0.02, 0.1]), np.float32)
    gloss[made.labels > 0] = paint_dough(rng, made, albedo)
    stage = Stage(
        height.copy(), height, albedo, np.zeros((*shape, 3), np.float32), gloss, np.zeros(shape, np.uint8)
    )
    for thing in made.things:
        if not thing.on_top:
            put_thing(rng, stage, thing)
    if made.pack is not None:
        put_pack(rng, stage, made.pack)
    for lamp in made.lamps:
        put_lamp(rng, stage, lamp)
    for rod in made.rods:
        put_rod(rng, stage, rod)
    for thing in made.things:
        if thing.on_top:
            put_thing(rng, stage, thing)
    np.clip(stage.albedo, 0.003, 0.97, out=stage.albedo)
    return stage


def _spread(made: Invention, table_mm: tuple[float, float]) -> Invention:
    """The sculpture on a table of at least that size."""
    rows, cols = made.labels.shape
    y = max(0, round(table_mm[1] / CELL_MM - rows + 1) // 2)
    x = max(0, round(table_mm[0] / CELL_MM - cols + 1) // 2)
    if x == 0 and y == 0:
        return made
    by = ((y, y), (x, x))
    return replace(made, labels=np.pad(made.labels, by), solid=np.pad(made.solid, by))


def _shoot(
    rng: Rng, made: Invention, stage: Stage, lit: Floats, mm_per_px: float, frame_mm: tuple[float, float]
) -> View:
    lens_mm = rng.uniform(230, 500)
    over = np.array([rng.normal(0, 25), rng.normal(0, 25)])
    source = _parallax(stage.height, over, lens_mm)
    ys, xs = np.nonzero(made.labels)
    half = (made.labels.shape[1] * CELL_MM / 2, made.labels.shape[0] * CELL_MM / 2)
    middle = (float(xs.mean()) * CELL_MM - half[0], float(ys.mean()) * CELL_MM - half[1])
    to_px, size = _pose(rng, mm_per_px, middle, frame_mm)
    first = (CELL_MM / 2 - half[0], CELL_MM / 2 - half[1])
    cells = np.array([[CELL_MM, 0, first[0]], [0, CELL_MM, first[1]], [0, 0, 1]])
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
    labels, things = (
        np.asarray(cv2.remap(a, sx, sy, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT), np.uint8)
        for a in (made.labels, stage.things)
    )
    photo = develop(rng, np.asarray(light, np.float32), mm_per_px)
    return View(photo, labels, things, to_px, stage.dough, over, lens_mm)


def _parallax(height: Floats, over: NDArray[np.float64], lens_mm: float) -> Floats:
    """Which cell (column, row) is seen in the direction of each table cell, (R, C, 2)."""
    rows, cols = height.shape
    gx, gy = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    cx, cy = to_cells([point(over)], height.shape)[0]
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
    dx, dy = rng.normal(0, 8), rng.normal(0, 8)
    place = np.array([[1, 0, dx - middle[0]], [0, 1, dy - middle[1]], [0, 0, 1]])
    frame = np.array([[1, 0, cols / 2], [0, 1, rows / 2], [0, 0, 1]])
    return frame @ np.array([[c, -s, 0], [s, c, 0], [tilt[0], tilt[1], 1]]) @ place, (cols, rows)

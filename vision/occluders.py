"""What hides the dough: LED bodies, legs and wires.

Notation: h, w cells of a raster.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage

from vision.model import Mark, Point
from vision.palette import Light, Models, middle_of, shadowed
from vision.raster import Floats, Mask, Raster, closed, dilated, disc, far_from, opened

SMALL_MM, LARGE_MM = 2.5, 5.0
"""Body radii of the two usual LEDs, 5 mm and 10 mm (common practice, no published source)."""
CLIPPED = 0.93
STRANGE, WIDE_MM = 25.0, 4.1
"""Squared distance of what no colour explains, and the radius that tells a large LED (estimated)."""
RIM_MM = 1.3
LEG_HALF_MM = 0.45


@dataclass(frozen=True)
class Body:
    """An LED: its two legs and the middle between them [px], and the radius of its body [mm]."""

    legs: tuple[Point, Point]
    middle: Point
    radius_mm: float


def pairs(marks: Sequence[Mark]) -> list[tuple[Mark, Point]]:
    """Each LED once: one of its legs with the place of the other."""
    seen: set[frozenset[Point]] = set()
    out = []
    for mark in marks:
        if mark.kind == "leg" and mark.partner is not None:
            key = frozenset((mark.at, mark.partner))
            if key not in seen and len(key) == 2:
                seen.add(key)
                out.append((mark, mark.partner))
    return out


def led_bodies(raster: Raster, marks: Sequence[Mark], models: Models) -> tuple[Body, ...]:
    """The LEDs with their sizes: large where a wide spot between the legs is neither dough nor table."""
    strange = is_strange(raster, models)
    out = []
    for mark, partner in pairs(marks):
        middle = middle_of(mark.at, partner)
        along, across = _axes(raster, mark.at, partner)
        near = (np.abs(along) < LARGE_MM + 1) & (np.abs(across) < 12)
        wide = opened(closed(strange & near, 0.5, raster.cell_mm), WIDE_MM, raster.cell_mm)
        large = bool((wide & (np.hypot(along, across) < 7)).any())
        out.append(Body((mark.at, partner), middle, LARGE_MM if large else SMALL_MM))
    return tuple(out)


def is_strange(raster: Raster, models: Models, where: Mask | None = None) -> Mask:
    """Cells that no dough and no table explains, or that are clipped: (h, w), or (n,) of those in `where`."""
    known = (*models.doughs, *models.table, *(shadowed(g) for g in models.table))
    linear = raster.linear if where is None else raster.linear[where]
    f = raster.features if where is None else raster.features[where]
    nearest = np.min([g.distance(f) for g in known], axis=0)
    return np.asarray((nearest > STRANGE) | (linear.max(axis=-1) > CLIPPED))


def lights_of(marks: Sequence[Mark], bodies: Sequence[Body]) -> tuple[Light, ...]:
    """The lit LEDs."""
    lit = {frozenset((m.at, p)): m.tint for m, p in pairs(marks) if m.lit and m.tint is not None}
    out = []
    for body in bodies:
        tint = lit.get(frozenset(body.legs))
        if tint is not None:
            out.append(Light(body.middle, body.radius_mm, tint))
    return tuple(out)


def _axes(raster: Raster, a: Point, b: Point) -> tuple[Floats, Floats]:
    """Distance [mm] of each cell from the middle of a and b along and across their line, (h, w) each."""
    (ax, ay), (bx, by) = raster.cell(a), raster.cell(b)
    length = max(float(np.hypot(bx - ax, by - ay)), 1e-6)
    ux, uy = (bx - ax) / length, (by - ay) / length
    y, x = np.ogrid[: raster.shape[0], : raster.shape[1]]
    dx, dy = x - (ax + bx) / 2, y - (ay + by) / 2
    mm = raster.cell_mm
    return ((dx * ux + dy * uy) * mm).astype(np.float32), ((dy * ux - dx * uy) * mm).astype(np.float32)


def body_mask(raster: Raster, bodies: Sequence[Body], rim_mm: float) -> Mask:
    """Discs of body radius + `rim_mm` round the middles, (h, w)."""
    out = np.zeros(raster.shape, bool)
    for body in bodies:
        d = far_from(raster.shape, raster.cell(body.middle)) * raster.cell_mm
        out |= d < body.radius_mm + rim_mm
    return out


def led_zones(raster: Raster, bodies: Sequence[Body], models: Models) -> Mask:
    """Cells where an LED hides the dough, (h, w): its disc, and what is neither dough nor table beside it.

    That is followed in a strip across the line of the legs, where a leaning body is seen.
    """
    out = np.zeros(raster.shape, bool)
    for body in bodies:
        along, across = _axes(raster, *body.legs)
        core = np.hypot(along, across) < body.radius_mm + RIM_MM
        reach = 16.0 if body.radius_mm > SMALL_MM else 10.5
        strip = (np.abs(along) < body.radius_mm + 0.5) & (np.abs(across) < reach)
        strip[strip] = is_strange(raster, models, strip)
        parts, _ = ndimage.label(strip, np.ones((3, 3)))
        lit = strip & np.isin(parts, np.unique(parts[core & strip]))
        lit = opened(lit, 0.8, raster.cell_mm)
        out |= core | dilated(lit, 0.3, raster.cell_mm)
    return out


def wires(raster: Raster, dough: Mask) -> Mask:
    """Black and red wires, (h, w): thin, and running on over the table, which a gap never does."""
    mm = raster.cell_mm
    light, red = raster.features[..., 0], raster.features[..., 1]
    kernel = disc(1.3, mm)
    filled = cv2.morphologyEx(light, cv2.MORPH_CLOSE, kernel)
    dark = (filled - light > 0.4) & (light < -0.8)
    reddish = (red - cv2.morphologyEx(red, cv2.MORPH_OPEN, kernel) > 0.45) & (red > 0.8)
    near_dough = dilated(dough, 2.0, mm)
    out = np.zeros(raster.shape, bool)
    for thin in (dark, reddish):
        parts, count = ndimage.label(closed(thin, 0.4, mm), np.ones((3, 3)))
        if not count:
            continue
        off = np.bincount(parts[~near_dough], minlength=count + 1) * mm * mm
        for i, box in enumerate(ndimage.find_objects(parts), start=1):
            if box is None:
                continue
            rows, cols = (s.stop - s.start for s in box)
            if np.hypot(rows, cols) * mm > 12 and off[i] > 6:
                out[box] |= parts[box] == i
    return dilated(out, 0.35, mm)

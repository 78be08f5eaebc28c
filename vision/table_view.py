"""How photo pixels lie on the table: the scale."""

import math

from vision.errors import ScaleError
from vision.model import Point, TableView

FRAME_MM = 200.0
"""Width of the frame when nobody told the scale (estimated: a sculpture fills about half of it)."""
LEAST_MM_PER_PX, MOST_MM_PER_PX = 0.002, 5.0
"""Bounds outside which no photo of a sculpture lies (estimated)."""
LEAST_APART_PX = 8.0
"""Two scale points nearer than this give a scale that a tap error ruins (estimated)."""


def view_from_points(first: Point, second: Point, mm: float) -> TableView:
    """The scale from two points [px] and the distance [mm] between them.

    Raises:
        ScaleError: the points coincide nearly, a value is not finite, or the scale is absurd.
    """
    if not all(math.isfinite(value) for value in (*first, *second)):
        raise ScaleError(f"The scale points {first} and {second} are no places; tap both on the photo.")
    if not (math.isfinite(mm) and mm > 0):
        raise ScaleError(f"The scale length is {mm:g} mm; give the distance between the two points, above 0.")
    apart = math.dist(first, second)
    if apart < LEAST_APART_PX:
        raise ScaleError(
            f"The two scale points are only {apart:.1f} pixels apart; tap two places farther from each other."
        )
    return view_from_mm_per_px(mm / apart)


def view_from_mm_per_px(mm_per_px: float) -> TableView:
    """The scale as told.

    Raises:
        ScaleError: not a number, or outside 0.002 to 5 mm per pixel.
    """
    if not (LEAST_MM_PER_PX <= mm_per_px <= MOST_MM_PER_PX):
        raise ScaleError(
            f"The scale comes out at {mm_per_px:g} mm per pixel, outside {LEAST_MM_PER_PX:g} to "
            f"{MOST_MM_PER_PX:g}; check the two points and their mm."
        )
    return TableView(float(mm_per_px), (0.0, 0.0), true_scale=True)


def view_without_scale(width_px: int) -> TableView:
    """A relative scale: the frame counts as 200 mm wide."""
    return TableView(FRAME_MM / width_px, (0.0, 0.0), true_scale=False)

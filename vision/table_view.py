"""How photo pixels lie on the table: a scale, or a plane seen at an angle."""

import math
from collections.abc import Sequence
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.errors import ScaleError
from vision.model import Nine, Point, TableView

FRAME_MM = 200.0
"""Width of the frame when nobody told the scale (estimated: a sculpture fills about half of it)."""
LEAST_MM_PER_PX, MOST_MM_PER_PX = 0.002, 5.0
"""Bounds outside which no photo of a sculpture lies (estimated)."""
LEAST_APART_PX = 8.0
"""Two scale points nearer than this give a scale that a tap error ruins (estimated)."""
CARD_MM = (85.60, 53.98)
"""A bank or library card: ISO/IEC 7810:2019, ID-1 (from memory)."""
MOST_TILT_DEG = 60.0
"""More than this from straight above hides too much of the table behind the sculpture (estimated)."""


def view_from_points(first: Point, second: Point, mm: float) -> TableView:
    """The scale from two points [px] and the distance [mm] between them.

    Raises:
        ScaleError: the points coincide nearly, a value is not finite, or the scale is absurd.
    """
    if not all(math.isfinite(value) for value in (*first, *second)):
        raise ScaleError(
            "The scale points {first} and {second} are no places; tap both on the photo.",
            first=first,
            second=second,
        )
    if not (math.isfinite(mm) and mm > 0):
        raise ScaleError(
            "The scale length is {mm:g} mm; give the distance between the two points, above 0.",
            mm=mm,
        )
    apart = math.dist(first, second)
    if apart < LEAST_APART_PX:
        raise ScaleError(
            "The two scale points are only {apart:.1f} pixels apart; tap two places farther from each other.",
            apart=apart,
        )
    return view_from_mm_per_px(mm / apart)


def view_from_mm_per_px(mm_per_px: float) -> TableView:
    """The scale as told.

    Raises:
        ScaleError: not a number, or outside 0.002 to 5 mm per pixel.
    """
    return TableView(_checked(mm_per_px), (0.0, 0.0), true_scale=True)


def _checked(mm_per_px: float) -> float:
    if not (LEAST_MM_PER_PX <= mm_per_px <= MOST_MM_PER_PX):
        raise ScaleError(
            "The scale comes out at {mm_per_px:g} mm per pixel, outside {least:g} to "
            "{most:g}; check the points and their mm.",
            mm_per_px=mm_per_px,
            least=LEAST_MM_PER_PX,
            most=MOST_MM_PER_PX,
        )
    return float(mm_per_px)


def view_without_scale(width_px: int) -> TableView:
    """A relative scale: the frame counts as 200 mm wide."""
    return TableView(FRAME_MM / width_px, (0.0, 0.0), true_scale=False)


def view_from_corners(
    corners: Sequence[Point], sides_mm: tuple[float, float], size: tuple[int, int]
) -> TableView:
    """The view from the four corners [px] of a flat rectangle, in a photo of this width and height.

    The corners go round, either way; `sides_mm` are the lengths from the first to the second corner and
    from the second to the third.

    Raises:
        ScaleError: corners that make no rectangle seen from above, lengths that are none, an absurd scale.
    """
    if len(corners) != 4:
        raise ScaleError(
            "The rectangle has {count} corners; tap its four corners, going round.",
            count=len(corners),
        )
    if not all(math.isfinite(side) and side > 0 for side in sides_mm):
        raise ScaleError(
            "The sides are {one:g} and {other:g} mm; give both lengths, above 0.",
            one=sides_mm[0],
            other=sides_mm[1],
        )
    _check_apart(corners)
    turns = _turns(corners)
    if turns[0] * turns[1] < 0 or turns[0] * turns[2] < 0 or turns[0] * turns[3] < 0 or 0 in turns:
        if sum(turn > 0 for turn in turns) == 2:
            raise ScaleError("The four corners are not in order round the edge; tap them again, going round.")
        raise ScaleError("The four corners make no rectangle: one lies too far inwards; tap them again.")
    wide, high = sides_mm[0], math.copysign(sides_mm[1], turns[0])
    there = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], np.float32)
    matrix = cv2.getPerspectiveTransform(np.array(corners, np.float32), there)
    return perspective_view(np.asarray(matrix, np.float64), size)


def view_from_card(taps: Sequence[Point], size: tuple[int, int]) -> TableView:
    """The view from a card of the usual size: its four corners, or both ends of a long edge [px].

    Which edges are long is seen from the taps, which works up to about 50 degrees of tilt.

    Raises:
        ScaleError: as `view_from_corners`, or another number of taps.
    """
    if len(taps) == 2:
        return view_from_points(taps[0], taps[1], CARD_MM[0])
    if len(taps) != 4:
        raise ScaleError(
            "The card has {count} taps; tap its four corners, or both ends of one of its long edges.",
            count=len(taps),
        )
    first, second = (math.dist(taps[i], taps[i + 1]) + math.dist(taps[i + 2], taps[i - 1]) for i in (0, 1))
    return view_from_corners(taps, CARD_MM if first >= second else (CARD_MM[1], CARD_MM[0]), size)


def view_from_coin(taps: Sequence[Point], mm: float) -> TableView:
    """The view from a coin of known diameter: two taps across it, or five and more round its rim [px].

    A coin tells how much the table is foreshortened and which way, but not which side is nearer, so that
    the scale is the same all over the photo.

    Raises:
        ScaleError: too few taps, taps that make no ellipse, an absurd scale or tilt.
    """
    if len(taps) == 2:
        return view_from_points(taps[0], taps[1], mm)
    if len(taps) < 5:
        raise ScaleError(
            "The coin has {count} taps; tap two opposite places of its rim, or five and more all round it.",
            count=len(taps),
        )
    if not (math.isfinite(mm) and mm > 0):
        raise ScaleError("The diameter is {mm:g} mm; give how wide the coin is, above 0.", mm=mm)
    _check_apart(taps)
    at = np.array(taps, np.float32)
    middle, (one, other), angle = cv2.fitEllipse(at)
    if not (min(one, other) > 0 and max(one, other) < 4 * np.ptp(at, axis=0).max()):
        raise ScaleError("The taps make no ellipse; tap five and more places all round the coin's rim.")
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turn = np.array([[c, s], [-s, c]])
    matrix = np.eye(3)
    matrix[:2, :2] = turn.T @ np.diag([mm / one, mm / other]) @ turn
    size = (round(2 * middle[0]), round(2 * middle[1]))  # the scale is the same everywhere
    return perspective_view(matrix, size)


def _check_apart(places: Sequence[Point]) -> None:
    if not all(math.isfinite(value) for place in places for value in place):
        raise ScaleError("A scale place is no place of the photo; tap all of them on the photo.")
    apart = min(math.dist(a, b) for a, b in combinations(places, 2))
    if apart < LEAST_APART_PX:
        raise ScaleError(
            "Two scale places are only {apart:.1f} pixels apart; tap places farther from each other.",
            apart=apart,
        )


def _turns(corners: Sequence[Point]) -> list[float]:
    """Sine of the turn at each of four corners, above 0 clockwise on the screen; 0 below 3 degrees."""
    found = []
    for i in range(4):
        (ax, ay), (bx, by), (cx, cy) = corners[i - 1], corners[i], corners[(i + 1) % 4]
        cross = (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
        sine = cross / (math.hypot(bx - ax, by - ay) * math.hypot(cx - bx, cy - by))
        found.append(sine if abs(sine) > math.sin(math.radians(3)) else 0.0)
    return found


def perspective_view(
    px_to_mm: NDArray[np.float64], size: tuple[int, int], quarters: bool = False
) -> TableView:
    """The view of a photo of this width and height from a homography (3, 3), photo px to table mm.

    The table is turned so that its x axis runs along the photo's in the middle of the photo, which
    keeps the box round a part of the photo small; with `quarters` by whole quarter turns only.

    Raises:
        ScaleError: mirrored, tilted by more than 60 degrees, or an absurd scale.
    """
    matrix = np.asarray(px_to_mm, np.float64)
    if not np.isfinite(matrix).all() or abs(np.linalg.det(matrix)) < 1e-30:
        raise ScaleError("The four places make no plane; tap them again, corner by corner.")
    width, height = size
    middle = np.array([width / 2, height / 2, 1.0])
    matrix = matrix / (matrix[2] @ middle)
    slopes = _slopes(matrix, middle)
    if np.linalg.det(slopes) <= 0:
        raise ScaleError("The places are in the wrong order (mirrored); tap them again, going round.")
    least, most = sorted(np.linalg.svd(slopes, compute_uv=False))
    corners = np.array([[0, 0, 1], [width, 0, 1], [0, height, 1], [width, height, 1]], float)
    if least < most * math.cos(math.radians(MOST_TILT_DEG)) or (corners @ matrix[2] <= 0.05).any():
        raise ScaleError(
            "The photo looks at the table from more than {most:g} degrees aside; take "
            "it from straight above, or tap the places again.",
            most=MOST_TILT_DEG,
        )
    mm_per_px = _checked(math.sqrt(least * most))
    turn = -math.atan2(slopes[1, 0], slopes[0, 0])
    if quarters:
        turn = round(turn / (math.pi / 2)) * math.pi / 2
    c, s = math.cos(turn), math.sin(turn)
    turned = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ matrix
    return TableView(mm_per_px, (0.0, 0.0), True, _nine(turned))


def tilt_deg(view: TableView, size: tuple[int, int]) -> float:
    """How far from straight above a photo of this width and height was taken.

    In the middle of a photo a plane is foreshortened by the cosine of its tilt, whatever the lens.
    """
    if view.homography is None:
        return 0.0
    middle = np.array([size[0] / 2, size[1] / 2, 1.0])
    least, most = sorted(np.linalg.svd(_slopes(np.array(view.homography).reshape(3, 3), middle))[1])
    return math.degrees(math.acos(min(1.0, least / most)))


def _slopes(matrix: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Derivative (2, 2) of a homography at a homogeneous point."""
    x, y, w = matrix @ at
    return np.asarray((matrix[:2, :2] - np.outer([x / w, y / w], matrix[2, :2])) / w, np.float64)


def _nine(matrix: NDArray[np.float64]) -> Nine:
    a, b, c, d, e, f, g, h, i = (float(v) for v in matrix.ravel())
    return (a, b, c, d, e, f, g, h, i)

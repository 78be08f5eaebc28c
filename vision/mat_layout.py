"""The printed work mat: where everything stands on its paper, in mm from the top left corner.

`api/mat_sheet.py` prints it, `mat.py` finds it again in a photo.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.model import Point

Paper = Literal["a4", "letter"]
PadRole = Literal["conductive", "insulating"]
BoxMm = tuple[float, float, float, float]

PAPERS: Mapping[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""Width and height lying down: ISO 216 A4; US Letter, 11 x 8.5 inches (ANSI/ASME Y14.1; from memory)."""
DICTIONARY = cv2.aruco.DICT_5X5_50
MODULES = 7
"""Squares along a marker, its black rim included."""
FIRST_ID: Mapping[Paper, int] = {"a4": 0, "letter": 20}
"""Markers of the two papers differ, so that a photo says which one it is."""

MARGIN_MM, MARKER_MM = 9.0, 14.0
"""Home printers leave 3 to 6 mm of a sheet blank (common practice); 14 mm is 30 px in a photo 640 px wide."""
SIDE_MM, TOP_MM = 27.0, 31.0
"""Rims left and right, and above and below, of the free middle."""
PAD_RADIUS_MM, PATCH_MM = 6.0, 10.0
GREYS = (0.80, 0.56, 0.34)
"""sRGB values printed, 0 to 1. What a printer makes of them is not known, only that they are neutral."""


@dataclass(frozen=True)
class Pad:
    """A ring for a pinch of one dough; `at` [mm] is its middle."""

    number: int
    role: PadRole
    at: Point


@dataclass(frozen=True)
class MatLayout:
    """Everything on one paper, in mm.

    markers  id to its top left corner; they are MARKER_MM wide
    patches  top left corner and grey value; they are PATCH_MM wide
    work     left, top, right, bottom of the free middle
    """

    paper: Paper
    size: tuple[float, float]
    markers: Mapping[int, Point]
    pads: tuple[Pad, ...]
    patches: tuple[tuple[Point, float], ...]
    work: BoxMm


def mat_layout(paper: Paper) -> MatLayout:
    """The mat on this paper, lying down."""
    width, height = PAPERS[paper]
    low, right = height - MARGIN_MM - MARKER_MM, width - MARGIN_MM - MARKER_MM
    middle, step = (width - MARKER_MM) / 2, (low - MARGIN_MM) / 3
    columns = ((MARGIN_MM, range(4)), (middle, (0, 3)), (right, range(4)))
    corners = [(x, MARGIN_MM + i * step) for x, rows in columns for i in rows]
    return MatLayout(
        paper,
        (width, height),
        {FIRST_ID[paper] + i: corner for i, corner in enumerate(corners)},
        _pads(width),
        tuple(
            (
                (
                    x + (MARKER_MM - PATCH_MM) / 2,
                    MARGIN_MM + (i + 0.5) * step + MARKER_MM / 2 + PATCH_MM * (k - 1.5),
                ),
                grey,
            )
            for x in (MARGIN_MM, right)
            for i in range(3)
            for k, grey in enumerate(GREYS)
        ),
        (SIDE_MM, TOP_MM, width - SIDE_MM, height - TOP_MM),
    )


def _pads(width: float) -> tuple[Pad, ...]:
    """Three pads left and three right of the marker in the middle of the upper rim."""
    step = (width / 2 - MARKER_MM / 2 - 4 - SIDE_MM) / 3
    halves: tuple[tuple[float, PadRole], ...] = (
        (SIDE_MM, "conductive"),
        (width / 2 + MARKER_MM / 2 + 4, "insulating"),
    )
    return tuple(
        Pad(3 * half + i + 1, role, (start + i * step + PAD_RADIUS_MM, MARGIN_MM + MARKER_MM / 2))
        for half, (start, role) in enumerate(halves)
        for i in range(3)
    )


def box_corners(box: BoxMm) -> list[Point]:
    """The corners going round from the top left."""
    left, top, right, bottom = box
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def marker_modules(number: int) -> NDArray[np.bool_]:
    """Which squares of a marker are black, (MODULES, MODULES)."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    return np.asarray(dictionary.generateImageMarker(number, MODULES) < 128, np.bool_)

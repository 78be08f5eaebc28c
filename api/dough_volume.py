"""How much dough of a colour there is, with the uncertainty of the figure.

A photo from above shows areas; how high the dough stands is told, or guessed from its outline. Standard
uncertainties are combined as the law of propagation says (JCGM 100:2008, 5.1.2, no two inputs correlated).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from skimage.draw import polygon2mask

from api.fields import Spot
from api.schemas import Case, PieceOut, Report
from circuit.thickness import height_from_shape

SCALE_ERROR = {"mat": 0.005, "card": 0.015, "corners": 0.015, "coin": 0.03, "points": 0.02, "mm_per_px": 0.02}
"""Relative standard uncertainty of a length, by what the scale was told by. Estimated: a finger taps within
about 1 mm, so the longer what it taps the better; the mat's markers are found within a tenth of one."""
EDGE_ERROR_MM = 0.3
"""Standard uncertainty of where an outline runs, all of it alike (shade, a rim that overhangs). Estimated."""
MEASURED_HEIGHT_ERROR, TOLD_HEIGHT_ERROR, TAKEN_HEIGHT_ERROR = 0.10, 0.15, 0.25
"""Relative standard uncertainty of the mean height: measured for this dough, told for the whole sculpture,
or taken as usual or guessed from the outline because nobody told. Estimated."""
GRID_MM = 1.0
MM3_IN_CM3 = 1000.0


@dataclass(frozen=True)
class Volume:
    """Volume [cm3] and its standard uncertainty [cm3]."""

    cm3: float
    error_cm3: float


def dough_volume(report: Report, case: Case, dough: str) -> Volume | None:
    """The volume of all pieces of the dough of this name; None without a true scale.

    What only the photo of the underside shows lies under other dough and may be as thin as a film or as high
    as the rest: half of it counts, with the uncertainty of an even spread (JCGM 100:2008, 4.3.7).
    """
    if not report.photo.true_scale:
        return None
    pieces = [piece for piece in report.pieces if piece.colour == dough]
    seen_mm2 = sum(piece.area_mm2 for piece in pieces if not piece.below)
    below_mm2 = sum(piece.area_mm2 for piece in pieces if piece.below)
    rim_mm = sum(_around(piece.outline) for piece in pieces if not piece.below) * report.photo.mm_per_px
    high_mm, height_error = _height(report, case, dough)
    mm3 = high_mm * (seen_mm2 + below_mm2 / 2)
    errors = (
        2 * _scale_error(case) * mm3,  # an area goes as the square of a length
        height_error * mm3,
        high_mm * rim_mm * EDGE_ERROR_MM,
        high_mm * below_mm2 / (2 * sqrt(3)),
    )
    return Volume(mm3 / MM3_IN_CM3, hypot(*errors) / MM3_IN_CM3)


def _around(outline: Sequence[Spot]) -> float:
    """The length of a closed outline, in its own unit."""
    if len(outline) < 2:
        return 0.0
    closed = np.array([*outline, outline[0]])
    return float(np.hypot(*np.diff(closed, axis=0).T).sum())


def _scale_error(case: Case) -> float:
    told = case.scale.model_fields_set if case.scale is not None else set()
    return next((error for kind, error in SCALE_ERROR.items() if kind in told), max(SCALE_ERROR.values()))


def _height(report: Report, case: Case, dough: str) -> tuple[float, float]:
    """Mean height [mm] of a dough and its relative standard uncertainty."""
    measured = case.materials.get(dough)
    own = measured.thickness_mm if measured is not None else None
    told = own or case.thickness_mm
    if isinstance(told, str):
        return _height_from_outlines(report.pieces, dough, report.photo.mm_per_px), TAKEN_HEIGHT_ERROR
    if own is not None:
        return told, MEASURED_HEIGHT_ERROR
    return told, TOLD_HEIGHT_ERROR if "thickness_mm" in case.model_fields_set else TAKEN_HEIGHT_ERROR


def _height_from_outlines(pieces: Sequence[PieceOut], dough: str, mm_per_px: float) -> float:
    """Mean height [mm] where this dough is, as the sums guess it: dough that touches is one body."""
    outlines = [
        (piece.colour == dough, np.array(piece.outline) * (mm_per_px / GRID_MM))
        for piece in pieces
        if len(piece.outline) > 2 and not piece.below
    ]
    if not any(own for own, _ in outlines):
        return 0.0
    corners = np.concatenate([outline for _, outline in outlines])
    start = np.floor(corners.min(axis=0)) - 1
    size = tuple((np.ceil(corners.max(axis=0)) + 2 - start).astype(int)[::-1])
    all_of_it, this = np.zeros(size, bool), np.zeros(size, bool)
    for own, outline in outlines:
        # A cell is inside when its middle is.
        inside = polygon2mask(size, (outline - start - 0.5)[:, ::-1])  # type: ignore[no-untyped-call]
        all_of_it |= inside
        if own:
            this |= inside
    return float(height_from_shape(all_of_it, GRID_MM)[this].mean()) if this.any() else 0.0

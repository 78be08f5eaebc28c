"""What the helper drew on the photo, checked, and as cells of a raster.

Notation: R, C cells (rows, columns).
"""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from vision.errors import PaletteError, VisionError
from vision.model import NOT_DOUGH, Colour, Correction, Line, Point, Stroke, TableView
from vision.palette import doughs_of
from vision.pieces import Labels
from vision.raster import Floats
from vision.tracks import track

TABLE, NO_DOUGH = "table", "not-dough"
LEAST_WIDTH_MM, MOST_WIDTH_MM = 0.2, 60.0
"""A finer brush would miss cells; a wider one covers a whole sculpture."""
BRIDGE_MM = 2.5
"""Width of the bridge that a join paints: safely more than the 2 mm under which a contact is doubtful."""
BARRIER = 0.75
"""Half width in cells of the track of a cut: all cells that the line meets lie within 1/sqrt(2)."""
UNSAID = -1


def check_corrections(
    corrections: Sequence[Correction], palette: Sequence[Colour], width: int, height: int
) -> None:
    """Raise VisionError unless every line has two points on the photo, a sane width and a known colour."""
    for one in corrections:
        what = "stroke" if isinstance(one, Stroke) else one.kind
        if len(one.points) < 2:
            raise VisionError(
                "A {what} has {count} points; give two at least.",
                what=what,
                count=len(one.points),
            )
        for x, y in one.points:
            if not (0 <= x <= width and 0 <= y <= height):
                raise VisionError(
                    "A {what} at ({x:g}, {y:g}) leaves the photo of {width} x {height} pixels; keep it "
                    "inside.",
                    what=what,
                    x=x,
                    y=y,
                    width=width,
                    height=height,
                )
        if isinstance(one, Stroke):
            label_of(one.colour, palette)
            if not LEAST_WIDTH_MM <= one.width_mm <= MOST_WIDTH_MM:
                raise VisionError(
                    "A stroke is {wide:g} mm wide; choose {least:g} to {most:g} mm.",
                    wide=one.width_mm,
                    least=LEAST_WIDTH_MM,
                    most=MOST_WIDTH_MM,
                )


def label_of(name: str, palette: Sequence[Colour]) -> int:
    """The label that a stroke of this name paints; raises PaletteError when there is none."""
    names = [colour.name for colour in doughs_of(palette)]
    if name in names:
        return names.index(name) + 1
    if name == TABLE or any(colour.name == name for colour in palette):
        return 0
    if name == NO_DOUGH:
        return NOT_DOUGH
    raise PaletteError(
        "A stroke paints {name}, which is no colour of the palette; choose {names} or {no_dough}.",
        name=name,
        names=", ".join([*names, TABLE]),
        no_dough=NO_DOUGH,
    )


def places(corrections: Sequence[Correction]) -> list[Point]:
    """All points [px], so that whoever crops the photo keeps them in."""
    return [point for one in corrections for point in one.points]


def painted(
    labels: Labels,
    corrections: Sequence[Correction],
    palette: Sequence[Colour],
    cell_mm: float,
    view: TableView,
) -> Labels:
    """A label raster (R, C) with the strokes on it, `not-dough` as 255; `view` begins at its corner."""
    told = said(labels.shape, corrections, palette, cell_mm, view)
    return np.where(told == UNSAID, labels, told).astype(np.uint8)


def sure_where_told(
    confidence: Floats,
    corrections: Sequence[Correction],
    palette: Sequence[Colour],
    cell_mm: float,
    view: TableView,
) -> Floats:
    """Confidence (R, C), certain where the helper has said what lies there."""
    painted_on = said(confidence.shape, corrections, palette, cell_mm, view)
    told = (painted_on != UNSAID) & (painted_on != NOT_DOUGH)
    for one in corrections:
        if isinstance(one, Line):
            radius = BARRIER if one.kind == "cut" else BRIDGE_MM / 2 / cell_mm
            told |= track(cells(one.points, cell_mm, view), radius, told.shape)
    return np.where(told, np.float32(1), confidence)


def cells(points: Iterable[Point], cell_mm: float, view: TableView) -> list[Point]:
    """Photo points as (column, row); whole numbers are the middles of cells."""
    return [(x / cell_mm - 0.5, y / cell_mm - 0.5) for x, y in map(view.to_mm, points)]


def said(
    shape: tuple[int, ...],
    corrections: Sequence[Correction],
    palette: Sequence[Colour],
    cell_mm: float,
    view: TableView,
) -> NDArray[np.int16]:
    """What the strokes paint, (R, C): a label, or UNSAID."""
    out = np.full(shape, UNSAID, np.int16)
    for one in corrections:
        if isinstance(one, Stroke):
            mask = track(cells(one.points, cell_mm, view), one.width_mm / 2 / cell_mm, out.shape)
            out[mask] = label_of(one.colour, palette)
    return out

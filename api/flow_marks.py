"""Where the electricity goes, as dashes from + to -: the more current, the more lines and the thicker."""

import math

import numpy as np
from numpy.typing import NDArray

from api.canvas import Sheet, Tag, put_tag
from api.fields import Spot
from api.language.speech import _
from api.marks import INK, PAPER, el, mark, num, use
from api.placing import Taken

THIN_UNITS, THICKER = 1.0, 0.5
"""Width of a line of next to nothing, and how much the square root of its mA adds."""
HEAD_UNITS = 34.0
"""A line longer than this tells its direction by an arrowhead."""
APART_UNITS = 30.0
LEAD_CLEAR_UNITS = 18.0


def flow_lines(sheet: Sheet) -> str:
    """The lines: cased dashes, some with an arrowhead half-way."""
    if "flow" not in sheet.layers:
        return ""
    lines = [line for line in sheet.report.flow if len(line.points) > 1]
    ways = ["M" + "L".join(f"{num(x)} {num(y)}" for x, y in line.points) for line in lines]
    widths = [THIN_UNITS + THICKER * math.sqrt(line.current_mA) for line in lines]
    drawn = [sheet.pen.line(d, PAPER, width + 2.4) for d, width in zip(ways, widths, strict=True)]
    drawn += [
        el("g", sheet.pen.line(d, INK, width, dash=(6, 4)), class_="flow-line")
        for d, width in zip(ways, widths, strict=True)
    ]
    return el("g", *drawn, *_heads(sheet, [line.points for line in lines]), class_="flow")


def _heads(sheet: Sheet, lines: list[list[Spot]]) -> list[str]:
    """Arrowheads half-way along lines, as many as do not crowd."""
    heads: list[str] = []
    places: list[Spot] = []
    for points in lines:
        at = np.array(points)
        far = np.concatenate([[0.0], np.hypot(*np.diff(at, axis=0).T).cumsum()])
        place, turn = _half_way(sheet, at, far)
        near = any(math.dist(place, other) < APART_UNITS * sheet.scale for other in places)
        if far[-1] >= HEAD_UNITS * sheet.scale and not near:
            places.append(place)
            heads.append(mark(place, use("flow-head"), sheet.scale, "flow-head", turn))
    return heads


def _half_way(sheet: Sheet, at: NDArray[np.float64], far: NDArray[np.float64]) -> tuple[Spot, float]:
    """The place half-way along a line (n, 2) with its distances (n,), and its direction in degrees."""
    x, y = (float(np.interp(far[-1] / 2, far, at[:, axis])) for axis in (0, 1))
    ends = far[-1] / 2 + np.array([-4, 4]) * sheet.scale
    dx, dy = (float(np.diff(np.interp(ends, far, at[:, axis]))[0]) for axis in (0, 1))
    return (x, y), math.degrees(math.atan2(dy, dx))


def pack_current(sheet: Sheet, taken: Taken) -> list[Tag]:
    """What the pack gives, at the red lead; no figure for the youngest."""
    if (
        "flow" not in sheet.layers
        or sheet.case.age == "6-8"
        or sheet.report.pack is None
        or sheet.case.pack is None
    ):
        return []
    label = _("pack {mA:.0f} mA", mA=sheet.report.pack.current_mA)
    at = sheet.case.pack.plus
    return [put_tag(sheet, taken, at, label, (), "pack-current", LEAD_CLEAR_UNITS * sheet.scale)]

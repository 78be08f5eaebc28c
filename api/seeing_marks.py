"""The marks of the seeing: where each dough was found, how sure that is, and how thin the walls are.

Doughs are told by a hatch and a number, never by colour alone; what is guessed is dotted.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from api.canvas import Sheet, Tag, mm_number, put_tag
from api.hatch import holes
from api.language.speech import _
from api.marks import INK, PAPER, Point, cased, el, mark, num, num4, stroke, words
from api.placing import Box, Taken, around
from vision.model import Scene, Wall

SURE = 0.8
"""Below this chance of being right a place is marked as not sure."""
MASK_PX = 1000.0
"""Long side of the masks that outlines are taken from: finer than the picture shows."""
SPECK_UNITS = 3.0
DISC_UNITS = 11.0
HATCHES: tuple[tuple[int, str | None], ...] = (
    (45, None), (135, None), (0, None), (90, None), (45, "7 7"), (135, "7 7"), (0, "7 7"), (90, "7 7"),
)  # fmt: skip
"""Angle in degrees and dash of a dough's hatch; after eight doughs only the number tells them apart."""
TILE = 14

MOST_TOLD = 4
THIN_MM, RUN_MM = 2.0, 3.0
"""A wall thinner than the first is drawn bold; places farther apart than the second are not joined
(estimated)."""

Mask = NDArray[np.bool_]


def hatch_tile(number: int, scale: float, name: str | None = None) -> str:
    """The hatch of dough `number` (from 1) as an SVG pattern `dough-NUMBER`."""
    angle, dash = HATCHES[(number - 1) % len(HATCHES)]
    line = f"M0 {TILE / 2}H{TILE}"
    return el(
        "pattern",
        stroke(line, PAPER, 3.6) + stroke(line, INK, 1.5, stroke_dasharray=dash),
        id=name or f"dough-{number}",
        patternUnits="userSpaceOnUse",
        width=TILE,
        height=TILE,
        patternTransform=f"rotate({angle}) scale({num4(scale)})",
    )


def dots_tile(scale: float, name: str = "not-sure") -> str:
    """Dots for what is not sure, as an SVG pattern."""
    spots = ((2.5, 2.5), (7.5, 7.5))
    dots = [
        el("circle", cx=x, cy=y, r=2.4, fill=PAPER) + el("circle", cx=x, cy=y, r=1.3, fill=INK)
        for x, y in spots
    ]
    return el(
        "pattern",
        *dots,
        id=name,
        patternUnits="userSpaceOnUse",
        width=10,
        height=10,
        patternTransform=f"scale({num4(scale)})",
    )


def disc(number: int) -> str:
    """The numbered disc of a dough."""
    ring = el("circle", r=DISC_UNITS + 1.5, fill=PAPER)
    ring += el("circle", r=DISC_UNITS - 0.5, fill=PAPER, stroke=INK, stroke_width=2)
    return ring + words(str(number))


def doughs(scene: Scene, sheet: Sheet) -> str:
    """Each dough where the labels have it: hatched, its rim whole when it conducts and dashed when not."""
    roles = [entry.role for entry in sheet.case.palette if entry.role != "table"]
    drawn = []
    for number, role in enumerate(roles, start=1):
        d = _outlines(_label_mask(scene, sheet.frame, number), sheet)
        if d:
            area = el("path", d=d, fill=f"url(#dough-{number})", fill_rule="evenodd")
            rim = sheet.pen.cased(d, dash=() if role == "conductive" else (7, 5))
            drawn.append(el("g", hatch_tile(number, sheet.scale), area, rim, class_=f"dough {role}"))
    return "".join(drawn)


def _label_mask(scene: Scene, frame: Box, number: int) -> tuple[Mask, float, Point]:
    """Where the labels say dough `number` within the frame; photo px along a cell, and the corner [px]."""
    left, top, right, bottom = (round(edge) for edge in frame)
    part = scene.labels[top:bottom, left:right] == number
    step = max(1, math.ceil(max(part.shape) / MASK_PX))
    return part[step // 2 :: step, step // 2 :: step], float(step), (float(left), float(top))


def _outlines(place: tuple[Mask, float, Point], sheet: Sheet) -> str:
    """The rims of a mask, holes included, as a path in photo px; specks are left out."""
    mask, step, (left, top) = place
    rims, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    least = (SPECK_UNITS * sheet.scale / step) ** 2
    kept = [cv2.approxPolyDP(rim, 0.7, True).reshape(-1, 2) for rim in rims if cv2.contourArea(rim) >= least]
    return _path(([(left + (x + 0.5) * step, top + (y + 0.5) * step) for x, y in rim]) for rim in kept)


def _grid_outlines(mask: Mask, scene: Scene, sheet: Sheet) -> str:
    """The same for a mask on the grid of the scene."""
    rims, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    unit_mm = sheet.scale * scene.view.mm_per_px
    least = (SPECK_UNITS * unit_mm / scene.cell_mm) ** 2
    kept = [cv2.approxPolyDP(rim, 0.7, True).reshape(-1, 2) for rim in rims if cv2.contourArea(rim) >= least]
    cell = scene.cell_mm
    return _path([scene.view.to_px(((x + 0.5) * cell, (y + 0.5) * cell)) for x, y in rim] for rim in kept)


def _path(rims: Iterable[Sequence[Point]]) -> str:
    return " ".join("M" + "L".join(f"{num(x)} {num(y)}" for x, y in rim) + "Z" for rim in rims)


def guesses(scene: Scene, sheet: Sheet) -> str:
    """Dotted rims round dough that was completed under an LED, a lead or a hand."""
    d = _grid_outlines(scene.guessed & (scene.grid > 0), scene, sheet)
    return el("g", _dotted(d, sheet), class_="guessed") if d else ""


def unsure(scene: Scene, sheet: Sheet) -> str:
    """Dots over what might be another dough, or none."""
    if scene.confidence is None:
        return ""
    d = _grid_outlines(scene.confidence < SURE, scene, sheet)
    if not d:
        return ""
    area = el("path", d=d, fill="url(#not-sure)", fill_rule="evenodd")
    return el("g", dots_tile(sheet.scale), area, class_="not-sure")


def _dotted(d: str, sheet: Sheet) -> str:
    unit, soft = sheet.pen.unit, {"stroke_linecap": "round", "stroke_linejoin": "round"}
    dash = f"{num(0.1 * unit)} {num(5 * unit)}"
    return stroke(d, PAPER, 4.6 * unit, **soft) + stroke(d, INK, 2.4 * unit, stroke_dasharray=dash, **soft)


def drawn_lines(sheet: Sheet) -> str:
    """The cuts and joins that the helper drew, a join wider."""
    out = []
    for kind, entries, core in (("cut", sheet.case.cuts, 1.6), ("join", sheet.case.joins, 5.0)):
        for entry in entries:
            d = "M" + "L".join(f"{num(x)} {num(y)}" for x, y in entry.points)
            out.append(el("g", sheet.pen.cased(d, core=core), class_=f"drawn {kind}"))
    return "".join(out)


def numbers(scene: Scene, sheet: Sheet, taken: Taken) -> tuple[str, list[Tag]]:
    """The number of each piece: a disc in it where there is room, else a tag beside it."""
    discs, tags = [], []
    for piece in sorted(scene.pieces, key=lambda piece: -piece.area_mm2):
        rim = sheet.rims[piece.id]
        if not len(rim):
            continue
        others = [other for other in sheet.dough if other is not rim]
        at, room_px = taken.room(rim, holes(rim, others), DISC_UNITS * sheet.scale)
        side = 2 * (DISC_UNITS + 1.5) * sheet.scale
        place = around(at, side, side)
        if room_px >= 0.6 * DISC_UNITS * sheet.scale and not _meets(place, taken.boxes):
            taken.add([place])
            discs.append(mark(at, disc(piece.colour), sheet.scale, "number"))
        elif np.ptp(rim, axis=0).max() > 2 * DISC_UNITS * sheet.scale:
            tags.append(put_tag(sheet, taken, at, str(piece.colour), (), "number", 4 * sheet.scale))
    return "".join(discs), tags


def _meets(box: Box, boxes: Sequence[Box]) -> bool:
    left, top, right, bottom = box
    return any(x0 < right and left < x1 and y0 < bottom and top < y1 for x0, y0, x1, y1 in boxes)


def walls(scene: Scene, sheet: Sheet, taken: Taken) -> list[Tag]:
    """The middle line of each wall, bold where it is thin; the thinnest ones are told in mm."""
    found = sorted(scene.walls, key=lambda wall: wall.thinnest_mm)
    tags = []
    for i, wall in enumerate(found):
        line = _middle_line(wall, sheet)
        if not line or i >= MOST_TOLD:
            tags.append(Tag(line, ""))
            continue
        said = _("wall {n} mm", n=mm_number(wall.thinnest_mm))
        tag = put_tag(sheet, taken, wall.thinnest_at, said, (), "thinnest", 6 * sheet.scale)
        tags.append(Tag(line + tag.line, tag.label))
    return tags


def _middle_line(wall: Wall, sheet: Sheet) -> str:
    """The places where the wall was measured, each as a stroke along the wall."""
    drawn: list[tuple[float, str]] = []
    spots = list(zip(wall.at, wall.thickness_mm, strict=True))
    for (here, one), (there, other) in pairwise(spots):
        if (
            math.dist(here, there) <= RUN_MM / sheet.report.photo.mm_per_px
        ):  # else the wall was not seen there
            d = f"M{num(here[0])} {num(here[1])}L{num(there[0])} {num(there[1])}"
            drawn.append((3.4 if min(one, other) < THIN_MM else 1.2, d))
    if not drawn:
        return ""
    case = stroke(" ".join(d for _, d in drawn), PAPER, 6.4 * sheet.pen.unit, stroke_linecap="round")
    cores = "".join(
        stroke(
            " ".join(d for w, d in drawn if w == width), INK, width * sheet.pen.unit, stroke_linecap="round"
        )
        for width in sorted({w for w, _ in drawn})
    )
    return el("g", case, cores, class_="wall-middle")


def dotted_sample() -> str:
    """A dotted line for the key."""
    return cased("M-24 4C-10-8 10 8 24-4").replace(
        'stroke-width="2"', 'stroke-width="2.4" stroke-dasharray="0.1 5"'
    )

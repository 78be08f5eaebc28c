"""The picture of the seeing: what was taken for what, how sure that is, what touches and what does not."""

import math

import numpy as np
from numpy.typing import NDArray

from api import seeing_marks as marks
from api.canvas import Sheet, frame_of, mm_number
from api.drawing import widened, with_key_png
from api.fonts import in_letters
from api.language.speech import _, counted
from api.marks import INK, Pen, cased, defs, el, num, stroke, use, words
from api.pipeline import inspect_case
from api.placing import Taken
from api.reporting import seen_report
from api.schemas import Case, Report
from api.sculpture_marks import contacts
from api.strip import HAIR, SLIP, Block, wrapped
from vision.model import Scene

WIDE_UNITS, LEAST_UNITS = 740.0, 320.0
"""Width of the picture in mark units, as it is meant to be looked at; a phone is 360 wide."""
CELL_UNITS, ROW_UNITS, MARGIN = 236.0, 44.0, 16.0


@in_letters()
def seeing_png(
    pixels: NDArray[np.uint8], scene: Scene, case: Case, *, units_across: float = WIDE_UNITS
) -> bytes:
    """A PNG of the photo with labels, confidence, contacts and walls, and a key below.

    `pixels` is the upright photo (h, w, 3) uint8 RGB, perhaps smaller than the labels by a whole number;
    `units_across` is how wide, in CSS px, the picture will be shown.
    """
    units = max(LEAST_UNITS, units_across)
    report = seen_report(case, scene)
    height, width = scene.labels.shape
    frame = widened(frame_of(report, case), width, height)
    scale = (frame[2] - frame[0]) / units
    svg = seeing_svg(scene, report, case, scale)
    below = key(scene, report, case, units, svg)
    return with_key_png(pixels, width, svg, frame, units, below)


def seeing_svg(scene: Scene, report: Report, case: Case, px_per_mark: float) -> str:
    """The marks of the seeing as an SVG whose viewBox is in photo pixels."""
    height, width = scene.labels.shape
    frame = widened(frame_of(report, case), width, height)
    sheet = Sheet(report, case, Pen(px_per_mark, False), frame, frozenset({"contacts"}), None, False)
    taken = Taken(frame, sheet.dough)
    areas = marks.doughs(scene, sheet)
    soft = marks.unsure(scene, sheet) + marks.guesses(scene, sheet)
    touching = contacts(sheet, taken)
    discs, tags = marks.numbers(scene, sheet, taken)
    tags += marks.walls(scene, sheet, taken)
    lines, labels = "".join(tag.line for tag in tags), "".join(tag.label for tag in tags)
    body = areas + soft + marks.drawn_lines(sheet) + lines + touching + discs + labels
    return el(
        "svg",
        defs(body),
        body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width} {height}",
        class_="seeing",
    )


def summary(scene: Scene, report: Report) -> str:
    """What was seen, in one line: pieces, doubts, gaps, and the thinnest wall."""
    conductive = {piece.id for piece in report.pieces if piece.role == "conductive"}
    met = [c for c in report.contacts if conductive.issuperset(c.between)]
    doubts, gaps = (sum(c.kind == kind for c in met) for kind in ("doubtful", "gap"))
    said = [
        counted("{n} piece of dough", "{n} pieces of dough", len(report.pieces)),
        counted("{n} doubtful contact", "{n} doubtful contacts", doubts)
        if doubts
        else _("no doubtful contact"),
        counted("{n} gap", "{n} gaps", gaps) if gaps else _("no gap"),
    ]
    thinnest = [wall.thinnest_mm for wall in scene.walls]
    if thinnest:
        said.append(_("thinnest wall {n}\u00a0mm", n=mm_number(min(thinnest))))
    if scene.confidence is not None and (scene.grid > 0).any():
        share = float((scene.confidence[scene.grid > 0] < marks.SURE).mean())
        said.append(_("not sure of {n}\u00a0% of the dough", n=math.ceil(100 * share)))
    return _(", ").join(said) + "."


def key(scene: Scene, report: Report, case: Case, units: float, svg: str) -> Block:
    """The summary, each dough with its hatch and number, and what the marks mean."""
    lines = wrapped(summary(scene, report), 17, 0.93 * (units - 2 * MARGIN))
    body = [words(line, MARGIN, 24 + 23 * i, 17, "start") for i, line in enumerate(lines)]
    top = 24.0 + 23 * len(lines)
    body.append(
        el("path", d=f"M{num(MARGIN)} {num(top)}H{num(units - MARGIN)}", stroke=HAIR, stroke_width=1.5)
    )
    cells = [*_dough_cells(case, svg), *_mark_cells(svg)]
    columns = max(1, int((units - 2 * MARGIN) // CELL_UNITS))
    wide = (units - 2 * MARGIN) / columns
    for i, (sample, word) in enumerate(cells):
        said = wrapped(word, 15, wide - 76)[:2]
        text = [
            words(line, 72, ROW_UNITS / 2 + 18 * (j - (len(said) - 1) / 2), 15, "start", bold=False)
            for j, line in enumerate(said)
        ]
        cell = el("g", sample, transform=f"translate(34 {num(ROW_UNITS / 2)})") + "".join(text)
        place = Block(cell, ROW_UNITS).at(MARGIN + wide * (i % columns), top + 8 + ROW_UNITS * (i // columns))
        body.append(place)
    height = top + 20 + ROW_UNITS * -(-len(cells) // columns)
    return Block(el("rect", width=units, height=height, fill=SLIP) + "".join(body), height)


def _dough_cells(case: Case, svg: str) -> list[tuple[str, str]]:
    """A sample and the name of each dough that was seen."""
    cells = []
    for number, entry in enumerate((e for e in case.palette if e.role != "table"), start=1):
        found = f'"dough-{number}"' in svg
        box = "M-26-14H26V14H-26z"
        tile = marks.hatch_tile(number, 1.0, f"key-{number}")
        fill = el("path", d=box, fill="#B9A98F") + el("path", d=box, fill=f"url(#key-{number})")
        edge = cased(box)
        if entry.role == "insulating":
            edge = edge.replace('stroke-width="2"', 'stroke-width="2" stroke-dasharray="7 5"')
        sample = tile + fill + edge + el("g", marks.disc(number))
        role = "conductive" if entry.role == "conductive" else "insulating"
        cells.append((sample, f"{entry.name}, {role}" + ("" if found else ", not found")))
    return cells


def _mark_cells(svg: str) -> list[tuple[str, str]]:
    box = el("path", d="M-26-14H26V14H-26z", fill="#B9A98F")
    dots = marks.dots_tile(1.0, "key-not-sure")
    dots += box + el("path", d="M-26-14H26V14H-26z", fill="url(#key-not-sure)")
    samples = [
        ('class="drawn cut"', cased("M-24 8 24-8", core=1.6, case=4.8), _("cut that you drew")),
        ('class="drawn join"', cased("M-24 8 24-8", core=5, case=8.2), _("join that you drew")),
        ('class="not-sure"', dots, _("not sure what lies here")),
        ('class="guessed"', marks.dotted_sample(), _("hidden, so guessed")),
        ('"#mark-touching"', use("touching"), _("touching")),
        ('"#mark-doubtful"', el("g", use("doubtful"), transform="scale(.85)"), _("may touch: doubtful")),
        ('"#mark-gap"', use("gap"), _("gap, in mm")),
        (
            'class="wall-middle"',
            cased("M-24 0H24", core=1.2, case=6.4) + stroke("M0 0H24", INK, 3.4),
            _("wall; bold: under 2\u00a0mm"),
        ),
    ]
    return [(sample, word) for sign, sample, word in samples if sign in svg]


def look_again(case: Case, photo: bytes | None, units_across: float = WIDE_UNITS) -> bytes:
    """The picture of the seeing for a kept case: it is seen anew, since only the report was kept."""
    result = inspect_case(case.model_copy(update={"underside": None}), photo)
    return seeing_png(result.pixels, result.scene, result.case, units_across=units_across)

"""The work mat as a PDF, for printing at 100 %."""

import io
import math

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from vision.mat_layout import (
    MARGIN_MM,
    MARKER_MM,
    MODULES,
    PAD_RADIUS_MM,
    PATCH_MM,
    MatLayout,
    Pad,
    Paper,
    marker_modules,
    mat_layout,
)

INK, INK_SOFT, ACT, HAIR = (HexColor(v) for v in ("#13221D", "#42534B", "#12503F", "#C3CEC4"))
SAY, SAY_PT = "Times-Bold", 15
HAND, HAND_BOLD, SMALL_PT = "Helvetica", "Helvetica-Bold", 10.5
"""Nothing is smaller than 14 px of the page, which are 10.5 pt in print."""
LINE_MM = 4.6
CLIP_MM = 5.0
RULER_MM = 100
PAPER_NAMES = {"a4": "A4", "letter": "Letter"}
CAUTIONS = (
    "Salty dough: not for eating, and poison for pets.",
    "LEDs and cells never in the mouth.",
    "Never an LED straight across the pack.",
)


def mat_pdf(paper: Paper) -> bytes:
    """The work mat on this paper; the same bytes every time."""
    layout = mat_layout(paper)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(layout.size[0] * mm, layout.size[1] * mm), invariant=1)
    canvas.setTitle(f"Doughsight work mat, {PAPER_NAMES[paper]}")
    canvas.setViewerPreference("PrintScaling", "None")
    # From here on mm from the top left corner, as in the layout; text is turned upright again.
    canvas.translate(0, layout.size[1] * mm)
    canvas.scale(mm, -mm)
    _work(canvas, layout)
    for number, at in layout.markers.items():
        _marker(canvas, number, at)
    for (x, y), grey in layout.patches:
        canvas.setFillGray(grey)  # black ink only: mixed inks are seldom neutral
        canvas.rect(x, y, PATCH_MM, PATCH_MM, stroke=0, fill=1)
    for pad in layout.pads:
        _pad(canvas, pad)
    _words(canvas, layout)
    _ruler(canvas, layout)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _marker(canvas: Canvas, number: int, at: tuple[float, float]) -> None:
    """A black square with white runs; runs overlap downwards so that no hairline shows between them."""
    side = MARKER_MM / MODULES
    black = marker_modules(number)
    canvas.setFillGray(0)
    canvas.rect(*at, MARKER_MM, MARKER_MM, stroke=0, fill=1)
    canvas.setFillGray(1)
    for row in range(MODULES):
        for col in range(MODULES):
            if black[row, col]:
                continue
            wide = side * (1.02 if not black[row, min(col + 1, MODULES - 1)] else 1)
            high = side * (1.02 if not black[min(row + 1, MODULES - 1), col] else 1)
            canvas.rect(at[0] + col * side, at[1] + row * side, wide, high, stroke=0, fill=1)


def _work(canvas: Canvas, layout: MatLayout) -> None:
    """The free middle: a slip with clipped corners."""
    left, top, right, bottom = layout.work
    c = CLIP_MM
    path = canvas.beginPath()
    path.moveTo(left + c, top)
    for at in (
        (right - c, top),
        (right, top + c),
        (right, bottom - c),
        (right - c, bottom),
        (left + c, bottom),
        (left, bottom - c),
        (left, top + c),
    ):
        path.lineTo(*at)
    path.close()
    canvas.setStrokeColor(HAIR)
    canvas.setLineWidth(0.3)
    canvas.drawPath(path)


def _pad(canvas: Canvas, pad: Pad) -> None:
    """A ring, whole for conductive and dashed for insulating dough, with its number and role."""
    x, y = pad.at
    canvas.setStrokeColor(INK_SOFT)
    canvas.setLineWidth(0.5)
    around = 2 * math.pi * PAD_RADIUS_MM
    if pad.role == "insulating":
        canvas.setDash([around / 40, around / 40])
    canvas.circle(x, y, PAD_RADIUS_MM, stroke=1, fill=0)
    canvas.setDash([])
    beside = x + PAD_RADIUS_MM + 1.8
    _text(canvas, (beside, y - 0.9), str(pad.number), SAY, SAY_PT, INK)
    _text(canvas, (beside, y + 4.1), pad.role, HAND, SMALL_PT, INK_SOFT)


def _words(canvas: Canvas, layout: MatLayout) -> None:
    left, top = layout.work[:2]
    right_half = layout.pads[3].at[0] - PAD_RADIUS_MM
    _text(canvas, (left, top - 3), "A pinch of each dough on its ring.", HAND_BOLD, SMALL_PT, INK)
    _text(
        canvas,
        (right_half, top - 3),
        "Sculpture inside the frame. Photograph all of the mat.",
        HAND_BOLD,
        SMALL_PT,
        INK,
    )
    y = layout.size[1] - MARGIN_MM - 0.8 - 3 * LINE_MM
    _text(
        canvas, (right_half, y - 0.7), f"Doughsight work mat, {PAPER_NAMES[layout.paper]}", SAY, SAY_PT, ACT
    )
    for i, words in enumerate(CAUTIONS, start=1):
        _text(canvas, (right_half, y + i * LINE_MM), words, HAND, SMALL_PT, INK)


def _ruler(canvas: Canvas, layout: MatLayout) -> None:
    """100 mm in steps of one, with what to check them with."""
    left = layout.work[0]
    y = layout.size[1] - MARGIN_MM - 4.6
    canvas.setStrokeColor(INK)
    for i in range(RULER_MM + 1):
        long = 4.0 if i % 10 == 0 else 2.8 if i % 5 == 0 else 1.8
        canvas.setLineWidth(0.25 if i % 10 else 0.4)
        canvas.line(left + i, y, left + i, y - long)
    canvas.setLineWidth(0.4)
    canvas.line(left - 0.2, y, left + RULER_MM + 0.2, y)
    for i in range(0, RULER_MM + 1, 20):
        _text(canvas, (left + i, y + 4.2), str(i), HAND, SMALL_PT, INK_SOFT, middle=True)
    y = layout.size[1] - MARGIN_MM - 0.8 - 3 * LINE_MM
    _text(canvas, (left, y - 0.7), "Print at 100 %.", HAND_BOLD, SMALL_PT, INK)
    _text(
        canvas,
        (left, y - 0.7 + LINE_MM),
        "Lay a ruler here: from 0 to 100 must be 100 mm.",
        HAND,
        SMALL_PT,
        INK,
    )


def _text(
    canvas: Canvas,
    at: tuple[float, float],
    words: str,
    face: str,
    size_pt: float,
    colour: Color,
    middle: bool = False,
) -> None:
    """Words with their baseline at a place in mm."""
    canvas.saveState()
    canvas.translate(*at)
    canvas.scale(1 / mm, -1 / mm)
    canvas.setFillColor(colour)
    canvas.setFont(face, size_pt)
    (canvas.drawCentredString if middle else canvas.drawString)(0, 0, words)
    canvas.restoreState()

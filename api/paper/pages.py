"""Pages: size of paper, margins, head of later pages, foot, page numbers."""

import io
from collections.abc import Callable, Sequence
from typing import Any, Literal

from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Spacer, Table

from api.language.languages import spoken
from api.language.speech import _
from api.paper.faces import FAINT, HAIR, INK, SMALL, STRONG, Voice, clipped, said

Paper = Literal["a4", "letter"]
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210 * mm, 297 * mm), "letter": (8.5 * inch, 11 * inch)}
"""Width and height [pt]: ISO 216 and ANSI/ASME Y14.1."""
SIDE, TOP, BOTTOM = 16 * mm, 14 * mm, 12 * mm
GUTTER = 18.0
FOOT_GAP, HEAD_GAP, HEAD_SHARE = 5.0, 8.0, 0.66
Rows = list[list[Any]]
Story = Callable[[], Sequence[Flowable]]
"""Makes what is to be printed, anew each time: a flowable is used up when it is drawn."""


def width_of_text(paper: Paper) -> float:
    """What the margins leave [pt]."""
    return PAPERS[paper][0] - 2 * SIDE


def pages(story: Story, paper: Paper, *, title: str, head: Sequence[str], foot: tuple[str, str]) -> bytes:
    """A PDF of the story, the same bytes every time. `head` stands on every page but the first."""
    first = _built(story, paper, title, head, foot, 1)
    count = page_count(first)
    return first if count == 1 else _built(story, paper, title, head, foot, count)


def page_count(pdf: bytes) -> int:
    """How many pages a PDF of ours has."""
    return pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ")


def _built(
    story: Story,
    paper: Paper,
    title: str,
    head: Sequence[str],
    foot: tuple[str, str],
    count: int,
) -> bytes:
    size = PAPERS[paper]
    width = width_of_text(paper)
    out = io.BytesIO()
    foot_high = _foot(foot, width, "").wrap(width, size[1])[1]
    low = BOTTOM + foot_high + 2 * FOOT_GAP
    head_high = SMALL.lead + HEAD_GAP

    def furnish(canvas: Canvas, doc: BaseDocTemplate) -> None:
        number = _("{n} of {count}", n=doc.page, count=count) if count > 1 else ""
        made = _foot(foot, width, number)
        made.wrapOn(canvas, width, size[1])
        made.drawOn(canvas, SIDE, BOTTOM)
        _rule(canvas, SIDE, width, BOTTOM + foot_high + FOOT_GAP, 0.6)
        if doc.page > 1:
            room = (width - GUTTER) * HEAD_SHARE, (width - GUTTER) * (1 - HEAD_SHARE)
            left = said(clipped(head[0], STRONG, room[0]), STRONG)
            line = beside(left, said(clipped(head[1], SMALL, room[1]), _right(SMALL)), width, HEAD_SHARE)
            line.wrapOn(canvas, width, size[1])
            line.drawOn(canvas, SIDE, size[1] - TOP - SMALL.lead)
            _rule(canvas, SIDE, width, size[1] - TOP - SMALL.lead - 4, 1.2)

    high = size[1] - TOP - low
    frames = [Frame(SIDE, low, width, tall, 0, 0, 0, 0) for tall in (high, high - head_high)]
    templates = [
        PageTemplate("first", frames[:1], onPage=furnish, autoNextPageTemplate="later"),
        PageTemplate("later", frames[1:], onPage=furnish),
    ]
    doc = BaseDocTemplate(
        out, pagesize=size, pageTemplates=templates, invariant=1, title=title, lang=spoken().code
    )
    doc.build(list(story()))
    return out.getvalue()


def _foot(foot: tuple[str, str], width: float, number: str) -> Table:
    """What was assumed at the left, what to mind at the right, and which page it is."""
    right = said(f"{foot[1]}  {number}".strip() if number else foot[1], _right(FAINT))
    return beside(said(foot[0], FAINT), right, width, share=0.58)


def _right(voice: Voice) -> Voice:
    return Voice(voice.face, voice.size, voice.lead, voice.soft, right=True)


def _rule(canvas: Canvas, left: float, width: float, y: float, thick: float) -> None:
    canvas.setStrokeColor(HAIR if thick < 1 else INK)
    canvas.setLineWidth(thick)
    canvas.line(left, y, left + width, y)


def beside(
    left: Flowable | Sequence[Flowable],
    right: Flowable | Sequence[Flowable],
    width: float,
    share: float = 0.5,
) -> Table:
    """Two columns with a gutter, their tops level."""
    wide = (width - GUTTER) * share
    cells = [[_cell(left), "", _cell(right)]]
    return plain_table(cells, [wide, GUTTER, width - GUTTER - wide])


def plain_table(rows: Rows, widths: Sequence[float], *styles: tuple[Any, ...], **how: Any) -> Table:
    """A table without lines or padding."""
    bare = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ]
    return Table(rows, list(widths), style=[*bare, *styles], hAlign="LEFT", **how)


def ruled_table(rows: Rows, widths: Sequence[float], *styles: tuple[Any, ...], heads: int = 0) -> Table:
    """A table with a thin line above each row; its first rows are said again on every page."""
    ruled = [
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
        ("TOPPADDING", (0, 0), (-1, -1), 2.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ("LINEABOVE", (0, 0), (-1, -1), 0.6, HAIR),
    ]
    return plain_table(rows, widths, *ruled, *styles, repeatRows=heads)


def gap(high: float) -> Spacer:
    """Air between two blocks."""
    return Spacer(1, high)


def _cell(what: Flowable | Sequence[Flowable]) -> list[Flowable]:
    return [what] if isinstance(what, Flowable) else list(what)

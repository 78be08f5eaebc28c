"""Makers' cards: a photo, a title, a nickname, and what its maker learned to look for."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from babel.dates import format_date
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from api.language.languages import spoken
from api.language.speech import _
from api.paper.faces import FAINT, HAIR, SAY, STRONG, TELL, Voice, fitting, in_print, said
from api.paper.pages import PAPERS, Paper, gap, plain_table
from api.paper.pictures import Lines, Marks, Symbol, picture_of, shown
from api.paper.sheet import learned_texts
from api.paper.told import Told

MARGIN = 8 * mm
TITLES = (Voice(SAY, 22, 25), Voice(SAY, 17, 19), Voice(SAY, 13, 15))
TEXTS = (Voice(TELL, 15, 18.5), Voice(TELL, 13, 16), Voice(TELL, 11, 13))
LEAST_PHOTO, MOST_PHOTO = 96.0, 225.0
MOST_SYMBOLS = 8
SHORTER = 0.9
Box = tuple[float, float, float, float]
"""Left, bottom, width, height [pt]."""


@dataclass(frozen=True)
class _Layout:
    """What stands above and below the photo, and how much room is left for it [pt]."""

    above: list[Flowable]
    below: list[Flowable]
    photo_high: float


@in_print()
def card_pdf(told: Told, paper: Paper) -> bytes:
    """One card on a page of its size: A6, or a quarter of Letter."""
    size = PAPERS[paper][0] / 2, PAPERS[paper][1] / 2
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=size, invariant=1, lang=spoken().code)
    canvas.setTitle(told.name or _("Maker's card"))
    _draw(canvas, told, (0, 0, *size))
    canvas.showPage()
    canvas.save()
    return out.getvalue()


@in_print()
def cards_pdf(every: Sequence[Told], paper: Paper, title: str) -> bytes:
    """Four cards to a page, to be cut along the dashed lines."""
    wide, high = PAPERS[paper]
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(wide, high), invariant=1, lang=spoken().code)
    canvas.setTitle(title)
    for first in range(0, max(1, len(every)), 4):
        _cuts(canvas, wide, high)
        for i, told in enumerate(every[first : first + 4]):
            _draw(canvas, told, (wide / 2 * (i % 2), high / 2 * (1 - i // 2), wide / 2, high / 2))
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _cuts(canvas: Canvas, wide: float, high: float) -> None:
    canvas.setStrokeColor(HAIR)
    canvas.setLineWidth(0.5)
    canvas.setDash([2, 6])
    canvas.line(wide / 2, MARGIN, wide / 2, high - MARGIN)
    canvas.line(MARGIN, high / 2, wide - MARGIN, high / 2)
    canvas.setDash([])


def _draw(canvas: Canvas, told: Told, box: Box) -> None:
    """A card within its box: the photo takes what the words leave."""
    left, bottom, width, height = box[0] + MARGIN, box[1] + MARGIN, box[2] - 2 * MARGIN, box[3] - 2 * MARGIN
    layout = _layout(canvas, told, width, height)
    y = bottom + height
    marks: Marks = "lumps" if told.sculpture.overlay else "none"
    room = width, layout.photo_high
    photo = shown(picture_of(told.after or told.before, room, marks), room)
    for block in (*layout.above, photo, *layout.below):
        y -= block.wrapOn(canvas, width, height)[1]
        block.drawOn(canvas, left, y)
    foot = said(_occasion(told), FAINT)
    foot.wrapOn(canvas, width, height)
    foot.drawOn(canvas, left, bottom)


def _layout(canvas: Canvas, told: Told, width: float, height: float) -> _Layout:
    """Words as large as leaves room for a photo; a text that is too long for a card is cut off."""
    foot = said(_occasion(told), FAINT).wrapOn(canvas, width, height)[1] + 6
    text = " ".join(learned_texts(told))
    least = LEAST_PHOTO
    while True:
        for voice in TEXTS:
            above, below = _above(told, width), _below(told, text, voice, width)
            high = sum(block.wrapOn(canvas, width, height)[1] for block in (*above, *below))
            room = height - foot - high
            if room >= least:
                return _Layout(above, below, min(MOST_PHOTO, room))
        text = text[: int(SHORTER * len(text))].rstrip(" .,;:…") + "…"


def _above(told: Told, width: float) -> list[Flowable]:
    title = told.name or _("Without a title")
    made = [said(title, fitting(title, width, 1, TITLES))]
    if told.sculpture.maker:
        made.append(said(_("made by {maker}", maker=told.sculpture.maker), STRONG))
    return [*made, gap(6)]


def _below(told: Told, text: str, voice: Voice, width: float) -> list[Flowable]:
    head = said(_("What I learned to look for"), Voice(SAY, 14, 17))
    words: list[Flowable] = [head, gap(2), said(text, voice)] if text else [head, Lines(3)]
    return [gap(5), *_lights(told, width), gap(4), *words]


def _lights(told: Told, width: float) -> list[Flowable]:
    """A symbol for each light, and how many are on."""
    seen = told.after or told.before
    if seen is None or not seen.lights:
        return []
    words = _("{n} of {count} lights are on", n=seen.lit, count=len(seen.lights))
    states = list(seen.lights.values())
    side = 17.0
    signs = [Symbol(f"led-{state}", 15) for state in states] if len(states) <= MOST_SYMBOLS else []
    row = [[*signs, said(words, STRONG)]]
    widths = [side] * len(signs) + [width - side * len(signs)]
    return [plain_table(row, widths, ("VALIGN", (0, 0), (-1, -1), "MIDDLE"))]


def _occasion(told: Told) -> str:
    day = format_date(told.workshop.day, "long", locale=spoken().locale)
    return _("{workshop}, {day}", workshop=told.workshop.name, day=day)

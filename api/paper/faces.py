"""Type in print: faces that are there wherever the program is, and words set in them.

Hand is Bitstream Vera, which comes with reportlab and is put into the file; Say is Times, one of the
faces that every reader of PDF has (ISO 32000-1, 9.6.2.2). A text with letters that neither has, such as a
nickname in Arabic, is printed as a picture of it, in a face of this machine.
"""

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
from PIL import Image
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Paragraph

from api.fonts import render, width_of
from api.language.catalogue import messages
from api.language.languages import ENGLISH, speaking, spoken
from api.marks import el, words
from api.strip import wrapped

INK, SOFT, HAIR, LAMP, POOL = (HexColor(v) for v in ("#13221D", "#42534B", "#6B7C73", "#F5B53A", "#FBE6B4"))
HAND, BOLD = "PaperHand", "PaperHand-Bold"
SAY, TELL = "Times-Bold", "Times-Roman"
SMALL_PT = 10.5
"""Nothing is smaller than 14 px of the page, which are 10.5 pt in print."""
PX_PER_PT = 300 / 72
"""Pictures of words are as fine as print: 300 dots per inch."""


@dataclass(frozen=True)
class Voice:
    """How words are set: face, size and distance of lines [pt]."""

    face: str
    size: float
    lead: float
    soft: bool = False
    right: bool = False


SMALL = Voice(HAND, SMALL_PT, 13.2)
STRONG = Voice(BOLD, SMALL_PT, 13.2)
FAINT = Voice(HAND, SMALL_PT, 13.2, soft=True)
HEAD = Voice(SAY, 15, 18)
READ = Voice(TELL, 15, 19)


def said(text: str, voice: Voice = SMALL) -> Flowable:
    """Words as a block, as wide as there is room; whoever typed them may have typed anything."""
    text = _plain(text)
    times = voice.face in (SAY, TELL)
    if times and not _in_times(text):
        face, size = BOLD if voice.face == SAY else HAND, max(SMALL_PT, 0.88 * voice.size)
        voice, times = Voice(face, size, voice.lead, voice.soft, voice.right), False
    if not times and not set(text) <= _letters():
        text = _without_pictures(text)
    if not times and not set(text) <= _letters():
        return _Pictured(text, voice)
    return Paragraph(escape(text), _style(voice))


def width_in(text: str, voice: Voice) -> float:
    """How wide words are on one line [pt]."""
    _letters()
    return float(pdfmetrics.stringWidth(_plain(text), voice.face, voice.size))


def clipped(text: str, voice: Voice, room_pt: float) -> str:
    """The beginning of the words that fits on one line."""
    if width_in(text, voice) <= room_pt:
        return text
    while text and width_in(f"{text}…", voice) > room_pt:
        text = text[:-1].rstrip()
    return f"{text}…"


def fitting(text: str, room_pt: float, lines: int, voices: tuple[Voice, ...]) -> Voice:
    """The first voice in which the words fill no more than so many lines; else the last."""
    return next((v for v in voices if width_in(text, v) <= 0.92 * lines * room_pt), voices[-1])


@contextmanager
def in_print() -> Iterator[None]:
    """Within it the language is spoken if it can be printed here, else English."""
    with speaking(spoken().code if _printable(spoken().code) else ENGLISH):
        yield


@cache
def _printable(code: str) -> bool:
    """Whether the letters of a language are in the face, and its lines run from left to right."""
    said = "".join(messages(code).plain.values()) if code != ENGLISH else ""
    return all(_is_left_to_right(letter) for letter in said) and _share_known(said) > 0.999


def _is_left_to_right(letter: str) -> bool:
    return unicodedata.bidirectional(letter) not in ("R", "AL")


def _share_known(text: str) -> float:
    letters = [letter for letter in text if letter.isalpha()]
    return sum(letter in _letters() for letter in letters) / len(letters) if letters else 1.0


@cache
def _letters() -> frozenset[str]:
    """What the face has; asked for the first time, it is made known to reportlab."""
    known = []
    for name, file in ((HAND, "Vera.ttf"), (BOLD, "VeraBd.ttf")):
        face = TTFont(name, file)
        pdfmetrics.registerFont(face)
        known.append(set(face.face.charWidths) - {0xFFFF})
    return frozenset(map(chr, set.intersection(*known))) | {" "}


def _without_pictures(text: str) -> str:
    """Without emoji, unless there is nothing else: few faces have them together with letters."""
    rest = "".join(one for one in text if one in _letters() or unicodedata.category(one) not in ("So", "Sk"))
    return rest.strip() or text


def _in_times(text: str) -> bool:
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


def _plain(text: str) -> str:
    """Accents put onto their letters; what does not show left out, but for what turns lines round."""
    kept = []
    for letter in unicodedata.normalize("NFC", text):
        kind = unicodedata.category(letter)
        if kind in ("Zl", "Zp", "Cc") or (kind == "Zs" and letter != "\u00a0"):
            kept.append(" ")
        elif kind not in ("Cf", "Cs", "Cn", "Co"):
            kept.append(letter)
    return "".join(kept).strip()


@cache
def _style(voice: Voice) -> ParagraphStyle:
    _letters()
    return ParagraphStyle(
        f"{voice}",
        fontName=voice.face,
        fontSize=voice.size,
        leading=voice.lead,
        textColor=SOFT if voice.soft else INK,
        alignment=TA_RIGHT if voice.right else TA_LEFT,
        splitLongWords=1,
    )


class _Pictured(Flowable):
    """Words as a picture, where no face of ours has their letters."""

    def __init__(self, text: str, voice: Voice) -> None:
        super().__init__()
        self._text, self._voice = text, voice
        self._lines: list[tuple[ImageReader, float, float]] = []

    def wrap(self, room: float, _height: float) -> tuple[float, float]:
        """As high as its lines."""
        self._room = room
        pictures = [_line_of(line, self._voice) for line in wrapped(self._text, self._voice.size, 0.8 * room)]
        self._lines = [
            (picture, *_within(picture.getSize(), room, self._voice.lead)) for picture in pictures if picture
        ]
        return room, self._voice.lead * len(self._lines)

    def draw(self) -> None:
        """One picture for each line."""
        top = self._voice.lead * len(self._lines)
        for i, (picture, wide, high) in enumerate(self._lines):
            x = self._room - wide if self._voice.right else 0
            y = top - self._voice.lead * (i + 0.5) - high / 2
            self.canv.drawImage(picture, x, y, wide, high, mask="auto")


def _within(size_px: tuple[int, int], room: float, lead: float) -> tuple[float, float]:
    """Width and height [pt] of a picture, made smaller where there is no room for it."""
    wide, high = (px / PX_PER_PT for px in size_px)
    shrink = min(1.0, room / wide, lead / high)
    return wide * shrink, high * shrink


def forget_lines() -> None:
    """Keep no line of words, once it is printed: names are among them."""
    _line_of.cache_clear()


@lru_cache(maxsize=200)
def _line_of(text: str, voice: Voice) -> Any:
    """A line of words as a picture without rim, or None if nothing of it can be seen."""
    size, colour = voice.size, (SOFT if voice.soft else INK).hexval().replace("0x", "#")
    wide, high = 3 * width_of(text, size) + 8 * size, 2 * size
    drawn = words(text, wide / 2, high / 2, size, bold=voice.face == BOLD, colour=colour)
    svg = el("svg", drawn, xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {wide} {high}")
    rgba = render(svg, round(wide * PX_PER_PT))
    inked = np.argwhere(rgba[..., 3])
    if not len(inked):
        return None
    (top, left), (bottom, right) = inked.min(axis=0), inked.max(axis=0) + 1
    return ImageReader(Image.fromarray(rgba[top:bottom, left:right], "RGBA"))

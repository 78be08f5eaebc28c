"""SVG into pixels, with a typeface that is there on every machine: the one that Pillow carries inside."""

import atexit
import tempfile
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import ImageFont

from api.language.languages import ENGLISH, speaking, spoken
from api.marks import clean, el

PLAIN = {0xA0: " ", 0x2212: "-", 0x2013: "-", 0x2014: "-", 0xD7: "x", 0x2018: "'", 0x2019: "'", 0x2026: "..."}
"""Signs that the face lacks and that have a plain twin."""
BOLD = ".bold{stroke:currentColor;stroke-width:0.045em}"
"""The face has one weight only: bold words get an outline in their own colour."""
OTHERS = "Noto Sans, DejaVu Sans, Segoe UI, Helvetica Neue, Arial, sans-serif"
"""Faces to look for among those of the system, when the picture has letters that our face lacks."""
SAMPLE_PX = 100
CELL_PX = 40


def width_of(text: str, size: float) -> float:
    """The width of `text` when its letters are `size` high, in the same unit."""
    return float(_face().getlength(text.translate(PLAIN))) * size / SAMPLE_PX


def render(svg: str, width_px: int) -> NDArray[np.uint8]:
    """An SVG document as (H, W, 4) uint8 RGBA with straight alpha, `width_px` wide.

    System fonts are read, which is slow, only for letters that the face lacks. A letter that no font has is
    drawn without its accents.
    """
    svg = svg.translate(PLAIN)
    lacking = frozenset(letter for letter in svg if ord(letter) > 126 and not _has(letter))
    nowhere = lacking - _in_system(lacking) if lacking else lacking
    for letter in nowhere:
        svg = svg.replace(letter, _bare(letter))
    return _pixels(svg, width_px, system_fonts=bool(lacking - nowhere))


def drawable(text: str) -> bool:
    """Whether every letter can be drawn here, if need be without its accents."""
    lacking = frozenset(letter for letter in text if ord(letter) > 126 and not _has(letter))
    hard = frozenset(letter for letter in lacking if _bare(letter) == "?")
    return not hard or hard <= _in_system(hard)


@contextmanager
def in_letters() -> Iterator[None]:
    """Within it the language is spoken if this machine has its letters, else English."""
    own = spoken()
    with speaking(own.code if drawable(own.name) else ENGLISH):
        yield


@cache
def _face() -> ImageFont.FreeTypeFont:
    face = ImageFont.load_default(SAMPLE_PX)
    if not isinstance(face, ImageFont.FreeTypeFont):
        raise TypeError("Pillow was built without FreeType: install its usual wheel.")
    return face


@cache
def _face_file() -> str:
    """The face as a file, gone when the program ends."""
    folder = tempfile.TemporaryDirectory(prefix="doughsight-")
    atexit.register(folder.cleanup)
    target = Path(folder.name) / "face.ttf"
    target.write_bytes(_face().font_bytes)
    return str(target)


def _has(letter: str) -> bool:
    unseen = letter.isspace() or unicodedata.category(letter) == "Cf"
    return unseen or bytes(_face().getmask(letter)) != bytes(_face().getmask("\uffff"))


def _bare(letter: str) -> str:
    """`letter` without its accents, or `?`."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", letter) if c.isascii() and c.isprintable())
    return clean(bare) or "?"


@cache
def _in_system(letters: frozenset[str]) -> frozenset[str]:
    """Those of `letters` that some font of this machine has."""
    row = sorted(letters)
    cells = [el("text", clean(c), x=CELL_PX * i + 10, y=28, font_size=20) for i, c in enumerate(row)]
    size = {"width": CELL_PX * len(row), "height": CELL_PX}
    svg = el("svg", *cells, xmlns="http://www.w3.org/2000/svg", **size)
    alpha = _pixels(svg, CELL_PX * len(row), system_fonts=True)[..., 3]
    return frozenset(c for i, c in enumerate(row) if alpha[:, CELL_PX * i : CELL_PX * (i + 1)].any())


def _pixels(svg: str, width_px: int, system_fonts: bool) -> NDArray[np.uint8]:
    families = f'font-family="{OTHERS}"' if system_fonts else 'font-family="sans-serif"'
    png = resvg_py.svg_to_bytes(
        svg_string=svg.replace('font-family="sans-serif"', families),
        width=width_px,
        skip_system_fonts=not system_fonts,
        font_files=[_face_file()],
        font_family=_face().getname()[0],
        sans_serif_family=_face().getname()[0],
        style_sheet=None if system_fonts else BOLD,
    )
    image = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_UNCHANGED)
    if image is None or image.ndim != 3 or image.shape[2] != 4:
        raise ValueError("The drawing could not be turned into pixels.")
    return np.asarray(cv2.cvtColor(image, cv2.COLOR_BGRA2RGBA), np.uint8)

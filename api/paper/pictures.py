"""Pictures in print: the photo with its marks, and the symbols of the picture language."""

import io
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import numpy as np
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable

from api.canvas import frame_of
from api.drawing import cropped, over, photo_part, widened
from api.fonts import render
from api.marks import defs, el, tag_size, use
from api.overlay import overlay_svg
from api.paper.faces import HAIR, INK
from api.paper.told import NoPhotoError, Seen
from api.placing import Box
from vision.model import Photo
from vision.photo import encode_jpeg

Marks = Literal["fault", "lumps", "none"]
LAYERS: dict[Marks, frozenset[str]] = {
    "fault": frozenset({"answer", "lights", "labels"}),
    "lumps": frozenset({"lumps", "leads", "lights"}),
}
MOST_COVERED = 0.3
"""The tags of the lights may hide no more than this share of a photo (estimated)."""
DOTS_PER_PT = 220 / 72
PT_PER_UNIT = 0.75
"""Marks are as large in print as on the page: a CSS pixel is 3/4 pt."""
JPEG_QUALITY = 85
SYMBOL_PX_PER_PT = 400 / 72
LEAST_PART_PX = 32
MARK_SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40">'
    '<path d="M10 33 15.5 17h9L30 33z" fill="#F5B53A"/><path d="M20 2v4" '
    'stroke="#13221D" stroke-width="2.5"/>'
    '<path d="M20 5c-5 0-6.5 3.5-7 6l-4 6.5h22l-4-6.5c-.5-2.5-2-6-7-6z" fill="#12503F"/>'
    '<path d="M3 34.5h34" stroke="#13221D" stroke-width="3"/>'
    '<path d="M13 33c0-4.5 3-6.5 7-6.5s7 2 7 6.5z" fill="#13221D"/></svg>'
)


@dataclass(frozen=True)
class Picture:
    """A picture for reportlab and its size in print [pt]."""

    image: ImageReader
    width: float
    height: float


def photo_picture(seen: Seen, room: tuple[float, float], marks: Marks) -> Picture:
    """The sculpture as large as it fits into `room` [pt], with marks; nothing outside its frame is shown."""
    view = view_of(seen)
    wide, high = view[2] - view[0], view[3] - view[1]
    scale = min(room[0] / wide, room[1] / high)
    width_pt, height_pt = wide * scale, high * scale
    size = max(1, round(width_pt * DOTS_PER_PT)), max(1, round(height_pt * DOTS_PER_PT))
    full = seen.report.photo.width
    pixels = seen.pixels(round(full * size[0] / wide))
    shrink = max(1, round(full / pixels.shape[1]))
    left, top, right, bottom = (edge / shrink for edge in view)
    photo = photo_part(pixels, (left, top, right, bottom), *size)
    if marks != "none":
        over(photo, render(cropped(_marks(seen, view, width_pt, marks), view, *size), size[0]))
    jpeg = encode_jpeg(Photo(photo), JPEG_QUALITY)
    return Picture(ImageReader(io.BytesIO(jpeg)), width_pt, height_pt)


def picture_of(seen: Seen | None, room: tuple[float, float], marks: Marks) -> Picture | None:
    """The same; None where there is no photo."""
    try:
        return photo_picture(seen, room, marks) if seen is not None else None
    except NoPhotoError:
        return None


def shown(picture: Picture | None, room: tuple[float, float]) -> Flowable:
    """The photo, else an empty frame as large as its room."""
    return ToDraw(room) if picture is None else Shown(picture, (room[0], picture.height))


def view_of(seen: Seen) -> Box:
    """The sculpture within its photo, and within what may be shown of it [photo px]."""
    about = seen.report.photo
    view = widened(frame_of(seen.report, seen.case), about.width, about.height)
    if seen.frame is None:
        return view
    left, top, right, bottom = seen.frame
    inner = max(left, view[0]), max(top, view[1]), min(right, view[2]), min(bottom, view[3])
    if inner[2] - inner[0] < LEAST_PART_PX or inner[3] - inner[1] < LEAST_PART_PX:
        return seen.frame
    return inner


def _marks(seen: Seen, view: Box, width_pt: float, marks: Marks) -> str:
    layers, units = LAYERS[marks], width_pt / PT_PER_UNIT
    tags = sum(width * height for width, height in (tag_size(led.id, 1) for led in seen.report.leds))
    if tags > MOST_COVERED * units**2 * (view[3] - view[1]) / (view[2] - view[0]):
        layers = layers - {"lights", "labels"}
    return overlay_svg(
        seen.report,
        seen.case,
        layers=layers,
        finding=0 if marks == "fault" else None,
        px_per_mark=(view[2] - view[0]) / units,
        frame=view,
    )


class Shown(Flowable):
    """A picture in the middle of its room, in a thin frame, so that a bright photo ends somewhere."""

    def __init__(self, picture: Picture, room: tuple[float, float]) -> None:
        super().__init__()
        self._picture, self._room = picture, room

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """As large as its room."""
        return self._room

    def draw(self) -> None:
        """At the top left of its room."""
        one = self._picture
        y = self._room[1] - one.height
        self.canv.drawImage(one.image, 0, y, one.width, one.height)
        self.canv.setLineWidth(0.5)
        self.canv.setStrokeColor(HAIR)
        self.canv.rect(0, y, one.width, one.height)


class Symbol(Flowable):
    """One of the symbols of `api.marks`, or the lamp of the house, `size` pt high and wide."""

    def __init__(self, name: str, size: float = 16.0) -> None:
        super().__init__()
        self._name, self._size = name, size

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """A square."""
        return self._size, self._size

    def draw(self) -> None:
        """Its picture."""
        self.canv.drawImage(symbol_image(self._name, self._size), 0, 0, self._size, self._size)


class Lines(Flowable):
    """Lines to write on, far enough apart for a child's hand."""

    APART = 25.0

    def __init__(self, count: int) -> None:
        super().__init__()
        self._count, self._width = count, 0.0

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """As wide as there is room."""
        self._width = width
        return width, self._count * self.APART

    def draw(self) -> None:
        """Thin lines."""
        self.canv.setStrokeColor(HAIR)
        self.canv.setLineWidth(0.6)
        for i in range(self._count):
            self.canv.line(0, i * self.APART + 1, self._width, i * self.APART + 1)


class Filling(Flowable):
    """A block with lines to write on: as many as there is room for on its page, from `least` to `most`."""

    def __init__(self, made: Callable[[int], Flowable], least: int, most: int) -> None:
        super().__init__()
        self._made, self._counts = made, range(most, least - 1, -1)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """The highest that fits."""
        for count in self._counts:
            self._block = self._made(count)
            size: tuple[float, float] = self._block.wrapOn(self.canv, width, height)
            if size[1] <= height:
                break
        return size

    def draw(self) -> None:
        """The block that was chosen."""
        self._block.drawOn(self.canv, 0, 0)


class ToDraw(Flowable):
    """An empty place for a drawing, where there is no photo."""

    def __init__(self, room: tuple[float, float]) -> None:
        super().__init__()
        self._room = room

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """As large as the photo would be."""
        return self._room

    def draw(self) -> None:
        """A dashed frame."""
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.8)
        self.canv.setDash([5, 4])
        self.canv.rect(0.5, 0.5, self._room[0] - 1, self._room[1] - 1)
        self.canv.setDash([])


@cache
def symbol_image(name: str, size_pt: float) -> Any:
    """A symbol as an opaque picture, white around it."""
    across = round(size_pt * SYMBOL_PX_PER_PT)
    if name == "mark":
        rgba = render(MARK_SVG, across)
    else:
        inner = use(name)
        view = "-13 -13 26 26"
        rgba = render(el("svg", defs(inner), inner, xmlns="http://www.w3.org/2000/svg", viewBox=view), across)
    white = np.full((*rgba.shape[:2], 3), 255, np.uint8)
    over(white, rgba)
    return ImageReader(Image.fromarray(white, "RGB"))

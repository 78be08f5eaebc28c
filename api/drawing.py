"""The marked-up picture: photo, marks and a paper strip of words and key, to be read alone."""

import re

import cv2
import numpy as np
from numpy.typing import NDArray

from api.canvas import LAYERS, PICTURE_LAYERS, frame_of
from api.fonts import in_letters, render
from api.hints import Level
from api.overlay import overlay_svg
from api.placing import Box
from api.schemas import Case, Report
from api.strip import WIDTH, Block, alarm_bar, page, strip

__all__ = ["LAYERS", "PICTURE_LAYERS", "marked_up_png", "overlay_svg"]

LONG_SIDE_PX = 1600
TALLEST_PX, DENSEST = 2400, 3.0
SHORTEST_PX = 900  # narrower, the words of the strip could not be read
MOST_ZOOM = 3.0
WIDEST, TALLEST = 1.9, 0.9
"""Width over height of the photo part."""
UNITS_ACROSS = 740.0
"""Mark units across the picture: a lead is then 22 of 740 wide."""


@in_letters()
def marked_up_png(
    pixels: NDArray[np.uint8],
    report: Report,
    case: Case,
    *,
    layers: frozenset[str] = PICTURE_LAYERS,
    finding: int | None = 0,
    level: Level = "do",
) -> bytes:
    """A PNG of the sculpture with its marks, the first finding in words, and a key; at most 1600 px long.

    `pixels` is the upright photo (h, w, 3) uint8 RGB in which the report's points are measured; it may be
    smaller than the report says by a whole number. `level` says how much picture and words give away.
    """
    frame = widened(frame_of(report, case), report.photo.width, report.photo.height)
    scale = (frame[2] - frame[0]) / UNITS_ACROSS
    marks = overlay_svg(
        report, case, layers=layers, finding=finding, level=level, px_per_mark=scale, frame=frame
    )
    bar = alarm_bar(report)
    below = strip(report, case, marks, level)
    width, height = picture_size(frame, bar.height + below.height)
    shrink = max(1, round(report.photo.width / pixels.shape[1]))
    left, top, right, bottom = (edge / shrink for edge in frame)
    photo = photo_part(pixels, (left, top, right, bottom), width, height)
    over(photo, render(cropped(marks, frame, width, height), width))
    rows = [paper_part(part, width) for part in (bar,) if part.height] + [photo, paper_part(below, width)]
    done, png = cv2.imencode(".png", cv2.cvtColor(np.vstack(rows), cv2.COLOR_RGB2BGR))
    if not done:
        raise ValueError("The picture could not be written as a PNG.")
    return png.tobytes()


def with_key_png(
    pixels: NDArray[np.uint8], full_width: int, svg: str, frame: Box, units: float, below: Block
) -> bytes:
    """The part `frame` of a photo with the marks of `svg` over it and a block of words below, as a PNG.

    `pixels` (h, w, 3) may be smaller than the `full_width` that `frame` and `svg` are measured in; the
    picture is `units` wide as it is meant to be looked at, and denser in pixels.
    """
    tall = (frame[3] - frame[1]) / (frame[2] - frame[0]) * units
    density = min(DENSEST, LONG_SIDE_PX / units, TALLEST_PX / (tall + below.height))
    across, down = round(units * density), max(1, round(tall * density))
    shrink = max(1, round(full_width / pixels.shape[1]))
    left, top, right, bottom = (edge / shrink for edge in frame)
    photo = photo_part(pixels, (left, top, right, bottom), across, down)
    over(photo, render(cropped(svg, frame, across, down), across))
    strip_ = np.ascontiguousarray(render(page(below, units), across)[..., :3])
    done, png = cv2.imencode(".png", cv2.cvtColor(np.vstack([photo, strip_]), cv2.COLOR_RGB2BGR))
    if not done:
        raise ValueError("The picture could not be written as a PNG.")
    return png.tobytes()


def cropped(marks: str, frame: Box, width: int, height: int) -> str:
    """The overlay with `frame` as its view, as a drawing of width x height px."""
    view = f"{frame[0]} {frame[1]} {frame[2] - frame[0]} {frame[3] - frame[1]}"
    head = f'<svg width="{width}" height="{height}" viewBox="{view}" preserveAspectRatio="none" '
    return re.sub(r'^<svg ([^>]*?)viewBox="[^"]*"', lambda found: head + found.group(1), marks, count=1)


def widened(frame: Box, width: int, height: int) -> Box:
    """`frame` grown within the photo until it is neither too wide nor too tall."""
    left, top, right, bottom = frame
    wide, high = right - left, bottom - top
    want_wide, want_high = max(wide, high * TALLEST), max(high, wide / WIDEST)
    left, right = _grown(left, right, want_wide, width)
    top, bottom = _grown(top, bottom, want_high, height)
    return left, top, right, bottom


def _grown(low: float, high: float, want: float, limit: float) -> tuple[float, float]:
    """The interval grown on both sides to `want`, moved or clipped to 0 .. `limit`."""
    middle = (low + high) / 2
    start = min(max(0.0, middle - want / 2), max(0.0, limit - want))
    return start, min(limit, start + want)


def picture_size(frame: Box, words_units: float) -> tuple[int, int]:
    """Width and height in px of the photo part, so that with the words it stays within the long side."""
    wide, high = frame[2] - frame[0], frame[3] - frame[1]
    width = float(np.clip(MOST_ZOOM * wide, SHORTEST_PX, LONG_SIDE_PX))
    tall = high / wide + words_units / WIDTH
    width = min(width, (LONG_SIDE_PX - 4) / tall)
    return int(width), max(1, round(int(width) * high / wide))


def photo_part(pixels: NDArray[np.uint8], frame: Box, width: int, height: int) -> NDArray[np.uint8]:
    """The photo within `frame`, resampled to (height, width, 3)."""
    sx, sy = (frame[2] - frame[0]) / width, (frame[3] - frame[1]) / height
    if sx > 1:
        left, top, right, bottom = (round(edge) for edge in frame)
        crop = pixels[top:bottom, left:right]
        return np.asarray(cv2.resize(crop, (width, height), interpolation=cv2.INTER_AREA), np.uint8)
    shift = np.array([[sx, 0, frame[0] + sx / 2 - 0.5], [0, sy, frame[1] + sy / 2 - 0.5]])
    how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    part = cv2.warpAffine(pixels, shift, (width, height), flags=how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(part, np.uint8)


def over(photo: NDArray[np.uint8], marks: NDArray[np.uint8]) -> None:
    """Lay `marks` (H, W, 4) over `photo` (H, W, 3) in place."""
    alpha = marks[: photo.shape[0], :, 3:].astype(np.uint16)
    mixed = marks[: photo.shape[0], :, :3] * alpha + photo * (255 - alpha)
    photo[:] = ((mixed + 127) // 255).astype(np.uint8)


def paper_part(block: Block, width: int) -> NDArray[np.uint8]:
    """A block of words as (h, width, 3)."""
    return np.ascontiguousarray(render(page(block), width)[..., :3])

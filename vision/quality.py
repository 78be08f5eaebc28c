"""Whether a photo is fit to be looked at: sharp enough, and neither too dark nor washed out.

Dough on a plain table has little texture, so sharpness is read off the steepest edges and not off a
mean over the picture.
"""

import math
from dataclasses import dataclass, replace
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.model import Photo
from vision.table_view import FRAME_MM

Grade = Literal["good", "poor", "hopeless"]
Box = tuple[float, float, float, float]
Lines = NDArray[Any]

CELL_MM = 0.25
"""Side of a pixel in which edges are measured (estimated: well under the blur that matters)."""
MOST_CELLS = 400_000
"""A larger picture is judged more coarsely, which is quick and still finer than the blur that matters."""
WINDOW_MM = 6.0
"""Length over which an edge rises; wider than the widest blur that is told apart (calibrated)."""
LINES_APART = 3
"""Every third line is looked at."""
ACROSS = 3
"""An edge counts for a direction when it is this much steeper along it than across: within 18 degrees."""
POOR_BLUR_MM, HOPELESS_BLUR_MM = 0.65, 1.2
"""Blur, as standard deviation, at which a gap of 0.8 mm, of 1.5 mm, keeps half its contrast (0.59, 1.11): a
slit of width g under a Gaussian blur keeps erf(g / (2 sqrt(2) sigma)). A tenth more, because what is measured
comes out up to a fifth too high."""
SHARP_ELSEWHERE_MM = 0.8
"""Blur of the whole photo up to which a blurred part is taken for soft dough (calibrated: thin wires make a
photo that was moved look sharper than it is)."""
SHARPEST_SHARE = 0.1
"""Share of the strong edges that is looked at (calibrated: the blur put on comes out within 20 %)."""
STRONG = 0.5
"""An edge is strong from this share of the strongest (calibrated)."""
LEAST_STEP = 10
"""Levels of 255 from which a step counts as an edge; less is noise and JPEG blocks (estimated)."""
OVER_NOISE = 6.0
"""Edges are seen only when the strongest rise by this many standard deviations of the noise (estimated: the
range of some 40 samples of noise is 4 to 6 of them)."""
LEAST_EDGES = 20
"""Fewer crossings of edges than this tell nothing of their direction (estimated)."""
POOR_LIGHT, HOPELESS_LIGHT = 80, 28
"""Level of 255 of the brighter parts: 8 % and 1 % of full light (estimated)."""
POOR_CLIPPED, HOPELESS_WHITE = 0.6, 0.9
"""Share of pixels with a channel at its end, and with all three there (estimated)."""
BLACK, CLIPPED = 10, 250
HARSH_SHARE = 0.15
"""Share of black and of clipped pixels at once from which light counts as harsh (estimated)."""
COARSE_MM, LEAST_LONG_PX = 0.4, 640
"""A pixel of this size shows a gap of 0.8 mm in two pixels at best; without a scale it goes by the side."""
PIXEL_BLUR = 1.5
"""Blur up to this many photo pixels is none of focus or movement (measured: 0.9 to 1.1 in sharp photos)."""

HELP = "Hold still, give more light, and take the photo from straight above."
SAYS = {
    "too dark": f"The photo is too dark to see the dough, or something covers the lens. {HELP}",
    "washed out": "The photo is washed out white. Turn off the flash, shade the dough, and take it again.",
    "nothing": f"Nothing can be told apart on the photo; is something in front of the lens? {HELP}",
    "too small": "The photo shows the sculpture too small to see gaps. Go nearer, or correct the scale.",
    "too blurred": f"The photo is too blurred to see gaps in the dough. {HELP}",
    "blurred": "The photo is blurred, so narrow gaps may be missed. Hold still.",
    "small": "The photo shows the sculpture small, so narrow gaps may be missed. Go nearer.",
    "dark": "The photo is dark, so colours may be mixed up. Give more light.",
    "overexposed": "Much of the photo is overexposed, so colours may be mixed up. Shade it.",
    "harsh": "Bright light and deep shadow lie side by side. Spread the light.",
}
"""All advice and warnings; whoever speaks another language looks them up as they stand."""


@dataclass(frozen=True)
class Quality:
    """What a photo is fit for.

    grade     'good', 'poor' (used, with `warnings`) or 'hopeless' (refused, with `advice`)
    warnings  what may be missed and why, a plain sentence or two each
    advice    what is wrong and what to do; empty unless hopeless
    blur_mm   standard deviation of the blur, pixels included; infinite when no edge is seen
    light     level that a tenth of the picture exceeds, 0 to 255
    clipped   share of pixels with a channel at its end
    """

    grade: Grade
    warnings: tuple[str, ...]
    advice: str
    blur_mm: float
    light: int
    clipped: float


@dataclass(frozen=True)
class _Lines:
    """Lines through a picture as rows: levels, Sobel sums along and across them, what is off the rim.

    The pixels of a line are `step` cells apart, and the sums are times `step` too large.
    """

    plane: Lines
    slope: Lines
    across: Lines
    inside: Lines
    step: float


def judge(photo: Photo, box: Box | None = None, mm_per_px: float | None = None) -> Quality:
    """The fitness of a photo, or of the part within `box` (left, top, right, bottom in photo pixels).

    Without `mm_per_px` the frame counts as 200 mm wide. A part is hopeless only when the whole photo is:
    a piece of black dough is no dark photo, and its rounded top is no blur.
    """
    found = _judged(photo, box, mm_per_px)
    if found.grade != "hopeless" or box is None:
        return found
    whole = _judged(photo, None, mm_per_px)
    blurred = HOPELESS_BLUR_MM < found.blur_mm < math.inf and whole.blur_mm > SHARP_ELSEWHERE_MM
    if whole.grade == "hopeless" or blurred:
        return found
    coarse = _coarse(photo, mm_per_px)
    warnings = _warnings(found.blur_mm, found.light, found.clipped, False, coarse)
    return replace(found, grade="poor", warnings=warnings, advice="")


def _judged(photo: Photo, box: Box | None, mm_per_px: float | None) -> Quality:
    scale = mm_per_px if mm_per_px is not None else FRAME_MM / photo.width
    small, cell_mm = _reduced(_part(photo, box), scale * photo.shrink)
    red, green, blue = cv2.split(small)
    high = _shares(cv2.max(cv2.max(red, green), blue))
    low = _shares(cv2.min(cv2.min(red, green), blue))
    light = int(np.searchsorted(high, 0.9))
    clipped, white, black = 1 - high[CLIPPED - 1], 1 - low[CLIPPED - 1], high[BLACK]
    blur_mm = blur_of(small, cell_mm)
    advice = _advice(blur_mm, light, white, blur_mm < PIXEL_BLUR * scale)
    harsh = min(clipped, black) > HARSH_SHARE
    warnings = () if advice else _warnings(blur_mm, light, clipped, harsh, _coarse(photo, mm_per_px))
    grade: Grade = "hopeless" if advice else "poor" if warnings else "good"
    return Quality(grade, warnings, advice, blur_mm, light, float(clipped))


def _shares(plane: NDArray[Any]) -> NDArray[np.float64]:
    """Share of pixels at or below each level, (256,)."""
    counts = cv2.calcHist([plane], [0], None, [256], [0, 256]).ravel().astype(float)
    return np.asarray(counts.cumsum() / plane.size)


def blur_of(pixels: NDArray[np.uint8], cell_mm: float) -> float:
    """Blur [mm], as standard deviation, of the sharpest strong edges of (h, w, 3) uint8 pixels.

    A step of height a under a Gaussian blur has the slope a / (sqrt(2 pi) sigma) at its middle; under a
    motion of length l it has a / l. Edges along a motion stay sharp, so edges are measured by their
    direction, and the worst of four directions counts. Infinite when no edge is seen.
    """
    # The channel that tells most, because dough and table may be equally bright.
    channel = int(cv2.meanStdDev(pixels)[1].ravel().argmax())
    plane = np.ascontiguousarray(pixels[..., channel])
    x, y = (cv2.Sobel(plane, cv2.CV_16S, *axis, ksize=3) for axis in ((1, 0), (0, 1)))
    inside = np.zeros(plane.shape, np.uint8)
    reach = max(1, min(round(WINDOW_MM / 2 / cell_mm), min(plane.shape) // 8))
    inside[reach:-reach, reach:-reach] = 1
    strongest, noise = _strongest(plane, reach), _noise(plane)
    if strongest < max(LEAST_STEP, OVER_NOISE * noise):
        return math.inf
    least = max(LEAST_STEP, math.ceil(STRONG * strongest))
    all_lines = (
        _Lines(plane, x, y, inside, 1.0),
        _Lines(plane.T, y.T, x.T, inside.T, 1.0),
        _diagonals(plane, x + y, x - y, inside, 1),
        _diagonals(plane, x - y, x + y, inside, -1),
    )
    found = [_blur_along(lines, cell_mm, reach, least) for lines in all_lines]
    return max((blur for blur in found if blur is not None), default=math.inf)


def _strongest(plane: NDArray[np.uint8], reach: int) -> float:
    """How far the strongest edges rise, in levels, within `reach` pixels to both sides."""
    rows = np.ascontiguousarray(plane[:: 2 * LINES_APART])
    line = np.ones((1, 2 * reach + 1), np.uint8)
    return float(np.percentile(cv2.subtract(cv2.dilate(rows, line), cv2.erode(rows, line)), 99))


def _noise(plane: NDArray[np.uint8]) -> float:
    """Standard deviation of the noise, in levels: the median difference of neighbours (normal law)."""
    rows = plane[:: 2 * LINES_APART]
    return float(np.median(cv2.absdiff(rows[:, 1:], rows[:, :-1]))) / (0.6745 * math.sqrt(2))


def _diagonals(
    plane: Lines, slope: Lines, across: Lines, inside: NDArray[np.uint8], way: Literal[1, -1]
) -> _Lines:
    """Diagonals falling to the right (1) or the left (-1); a line goes on at the other side."""
    width = plane.shape[1] + way
    used = plane.size // width * width

    def laid(of: Lines) -> Lines:
        return of.ravel()[:used].reshape(-1, width).T

    return _Lines(laid(plane), laid(slope), laid(across), laid(inside), math.sqrt(2))


def _blur_along(lines: _Lines, cell_mm: float, reach: int, least: int) -> float | None:
    """Blur [mm] along lines, of edges that rise by `least` levels; None when these are too few.

    Per edge the steepest pixel counts, where the window round it holds the whole edge.
    """
    plane, slope, across, inside = (
        np.ascontiguousarray(v[::LINES_APART]) for v in (lines.plane, lines.slope, lines.across, lines.inside)
    )
    window = np.ones((1, 2 * round(reach / lines.step) + 1), np.uint8)
    rise = cv2.subtract(cv2.dilate(plane, window), cv2.erode(plane, window))
    steep = np.abs(slope)
    edge = (rise >= least) & (steep == cv2.dilate(steep, window)) & (inside > 0)
    edge[edge] = steep[edge] >= ACROSS * np.abs(across[edge])
    if np.count_nonzero(edge) < LEAST_EDGES:
        return None
    steepness = steep[edge] / (8.0 * lines.step * rise[edge])  # a Sobel sum holds 8 differences of one pixel
    return cell_mm / (math.sqrt(2 * math.pi) * float(np.quantile(steepness, 1 - SHARPEST_SHARE)))


def _part(photo: Photo, box: Box | None) -> NDArray[np.uint8]:
    """The stored pixels within a box; all of them when it is none or next to nothing."""
    if box is None:
        return photo.pixels
    rows, cols = photo.pixels.shape[:2]
    left, top, right, bottom = (round(edge / photo.shrink) for edge in box)
    part = photo.pixels[max(0, top) : min(rows, bottom), max(0, left) : min(cols, right)]
    return part if min(part.shape[:2]) >= 64 else photo.pixels


def _reduced(pixels: NDArray[np.uint8], mm_per_px: float) -> tuple[NDArray[np.uint8], float]:
    """Pixels averaged to cells of about 0.25 mm, and their true size."""
    rows, cols = pixels.shape[:2]
    times = max(round(CELL_MM / mm_per_px), round(math.sqrt(rows * cols / MOST_CELLS)), 1)
    times = min(times, max(1, min(rows, cols) // 64))
    if times == 1:
        return pixels, mm_per_px
    size = (pixels.shape[1] // times, pixels.shape[0] // times)
    cut = pixels[: size[1] * times, : size[0] * times]
    return np.asarray(cv2.resize(cut, size, interpolation=cv2.INTER_AREA), np.uint8), mm_per_px * times


def _coarse(photo: Photo, mm_per_px: float | None) -> bool:
    if mm_per_px is None:
        return max(photo.width, photo.height) < LEAST_LONG_PX
    return mm_per_px > COARSE_MM


def _advice(blur_mm: float, light: float, white: float, by_pixels: bool) -> str:
    """What is wrong and what to do with a hopeless photo; empty for all others."""
    if light < HOPELESS_LIGHT:
        return SAYS["too dark"]
    if white > HOPELESS_WHITE:
        return SAYS["washed out"]
    if math.isinf(blur_mm):
        return SAYS["nothing"]
    if blur_mm > HOPELESS_BLUR_MM and by_pixels:
        return SAYS["too small"]
    if blur_mm > HOPELESS_BLUR_MM:
        return SAYS["too blurred"]
    return ""


def _warnings(blur_mm: float, light: float, clipped: float, harsh: bool, coarse: bool) -> tuple[str, ...]:
    said = (
        (blur_mm > POOR_BLUR_MM, "blurred"),
        (coarse, "small"),
        (light < POOR_LIGHT, "dark"),
        (clipped > POOR_CLIPPED, "overexposed"),
        (harsh, "harsh"),
    )
    return tuple(SAYS[what] for true, what in said if true)

"""Colours of the palette that cannot be told apart in this light.

A colour is known by the photo round its taps. Two colours are alike when their samples, with shading
taken out, lie so near to each other that most pixels might be either: shade darkens by half and more
and lamps are uneven, so lightness counts for little, and hue for much.

Notation: N samples.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage import color

from vision.model import Alike, Colour, Contact, Photo, Piece, Point, TableView
from vision.palette import doughs_of
from vision.srgb import LINEAR

TAP_MM, GRAIN_MM = 1.5, 0.3
"""Radius of what is sampled at a tap, and of what is averaged, so that noise does not count as colour."""
KEPT = 0.9
DARK, FAINT = 0.005, 0.02
"""Keep logarithms of black, and of a colour that a dough hardly has, quiet (estimated)."""
SHADE, HUE = 0.45, 0.03
"""Spread of ln light by shading not sampled: a contact shadow takes 0.45; and of both hues by lamps of
different colour and light thrown back by neighbours. Estimated on rendered and real photographs."""
LEAST_APART = 3.0
"""Colours nearer than this many spreads are alike: with equal spreads one pixel in 15 is then taken for the
other (normal law at -1.5). On rendered photos with truth the pair at 1.3 has a quarter of its pixels wrong,
most pairs from 3.2 on have under a tenth."""
LEAST_DELTA_E = 3.0
"""No eye tells a smaller difference between two lumps that do not lie side by side (estimated)."""

Samples = NDArray[np.float64]


@dataclass(frozen=True)
class Tapped:
    """What the photo shows at the taps of a colour: linear RGB (N, 3), features (N, 3), the tap of each."""

    colour: Colour
    linear: Samples
    features: Samples
    tap: NDArray[np.intp]
    middle: Samples
    spread: Samples


def find_alike(photo: Photo, palette: Sequence[Colour], view: TableView) -> tuple[Alike, ...]:
    """Pairs of colours that it would matter to confuse and that look alike, the most alike first."""
    tapped = [_tapped(photo, colour, view) for colour in palette if colour.taps]
    found = []
    for one, other in combinations(tapped, 2):
        if not _matters(one.colour, other.colour):
            continue
        spreads, difference = apart(one, other), delta_e(one, other)
        if spreads < LEAST_APART or difference < LEAST_DELTA_E:
            first, second = (other, one) if one.colour.role == "table" else (one, other)
            at = worst(first, second)
            found.append((spreads, Alike(first.colour.name, second.colour.name, difference, at)))
    return tuple(alike for _, alike in sorted(found, key=lambda item: item[0]))


def that_matter(
    alike: Sequence[Alike], palette: Sequence[Colour], pieces: Sequence[Piece], contacts: Sequence[Contact]
) -> tuple[Alike, ...]:
    """Those whose confusion could change which lump is which.

    Two conductive doughs may be confused without harm unless pieces of them lie close and are no one lump.
    """
    doughs = doughs_of(palette)
    of = {piece.id: doughs[piece.colour - 1] for piece in pieces}
    near = {
        frozenset(of[i].name for i in contact.between) for contact in contacts if contact.kind != "touching"
    }
    conductive = {colour.name for colour in doughs if colour.role == "conductive"}
    pairs = [(one, frozenset((one.first, one.second))) for one in alike]
    return tuple(one for one, pair in pairs if not pair <= conductive or pair in near)


def _matters(one: Colour, other: Colour) -> bool:
    """Two insulating doughs, or two colours of the table, may be confused without harm."""
    return one.role != other.role or one.role == "conductive"


def apart(one: Tapped, other: Tapped) -> float:
    """How many spreads lie between two colours, with room for shade: sqrt(8 B), B Bhattacharyya's distance.

    With equal spreads that is Mahalanobis' distance; Fukunaga, Introduction to Statistical Pattern
    Recognition (1990), 3.4.
    """
    room = np.diag([SHADE**2, HUE**2, HUE**2])
    a, b = one.spread + room, other.spread + room
    both, off = (a + b) / 2, one.middle - other.middle
    logs = [float(np.linalg.slogdet(m)[1]) for m in (both, a, b)]
    return float(np.sqrt(off @ np.linalg.solve(both, off) + 4 * (logs[0] - (logs[1] + logs[2]) / 2)))


def delta_e(one: Tapped, other: Tapped) -> float:
    """CIEDE2000 difference of the medians; CIE 142-2001, ISO/CIE 11664-6:2014, kL = kC = kH = 1."""
    a, b = (lab_of(np.median(tapped.linear, axis=0)) for tapped in (one, other))
    return float(color.deltaE_ciede2000(a, b))  # type: ignore[no-untyped-call]


def lab_of(linear: Samples) -> Samples:
    """CIELAB (D65) of linear RGB (3,) of sRGB primaries."""
    srgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0) ** (1 / 2.4) - 0.055)
    return np.asarray(color.rgb2lab(srgb))


def worst(first: Tapped, second: Tapped) -> Point:
    """The tap of the first colour that looks most like the second."""
    scale = 1 / np.array([SHADE, HUE, HUE])
    off = [
        float(np.linalg.norm((np.median(first.features[first.tap == i], axis=0) - second.middle) * scale))
        for i in np.unique(first.tap)
    ]
    return first.colour.taps[int(np.unique(first.tap)[int(np.argmin(off))])]


def _tapped(photo: Photo, colour: Colour, view: TableView) -> Tapped:
    patches = [_patch(photo, tap, view) for tap in colour.taps]
    linear = np.concatenate(patches)
    tap = np.repeat(np.arange(len(patches)), [len(patch) for patch in patches])
    f = _without_shade(linear)
    kept = _typical(f)
    linear, tap, f = linear[kept], tap[kept], f[kept]
    spread = np.cov(f.T) if len(f) > 3 else np.zeros((3, 3))
    return Tapped(colour, linear, f, tap, np.median(f, axis=0), spread)


def _without_shade(linear: Samples) -> Samples:
    """ln light, and two hues that shade leaves as they are: ln(R/G) and ln(B/G) of shares of the light."""
    light = linear.sum(axis=1, keepdims=True) + DARK
    share = np.log(linear / light + FAINT)
    return np.column_stack([np.log(light), share[:, 0] - share[:, 1], share[:, 2] - share[:, 1]])


def _typical(f: Samples) -> NDArray[np.bool_]:
    """The nine tenths of samples nearest to the median."""
    off = (((f - np.median(f, axis=0)) / [SHADE, HUE, HUE]) ** 2).sum(axis=1)
    return np.asarray(off <= np.quantile(off, KEPT))


def _patch(photo: Photo, tap: Point, view: TableView) -> Samples:
    """Linear RGB (N, 3) of the grains round a tap."""
    step = photo.shrink
    px_mm = view.mm_per_px_at(tap) * step
    grain = max(1, round(GRAIN_MM / px_mm))
    reach = max(1, round(TAP_MM / px_mm / grain))
    col, row = (int(v // step) for v in tap)
    rows = np.clip(np.arange(row - grain * reach, row + grain * reach), 0, photo.pixels.shape[0] - 1)
    cols = np.clip(np.arange(col - grain * reach, col + grain * reach), 0, photo.pixels.shape[1] - 1)
    part = cv2.LUT(np.ascontiguousarray(photo.pixels[np.ix_(rows, cols)]), LINEAR)
    small = cv2.resize(part, (2 * reach, 2 * reach), interpolation=cv2.INTER_AREA)
    y, x = np.mgrid[: 2 * reach, : 2 * reach] + 0.5 - reach
    return np.asarray(small[np.hypot(x, y) <= reach], float)

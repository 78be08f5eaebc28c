"""The network at work: from a photo and what the helper told to chances of what lies where.

Notation: C classes (0 the table, i the i-th dough), h, w cells (rows, columns).
"""

from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.inputs import ROUND_TO, SEEN_MM, SLOTS, Told, input_planes
from vision.model import Colour, Mark, Photo, Point, TableView
from vision.palette import doughs_of
from vision.seen import THINGS, Seen
from vision.straighten import BoxMm, box_round, photo_in_mm, straightened, view_of_grid

Floats = NDArray[np.float32]

MARGIN_MM, MORE_MM, MOST_LOOKS = 16.0, 30.0, 4
"""How far the sculpture may reach beyond taps and marks at first (estimated); then the box grows."""
CLEAR_MM = 6.0
"""So much table shows round all dough, or there may be more beyond a gap."""
MOST_CELLS = 800_000
PATCH_MM = 4.8
SURE_MM, SURE = 0.8, 6.0
"""Round a tap on dough that dough is as good as certain: so much is added to its logit."""


_ONE_AT_A_TIME = Lock()


@cache
def _network() -> cv2.dnn.Net:
    data = (files("vision") / "eyes.onnx").read_bytes()
    return cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8), cv2.dnn.ENGINE_CLASSIC)


def is_loaded() -> bool:
    """Whether the network is in memory: it comes there at the first look."""
    return _network.cache_info().currsize > 0


def look(
    photo: Photo,
    palette: Sequence[Colour],
    marks: Sequence[Mark],
    view: TableView,
    places: Sequence[Point] = (),
    within: Sequence[Point] = (),
) -> tuple[Seen, BoxMm]:
    """What the photo shows, and the box [mm of `view`] that was looked at.

    The box holds all taps on dough, all marks and all `places` [px], and grows while dough runs out of
    it. It stays round `within`, a polygon [px]; taps elsewhere only tell a colour.
    """
    whole = photo_in_mm(view, (photo.width, photo.height))
    if within:
        whole = box_round(view, within)
    spots = [tap for colour in doughs_of(palette) for tap in colour.taps]
    spots += [mark.at for mark in marks] + list(places)
    wanted = [at for at in map(view.to_mm, spots) if _inside(at, whole)]
    wanted = wanted or [(whole[0], whole[1]), (whole[2], whole[3])]
    margins = [MARGIN_MM] * 4
    looks = 0
    while True:
        box, cell_mm = _box(wanted, whole, margins)
        seen = _look_at(photo, palette, marks, view, box, cell_mm)
        looks += 1
        sides = _runs_out(seen, box, whole)
        if not any(sides) or looks == MOST_LOOKS:
            return seen, box
        margins = [m + max(MORE_MM, m) * out for m, out in zip(margins, sides, strict=True)]
        del seen  # some 30 MB, before the next look takes as much


def _inside(at: Point, box: BoxMm) -> bool:
    return box[0] <= at[0] <= box[2] and box[1] <= at[1] <= box[3]


def _box(wanted: Sequence[Point], whole: BoxMm, margins_mm: Sequence[float]) -> tuple[BoxMm, float]:
    """The box round `wanted` within `whole`, a whole number of network cells, and its cell size."""
    at = np.array(wanted, float)
    low = np.maximum(at.min(axis=0) - margins_mm[:2], whole[:2])
    high = np.minimum(at.max(axis=0) + margins_mm[2:], whole[2:])
    cell_mm = SEEN_MM * max(1.0, float(np.sqrt(np.prod((high - low) / SEEN_MM) / MOST_CELLS)))
    unit = cell_mm * ROUND_TO
    size = np.maximum(1, np.ceil((high - low) / unit - 1e-6)) * unit
    left, top = (low + high - size) / 2
    return (float(left), float(top), float(left + size[0]), float(top + size[1])), cell_mm


def _look_at(
    photo: Photo,
    palette: Sequence[Colour],
    marks: Sequence[Mark],
    view: TableView,
    box: BoxMm,
    cell_mm: float,
) -> Seen:
    """What a box of the photo shows."""
    pixels = straightened(photo, view, box, cell_mm)

    def cell(at: Point) -> tuple[float, float]:
        x, y = view.to_mm(at)
        return (x - box[0]) / cell_mm - 0.5, (y - box[1]) / cell_mm - 0.5

    def patch(at: Point) -> NDArray[np.uint8]:
        (x, y), half = view.to_mm(at), PATCH_MM / 2
        return straightened(photo, view, (x - half, y - half, x + half, y + half), cell_mm)

    def near(taps: Sequence[Point]) -> list[tuple[float, float]]:
        return [cell(tap) for tap in taps if _inside(view.to_mm(tap), box)]

    def far(taps: Sequence[Point]) -> list[NDArray[np.uint8]]:
        return [patch(tap) for tap in taps if not _inside(view.to_mm(tap), box)]

    table = [tap for colour in palette if colour.role == "table" for tap in colour.taps]
    doughs = [colour.taps for colour in doughs_of(palette)]
    legs = tuple((cell(p), cell(q), lit) for p, q, lit in _pairs(marks))
    leads = [cell(mark.at) for mark in marks if mark.kind == "lead"]
    away = [far(taps) for taps in doughs]
    groups = _groups(len(doughs))
    logits, things, light = [], None, None
    for group in groups:
        told = Told(
            tuple([spot for i in slot for spot in near(doughs[i])] for slot in group),
            near(table),
            legs,
            leads,
        )
        patches = [(0, one) for one in far(table)]
        patches += [(k, one) for k, slot in enumerate(group, start=1) for i in slot for one in away[i]]
        planes, light = input_planes(pixels, told, patches)
        labels, tops = _forward(planes)
        del planes  # 20 MB that are not needed while all else is worked out
        logits.append(labels[: len(group) + 1])
        things = tops if things is None else things
    if things is None or light is None:
        raise ValueError("There is no dough colour to look for.")
    together = _merged(logits, groups, len(doughs))
    _trust_taps(together, [near(taps) for taps in doughs], cell_mm)
    on_top = _on_top(things, (light.shape[0], light.shape[1]))
    return Seen(_softmax(together), on_top, light, cell_mm, view_of_grid(view, box), pixels)


def _pairs(marks: Sequence[Mark]) -> list[tuple[Point, Point, bool]]:
    """Both legs of each LED once, and whether it is lit."""
    out = {}
    for mark in marks:
        if mark.kind == "leg" and mark.partner is not None:
            out[frozenset((mark.at, mark.partner))] = (mark.at, mark.partner, mark.lit)
    return list(out.values())


def _groups(doughs: int) -> list[list[list[int]]]:
    """Which doughs (from 0) share a slot in each look.

    With more doughs than slots, each look takes five by themselves and all others together.
    """
    if doughs <= SLOTS:
        return [[[i] for i in range(doughs)]]
    out = []
    for start in range(0, doughs, SLOTS - 1):
        alone = list(range(start, min(start + SLOTS - 1, doughs)))
        out.append([*([i] for i in alone), [i for i in range(doughs) if i not in alone]])
    return out


def _merged(logits: Sequence[Floats], groups: Sequence[list[list[int]]], doughs: int) -> Floats:
    """Logits of all classes from those of each look.

    A dough is no likelier than in the look where it was alone, nor than all the rest together in others.
    """
    if len(groups) == 1:
        return logits[0]
    shape = logits[0].shape[1:]
    out = np.full((doughs + 1, *shape), np.inf, np.float32)
    out[0] = 0
    for part, group in zip(logits, groups, strict=True):
        sure = part - _log_sum(part)
        out[0] += sure[0] / len(groups)
        for slot, members in enumerate(group, start=1):
            for i in members:
                np.minimum(out[i + 1], sure[slot], out=out[i + 1])
    return out


def _log_sum(logits: Floats) -> Floats:
    """ln of the sum of exp over the classes (C, h, w)."""
    most = logits.max(axis=0)
    return np.asarray(most + np.log(np.exp(logits - most).sum(axis=0)), np.float32)


def _forward(planes: Floats) -> tuple[Floats, Floats]:
    """Logits of labels (SLOTS + 1, h, w) and of things (len(THINGS) + 1, h/2, w/2)."""
    with _ONE_AT_A_TIME:  # a network of OpenCV works on its own buffers
        net = _network()
        net.setInput(planes[None], "planes")
        quarters, things = net.forward(["labels", "things"])
    _, _, rows, cols = quarters.shape
    shuffled = quarters.reshape(SLOTS + 1, 2, 2, rows, cols).transpose(0, 3, 1, 4, 2)
    labels = np.asarray(shuffled.reshape(SLOTS + 1, 2 * rows, 2 * cols), np.float32)
    return labels, np.asarray(things[0], np.float32)


def _trust_taps(logits: Floats, doughs: Sequence[Sequence[tuple[float, float]]], cell_mm: float) -> None:
    """Make a dough all but certain where it was tapped, in place."""
    reach = SURE_MM / cell_mm
    y, x = np.ogrid[: logits.shape[1], : logits.shape[2]]
    for label, taps in enumerate(doughs, start=1):
        for tap_x, tap_y in taps:
            rows = slice(max(0, int(tap_y - reach)), max(0, int(tap_y + reach) + 2))
            cols = slice(max(0, int(tap_x - reach)), max(0, int(tap_x + reach) + 2))
            near = np.hypot(y[rows] - tap_y, x[:, cols] - tap_x) <= reach
            logits[label, rows, cols][near] += SURE


def _softmax(logits: Floats) -> Floats:
    """Chances (C, h, w) that sum to 1 over C."""
    out = np.exp(logits - logits.max(axis=0))
    out /= out.sum(axis=0)
    return np.asarray(out, np.float32)


def _on_top(logits: Floats, shape: tuple[int, ...]) -> Floats:
    """Chances (len(THINGS), h, w) of what lies on top."""
    small = _softmax(logits)[1 : len(THINGS) + 1]
    size = (shape[1], shape[0])
    return np.stack([cv2.resize(layer, size, interpolation=cv2.INTER_NEAREST) for layer in small])


def _runs_out(seen: Seen, box: BoxMm, whole: BoxMm) -> tuple[bool, bool, bool, bool]:
    """Whether dough comes near the left, top, right and bottom of the box, where the photo goes on."""
    dough = seen.chance[0] < 0.5
    rim = max(1, round(CLEAR_MM / seen.cell_mm))
    left_, top_ = dough[:, :rim].any(axis=1), dough[:rim].any(axis=0)
    sides = (left_, top_, dough[:, -rim:].any(axis=1), dough[-rim:].any(axis=0))
    inner = (box[0] > whole[0] + 1, box[1] > whole[1] + 1, box[2] < whole[2] - 1, box[3] < whole[3] - 1)
    left, top, right, bottom = (
        bool(free and np.mean(side) > 0.02) for side, free in zip(sides, inner, strict=True)
    )
    return left, top, right, bottom

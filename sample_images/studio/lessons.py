"""Lessons for the network: inventions photographed, with taps as a helper would set them, and the truth.

Notation: h, w cells of `inputs.SEEN_MM`, both `SIDE`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.colours import pick_colours
from sample_images.studio.invent import invent
from sample_images.studio.invention import Invention, Stuff
from sample_images.studio.quick import View, photograph, table_colour
from sample_images.studio.raster import Point, Rng
from sample_images.studio.stage import LED
from vision.inputs import SEEN_MM, SLOTS, Told, input_planes

SIDE, FRAME_MM = 512, 112.0
BRIGHT, FLAT = 0.25, 0.25
"""Shares of lessons that are overexposed, and in flat light."""
TAP_ERROR_MM, MOST_ERROR_MM = 0.4, 1.0


@dataclass(frozen=True)
class Lesson:
    """planes (PLANES, h/2, w/2) float16; labels, weights (h, w) uint8; things (h/2, w/2) uint8."""

    planes: NDArray[np.float16]
    labels: NDArray[np.uint8]
    weights: NDArray[np.uint8]
    things: NDArray[np.uint8]


def lessons(seed: int, takes: int = 2, variants: int = 4) -> Iterator[Lesson]:
    """All lessons that come of one seed."""
    rng = np.random.default_rng([seed, 3])
    table = table_colour(rng)
    made = invent(seed, table=table)
    for take in range(takes):
        if take:
            table = table_colour(rng)
            made = _recoloured(rng, made, table)
        relief = rng.uniform(0, 0.6) if rng.random() < FLAT else 1.0
        view = photograph(made, table, take=take, frame_mm=(FRAME_MM, FRAME_MM), relief=relief)
        for _ in range(variants):
            lesson = _lesson(rng, made, view)
            if lesson is not None:
                yield lesson


def _recoloured(rng: Rng, made: Invention, table: tuple[float, float, float]) -> Invention:
    colours = pick_colours(rng, len(made.doughs), table, rng.uniform(8, 34))
    doughs = tuple(Stuff(d.name, c, d.conducts) for d, c in zip(made.doughs, colours, strict=True))
    return replace(made, doughs=doughs)


def _lesson(rng: Rng, made: Invention, view: View) -> Lesson | None:
    photo = _through_jpeg(rng, _redeveloped(rng, view.photo))
    per_px = 1 / float(np.sqrt(abs(np.linalg.det(view.to_px[:2, :2]))))
    scale = per_px / SEEN_MM * float(np.exp(rng.normal(0, 0.3 if rng.random() < 0.12 else 0.02)))
    rows, cols = (round(n * scale) for n in photo.shape[:2])
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    pixels = np.asarray(cv2.resize(photo, (cols, rows), interpolation=how), np.uint8)
    labels, things = (
        np.asarray(cv2.resize(a, (cols, rows), interpolation=cv2.INTER_NEAREST), np.uint8)
        for a in (view.labels, view.things)
    )
    corner = _corner(rng, labels)
    frame = np.array([[scale, 0, -corner[0]], [0, scale, -corner[1]], [0, 0, 1]]) @ view.to_px
    pixels, labels, things = (_cut(a, corner) for a in (pixels, labels, things))
    told, slots = _told(rng, made, frame, labels, things)
    if told is None:
        return None
    table = np.zeros(256, np.uint8)
    for i, slot in enumerate(slots, start=1):
        table[i] = slot + 1
    lost = np.isin(labels, [i for i in range(1, 7) if table[i] == 0])
    weights = _weights(labels, things, made)
    labels = table[labels]
    weights[lost] = 0
    turned = int(rng.integers(0, 8))
    pixels, labels, things, weights = (_turned(a, turned) for a in (pixels, labels, things, weights))
    planes, _ = input_planes(np.ascontiguousarray(pixels), _turned_told(told, turned))
    return Lesson(
        planes.astype(np.float16), np.ascontiguousarray(labels), np.ascontiguousarray(weights),
        np.ascontiguousarray(things[::2, ::2]),
    )  # fmt: skip


def _redeveloped(rng: Rng, photo: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The same photo by another phone: exposure, colour balance, contrast."""
    levels = np.arange(256) / 255
    power, gain = np.exp(rng.normal(0, 0.12)), np.exp(rng.normal(0, 0.1))
    if rng.random() < BRIGHT:
        gain *= np.exp(rng.uniform(0.1, 0.6))
    balance = np.exp(rng.normal(0, 0.05, 3))
    table = [np.clip(gain * b * levels**power, 0, 1) * 255 for b in balance]
    return cv2.LUT(photo, np.rint(np.stack(table, axis=-1)).astype(np.uint8)[None])  # type: ignore[return-value]


def _through_jpeg(rng: Rng, photo: NDArray[np.uint8]) -> NDArray[np.uint8]:
    quality = int(rng.uniform(45, 97))
    _, data = cv2.imencode(".jpg", photo[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.ascontiguousarray(np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)[..., ::-1])


def _corner(rng: Rng, labels: NDArray[np.uint8]) -> tuple[int, int]:
    ys, xs = np.nonzero(labels)
    y = int(np.mean(ys)) if len(ys) else labels.shape[0] // 2
    x = int(np.mean(xs)) if len(xs) else labels.shape[1] // 2
    return x - SIDE // 2 + int(rng.normal(0, 50)), y - SIDE // 2 + int(rng.normal(0, 50))


def _cut(array: NDArray[np.uint8], corner: tuple[int, int]) -> NDArray[np.uint8]:
    x, y = corner
    rows, cols = array.shape[:2]
    pad = max(0, -x, -y, x + SIDE - cols, y + SIDE - rows)
    if pad:
        padded = cv2.copyMakeBorder(array, pad, pad, pad, pad, cv2.BORDER_REFLECT_101)
        array = np.asarray(padded, np.uint8)
    return array[y + pad : y + pad + SIDE, x + pad : x + pad + SIDE]


def _told(
    rng: Rng,
    made: Invention,
    frame: NDArray[np.float64],
    labels: NDArray[np.uint8],
    things: NDArray[np.uint8],
) -> tuple[Told | None, list[int]]:
    """What a helper tells, in cells, with the error of a finger; and the slot of each dough."""
    slots = [int(s) for s in rng.permutation(SLOTS)[: len(made.doughs)]]
    doughs: list[list[tuple[float, float]]] = [[] for _ in range(SLOTS)]
    kept = []
    for i, slot in enumerate(slots, start=1):
        doughs[slot] = _taps(rng, (labels == i) & (things == 0))
        kept.append(slot if doughs[slot] else -1)
    if not any(doughs):
        return None, []
    table = _taps(rng, (labels == 0) & (things == 0)) if rng.random() < 0.95 else []

    def cell(at: Point) -> tuple[float, float]:
        x, y, w = frame @ np.array([*at, 1.0])
        miss = np.clip(rng.normal(0, TAP_ERROR_MM, 2), -MOST_ERROR_MM, MOST_ERROR_MM) / SEEN_MM
        return float(x / w + miss[0] - 0.5), float(y / w + miss[1] - 0.5)

    if rng.random() < 0.15:
        return Told(tuple(doughs), table, (), ()), kept
    legs = tuple((cell(m.long), cell(m.short), (m.lit != "off") == (rng.random() > 0.08)) for m in made.lamps)
    return Told(tuple(doughs), table, legs, [cell(rod.at) for rod in made.rods]), kept


def _taps(rng: Rng, mask: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """One to four places well inside what is seen of one colour."""
    room = cv2.distanceTransform(np.pad(mask, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
    most = float(room.max())
    if most < 2:
        return []
    ys, xs = np.nonzero(room >= min(most * rng.uniform(0.35, 0.8), 14))
    picks = rng.integers(0, len(ys), int(rng.integers(1, 5)))
    return [(float(xs[i]), float(ys[i])) for i in picks]


def _weights(labels: NDArray[np.uint8], things: NDArray[np.uint8], made: Invention) -> NDArray[np.uint8]:
    """How much each cell matters: rims, what is hidden, and most of all narrow gaps, walls and bridges."""
    conducts = np.zeros(256, bool)
    conducts[1 : len(made.doughs) + 1] = [d.conducts for d in made.doughs]
    conductive = conducts[labels].astype(np.uint8)
    rim = cv2.morphologyEx(labels, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    near = cv2.dilate(rim.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool)
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (19, 19))
    slit = (cv2.morphologyEx(conductive, cv2.MORPH_CLOSE, brush) > 0) & (conductive == 0)
    small = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (17, 17))
    bridge = (conductive > 0) & (cv2.morphologyEx(conductive, cv2.MORPH_OPEN, small) == 0)
    out = np.full(labels.shape, 10, np.uint8)
    out[near] = 30
    near_dough = cv2.dilate((labels > 0).astype(np.uint8), np.ones((31, 31), np.uint8)) > 0
    out[(things > 0) & near_dough] = 40
    out[slit | bridge] = 60
    out[(things == LED) & near_dough] = 70
    out[(things == LED) & slit] = 140
    return out


def _turned(array: NDArray[np.uint8], turned: int) -> NDArray[np.uint8]:
    array = array[:, ::-1] if turned & 4 else array
    return np.rot90(array, turned & 3)


def _turned_told(told: Told, turned: int) -> Told:
    def place(at: tuple[float, float]) -> tuple[float, float]:
        x, y = at
        if turned & 4:
            x = SIDE - 1 - x
        for _ in range(turned & 3):
            x, y = y, SIDE - 1 - x
        return x, y

    return Told(
        tuple([place(p) for p in taps] for taps in told.doughs),
        [place(p) for p in told.table],
        tuple((place(p), place(q), lit) for p, q, lit in told.legs),
        [place(p) for p in told.leads],
    )

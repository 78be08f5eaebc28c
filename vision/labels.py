"""Which colour is where: the label raster.

The steps are: least energy on the coarse raster, three times with the table learned again in
between and the shapes cleaned each time; then fine boundaries.

Notation: h, w cells; C classes (0 the table, i the i-th dough colour).
"""

from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.model import Colour, Mark
from vision.occluders import Body, body_mask, led_bodies, lights_of
from vision.palette import (
    Models,
    dough_models,
    doughs_of,
    table_model,
    table_samples,
    tap_mask,
)
from vision.potts import contrast_weights, least_energy
from vision.raster import Floats, Mask, Raster, dilated, opened

Labels = NDArray[np.uint8]

CAP, LED_CAP, FINE_CAP = 14.0, 2.0, 8.0
"""Most that one cell may cost: it bounds what an odd cell can do to its neighbours (estimated)."""
POTTS = 7.0
EDGE_UNITS = np.array([0.12, 0.06, 0.06])
THIN_MM, RIM_MM, FINE_THIN_MM = 0.9, 2.0, 0.54
RIM_MM2, CRUMB_MM2, RELEARN_MM2 = 1.5, 12.0, 150.0
REACH_MM = 1.5


def find_labels(
    fine: Raster,
    coarse: Raster,
    palette: Sequence[Colour],
    marks: Sequence[Mark],
    on_stage: Callable[[str], None],
) -> tuple[Labels, tuple[Body, ...], Models]:
    """Labels (h, w) of the fine raster, with the LEDs and the colours learned on the way."""
    doughs = dough_models(fine, palette)
    rim = table_samples(coarse, palette, doughs)
    models = Models(table_model(rim), doughs, ())
    bodies = led_bodies(coarse, marks, models)
    models = Models(models.table, doughs, lights_of(marks, bodies))
    on_stage("colours")
    labels, learned = _coarse_labels(coarse, palette, bodies, models, rim)
    on_stage("shapes")
    # Only the first table is sure to hold no LED.
    return _fine_labels(fine, labels, learned), bodies, models


def _coarse_labels(
    raster: Raster, palette: Sequence[Colour], bodies: Sequence[Body], models: Models, rim: Floats
) -> tuple[Labels, Models]:
    """Three cuts on the coarse raster, the table learned again after the first two."""
    weights = contrast_weights(raster.features, EDGE_UNITS, POTTS)
    hidden = body_mask(raster, bodies, 2.0)
    hard = tap_labels(raster, palette)
    labels: Labels = np.zeros(raster.shape, np.uint8)
    for turn in range(3):
        energy = bounded(models.energies(raster), CAP)
        energy[:, hidden] = np.minimum(energy[:, hidden], LED_CAP)
        _fix(energy, hard)
        labels = cleaned(least_energy(energy, *weights), energy, hard, raster.cell_mm)
        if turn < 2:
            seen = opened((labels == 0) & ~hidden, 1.0, raster.cell_mm)
            parts, count = ndimage.label(seen)
            area = np.bincount(parts.ravel(), minlength=count + 1) * raster.cell_mm**2
            area[0] = 0
            table = raster.features[(area > RELEARN_MM2)[parts]]
            if len(table) > 50:
                models = Models(table_model(_mixed(table, rim)), models.doughs, models.lights)
    return labels, models


def _mixed(table: Floats, rim: Floats) -> Floats:
    """Samples of what was found to be table, with a few of the first ones."""
    return np.concatenate([table[:: max(1, len(table) // 6000)], rim[:: max(1, len(rim) // 600)]])


def bounded(energy: Floats, cap: float) -> Floats:
    """Energies (C, ...) less the least one of each cell, none above `cap`."""
    above: Floats = energy - energy.min(axis=0)
    return np.minimum(above, np.float32(cap))


def tap_labels(raster: Raster, palette: Sequence[Colour]) -> NDArray[np.int16]:
    """The label of each cell within 0.8 mm of a tap, -1 elsewhere, (h, w)."""
    out = np.full(raster.shape, -1, np.int16)
    table = [tap for colour in palette if colour.role == "table" for tap in colour.taps]
    for label, taps in enumerate((table, *(colour.taps for colour in doughs_of(palette)))):
        if taps:
            out[tap_mask(raster, taps, 0.8)] = label
    return out


def _fix(energy: Floats, hard: NDArray[np.int16]) -> None:
    """Make every label but the tapped one dear where somebody tapped."""
    rows, cols = np.nonzero(hard >= 0)
    energy[:, rows, cols] = 100
    energy[hard[rows, cols], rows, cols] = 0


def cleaned(labels: Labels, energy: Floats, hard: NDArray[np.int16], cell_mm: float) -> Labels:
    """Labels without threads, contact shadows posing as a third colour, and crumbs, (h, w)."""
    classes = len(energy)
    kept = np.zeros((classes, *labels.shape), bool)
    kept[0] = labels == 0
    for i in range(1, classes):
        mask = labels == i
        if mask.any():
            kept[i] = opened(mask, THIN_MM, cell_mm) | (mask & (hard == i))
    labels = reassigned(labels, kept, energy, cell_mm)
    for i in range(1, classes):
        kept[i] = (labels == i) & ~_rims(labels, i, cell_mm)
    kept[0] = labels == 0
    labels = reassigned(labels, kept, energy, cell_mm)
    for i in range(1, classes):
        parts, count = ndimage.label(labels == i)
        area = np.bincount(parts.ravel(), minlength=count + 1) * cell_mm**2
        large = area >= CRUMB_MM2
        large[np.unique(parts[hard == i])] = True
        large[0] = False
        kept[i] = large[parts]
    kept[0] = labels == 0
    return reassigned(labels, kept, energy, cell_mm)


def _rims(labels: Labels, label: int, cell_mm: float) -> Mask:
    """Thin stretches of a dough along other dough and table: shaded flanks and contact shadows."""
    mask = labels == label
    thin = mask & ~opened(mask, RIM_MM, cell_mm)
    parts, _ = ndimage.label(thin)
    out: Mask = np.zeros_like(mask)
    for i, box in enumerate(ndimage.find_objects(parts), start=1):
        wide = tuple(slice(max(0, s.start - 1), s.stop + 1) for s in box)
        part = parts[wide] == i
        if part.sum() * cell_mm**2 <= RIM_MM2:
            continue
        around = labels[wide][
            cv2.dilate(part.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool) & ~part
        ]
        if not len(around):
            continue
        table, own = np.mean(around == 0), np.mean(around == label)
        if table > 0.25 and (1 - table - own > 0.20 or own < 0.12):
            out[wide] |= part
    return out


def reassigned(labels: Labels, kept: NDArray[np.bool_], energy: Floats, cell_mm: float) -> Labels:
    """Give each cell that is not kept the cheapest label found within 1.5 mm, (h, w)."""
    lost = ~kept.any(axis=0)
    if not lost.any():
        return labels
    cost = np.full((len(kept), int(lost.sum())), np.inf, np.float32)
    for i, mask in enumerate(kept):
        if mask.any():
            near = dilated(mask, REACH_MM, cell_mm)[lost]
            cost[i, near] = energy[i][lost][near]
    out = labels.copy()
    out[lost] = np.where(np.isfinite(cost).any(axis=0), cost.argmin(axis=0), 0)
    return out


def _fine_labels(fine: Raster, labels: Labels, models: Models) -> Labels:
    """Boundaries drawn again on the fine raster: only labels within 1 mm compete, (h, w)."""
    size = (fine.shape[1], fine.shape[0])
    rough: Labels = cv2.resize(labels, size, interpolation=cv2.INTER_NEAREST).astype(np.uint8)
    classes = len(models.doughs) + 1
    near = np.stack([dilated(rough == i, 1.0, fine.cell_mm) for i in range(classes)])
    band = near.sum(axis=0) > 1
    if not band.any():
        return rough
    energy = models.energies(fine, band)
    energy[~near[:, band]] = np.inf
    energy = bounded(energy, FINE_CAP)
    cost = np.where(np.arange(classes)[:, None, None] == rough, np.float32(0), np.float32(FINE_CAP))
    cost[:, band] = energy
    light: Floats = np.log(fine.linear.sum(axis=2) + np.float32(0.06))
    smooth = guided(cost, light, max(1, round(0.5 / fine.cell_mm)), 0.05**2)
    smooth[~near] = np.inf
    sharp = smooth.argmin(axis=0).astype(np.uint8)
    out = np.where(band, sharp, rough)
    for i in range(1, classes):
        mask = out == i
        thread = mask & ~opened(mask, FINE_THIN_MM, fine.cell_mm)
        out[thread] = rough[thread]
    return out


def guided(cost: Floats, guide: Floats, radius: int, eps: float) -> Floats:
    """Guided filter of each slice (C, h, w) (He, Sun and Tang, ECCV 2010)."""
    box = (2 * radius + 1, 2 * radius + 1)

    def mean(image: Floats) -> Floats:
        return cv2.boxFilter(image, -1, box)  # type: ignore[return-value]

    middle = mean(guide)
    spread: Floats = mean(guide * guide) - middle * middle + np.float32(eps)
    out = np.empty_like(cost)
    for i, layer in enumerate(cost):
        level = mean(layer)
        slope = np.asarray((mean(guide * layer) - middle * level) / spread, np.float32)
        out[i] = mean(slope) * guide + mean(level - slope * middle)
    return out

"""Colour models from the helper's taps.

A model is a mixture of Gaussians in the features of `raster`. Doughs are learned from their taps
only: learning them again from what they were found to cover drifts, since shade and white tables
are absorbed. The table is learned from the rim of the crop as well, and may be learned again.

Notation: N samples, K Gaussians, C classes (0 the table, i the i-th dough colour).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.errors import PaletteError
from vision.model import Colour, Photo, Point
from vision.raster import Floats, Mask, Raster, disc, far_from, features

TAP_MM = 1.5
DOUGH_SPREAD = np.array([0.22, 0.09, 0.09])
TABLE_SPREAD = np.array([0.05, 0.02, 0.02])
TWIN_SPREAD = np.array([0.30, 0.08, 0.08])
GLOW_SPREAD = np.array([0.15, 0.08, 0.08])
SHADOW = 0.45
"""Spreads and the drop of ln light in a shadow; estimated on rendered and real photographs."""
GLOWS = (0.2, 0.6)
RING_MM = 6.0
UNITS = np.array([0.15, 0.06, 0.06])


@dataclass(frozen=True)
class Gaussian:
    """One Gaussian: mean (3,), covariance (3, 3), and what choosing it costs besides."""

    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]
    cost: float = 0.0

    def distance(self, f: Floats) -> Floats:
        """Squared Mahalanobis distance of features (..., 3)."""
        w = np.linalg.inv(np.linalg.cholesky(self.covariance)).T
        d = (f.reshape(-1, 3) - self.mean.astype(np.float32)) @ w.astype(np.float32)
        return np.asarray(np.einsum("ni,ni->n", d, d), np.float32).reshape(f.shape[:-1])

    def energy(self, f: Floats) -> Floats:
        """Squared Mahalanobis distance + ln det + cost of features (..., 3)."""
        return self.distance(f) + np.float32(np.linalg.slogdet(self.covariance)[1] + self.cost)


@dataclass(frozen=True)
class Light:
    """A lit LED: the middle of its legs [px], body radius [mm] and colour (linear RGB)."""

    at: Point
    radius_mm: float
    tint: tuple[float, float, float]


@dataclass(frozen=True)
class Models:
    """Gaussians of the table and of each dough, and the lit LEDs."""

    table: tuple[Gaussian, ...]
    doughs: tuple[Gaussian, ...]
    lights: tuple[Light, ...]

    def energies(self, raster: Raster, where: Mask | None = None) -> Floats:
        """Energy of each class, (C, h, w), or (C, n) of the cells in `where`."""
        f = raster.features if where is None else raster.features[where]
        out = np.empty((len(self.doughs) + 1, *f.shape[:-1]), np.float32)
        twins = [shadowed(g) for g in self.table]
        out[0] = np.min([g.energy(f) for g in (*self.table, *twins)], axis=0)
        for i, g in enumerate(self.doughs):
            out[i + 1] = g.energy(f)
        for light in self.lights:
            self._add_glow(out, f, raster, where, light)
        return out

    def _add_glow(self, out: Floats, f: Floats, raster: Raster, where: Mask | None, light: Light) -> None:
        """Dough and table lit up by an LED; `out` is lowered in place where that explains more."""
        d = far_from(raster.shape, raster.cell(light.at)) * raster.cell_mm - light.radius_mm
        d = d if where is None else d[where]
        extra = 4 + 4 * np.maximum(0, (d - 3) / 4)
        near = extra < 14
        if not near.any():
            return
        seen = f[near]
        for i, group in enumerate((self.table, *((g,) for g in self.doughs))):
            glowing = [_lit(g, np.array(light.tint), a).energy(seen) for g in group for a in GLOWS]
            lit = np.min(glowing, axis=0) + extra[near]
            out[i][near] = np.minimum(out[i][near], lit)


def check_palette(photo: Photo, palette: Sequence[Colour]) -> None:
    """Raise PaletteError unless every colour has taps and all of them lie on the photo."""
    check_names(palette)
    for colour in palette:
        if not colour.taps:
            raise PaletteError(f"The colour {colour.name} has no tap; tap it once on the photo.")
        for x, y in colour.taps:
            if not (0 <= x <= photo.width and 0 <= y <= photo.height):
                raise PaletteError(
                    f"A tap of {colour.name} at ({x:g}, {y:g}) lies outside the photo of "
                    f"{photo.width} x {photo.height} pixels; tap it on the photo."
                )


def check_names(palette: Sequence[Colour]) -> None:
    """Raise PaletteError when there is no dough, too much of it, or two colours share a name."""
    doughs = [colour.name for colour in palette if colour.role != "table"]
    if not doughs:
        raise PaletteError("The palette has no dough colour; tap at least one dough.")
    if len(doughs) > 200:
        raise PaletteError(f"The palette has {len(doughs)} dough colours; give at most 200.")
    twice = [name for name in doughs if doughs.count(name) > 1]
    if twice:
        raise PaletteError(f"Two colours are named {twice[0]}; give each its own name.")


def doughs_of(palette: Sequence[Colour]) -> list[Colour]:
    """The dough colours in order; the i-th (from 1) has label i."""
    return [colour for colour in palette if colour.role != "table"]


def dough_models(raster: Raster, palette: Sequence[Colour]) -> tuple[Gaussian, ...]:
    """One Gaussian a dough colour, from the cells within 1.5 mm of its taps."""
    return tuple(_from_samples(tap_samples(raster, colour.taps)) for colour in doughs_of(palette))


def tap_samples(raster: Raster, taps: Sequence[Point], radius_mm: float = TAP_MM) -> Floats:
    """Features (N, 3) of the cells within `radius_mm` of the taps."""
    return raster.features[tap_mask(raster, taps, radius_mm)]


def tap_mask(raster: Raster, taps: Sequence[Point], radius_mm: float) -> Mask:
    """Cells within `radius_mm` of the taps, (h, w); the cell under a tap always."""
    spots = np.zeros(raster.shape, np.uint8)
    for tap in taps:
        col, row = (round(v) for v in raster.cell(tap))
        spots[np.clip(row, 0, raster.shape[0] - 1), np.clip(col, 0, raster.shape[1] - 1)] = 1
    return cv2.dilate(spots, disc(radius_mm, raster.cell_mm)).astype(bool)


def _from_samples(samples: Floats) -> Gaussian:
    """Median and covariance of the nine tenths nearest to the median, widened by shade not sampled."""
    middle = np.median(samples, axis=0)
    off = (((samples - middle) / UNITS) ** 2).sum(axis=1)
    kept = samples[off <= np.quantile(off, 0.9)]
    spread = np.diag(DOUGH_SPREAD**2)
    if len(kept) > 3:
        spread = spread + np.cov(kept.T)
    return Gaussian(np.median(kept, axis=0).astype(float), spread)


def table_samples(raster: Raster, palette: Sequence[Colour], doughs: Sequence[Gaussian]) -> Floats:
    """Features (N, 3) that look like table: tap discs, and colours found on three sides of the rim."""
    taps = [tap for colour in palette if colour.role == "table" for tap in colour.taps]
    tapped = tap_samples(raster, taps) if taps else np.zeros((0, 3), np.float32)
    ring = max(1, round(RING_MM / raster.cell_mm))
    f = raster.features
    sides = [part.reshape(-1, 3) for part in (f[:ring], f[-ring:], f[:, :ring], f[:, -ring:])]
    if len(sides[0]) * len(sides[2]) < 4:  # clustering wants more than one cell
        sides = [np.repeat(part, 4, axis=0) for part in sides]
    rim = np.concatenate(sides)
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 1e-3)
    scaled = (rim / UNITS).astype(np.float32)
    k = min(6, len(scaled))
    start = np.zeros((len(scaled), 1), np.int32)
    _, found, centres = cv2.kmeans(scaled, k, start, stop, 1, cv2.KMEANS_PP_CENTERS)
    cluster = found.ravel()
    side = np.repeat(np.arange(4), [len(part) for part in sides])
    share = np.array([[np.mean(cluster[side == s] == c) for s in range(4)] for c in range(k)])
    good = (share > 0.04).sum(axis=1) >= 3
    if not taps:  # nothing says that the rim is table: leave out what looks like dough
        far = [min(_mahalanobis(g, c * UNITS) for g in doughs) for c in centres]
        good &= np.array(far) > 4
        if not good.any():
            good[int(np.argmax(far))] = True
    return np.concatenate([rim[good[cluster]], tapped])


def _mahalanobis(g: Gaussian, at: NDArray[np.float64]) -> float:
    d = at - g.mean
    return float(d @ np.linalg.solve(g.covariance, d))


def table_model(samples: Floats, count: int = 3, rounds: int = 12) -> tuple[Gaussian, ...]:
    """A mixture of at most three Gaussians by expectation-maximisation (Dempster et al. 1977)."""
    f = samples[:: max(1, len(samples) // 6000)].astype(float)
    f = np.repeat(f, 20, axis=0) if len(f) < 20 else f
    k = min(count, max(1, len(f) // 20))
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 1e-3)
    start = np.zeros((len(f), 1), np.int32)
    _, found, _ = cv2.kmeans((f / UNITS).astype(np.float32), k, start, stop, 1, cv2.KMEANS_PP_CENTERS)
    share = np.eye(k)[found.ravel()]
    mixture: tuple[Gaussian, ...] = ()
    for _ in range(rounds):
        mixture = tuple(_weighted(f, share[:, i], len(f)) for i in range(k) if share[:, i].sum() > 1)
        energy = np.stack([g.energy(f.astype(np.float32)) for g in mixture], axis=1)
        share = np.exp(-0.5 * (energy - energy.min(axis=1, keepdims=True))).astype(float)
        share /= share.sum(axis=1, keepdims=True)
        k = len(mixture)
    return mixture


def _weighted(f: NDArray[np.float64], weight: NDArray[np.float64], total: int) -> Gaussian:
    mass = weight.sum()
    mean = weight @ f / mass
    off = f - mean
    covariance = (off * weight[:, None]).T @ off / mass + np.diag(TABLE_SPREAD**2)
    return Gaussian(mean, covariance, cost=-2 * float(np.log(mass / total)))


def shadowed(g: Gaussian) -> Gaussian:
    """The same table in a shadow."""
    covariance = g.covariance + np.diag(TWIN_SPREAD**2)
    return Gaussian(g.mean - [SHADOW, 0, 0], covariance, g.cost + 2 * float(np.log(2)))


def _lit(g: Gaussian, tint: NDArray[np.float64], a: float) -> Gaussian:
    """The same stuff beside a lit LED: its colour takes up the tint."""
    light, hue_r, hue_b = np.exp(g.mean)
    green = light / (1 + hue_r + hue_b)
    linear = np.maximum(np.array([hue_r * green, green, hue_b * green]) - 0.02, 0)
    lit = np.minimum(1, linear * (1 + 2 * a * tint) + 0.3 * a * tint)
    return Gaussian(features(lit).astype(float), g.covariance + np.diag(GLOW_SPREAD**2), g.cost)


def middle_of(a: Point, b: Point) -> Point:
    """The point half way."""
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)

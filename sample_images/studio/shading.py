"""Light and shade on the stage of a quick photo."""

import cv2
import numpy as np

from sample_images.studio.raster import CELL_MM, Floats, Rng, smooth
from sample_images.studio.stage import Stage


def shaded(rng: Rng, stage: Stage) -> Floats:
    """Light that leaves towards the lens, (R, C, 3) linear."""
    h = np.asarray(cv2.GaussianBlur(stage.height, (0, 0), 0.8), np.float32)
    gy, gx = np.gradient(h, CELL_MM)
    norm = 1 / np.sqrt(1 + gx**2 + gy**2)
    turn, steep = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(25, 75))
    lx, ly, lz = np.cos(turn) * np.cos(steep), np.sin(turn) * np.cos(steep), np.sin(steep)
    diffuse = np.maximum((-gx * lx - gy * ly + lz) * norm, 0)
    shadow = _shadow(h, turn, np.tan(steep), rng.uniform(0.05, 0.6))
    sky = _open_sky(h)
    share = rng.uniform(0.1, 0.75)
    warm = np.array([1, rng.uniform(0.8, 1.0), rng.uniform(0.55, 1.05)], np.float32)
    cool = np.array([rng.uniform(0.8, 1.05), 1, rng.uniform(0.9, 1.25)], np.float32)
    if rng.random() < 0.15:
        warm = warm * np.array([1, rng.uniform(0.6, 1), rng.uniform(0.4, 1)], np.float32)
    direct = (share / max(lz, 0.3) * diffuse * shadow)[..., None] * warm
    around = ((1 - share) * sky)[..., None] * cool
    hidden = np.clip(1 - sky, 0, 1)[..., None]
    spread = cv2.blur(cv2.resize(stage.albedo, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA), (9, 9))
    spread = cv2.resize(spread, stage.height.shape[::-1], interpolation=cv2.INTER_LINEAR)
    bounced = rng.uniform(0.2, 0.55) * hidden * spread
    uneven = 1 + rng.uniform(0, 0.3) * smooth(rng, h.shape, 90)
    light = stage.albedo * (direct + around + bounced) * np.clip(uneven, 0.3, 2)[..., None]
    half = np.array([lx, ly, lz + 1]) / np.sqrt(2 + 2 * lz)
    shine = np.maximum((-gx * half[0] - gy * half[1] + half[2]) * norm, 0) ** rng.uniform(15, 120)
    light = light + (stage.gloss * shine * shadow * share * rng.uniform(0.5, 4))[..., None] * warm
    bare = stage.things > 0  # things were shaded when they were put there
    level = 0.35 + 0.65 * (share * shadow[bare] + 1 - share)
    light[bare] = stage.albedo[bare] * level[:, None] * (share * warm + (1 - share) * cool)
    glow = stage.glow
    bloom = cv2.resize(glow, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(bloom, (0, 0), 1.5) * 0.25 + cv2.GaussianBlur(bloom, (0, 0), 6) * 0.08
    wide = cv2.resize(wide, glow.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(light + glow + rng.uniform(0, 0.5) * wide, np.float32)


def _shadow(h: Floats, turn: float, rise: float, soft: float) -> Floats:
    """How much of the lamp each cell sees, (R, C), from half as many rows and columns."""
    small = cv2.resize(h, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    most = np.zeros_like(small)
    cell = CELL_MM * 2
    reach = min(float(small.max()) / rise, 30.0)
    step = 0.45
    for far in np.arange(step, reach + step, step):
        dx, dy = np.cos(turn) * far / cell, np.sin(turn) * far / cell
        shift = np.array([[1, 0, -dx], [0, 1, -dy]], np.float32)
        moved = cv2.warpAffine(small, shift, small.shape[::-1])
        most = np.maximum(most, (moved - small - far * rise) / (0.25 + soft * far))
        step = 0.45 + far * 0.05
    dark = 1 - np.clip(most * 1.2, 0, 1)
    dark = cv2.GaussianBlur(np.asarray(dark, np.float32), (0, 0), 0.8)
    return np.asarray(cv2.resize(dark, h.shape[::-1], interpolation=cv2.INTER_LINEAR))


def _open_sky(h: Floats) -> Floats:
    """Rough share of the sky that each cell sees, (R, C)."""
    out = np.ones_like(h)
    for sigma_mm, weight in ((0.5, 0.5), (1.2, 0.5), (3.0, 0.45), (8.0, 0.3)):
        f = min(1.0, 0.6 / sigma_mm)
        small = cv2.resize(h, None, fx=f, fy=f, interpolation=cv2.INTER_AREA) if f < 1 else h
        mean = cv2.GaussianBlur(small, (0, 0), sigma_mm / CELL_MM * f)
        mean = cv2.resize(mean, h.shape[::-1], interpolation=cv2.INTER_LINEAR) if f < 1 else mean
        out *= np.exp(-weight * np.clip((mean - h) / sigma_mm, -0.2, 6))
    return np.asarray(np.clip(out, 0.03, 1.15), np.float32)

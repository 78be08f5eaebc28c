"""What a phone makes of the light: exposure, tones, sharpening, noise."""

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.raster import Floats, Rng


def develop(rng: Rng, light: Floats, mm_per_px: float) -> NDArray[np.uint8]:
    """What a phone makes of it, (H, W, 3) uint8 sRGB."""
    gain = float(np.exp(rng.normal(0.0, 0.25))) * 0.6 / np.quantile(light[::8, ::8].max(axis=2), 0.9)
    balance = np.exp(rng.normal(0, 0.06, 3))
    scene = light * np.float32(gain) * balance.astype(np.float32)
    if rng.random() < 0.5:
        soft_px = rng.uniform(0.25, 0.9) * 0.15 / mm_per_px + 0.2
        scene = np.asarray(cv2.GaussianBlur(scene, (0, 0), soft_px), np.float32)
    if rng.random() < 0.15:
        scene = _moved(rng, scene, rng.uniform(0.2, 0.8) / mm_per_px)
    rows, cols = scene.shape[:2]
    y, x = np.ogrid[:rows, :cols]
    off = ((x - cols / 2) ** 2 + (y - rows / 2) ** 2) / ((rows**2 + cols**2) / 4)
    scene = scene * (1 - rng.uniform(0, 0.3) * off.astype(np.float32))[..., None]
    knee = rng.uniform(0.6, 1.0)
    rest = 1 - knee + 1e-3
    levels = np.linspace(0, 8, 4097)  # the tone curve as a table
    tone = np.where(levels < knee, levels, knee + rest * (1 - np.exp(-np.maximum(levels - knee, 0) / rest)))
    curve = np.asarray(np.clip(tone, 0, 1) ** (1 / rng.uniform(2.0, 2.5)), np.float32)
    picture = curve[np.asarray(np.clip(scene, 0, 8) * 512, np.uint16)]
    if rng.random() < 0.4:
        picture = 0.5 + (picture - 0.5) * rng.uniform(0.9, 1.25)
    if rng.random() < 0.6:
        picture = picture + rng.uniform(0.1, 0.7) * (picture - cv2.GaussianBlur(picture, (0, 0), 1.1))
    if rng.random() < 0.3:  # some phones make colours stronger
        grey = picture.mean(axis=2, keepdims=True)
        picture = grey + (picture - grey) * rng.uniform(0.85, 1.3)
    noise = rng.choice([0.002, 0.006, 0.012, 0.022])
    fine, coarse = _grain(rng, rows, cols), _grain(rng, rows // 2 + 1, cols // 2 + 1)
    picture = picture + noise * (fine + 0.6 * cv2.resize(coarse, (cols, rows)))
    return np.asarray(np.rint(np.clip(picture, 0, 1) * 255), np.uint8)


def _grain(rng: Rng, rows: int, cols: int) -> Floats:
    """Sensor noise (rows, cols, 3) of unit spread; a large patch repeats, which nobody sees."""
    tile = rng.standard_normal((min(rows, 300), min(cols, 300), 3), np.float32)
    return np.asarray(np.tile(tile, (-(-rows // tile.shape[0]), -(-cols // tile.shape[1]), 1))[:rows, :cols])


def _moved(rng: Rng, scene: Floats, length_px: float) -> Floats:
    """Blur by a moving hand."""
    n = max(3, int(length_px) | 1)
    kernel = np.zeros((n, n), np.float32)
    turn = rng.uniform(0, np.pi)
    d = (n - 1) / 2 * np.array([np.cos(turn), np.sin(turn)])
    a, b = np.round((n - 1) / 2 - d).astype(int), np.round((n - 1) / 2 + d).astype(int)
    cv2.line(kernel, (int(a[0]), int(a[1])), (int(b[0]), int(b[1])), 1.0)
    return np.asarray(cv2.filter2D(scene, -1, kernel / kernel.sum()))

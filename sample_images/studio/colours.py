"""Colours of doughs and tables, linear RGB."""

from collections.abc import Sequence

import cv2
import numpy as np

from sample_images.studio.raster import Rng

Colour = tuple[float, float, float]


def dough_colour(rng: Rng) -> Colour:
    """A dough colour, linear RGB: food dye in flour, so mostly light and not too saturated."""
    kind = rng.random()
    if kind < 0.14:  # undyed
        level = rng.uniform(0.55, 0.85)
        warm = rng.uniform(0.72, 1.0)
        return level, level * (0.5 + 0.5 * warm), level * warm * rng.uniform(0.75, 1.0)
    if kind < 0.24:  # brown, black, grey
        level = rng.uniform(0.02, 0.3)
        return level, level * rng.uniform(0.45, 1.0), level * rng.uniform(0.2, 1.0)
    hsv = np.array([[[rng.uniform(0, 360), rng.uniform(0.25, 0.95), rng.uniform(0.45, 1.0)]]], np.float32)
    srgb = cv2.cvtColor(hsv, cv2.COLOR_HSV2RGB)[0, 0]
    r, g, b = np.clip(srgb, 0.02, 1) ** 2.2
    return float(r), float(g), float(b)


def apart(one: Sequence[float], other: Sequence[float]) -> float:
    """Distance of two linear colours in CIELAB (CIE 1976)."""
    lab = cv2.cvtColor(np.clip([[one, other]], 0, 1).astype(np.float32) ** (1 / 2.2), cv2.COLOR_RGB2LAB)
    return float(np.linalg.norm(lab[0, 0] - lab[0, 1]))


def pick_colours(rng: Rng, count: int, table: Sequence[float], least: float) -> list[Colour]:
    """Colours at least `least` CIELAB units from each other and nearly so from the table."""
    out: list[Colour] = []
    alike = rng.random()
    for trial in range(400):
        new = dough_colour(rng)
        if alike < 0.3:  # one dough is much like the table, or like another dough
            near = np.array(table if alike < 0.18 or not out else out[0])
            r, g, b = (float(v) for v in np.clip(near * np.exp(rng.normal(0, 0.2, 3)), 0.01, 0.95))
            new = (r, g, b)
            if apart(new, table) > 6 and all(apart(new, c) > 6 for c in out):
                out.append(new)
                alike = 1.0
            continue
        want = least * (0.995**trial)
        if all(apart(new, c) > want for c in out) and apart(new, table) > want * 0.8:
            out.append(new)
            if len(out) == count:
                break
    while len(out) < count:
        out.append(dough_colour(rng))
    return out

"""What was seen on half as many rows and columns, as the suggestions use it.

Notation: h, w cells of `unit_mm` (rows, columns), on which the network tells things; places are
(column, row), whole numbers are cell centres.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.model import Colour, Point, TableView
from vision.palette import doughs_of
from vision.seen import THINGS, Seen
from vision.srgb import linear

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Window = tuple[slice, slice]

METAL, METAL_TIMES, METAL_AROUND_MM = 0.03, 1.2, 2.0
"""Least chance of metal, how many times that of its surroundings, and how far they reach (measured on
quick photos)."""


@dataclass(frozen=True)
class Sight:
    """What lies where.

    led, metal, red, dark (h, w) float32: chance that this is seen there
    bare    (h, w) bool: where metal is likelier than round about; the network is shy of thin and dull metal
    labels  (h, w) uint8: the likeliest class underneath, 0 the table
    lumps   (h, w) int32: connected conductive dough, 0 none
    pixels  (2h, 2w, 3) uint8 sRGB, straight
    """

    led: Floats
    metal: Floats
    red: Floats
    dark: Floats
    bare: Mask
    labels: NDArray[np.uint8]
    lumps: NDArray[np.int32]
    pixels: NDArray[np.uint8]
    unit_mm: float
    view: TableView

    def px(self, at: Point) -> Point:
        """A place [cells] on the photo."""
        return self.view.to_px(((at[0] + 0.5) * self.unit_mm, (at[1] + 0.5) * self.unit_mm))

    def window(self, low: Point, high: Point, margin_mm: float) -> Window:
        """Rows and columns from `low` to `high` (column, row) and so much more on all sides."""
        more = int(np.ceil(margin_mm / self.unit_mm))
        rows, cols = self.led.shape
        return (
            slice(max(0, int(low[1]) - more), min(rows, int(high[1]) + more + 1)),
            slice(max(0, int(low[0]) - more), min(cols, int(high[0]) + more + 1)),
        )

    def light(self, window: Window) -> Floats:
        """Linear light (rows, columns, 3) in a window."""
        rows, cols = window
        part = self.pixels[2 * rows.start : 2 * rows.stop, 2 * cols.start : 2 * cols.stop]
        light = linear(np.ascontiguousarray(part))
        size = (light.shape[1] // 2, light.shape[0] // 2)
        return np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)


def sight_of(seen: Seen, pixels: NDArray[np.uint8], palette: Sequence[Colour]) -> Sight:
    """What was seen, ready for suggestions; `pixels` are the straightened ones it was seen on."""
    conducts = [False] + [colour.role == "conductive" for colour in doughs_of(palette)]
    labels = np.asarray(seen.chance[:, ::2, ::2].argmax(axis=0), np.uint8)
    solid = np.array(conducts, np.uint8)[labels]
    _, lumps = cv2.connectedComponents(solid, connectivity=4)
    layers = {name: np.ascontiguousarray(seen.things[i, ::2, ::2]) for i, name in enumerate(THINGS)}
    metal = layers["metal"]
    around = cv2.GaussianBlur(metal, (0, 0), METAL_AROUND_MM / (2 * seen.cell_mm))
    bare = metal > np.maximum(METAL, METAL_TIMES * around)
    return Sight(
        layers["led"], metal, layers["red"], layers["dark"], np.asarray(bare),
        labels, np.asarray(lumps, np.int32), pixels, 2 * seen.cell_mm, seen.view,
    )  # fmt: skip

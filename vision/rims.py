"""Outlines of sculptures laid on one another: distances from the rims of each to those of the other.

Notation: R, C cells (rows, columns); L layers: all dough, then each colour; n places; points are (x, y)
in mm of the grid of a scene.
"""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure

from vision.model import Point, Scene
from vision.raster import Floats, Mask

FINE_MM = 0.5
COLOUR_SHARE = 0.5
"""What a cell of the right colour counts beside one that is dough at all: from below it may differ."""
RIM_POINTS, COLOUR_POINTS, FAR_MM = 300, 120, 8.0
LEAST_COLOUR_MM2 = 30.0

Doubles = NDArray[np.float64]


@dataclass(frozen=True)
class Shape:
    """What is compared.

    colour  (R, C) uint8 on cells of FINE_MM: 0 no dough, else the colour; a margin of table all round
    corner  of the grid [mm]
    layers  rims of all dough and of each colour: label (0 all dough), signed distance (R, C) mm above 0
            inside, rim places (n, 2) mm
    """

    colour: NDArray[np.uint8]
    corner: Point
    layers: tuple[tuple[int, Floats, Doubles], ...]

    @classmethod
    def of(cls, scene: Scene) -> "Shape":
        """The shape of a scene."""
        table = np.zeros(int(scene.grid.max(initial=0)) + 1, np.uint8)
        for piece in scene.pieces:
            table[piece.id] = piece.colour
        rows, cols = np.nonzero(scene.grid)
        box = (slice(int(rows.min()), int(rows.max()) + 1), slice(int(cols.min()), int(cols.max()) + 1))
        part = table[scene.grid[box]]
        size = [max(1, round(n * scene.cell_mm / FINE_MM)) for n in part.shape]
        # A cell is what most of it is; the middle of it stands for that.
        at = [np.minimum(((np.arange(n) + 0.5) * FINE_MM / scene.cell_mm).astype(int), m - 1)
              for n, m in zip(size, part.shape, strict=True)]  # fmt: skip
        margin = int(FAR_MM / FINE_MM)
        colour = np.pad(part[np.ix_(*at)], margin)
        corner = (box[1].start * scene.cell_mm - FAR_MM, box[0].start * scene.cell_mm - FAR_MM)
        area = np.bincount(colour.ravel()) * FINE_MM**2
        large = [k for k in range(1, len(area)) if area[k] >= LEAST_COLOUR_MM2]
        layers = [_layer(0, colour > 0, corner, RIM_POINTS)]
        layers += [_layer(k, colour == k, corner, COLOUR_POINTS) for k in large]
        return cls(colour, corner, tuple(layers))

    @property
    def area_mm2(self) -> float:
        """Area of all dough."""
        return float((self.colour > 0).sum()) * FINE_MM**2

    @cached_property
    def middle(self) -> Point:
        """The middle of all dough [mm]."""
        rows, cols = np.nonzero(self.colour)
        return (
            (float(cols.mean()) + 0.5) * FINE_MM + self.corner[0],
            (float(rows.mean()) + 0.5) * FINE_MM + self.corner[1],
        )

    @cached_property
    def radius_mm(self) -> float:
        """How far its rim reaches from its middle."""
        rim = self.layers[0][2]
        return float(np.hypot(*(rim - np.array(self.middle)).T).max())


def _layer(label: int, mask: Mask, corner: Point, most: int) -> tuple[int, Floats, Doubles]:
    inside, outside = (cv2.distanceTransform(m.astype(np.uint8), cv2.DIST_L2, 5) for m in (mask, ~mask))
    # Half a cell less on either side: the rim runs between cells.
    away = np.where(mask, inside - 0.5, 0.5 - outside) * FINE_MM
    lines = measure.find_contours(mask.astype(np.float32), 0.5)  # type: ignore[no-untyped-call]
    rim = np.concatenate([line[:, ::-1] for line in lines])
    rim = rim[:: max(1, len(rim) // most)]
    places = (rim + 0.5) * FINE_MM + np.array(corner)
    return label, np.clip(away, -FAR_MM, FAR_MM).astype(np.float32), np.asarray(places, np.float64)


@dataclass(frozen=True)
class Rims:
    """Rims of one shape and the distances that they meet on another, for all layers that both have.

    away    (L * R, C) signed distances on the other [mm], layer under layer; R rows each
    corner  of these [mm]
    places  (n, 2) on the rims [mm]
    layer   (n,) which layer each is of: 0 all dough
    weight  (n,)
    """

    away: Floats
    rows: int
    corner: Point
    places: Doubles
    layer: NDArray[np.intp]
    weight: Doubles

    @classmethod
    def of(cls, shape: Shape, on: Shape) -> "Rims":
        """The rims of a shape on another."""
        fields = {label: away for label, away, _ in on.layers}
        shared = [(label, rim) for label, _, rim in shape.layers if label in fields]
        sizes = [len(rim) for _, rim in shared]
        share = [1.0 if label == 0 else COLOUR_SHARE for label, _ in shared]
        return cls(
            np.concatenate([fields[label] for label, _ in shared]),
            on.colour.shape[0],
            on.corner,
            np.concatenate([rim for _, rim in shared]),
            np.repeat(np.arange(len(shared)), sizes),
            np.repeat(10 * np.array(share) / np.sqrt(sizes), sizes),
        )

    def away_mm(self, matrix: Doubles) -> Doubles:
        """Signed distances (n,) [mm of the other] where a matrix (2, 3) lays the rims on it."""
        laid = self.places @ matrix[:, :2].T + (matrix[:, 2] - np.array(self.corner))
        cols, rows = laid.T / FINE_MM - 0.5
        rows = np.clip(rows, 0, self.rows - 1) + self.layer * self.rows
        found = ndimage.map_coordinates(self.away, [rows, cols], order=1, mode="nearest")
        return np.asarray(found, np.float64)


@dataclass(frozen=True)
class Pair:
    """Two shapes, and the rims of each on the other."""

    one: Shape
    other: Shape

    @cached_property
    def rims(self) -> tuple[Rims, Rims]:
        """Those of the second on the first, those of the first on the second."""
        return Rims.of(self.other, self.one), Rims.of(self.one, self.other)

    def away_mm(self, matrix: Doubles, scale: float) -> tuple[Doubles, Doubles]:
        """Signed distances of both rims [mm of the first]; `matrix` (2, 3): mm of the second to mm of it."""
        back = np.linalg.inv(matrix[:, :2])
        there, here = self.rims
        return there.away_mm(matrix), here.away_mm(np.column_stack([back, -back @ matrix[:, 2]])) * scale

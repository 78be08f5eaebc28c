"""Where a tag may stand: greedy, near its thing, off the other marks and off the sculpture."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from api.marks import Point

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in photo pixels."""

# Weights of the greedy choice, per mark unit of distance or per share of the tag hidden. Estimated by eye.
HIDES_MARK, HIDES_DOUGH, LEAVES_FRAME, PER_UNIT, TURNED_IN = 40.0, 3.0, 60.0, 0.06, 1.2
CROSSES_MARK = 4.0
MASK_PX = 400.0


def around(at: Point, width: float, height: float) -> Box:
    """The box with its middle at `at`."""
    return at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2


def along(a: Point, b: Point, width: float) -> list[Box]:
    """Boxes that cover the line from `a` to `b`."""
    steps = max(2, int(math.dist(a, b) / width) + 1)
    spots = ((a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t) for t in np.linspace(0, 1, steps))
    return [around(spot, width, width) for spot in spots]


@dataclass
class Taken:
    """The part of the photo that is drawn on: `frame`, dough polygons, and the boxes of marks so far."""

    frame: Box
    outlines: list[NDArray[np.float64]]
    boxes: list[Box] = field(default_factory=list)

    def __post_init__(self) -> None:
        left, top, right, bottom = self.frame
        self.k = MASK_PX / max(right - left, bottom - top, 1.0)
        size = (int((bottom - top) * self.k) + 2, int((right - left) * self.k) + 2)
        self.dough = np.zeros(size, np.uint8)
        for outline in self.outlines:
            cv2.fillPoly(self.dough, [self._small(outline)], 1)

    def _small(self, points: NDArray[np.float64]) -> NDArray[np.int32]:
        return np.rint((points - self.frame[:2]) * self.k).astype(np.int32)

    def add(self, boxes: Iterable[Box]) -> None:
        """Note more marks."""
        self.boxes.extend(boxes)

    def covers(self, box: Box) -> bool:
        """Whether a mark stands within `box`."""
        left, top, right, bottom = box
        return any(left < b[2] and b[0] < right and top < b[3] and b[1] < bottom for b in self.boxes)

    def room(
        self, outline: NDArray[np.float64], holes: list[NDArray[np.float64]], near: float
    ) -> tuple[Point, float]:
        """A spot in `outline`, outside of `holes`, `near` px off every mark, and the px of room around it."""
        mask = np.zeros(self.dough.shape, np.uint8)
        cv2.fillPoly(mask, [self._small(outline)], 1)
        for hole in holes:
            cv2.fillPoly(mask, [self._small(hole)], 0)
        free = mask.copy()
        for left, top, right, bottom in self.boxes:
            ends = self._small(np.array([[left - near, top - near], [right + near, bottom + near]]))
            (x0, y0), (x1, y1) = np.maximum(ends, 0)
            free[y0 : y1 + 1, x0 : x1 + 1] = 0
        if not free.any():
            free = mask
        if not free.any():
            return (float(outline[:, 0].mean()), float(outline[:, 1].mean())), 0.0
        depth = cv2.distanceTransform(np.pad(free, 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
        y, x = np.unravel_index(int(depth.argmax()), depth.shape)
        at = self.frame[0] + float(x) / self.k, self.frame[1] + float(y) / self.k
        return at, float(depth[y, x]) / self.k

    def spot(
        self, anchor: Point, size: tuple[float, float], scale: float, clear: float, away: Point | None = None
    ) -> tuple[float, Point]:
        """Cost and middle of a tag of `size` px for the thing at `anchor`, itself `clear` px in radius.

        `away`, if given, is what the tag should turn its back to.
        """
        best, least = anchor, math.inf
        out = None if away is None else math.atan2(anchor[1] - away[1], anchor[0] - away[0])
        for angle in np.arange(0, 2 * math.pi, math.pi / 12):
            c, s = math.cos(angle), math.sin(angle)
            # From the rim of the thing outwards to where the tag's own edge stands.
            edge = clear + min(size[0] / 2 / max(abs(c), 1e-9), size[1] / 2 / max(abs(s), 1e-9))
            for more in (0.0, 8.0, 20.0, 36.0, 56.0, 80.0):
                at = anchor[0] + c * (edge + more * scale), anchor[1] + s * (edge + more * scale)
                turned = 0.0 if out is None else TURNED_IN * (1 - math.cos(angle - out))
                cost = self._cost(around(at, *size)) + turned + PER_UNIT * (edge / scale + more)
                cost += CROSSES_MARK * self._crossed((anchor[0] + c * clear, anchor[1] + s * clear), at)
                if cost < least:
                    best, least = at, cost
        return least, best

    def _crossed(self, start: Point, end: Point) -> float:
        """The share of the line from `start` to `end` that lies on marks."""
        x, y = np.linspace(start, end, 6)[..., None].transpose(1, 0, 2)
        left, top, right, bottom = np.array(self.boxes, float).reshape(-1, 4).T
        return float(((x > left) & (x < right) & (y > top) & (y < bottom)).any(axis=1).mean())

    def _cost(self, box: Box) -> float:
        left, top, right, bottom = box
        area = max((right - left) * (bottom - top), 1e-9)
        others = np.array(self.boxes, float).reshape(-1, 4)
        wide = np.minimum(right, others[:, 2]) - np.maximum(left, others[:, 0])
        high = np.minimum(bottom, others[:, 3]) - np.maximum(top, others[:, 1])
        hidden = float((np.clip(wide, 0, None) * np.clip(high, 0, None)).sum()) / area
        frame = self.frame
        inside = max(0.0, min(right, frame[2]) - max(left, frame[0])) * max(
            0.0, min(bottom, frame[3]) - max(top, frame[1])
        )
        (x0, y0), (x1, y1) = np.maximum(self._small(np.array([[left, top], [right, bottom]])), 0)
        patch = self.dough[y0 : y1 + 1, x0 : x1 + 1]
        dough = float(patch.mean()) if patch.size else 0.0
        return HIDES_MARK * hidden + LEAVES_FRAME * (1 - inside / area) + HIDES_DOUGH * dough

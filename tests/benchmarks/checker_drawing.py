"""A drawing of a known sculpture with true openings (red) and found cuts (blue), for a person to look at."""

import textwrap
from collections.abc import Callable, Sequence

import cv2
import numpy as np
from checker_scores import ToMm
from numpy.typing import NDArray

from api.schemas import Report
from sample_images.studio.faults import Known
from sample_images.studio.hand_over import label_raster, to_px
from sample_images.studio.invention import entries_of
from sample_images.studio.raster import Point

ZOOM = 3
ROUND_PX = 20
CONDUCTIVE = ((235, 190, 120), (140, 220, 150), (200, 150, 230))
INSULATING = ((90, 90, 90), (130, 110, 100))
RED, BLUE, GREEN, BLACK = (60, 60, 255), (255, 0, 0), (0, 150, 0), (0, 0, 0)
LINE_PX = 18
Tint = tuple[int, int, int]


def draw(made: Known, report: Report, to_mm: ToMm, wrong: str) -> NDArray[np.uint8]:
    """The sculpture in flat colours (H, W, 3) uint8 BGR with its entries, and what was said of it below."""
    labels = label_raster(made.made.labels)
    tints, picked = [(245, 245, 245)], {True: 0, False: 0}
    for dough in made.made.doughs:
        tints.append((CONDUCTIVE if dough.conducts else INSULATING)[picked[dough.conducts]])
        picked[dough.conducts] += 1
    image = np.array(tints, np.uint8)[labels]
    for fault in made.faults:
        if fault.opening is not None:
            where = label_raster(fault.opening.where.astype(np.uint8)) > 0
            image[where] = (0.4 * image[where] + 0.6 * np.array(RED)).astype(np.uint8)
    ys, xs = np.nonzero(labels)
    top, left = max(0, ys.min() - ROUND_PX), max(0, xs.min() - ROUND_PX)
    image = image[top : ys.max() + ROUND_PX, left : xs.max() + ROUND_PX]
    image = cv2.resize(image, None, fx=ZOOM, fy=ZOOM, interpolation=cv2.INTER_NEAREST)

    def spot(at: Point) -> tuple[int, int]:
        x, y = to_px(at)
        return int((x - left) * ZOOM), int((y - top) * ZOOM)

    _marks(image, made, spot)
    for finding in report.findings:
        if finding.cut is not None:
            cv2.line(image, spot(to_mm(finding.cut[0])), spot(to_mm(finding.cut[1])), BLUE, 3)
    return _told(image, made, report, wrong)


def _marks(image: NDArray[np.uint8], made: Known, spot: Callable[[Point], tuple[int, int]]) -> None:
    """LEDs (the long leg filled), leads and wires, drawn in place."""
    at = {name: spot(place) for name, place in entries_of(made.made).items()}
    for i in range(1, len(made.made.lamps) + 1):
        long_leg, short_leg = at[f"L{i}.long"], at[f"L{i}.short"]
        cv2.line(image, long_leg, short_leg, BLACK, 2)
        cv2.circle(image, long_leg, 6, BLACK, -1)
        cv2.putText(image, f"L{i}", short_leg, 0, 0.6, BLACK, 2)
    cv2.circle(image, at["pack.plus"], 9, (0, 0, 255), -1)
    cv2.circle(image, at["pack.minus"], 9, BLACK, -1)
    for wire in made.wires:
        cv2.line(image, spot(wire.a), spot(wire.b), GREEN, 3)


def _told(image: NDArray[np.uint8], made: Known, report: Report, wrong: str) -> NDArray[np.uint8]:
    true = "; ".join(f"{f.codes[0]} {'/'.join(f.levels)} {','.join(f.parts)}" for f in made.faults)
    found = "; ".join(f"{f.code} {f.level} {','.join(f.parts)}" for f in report.findings)
    texts = ((BLACK, f"{made.seed} {made.scenario}: {wrong}"), (RED, true), (BLUE, found))
    return with_words(image, texts)


def with_words(image: NDArray[np.uint8], texts: Sequence[tuple[Tint, str]]) -> NDArray[np.uint8]:
    """The picture with coloured words below it."""
    lines = [
        (tint, line) for tint, text in texts for line in textwrap.wrap(text, max(20, image.shape[1] // 9))
    ]
    below = np.full((LINE_PX * len(lines) + 10, image.shape[1], 3), 255, np.uint8)
    for i, (tint, line) in enumerate(lines, start=1):
        cv2.putText(below, line, (5, LINE_PX * i), 0, 0.5, tint, 1)
    return np.vstack([image, below])

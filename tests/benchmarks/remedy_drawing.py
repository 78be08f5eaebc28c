"""A drawing of a mishap with the steps of its first remedy, for a person to look at."""

import cv2
import numpy as np
from checker_drawing import BLACK, BLUE, CONDUCTIVE, GREEN, INSULATING, RED, with_words
from numpy.typing import NDArray

from api.schemas import Report
from sample_images.studio.mishaps import Mishap
from sample_images.studio.spice import Point, doughs, entries_of_case

ZOOM, ROUND_PX = 3, 40


def draw(made: Mishap, report: Report, wrong: str) -> NDArray[np.uint8]:
    """Dough that was put or torn (red), entries, steps (blue), and what was said below; (H, W, 3) BGR."""
    tints, picked = [(245, 245, 245)], {"conductive": 0, "insulating": 0}
    for dough in doughs(made.case):
        tints.append((CONDUCTIVE if dough.role == "conductive" else INSULATING)[picked[dough.role]])
        picked[dough.role] += 1
    image = np.array(tints, np.uint8)[made.raster]
    other = made.raster != made.mended_raster
    image[other] = (0.5 * image[other] + 0.5 * np.array(RED)).astype(np.uint8)
    ys, xs = np.nonzero(made.raster)
    top, left = max(0, ys.min() - ROUND_PX), max(0, xs.min() - ROUND_PX)
    image = image[top : ys.max() + ROUND_PX, left : xs.max() + ROUND_PX]
    image = np.repeat(np.repeat(image, ZOOM, axis=0), ZOOM, axis=1)

    def spot(at: Point) -> tuple[int, int]:
        return int((at[0] - left) * ZOOM), int((at[1] - top) * ZOOM)

    at = {name: spot(place) for name, place in entries_of_case(made.case).items()}
    for led in made.case.leds:
        cv2.line(image, at[f"{led.id}.long"], at[f"{led.id}.short"], BLACK, 2)
        cv2.circle(image, at[f"{led.id}.long"], 6, BLACK, -1)
        cv2.putText(image, led.id, at[f"{led.id}.short"], 0, 0.6, BLACK, 2)
    cv2.circle(image, at["pack.plus"], 9, (0, 0, 255), -1)
    cv2.circle(image, at["pack.minus"], 9, BLACK, -1)
    for part in made.case.parts:
        cv2.line(image, at[f"{part.id}.a"], at[f"{part.id}.b"], GREEN, 3)
    for step in report.remedies[0].steps if report.remedies else ():
        if step.line is not None:
            cv2.line(image, spot(step.line[0]), spot(step.line[1]), BLUE, 3)
        elif step.to_at is not None:
            cv2.arrowedLine(image, spot(step.at), spot(step.to_at), BLUE, 2)
        cv2.circle(image, spot(step.at), 12, BLUE, 2)
    return _told(image, made, report, wrong)


def _told(image: NDArray[np.uint8], made: Mishap, report: Report, wrong: str) -> NDArray[np.uint8]:
    true = "; ".join(f"{c.kind} {','.join(c.parts)}" for c in made.changes) or made.kinds[0]
    found = "; ".join(f"{f.code} {f.level} {','.join(f.parts)}" for f in report.findings)
    return with_words(image, ((BLACK, f"{made.seed}: {wrong}"), (RED, true), (BLUE, found)))

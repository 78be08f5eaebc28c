"""Whether a remedy of a report does what it says: its steps are carried out on the case and its label raster,
and ngspice says what then flows.

Every step is done in the plainest way: a cut takes away conductive dough along its line, 1 mm wide and a
little longer than told; a join is a pinch of dough; a leg that moves goes where it is told to go.

Notation: H, W pixels of the label raster.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from api.schemas import Case, RemedyOut, StepOut
from circuit import materials
from sample_images.studio.mischief import placed, wall_label
from sample_images.studio.spice import SHORT_A, Flows, Point, Raster, conducts, entries_of_case, flows, px_mm

CUT_MM, LONGER_MM = 1.0, 1.5
JOIN_MM, WALL_MM = 4.0, 2.0
"""Half the width of a pinch of dough in a gap, and of a roll of wall dough (estimated)."""
APART_MM = 2.0
"""Leads nearer than this touch sooner or later (estimated)."""
DONE_BY_HAND = ("look-underneath", "swap-pack", "swap-led")
"""They change nothing that a case tells."""
SHIFT = 4


@dataclass(frozen=True)
class Verdict:
    """What a remedy does: the flows before and after, and the hazards that it makes."""

    before: Flows
    after: Flows
    hazards: tuple[str, ...]

    @property
    def lights_all(self) -> bool:
        """Whether every LED shines afterwards."""
        return self.lights(self.before.led_A)

    def lights(self, leds: Sequence[str] | frozenset[str] | dict[str, float]) -> bool:
        """Whether these LEDs shine afterwards."""
        return frozenset(leds) <= self.after.lit


def judge(case: Case, raster: Raster, remedy: RemedyOut, before: Flows | None = None) -> Verdict:
    """What a remedy does to a sculpture. `before`: what flows now, if it is known."""
    before = before or flows(case, raster)
    then, dough = case, raster
    for step in remedy.steps:
        then, dough = carried_out(then, dough, step)
    after = flows(then, dough)
    return Verdict(before, after, tuple(hazards(case, before, then, after)))


def carried_out(case: Case, raster: Raster, step: StepOut) -> tuple[Case, Raster]:
    """The sculpture after a step. Raises ValueError for a step that nobody could carry out."""
    at = entries_of_case(case)
    if step.action in ("move", "press-in"):
        goal = step.to_at or (step.at if step.action == "move" else None)
        return (placed(case, dict.fromkeys(step.parts, goal)) if goal else case), raster
    if step.action == "turn":
        return placed(case, _turned(at, step.parts)), raster
    if step.action == "swap-leads":
        return placed(case, {"pack.plus": at["pack.minus"], "pack.minus": at["pack.plus"]}), raster
    if step.action == "cut":
        return case, _cut(case, raster, step)
    if step.action == "join":
        return case, _joined(case, raster, step)
    if step.action == "thicken-wall":
        line = step.line or (step.at, step.to_at or step.at)
        return case, np.where(_capsule(case, raster, line, WALL_MM), np.uint8(wall_label(case)), raster)
    if step.action in ("take-out", "close"):
        return _without(case, step.parts) if step.action == "take-out" else _closed(case, step.parts), raster
    if step.action in DONE_BY_HAND:
        return case, raster
    raise ValueError(f"nobody knows how to {step.action}")


def hazards(case: Case, before: Flows, then: Case, after: Flows) -> list[str]:
    """What is dangerous now and was not before."""
    found = []
    for led in case.leds:
        safe_A = materials.led_by_colour(led.colour).safe_A
        now_A, was_A = after.led_A.get(led.id, 0.0), before.led_A[led.id]
        if now_A > safe_A >= was_A:
            found.append(f"{led.id} {now_A * 1e3:.1f} mA, {safe_A * 1e3:.0f} are safe")
    if _in_one_body(after) and not _in_one_body(before):
        found.append("both leads in one body of dough")
    if after.pack_A > SHORT_A and after.pack_A > before.pack_A:
        found.append(f"pack {after.pack_A * 1e3:.0f} mA")
    if _leads_mm(then) < APART_MM <= _leads_mm(case):
        found.append(f"leads {_leads_mm(then):.1f} mm apart")
    return found


def _in_one_body(flow: Flows) -> bool:
    return flow.bodies["pack.plus"] == flow.bodies["pack.minus"] != 0


def _leads_mm(case: Case) -> float:
    at = entries_of_case(case)
    (ax, ay), (bx, by) = at["pack.plus"], at["pack.minus"]
    return float(np.hypot(ax - bx, ay - by)) * px_mm(case)


def _turned(at: Mapping[str, Point], parts: Sequence[str]) -> dict[str, Point]:
    found: dict[str, Point] = {}
    for part in parts:
        one, other = (name for name in at if name.rpartition(".")[0] == part)
        found |= {one: at[other], other: at[one]}
    return found


def _without(case: Case, parts: Sequence[str]) -> Case:
    return case.model_copy(
        update={
            "leds": tuple(led for led in case.leds if led.id not in parts),
            "parts": tuple(part for part in case.parts if part.id not in parts),
        }
    )


def _closed(case: Case, parts: Sequence[str]) -> Case:
    switched = tuple(
        part.model_copy(update={"closed": True}) if part.id in parts else part for part in case.parts
    )
    return case.model_copy(update={"parts": switched})


# ---------------------------------------------------------------- dough


def _cut(case: Case, raster: Raster, step: StepOut) -> Raster:
    if step.line is None:
        raise ValueError("a cut without a line")
    a, b = (np.array(end, float) for end in step.line)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-6) * LONGER_MM / px_mm(case)
    line = _capsule(case, raster, ((a - way).tolist(), (b + way).tolist()), CUT_MM / 2)
    return np.where(line & conducts(case, raster), np.uint8(0), raster)


def _joined(case: Case, raster: Raster, step: StepOut) -> Raster:
    """A pinch of the dough that is nearest, on the table only: walls stay."""
    line = step.line or (step.at, step.to_at or step.at)
    pinch = _capsule(case, raster, line, JOIN_MM) & ((raster == 0) | (raster == 255))
    dough = conducts(case, raster)
    rows, cols = np.nonzero(dough)
    nearest = int(np.argmin(np.hypot(cols + 0.5 - step.at[0], rows + 0.5 - step.at[1])))
    return np.where(pinch, raster[rows[nearest], cols[nearest]], raster)


def _capsule(case: Case, raster: Raster, line: Sequence[Point], half_mm: float) -> NDArray[np.bool_]:
    """Cells (H, W) within so many mm of a line."""
    half = half_mm / px_mm(case)
    canvas = np.zeros(raster.shape, np.uint8)
    ends = [tuple(round((v - 0.5) * 2**SHIFT) for v in end) for end in line]
    cv2.line(canvas, ends[0], ends[1], 255, 1, cv2.LINE_8, SHIFT)
    if not canvas.any():
        return canvas > 0
    return np.asarray(cv2.distanceTransform(255 - canvas, cv2.DIST_L2, 5) <= half)

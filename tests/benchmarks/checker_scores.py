"""How well a report tells the faults that a sculpture is known to have.

A found cut is as far from the truth as the larger of two distances [mm]: from its middle to the nearest
dough of the opening (the dough that should not be there), and from the opening's middle to the nearest
point of the cut, less half the width of the seam there, since a strip may be cut anywhere along it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from api.schemas import FindingOut, Report
from sample_images.studio.faults import Fault, Known
from sample_images.studio.raster import CELL_MM, Point
from sample_images.studio.seams import Opening

NEAR_MM = 3.0
"""The figure to reach."""
FAR_MM = 10.0
"""A cut further off than this is no answer to that short."""
SURE_MA = (0.25, 1.0)
"""Between these whether an LED counts as lit is a matter of taste."""

ToMm = Callable[[Point], Point]


@dataclass(frozen=True)
class Score:
    """How one known fault was told; `off_mm` of a short that was found, else None."""

    name: str
    found: bool
    off_mm: float | None
    kind: bool
    level: bool
    parts: bool

    @property
    def near(self) -> bool:
        """Whether it was found, and its cut within 3 mm."""
        return self.found and (self.off_mm is None or self.off_mm <= NEAR_MM)


@dataclass(frozen=True)
class Verdict:
    """How one report did: every known fault, findings too many, and whether the first remedy lights all.

    seen: whether the entries were grouped into lumps as they truly are, which is for the eyes to answer
    """

    scores: tuple[Score, ...]
    surplus: tuple[str, ...]
    lights: bool | None
    seen: bool


def judge(made: Known, report: Report, to_mm: ToMm) -> Verdict:
    """The report of a known sculpture; `to_mm` leads from its pixels to the drawing."""
    shorts = [f for f in report.findings if f.code.startswith("short-") and f.cut is not None]
    openings = [fault for fault in made.faults if fault.opening is not None]
    away = np.array([[_off(f, fault.opening, to_mm) for f in shorts] for fault in openings])
    scores, used = [], set()
    if away.size:
        for i, j in zip(*linear_sum_assignment(np.minimum(away, 1e3)), strict=True):
            if away[i, j] <= FAR_MM:
                used.add(int(j))
                scores.append((int(i), _short_score(openings[i], shorts[j], float(away[i, j]))))
    known = dict(scores)
    told = [known.get(i, Score(f.codes[0], False, None, False, False, False)) for i, f in enumerate(openings)]
    told += [_other_score(fault, report.findings) for fault in made.faults if fault.opening is None]
    right = {code for fault in made.faults for code in fault.codes} | {*made.allowed}
    surplus = [f.code for j, f in enumerate(shorts) if j not in used]
    rest = [f for f in report.findings if f not in shorts and f.level in ("stop", "fix")]
    surplus += [f.code for f in rest if f.code not in right]
    return Verdict(tuple(told), tuple(surplus), _lights(made, report), _seen(made, report))


def _seen(made: Known, report: Report) -> bool:
    """Whether entries share a lump just when they do in truth."""
    pairs = {(lump, report.entries[name]) for name, lump in made.made.lump_of.items()}
    alone = all((a is None) == (b is None) for a, b in pairs)
    return alone and len(pairs) == len({a for a, _ in pairs}) == len({b for _, b in pairs})


def _off(finding: FindingOut, opening: Opening | None, to_mm: ToMm) -> float:
    """Distance [mm] of a found cut from an opening."""
    if finding.cut is None or opening is None:
        return np.inf
    a, b = (np.asarray(to_mm(end)) for end in finding.cut)
    rows, cols = opening.where.shape
    ys, xs = np.nonzero(opening.where)
    dough = np.stack([(xs + 0.5 - cols / 2) * CELL_MM, (ys + 0.5 - rows / 2) * CELL_MM], 1)
    there = float(np.hypot(*(dough - (a + b) / 2).T).min())
    way = b - a
    t = np.clip(np.dot(np.asarray(opening.at) - a, way) / max(float(np.dot(way, way)), 1e-9), 0, 1)
    back = float(np.hypot(*(a + t * way - opening.at))) - opening.half_mm
    return max(there, back, 0.0)


def _short_score(fault: Fault, finding: FindingOut, off_mm: float) -> Score:
    named = {*finding.parts}
    parts = {*fault.parts} <= named <= {*fault.parts, *fault.others}
    if finding.level == "stop" and "stop" in fault.levels:
        parts = named == {"pack"}
    return Score(
        fault.codes[0], True, off_mm, finding.code in fault.codes, finding.level in fault.levels, parts
    )


def _other_score(fault: Fault, findings: Sequence[FindingOut]) -> Score:
    of_kind = [f for f in findings if f.code in fault.codes]
    hit = [f for f in of_kind if {*fault.parts} & {*f.parts} or not fault.parts]
    level = any(f.level in fault.levels for f in hit)
    return Score(fault.codes[0], bool(hit), None, bool(hit), level, bool(hit))


def _lights(made: Known, report: Report) -> bool | None:
    """Whether the LEDs lit after the first remedy are those of the truth; None without a remedy."""
    if not report.remedies:
        return None
    then = report.remedies[0].then
    sure = {
        name: flow * 1e3 > SURE_MA[1]
        for name, flow in made.then_A.items()
        if name != "pack" and not SURE_MA[0] < flow * 1e3 < SURE_MA[1]
    }
    return all((then[name] != "off") == lit for name, lit in sure.items())

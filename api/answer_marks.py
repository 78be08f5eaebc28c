"""The marks of the answer: the walk of a short, cuts, and what the first remedy moves or joins."""

import math
from collections.abc import Sequence

import numpy as np

from api.canvas import Sheet, Tag, put_strung
from api.marks import INK, PAPER, PLUS, Point, el, mark, num, use
from api.parting import off_line
from api.placing import Taken, along, around
from api.schemas import StepOut
from api.sculpture_marks import symbol_of

STEP_UNITS, STEP_SIDE_UNITS, STEPS_MOST, CUT_CLEAR_UNITS = 11.5, 6.0, 44, 11.0
HEAD_UNITS, SHORT_UNITS = 19.0, 48.0
"""From the middle of a landing place to the arrow head before it; a shorter way has no room for a head."""
WAY_UNITS, THIN_UNITS, CROWDED = 2.2, 1.5, 0.55
"""Width of a way, of one among many, and how large a ghost is among others."""


def walk(sheet: Sheet, taken: Taken) -> str:
    """Footsteps from + to -, left and right of the path."""
    if sheet.finding is None or len(sheet.finding.path) < 2:
        return ""
    return footsteps(sheet, taken, sheet.finding.path, "footstep")


def footsteps(sheet: Sheet, taken: Taken, path: Sequence[Point], symbol: str) -> str:
    """A walk along a path of two places or more, its feet drawn as `symbol`."""
    line = np.array(path)
    far = np.concatenate([[0.0], np.hypot(*np.diff(line, axis=0).T).cumsum()])
    ends = min(16 * sheet.scale, far[-1] / 4)
    count = int(np.clip((far[-1] - 2 * ends) / (STEP_UNITS * sheet.scale), 2, STEPS_MOST)) + 1
    drawn = []
    for i, s in enumerate(np.linspace(ends, far[-1] - ends, count)):
        x, y = (float(np.interp(s, far, line[:, axis])) for axis in (0, 1))
        reach = 9 * sheet.scale  # the direction over a whole step, so that a jagged path does not twist feet
        dx, dy = (
            float(np.interp(s + reach, far, line[:, axis]) - np.interp(s - reach, far, line[:, axis]))
            for axis in (0, 1)
        )
        off = STEP_SIDE_UNITS * sheet.scale * (1 if i % 2 else -1) / (math.hypot(dx, dy) or 1.0)
        at = x - dy * off, y + dx * off
        if any(off_line(at, a, b) < CUT_CLEAR_UNITS * sheet.scale for (a, b), _ in sheet.cuts):
            continue  # the cut lies over the walk
        taken.add([around(at, 12 * sheet.scale, 12 * sheet.scale)])
        drawn.append(mark(at, use(symbol), sheet.scale, f"step n{i}", math.degrees(math.atan2(dy, dx))))
    return el("g", *drawn, class_="walk")


def cuts(sheet: Sheet, taken: Taken) -> str:
    """Two blades with an opening, and a stop at each end."""
    drawn = []
    for (a, b), _ in sheet.cuts:
        d = f"M{num(a[0])} {num(a[1])}L{num(b[0])} {num(b[1])}"
        turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
        blades = sheet.pen.line(d, PAPER, 12) + sheet.pen.line(d, INK, 9) + sheet.pen.line(d, PAPER, 4.5)
        stops = [mark(end, use("cut-end"), sheet.scale, "cut-stop", turn) for end in (a, b)]
        taken.add(along(a, b, 16 * sheet.scale))
        drawn.append(el("g", blades, *stops, class_="cut"))
    return "".join(drawn)


def steps(sheet: Sheet, taken: Taken) -> str:
    """What the steps move, swap or join."""
    drawn: list[str] = []
    if sheet.after is not None:
        return ""
    for step in sheet.steps:
        if step.action == "move" and step.to_at is not None:
            drawn.append(_move(sheet, step, step.to_at, taken))
        elif step.action == "swap-leads":
            drawn.append(_swap(sheet, taken))
        elif step.action == "join":
            turn = math.degrees(_gap_direction(sheet, step.at))
            drawn.append(mark(step.at, use("join"), sheet.scale, "join", turn))
            taken.add([around(step.at, 50 * sheet.scale, 50 * sheet.scale)])
    return "".join(drawn)


def _move(sheet: Sheet, step: StepOut, to: Point, taken: Taken) -> str:
    """A leg that goes elsewhere: its ghost there, and a dashed way; small and thin where many go."""
    symbol, crowded = symbol_of(step.parts[0] if step.parts else ""), to in sheet.crowded
    size = 26 * (CROWDED if crowded else 1.0) * sheet.scale
    taken.add([around(to, size, size), *along(step.at, to, 14 * sheet.scale)])
    colour = PLUS if symbol.endswith(("plus", "long")) else INK
    thin = THIN_UNITS if sheet.crowded else WAY_UNITS
    way = _way(sheet, step.at, to, colour, thin, head=not crowded)
    ghost = use(f"{symbol}-ghost", scale=CROWDED if crowded else 1.0)
    return el("g", way, mark(to, ghost, sheet.scale, "ghost"), class_="move")


def _swap(sheet: Sheet, taken: Taken) -> str:
    """Two leads that change places."""
    if sheet.case.pack is None:
        return ""
    plus, minus = sheet.case.pack.plus, sheet.case.pack.minus
    taken.add(along(plus, minus, 0.3 * math.dist(plus, minus)))
    return el("g", _way(sheet, plus, minus, PLUS), _way(sheet, minus, plus, INK), class_="swap")


def _way(
    sheet: Sheet, a: Point, b: Point, colour: str, width: float = WAY_UNITS, *, head: bool = True
) -> str:
    """A dashed way from `a` to `b`, bent to its left."""
    x, y = (a[0] + b[0]) / 2 + (b[1] - a[1]) / 6, (a[1] + b[1]) / 2 - (b[0] - a[0]) / 6
    d = f"M{num(a[0])} {num(a[1])}Q{num(x)} {num(y)} {num(b[0])} {num(b[1])}"
    line = sheet.pen.line(d, PAPER, 2.4 * width) + sheet.pen.line(d, colour, width, (5, 4))
    if not head or math.dist(a, b) < SHORT_UNITS * sheet.scale:
        return line
    way = math.hypot(b[0] - x, b[1] - y) or 1.0
    dx, dy = (b[0] - x) / way, (b[1] - y) / way
    tip = b[0] - HEAD_UNITS * sheet.scale * dx, b[1] - HEAD_UNITS * sheet.scale * dy
    return line + mark(tip, use("way-head"), sheet.scale, "way-head", math.degrees(math.atan2(dy, dx)))


def _gap_direction(sheet: Sheet, at: Point) -> float:
    """Angle in radians across the gap at `at`: towards the nearest point of a conductive rim."""
    conductive = [sheet.rims[piece.id] for piece in sheet.report.pieces if piece.role == "conductive"]
    rims = [rim for rim in conductive if len(rim)]
    if not rims:
        return 0.0
    a = np.concatenate(rims)
    along_rim = np.concatenate([np.roll(rim, -1, axis=0) for rim in rims]) - a
    t = ((at - a) * along_rim).sum(axis=1) / np.maximum((along_rim**2).sum(axis=1), 1e-9)
    to = a + np.clip(t, 0, 1)[:, None] * along_rim - at
    dx, dy = to[np.hypot(*to.T).argmin()]
    return math.atan2(dy, dx) if math.hypot(dx, dy) > 0.5 else 0.0


def thread(sheet: Sheet, taken: Taken) -> list[Tag]:
    """The length of each cut on a short thread, where a page does not string its own."""
    if not sheet.layers >= {"answer", "labels"}:
        return []
    return [put_strung(sheet, taken, line, words) for line, words in sheet.cuts if words]

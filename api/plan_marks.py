"""The marks of a remedy before and after: what is to be done, numbered; what it will have come to."""

import math
from collections.abc import Iterator

from api.afterwards import entries_at, pressed
from api.canvas import Sheet, Tag, middle
from api.hatch import Outline, inside
from api.marks import INK, PAPER, Point, cased, el, mark, num, use, words
from api.part_marks import ends_of
from api.part_schemas import PartEntry
from api.placing import Taken, along, around
from api.schemas import Case, StepOut

SIGNS = {
    "thicken-wall": "thicker",
    "look-underneath": "try",
    "swap-pack": "try",
    "swap-led": "try",
    "close": "push",
}
"""The sign of a step that has one place and nothing else."""
ENTRY_UNITS, NUMBER_UNITS = 14.0, 11.0


def anchor_of(step: StepOut, case: Case) -> Point:
    """Where a step is done [px]."""
    if step.action == "cut" and step.line is not None:
        return middle(*step.line)
    if step.action == "move" and step.to_at is not None:
        return step.to_at
    places = entries_at(case)
    mine = [places[name] for name in pressed(step, places)]
    if step.action == "take-out" and mine:
        return mine[-1]  # its end b is pulled out
    if step.action in ("turn", "swap-leads", "swap-pack", "swap-led", "close") and len(mine) == 2:
        return middle(mine[0], mine[1])
    return step.at


def to_do(sheet: Sheet, taken: Taken) -> str:
    """What a plan does beside cuts, moves, joins and turns: presses in, pulls out, thickens, tries."""
    if sheet.plan is None or sheet.after is not None:
        return ""
    drawn = []
    for step in sheet.plan.steps:
        for at, sign, turn in _signs(sheet, step):
            taken.add([around(at, 32 * sheet.scale, 44 * sheet.scale)])
            drawn.append(mark(at, use(sign), sheet.scale, f"do {step.action}", turn))
    return "".join(drawn)


def _signs(sheet: Sheet, step: StepOut) -> Iterator[tuple[Point, str, float | None]]:
    """Place, sign and turn of what marks a step."""
    places = entries_at(sheet.case)
    if step.action == "press-in":
        for name in pressed(step, places):
            yield places[name], "press", None
    elif step.action == "take-out":
        for part in sheet.case.parts:
            if part.id in step.parts:
                yield part.b, "pull", None
    elif step.action in SIGNS:
        turn = _along_wall(sheet, step.at) if step.action == "thicken-wall" else None
        yield anchor_of(step, sheet.case), SIGNS[step.action], turn


def done(sheet: Sheet, taken: Taken) -> str:
    """What the steps have come to: cuts that stand open, gaps filled, walls thicker, places left behind."""
    if sheet.plan is None or sheet.after is None:
        return ""
    drawn = [_pulled(sheet, part) for part in sheet.after.loose]
    for step in sheet.plan.steps:
        if step.action == "cut" and step.line is not None:
            drawn.append(_open_cut(sheet, step.line, taken))
        elif step.action == "join":
            drawn.append(mark(step.at, use("joined"), sheet.scale, "joined"))
            taken.add([around(step.at, 32 * sheet.scale, 32 * sheet.scale)])
        elif step.action == "thicken-wall":
            drawn.append(mark(step.at, use("thick"), sheet.scale, "thickened", _along_wall(sheet, step.at)))
            taken.add([around(step.at, 40 * sheet.scale, 40 * sheet.scale)])
    for _, at in sheet.after.left:
        drawn.append(mark(at, use("old-place"), sheet.scale, "old-place"))
        taken.add([around(at, 20 * sheet.scale, 20 * sheet.scale)])
    return "".join(drawn)


def _open_cut(sheet: Sheet, line: tuple[Point, Point], taken: Taken) -> str:
    """A gap along a cut: two edges, nothing between them, open at both ends."""
    (ax, ay), (bx, by) = line
    d = f"M{num(ax)} {num(ay)}L{num(bx)} {num(by)}"
    taken.add(along(*line, 18 * sheet.scale))
    pen = sheet.pen
    edges = pen.line(d, PAPER, 19.5) + pen.line(d, INK, 15.5) + pen.line(d, PAPER, 11)
    return el("g", edges, class_="opened")


def _pulled(sheet: Sheet, told: PartEntry) -> str:
    """A wire or other part that hangs loose: dashed, with a ring where its end was."""
    (ax, ay), (bx, by) = told.a, told.b
    x, y = (ax + bx) / 2 + (by - ay) / 5, (ay + by) / 2 - (bx - ax) / 5
    hangs = sheet.pen.cased(f"M{num(ax)} {num(ay)}L{num(x)} {num(y)}", INK, 3, dash=(5, 4))
    rings = "".join(
        mark(at, use("old-place" if end.endswith(".b") else "end-a"), sheet.scale, "old-place")
        for end, at in ends_of(told)
    )
    return el("g", hangs, rings, class_="pulled")


def _along_wall(sheet: Sheet, at: Point) -> float:
    """The direction [degrees] in which the nearest wall runs at a place."""
    walls = [sheet.rims[piece.id] for piece in sheet.report.pieces if piece.role == "insulating"]
    rims: list[Outline] = [rim for rim in walls if len(rim)]
    if not rims:
        return 0.0
    rim = max(rims, key=lambda line: inside(line, at))
    ends = zip(rim.tolist(), [*rim[1:].tolist(), rim[0].tolist()], strict=True)
    (ax, ay), (bx, by) = min(ends, key=lambda side: math.dist(middle(side[0], side[1]), at))
    return math.degrees(math.atan2(by - ay, bx - ax))


def numbers(sheet: Sheet, taken: Taken) -> list[Tag]:
    """A numbered disc at the place of each of several steps: where a leg is now, if many land close by."""
    if sheet.plan is None or len(sheet.plan.steps) < 2 or sheet.after is not None:
        return []
    places = [
        step.at if sheet.crowded and step.action == "move" else anchor_of(step, sheet.case)
        for step in sheet.plan.steps
    ]
    return [_number(sheet, taken, at, i) for i, at in enumerate(places, 1)]


def number_disc(number: int) -> str:
    """The number of a step, white on ink: no lump and no dough has such a disc."""
    return (
        el("circle", r=NUMBER_UNITS + 2, fill=PAPER)
        + el("circle", r=NUMBER_UNITS, fill=INK)
        + words(str(number), size=15, colour=PAPER)
    )


def _number(sheet: Sheet, taken: Taken, at: Point, number: int) -> Tag:
    size = (2 * NUMBER_UNITS + 6) * sheet.scale
    _, (x, y) = taken.spot(at, (size, size), sheet.scale, ENTRY_UNITS * sheet.scale)
    taken.add([around((x, y), size, size)])
    dx, dy = (x - at[0]) / sheet.scale, (y - at[1]) / sheet.scale
    disc = el("g", number_disc(number), transform=f"translate({num(dx)} {num(dy)})")
    near = math.hypot(dx, dy) < ENTRY_UNITS + 2 * NUMBER_UNITS
    line = "" if near else mark(at, cased(f"M0 0L{num(dx)} {num(dy)}", INK, 1.6, 4.6), sheet.scale, "leader")
    return Tag(line, mark(at, disc, sheet.scale, "step-number"))

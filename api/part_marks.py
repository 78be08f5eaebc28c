"""Marks of wires, switches, resistors, buzzers and motors: a cased line from end to end, its sign on it.

The sign stands in the middle; the ends are small round marks a and b.
"""

import math

from api.canvas import Sheet, Tag, middle, put_tag
from api.language.speech import _
from api.marks import INK, PAPER, Point, broken, mark, num, use
from api.part_schemas import PartEntry
from api.placing import Taken, along, around

SIGN_UNITS = 36.0
"""The length of a sign; it covers the line."""
UPRIGHT = ("buzzer", "motor")
"""Signs that are not turned along the line."""
SMALLEST = 0.6
"""A part shorter than its sign has a smaller one, but not smaller than this."""
END_UNITS, SIGN_CLEAR_UNITS = 18.0, 14.0


def ends_of(part: PartEntry) -> tuple[tuple[str, Point], tuple[str, Point]]:
    """The names of the two entries of a part with their places [px]."""
    return (f"{part.id}.a", part.a), (f"{part.id}.b", part.b)


def sign_of(part: PartEntry) -> str | None:
    """The symbol on the line of a part; None for a wire."""
    if part.kind == "wire":
        return None
    if part.kind == "switch":
        return "switch-open" if part.closed is False else "switch-closed"
    return part.kind


def shown_parts(sheet: Sheet) -> list[PartEntry]:
    """All parts with `lumps` or `legs`; with `answer` those that the finding or its steps are about."""
    if sheet.layers & {"lumps", "legs"}:
        return list(sheet.case.parts)
    if "answer" not in sheet.layers:
        return []
    about = [name for step in sheet.steps for name in step.parts]
    about += sheet.finding.parts if sheet.finding else []
    ids = {name.split(".")[0] for name in about}
    return [part for part in sheet.case.parts if part.id in ids]


def lines(sheet: Sheet, taken: Taken) -> str:
    """The line of each part with its sign."""
    drawn = []
    for part in shown_parts(sheet):
        taken.add(along(part.a, part.b, 8 * sheet.scale))
        (ax, ay), (bx, by) = part.a, part.b
        d = f"M{num(ax)} {num(ay)}L{num(bx)} {num(by)}"
        drawn.append(sheet.pen.line(d, PAPER, 7.4) + sheet.pen.line(d, INK, 3.6))
        sign, at = sign_of(part), middle(part.a, part.b)
        if sign is None:
            continue
        long = math.dist(part.a, part.b) / sheet.scale
        size = min(1.0, max(SMALLEST, long / (SIGN_UNITS + END_UNITS)))
        taken.add([around(at, SIGN_UNITS * size * sheet.scale, SIGN_UNITS * size * sheet.scale)])
        turn = None if sign in UPRIGHT else math.degrees(math.atan2(by - ay, bx - ax))
        drawn.append(mark(at, use(sign, scale=size), sheet.scale, f"part {sign}", turn))
    return "".join(drawn)


def ends(sheet: Sheet, taken: Taken) -> str:
    """The two ends of each part, broken where one misses the dough."""
    drawn = []
    for part in shown_parts(sheet):
        for name, at in ends_of(part):
            symbol = f"end-{name[-1]}"
            taken.add([around(at, END_UNITS * sheet.scale, END_UNITS * sheet.scale)])
            missed = name in sheet.report.entries and sheet.report.entries[name] is None
            inner = broken(symbol) if missed else use(symbol)
            drawn.append(mark(at, inner, sheet.scale, f"entry {symbol}" + (" missed" if missed else "")))
    return "".join(drawn)


def tags(sheet: Sheet, taken: Taken) -> list[Tag]:
    """The name of each part, with its current where `numbers` are wanted."""
    looks = {part.id: part for part in sheet.report.parts}
    drawn = []
    for part in shown_parts(sheet):
        now = looks.get(part.id)
        label = part.id
        if now and "numbers" in sheet.layers:
            label = _("{part} {mA:.1f} mA", part=part.id, mA=now.current_mA)
        clear = SIGN_CLEAR_UNITS if sign_of(part) else 6.0
        drawn.append(
            put_tag(sheet, taken, middle(part.a, part.b), label, (), "part-name", clear * sheet.scale)
        )
    return drawn

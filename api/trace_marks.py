"""The finger-walk of each leg of one LED to the lead that it wants, or how far a finger comes."""

from api.answer_marks import footsteps
from api.canvas import Sheet
from api.marks import INK, PLUS, el, num
from api.placing import Taken


def trace_walks(sheet: Sheet, taken: Taken) -> str:
    """Full footsteps for the long leg, hollow ones for the short leg, where the way is free."""
    free = [one for one in sheet.traces if len(one.path) > 1]
    walks = [
        footsteps(sheet, taken, one.path, "footstep" if _long(one.leg) else "footstep-minus") for one in free
    ]
    return el("g", *walks, class_="trace") if walks else ""


def trace_reach(sheet: Sheet) -> str:
    """Round the dough that a finger reaches from a leg without a free way: the wanted lead is not in it."""
    drawn = []
    for one in sheet.traces:
        lumps = [lump for lump in sheet.report.lumps if lump.id in one.lumps and not one.path]
        for piece in (piece for lump in lumps for piece in lump.pieces):
            rim = sheet.rims.get(piece)
            if rim is None or not len(rim):
                continue
            d = "M" + "L".join(f"{num(x)} {num(y)}" for x, y in rim.tolist()) + "Z"
            line = sheet.pen.cased(d, PLUS if _long(one.leg) else INK, 3.4, () if _long(one.leg) else (9, 6))
            drawn.append(el("g", line, class_="reach"))
    return "".join(drawn)


def _long(leg: str) -> bool:
    return leg.endswith(".long")

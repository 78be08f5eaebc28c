"""Lumps and walls on the photo: hatch by side, cased outlines, and who belongs to which lead."""

from collections.abc import Mapping, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from api.marks import INK, PAPER, PLUS, Pen, Point, el, num, num4, stroke
from api.schemas import PieceOut, Report

Outline = NDArray[np.float64]
Kind = str
"""`plus`, `minus`, `both` or `none`: which leads a lump is joined to."""

SIGNS: Mapping[Kind, tuple[str, ...]] = {
    "plus": ("sign-plus",),
    "minus": ("sign-minus",),
    "both": ("sign-plus", "sign-minus"),
    "none": ("sign-none",),
}
_RING = "a3 3 0 1 0 6 0a3 3 0 1 0-6 0"
_TILES: Mapping[Kind, tuple[int, int, str, tuple[str, ...]]] = {
    "plus": (42, 27, PLUS, ("M3.5 22h7M7 18.5v7", "M17.5 13h7M21 9.5v7", "M31.5 4h7M35 .5v7")),
    "minus": (32, 26, INK, ("M4 5h8", "M20 5h8", "M12 18h8", "M-4 18h8", "M28 18h8")),
    "none": (42, 28, INK, (f"M4 5{_RING}", f"M18 14{_RING}", f"M32 23{_RING}")),
}
"""Width and height of a tile, pen and signs: plus in rising, minus in level, rings in falling rows."""


def kinds(report: Report) -> dict[str, Kind]:
    """Which leads each lump is joined to, by lump id."""
    plus, minus = report.entries.get("pack.plus"), report.entries.get("pack.minus")
    names = {(True, True): "both", (True, False): "plus", (False, True): "minus", (False, False): "none"}
    return {lump.id: names[lump.id == plus, lump.id == minus] for lump in report.lumps}


def outline_of(piece: PieceOut) -> Outline:
    """The rim of a piece (N, 2) in photo pixels, without points that no eye would miss."""
    rim = np.asarray(piece.outline, np.float32).reshape(-1, 1, 2)
    if len(rim) < 3:
        return np.zeros((0, 2))
    return cv2.approxPolyDP(rim, 0.8, True).reshape(-1, 2).astype(np.float64)


def path(outlines: Sequence[Outline]) -> str:
    """Closed lines."""
    return " ".join(
        "M" + "L".join(f"{num(x)} {num(y)}" for x, y in outline) + "Z" for outline in outlines if len(outline)
    )


def inside(outline: Outline, at: Point) -> float:
    """Distance in px of `at` from the rim, positive inside."""
    return float(cv2.pointPolygonTest(outline.astype(np.float32).reshape(-1, 1, 2), at, True))


def holes(piece: Outline, others: Sequence[Outline]) -> list[Outline]:
    """Those of `others` that lie wholly within `piece`: dough of another colour set into it."""
    low, high = piece.min(axis=0), piece.max(axis=0)
    return [
        other
        for other in others
        if len(other)
        and bool((other.min(axis=0) >= low).all() and (other.max(axis=0) <= high).all())
        # A dozen points of its rim will do.
        and all(inside(piece, (float(x), float(y))) > -1.5 for x, y in other[:: max(1, len(other) // 12)])
    ]


def pattern(kind: Kind, scale: float) -> str:
    """The tile of a hatch as an SVG pattern, `hatch-plus` and so on."""
    width, height, pen, signs = _TILES[kind]
    soft = {"stroke_linecap": "round"}
    body = [stroke(d, PAPER, 4.6, **soft) + stroke(d, pen, 2, **soft) for d in signs]
    return el(
        "pattern",
        *body,
        id=f"hatch-{kind}",
        patternUnits="userSpaceOnUse",
        width=width,
        height=height,
        patternTransform=f"scale({num4(scale)})",
    )


def lump(kind: Kind, pieces: Sequence[Outline], others: Sequence[Outline], pen: Pen) -> str:
    """One lump: hatch inside, cased rim."""
    rims = [rim for rim in pieces if len(rim)]
    area = path([line for rim in rims for line in (rim, *holes(rim, others))])
    fill = "" if kind == "both" else el("path", d=area, fill=f"url(#hatch-{kind})", fill_rule="evenodd")
    return fill + pen.cased(path(rims), PLUS if kind == "plus" else INK)


def wall(rim: Outline, pen: Pen) -> str:
    """The dashed edge of insulating dough."""
    return pen.cased(path([rim]), dash=(7, 5))

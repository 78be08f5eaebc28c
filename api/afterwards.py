"""A sculpture as it will be after a remedy: legs moved, lumps parted and joined, lights as foretold.

All of it comes from the report and the case: nothing is seen or solved again.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from api.hatch import Outline, inside, outline_of
from api.marks import Point
from api.part_schemas import PartEntry
from api.schemas import Case, LedOut, LumpOut, PieceOut, RemedyOut, Report, StepOut

MASK_PX = 1000.0
OPEN_PX = 5
"""Cells of the mask that a cut takes away: enough that no corner holds."""
SCRAP_SHARE, LEAST_CELLS = 0.02, 9
"""Less than this share of a lump, and nothing in it, is no lump of its own (estimated)."""
NEAR_MM = 6.0
"""A contact this close to a cut or a join is settled by it (estimated)."""
Cut = tuple[Point, Point]


@dataclass(frozen=True)
class Afterwards:
    """The report and the case as they will be.

    left     where an entry was that has moved or come out, by its name
    changed  LEDs that will look other than now
    loose    parts of which one end has been pulled out
    """

    report: Report
    case: Case
    left: tuple[tuple[str, Point], ...]
    changed: frozenset[str]
    loose: tuple[PartEntry, ...]


def afterwards(report: Report, case: Case, remedy: RemedyOut) -> Afterwards:
    """The sculpture when all steps of `remedy` are done."""
    changed = frozenset(led for led, other in looks_other(report, case, remedy).items() if other)
    places, lumps = entries_at(case), dict(report.entries)
    left: list[tuple[str, Point]] = []
    for step in remedy.steps:
        for name, (at, lump) in _moved(step, places, lumps, report).items():
            if step.action == "move" and name in places:
                left.append((name, places[name]))
            places[name], lumps[name] = at, lump
    steps = remedy.steps
    report = report.model_copy(update={"entries": lumps, "leds": _lights(report, remedy)})
    cuts = [step.line for step in steps if step.line and step.action == "cut"]
    mended = [*cuts, *((step.at, step.at) for step in steps if step.action == "join")]
    report = _parted(_without_contacts(report, mended), cuts, places)
    for step in steps:
        if step.action == "join":
            report = _joined(report, step.at)
    out = {part for step in steps if step.action == "take-out" for part in step.parts}
    loose = tuple(part for part in case.parts if part.id in out)
    return Afterwards(report, _placed(case, places, steps, loose), tuple(left), changed, loose)


def looks_other(report: Report, case: Case, remedy: RemedyOut) -> dict[str, bool]:
    """Whether each LED will look other than it does now: as it is seen, else as it is reckoned."""
    seen = {led.id: led.seen for led in case.leds}
    return {
        led.id: remedy.then.get(led.id, led.state) != (seen.get(led.id) or led.state) for led in report.leds
    }


def entries_at(case: Case) -> dict[str, Point]:
    """Where every lead, leg and end goes in [px], by its name."""
    found: dict[str, Point] = {}
    if case.pack is not None:
        found |= {"pack.plus": case.pack.plus, "pack.minus": case.pack.minus}
    for led in case.leds:
        found |= {f"{led.id}.long": led.long_leg, f"{led.id}.short": led.short_leg}
    for part in case.parts:
        found |= {f"{part.id}.a": part.a, f"{part.id}.b": part.b}
    return found


def pressed(step: StepOut, names: Iterable[str]) -> list[str]:
    """The entries that a step presses in: those named, or both ends of what is named."""
    return [name for name in names if name in step.parts or name.split(".")[0] in step.parts]


Placed = tuple[Point, str | None]


def _moved(
    step: StepOut, places: dict[str, Point], lumps: dict[str, str | None], report: Report
) -> dict[str, Placed]:
    """Where the entries go that a step moves, by name."""
    if step.action == "move" and step.to_at is not None:
        return dict.fromkeys(step.parts[:1], (step.to_at, step.to))
    if step.action in ("turn", "swap-leads"):
        pairs = [[name for name in places if name.split(".")[0] == part] for part in step.parts or ["pack"]]
        return {
            name: (places[other], lumps.get(other))
            for pair in pairs
            if len(pair) == 2
            for name, other in zip(pair, reversed(pair), strict=True)
        }
    if step.action == "press-in":
        nearest = next(iter(_nearest_lumps(report, step.at)), None)
        return {name: (places[name], lumps.get(name) or step.to or nearest) for name in pressed(step, places)}
    return {}


def _lights(report: Report, remedy: RemedyOut) -> list[LedOut]:
    """The LEDs as they will be."""
    return [
        led.model_copy(
            update={
                "state": remedy.then.get(led.id, led.state),
                "current_mA": remedy.then_mA.get(led.id, led.current_mA),
            }
        )
        for led in report.leds
    ]


def _placed(
    case: Case, places: dict[str, Point], steps: Sequence[StepOut], loose: Sequence[PartEntry]
) -> Case:
    """The case with its entries at `places`, switches closed, what hangs loose left out, nothing seen lit."""
    shut = {part for step in steps if step.action == "close" for part in step.parts}
    pack = case.pack and case.pack.model_copy(
        update={"plus": places["pack.plus"], "minus": places["pack.minus"]}
    )
    leds = tuple(
        led.model_copy(
            update={
                "long_leg": places[f"{led.id}.long"],
                "short_leg": places[f"{led.id}.short"],
                "seen": None,
            }
        )
        for led in case.leds
    )
    parts = tuple(
        part.model_copy(
            update={"a": places[f"{part.id}.a"], "b": places[f"{part.id}.b"]}
            | ({"closed": True} if part.id in shut else {})
        )
        for part in case.parts
        if part not in loose
    )
    return case.model_copy(update={"pack": pack, "leds": leds, "parts": parts})


# ---------------------------------------------------------------- lumps


def _rims(report: Report, pieces: Sequence[int]) -> list[Outline]:
    rims = [outline_of(piece) for piece in report.pieces if piece.id in pieces]
    return [rim for rim in rims if len(rim)]


def _nearest_lumps(report: Report, at: Point) -> list[str]:
    """All lumps that have an outline, the nearest to `at` first."""
    depth = {
        lump.id: max(inside(rim, at) for rim in rims)
        for lump in report.lumps
        if (rims := _rims(report, lump.pieces))
    }
    return sorted(depth, key=lambda lump: -depth[lump])


def _without_contacts(report: Report, mended: Sequence[Cut]) -> Report:
    """The report without contacts close to a cut or a filled gap, where they are settled."""
    near = NEAR_MM / report.photo.mm_per_px
    kept = [i for i, c in enumerate(report.contacts) if all(off_line(c.at, *line) > near for line in mended)]
    return report.model_copy(
        update={
            "contacts": [report.contacts[i] for i in kept],
            "otherwise": [
                other.model_copy(update={"contact": kept.index(other.contact)})
                for other in report.otherwise
                if other.contact in kept
            ],
        }
    )


def off_line(at: Point, a: Point, b: Point) -> float:
    """Distance of `at` from the line between `a` and `b`."""
    t = ((at[0] - a[0]) * (b[0] - a[0]) + (at[1] - a[1]) * (b[1] - a[1])) / max(math.dist(a, b) ** 2, 1e-9)
    t = min(1.0, max(0.0, t))
    return math.dist(at, (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])))


def _joined(report: Report, at: Point) -> Report:
    """The two lumps nearest to `at` made one."""
    two = sorted(_nearest_lumps(report, at)[:2])
    if len(two) < 2:
        return report
    kept, gone = two
    both = [i for lump in report.lumps if lump.id in two for i in lump.pieces]
    lumps = [
        LumpOut(id=kept, pieces=both) if lump.id == kept else lump for lump in report.lumps if lump.id != gone
    ]
    entries = {name: kept if lump == gone else lump for name, lump in report.entries.items()}
    return report.model_copy(update={"lumps": lumps, "entries": entries})


def _parted(report: Report, cuts: Sequence[Cut], places: dict[str, Point]) -> Report:
    """The report with every lump that a cut goes through in the bodies that are left of it."""
    spots = np.array([spot for piece in report.pieces for spot in piece.outline]).reshape(-1, 2)
    if not cuts or not len(spots):
        return report
    grid = Grid.over(spots)
    for lump in report.lumps:
        bodies = grid.bodies(report, lump, cuts)
        if len(bodies) > 1:
            report = _replaced(report, lump, bodies, grid, places)
    return report


def _replaced(
    report: Report,
    lump: LumpOut,
    bodies: list[NDArray[np.uint8]],
    grid: "Grid",
    places: dict[str, Point],
) -> Report:
    """The report with the `bodies` (masks) in place of `lump`; that with the red lead keeps the letter."""
    mine = [name for name, home in report.entries.items() if home == lump.id and name in places]
    home = {name: grid.nearest(bodies, places[name]) for name in mine}
    first = home.get("pack.plus", 0)
    taken = {other.id for other in report.lumps}
    free = (letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in taken)
    letters = [lump.id if i == first else next(free, f"{lump.id}{i}") for i in range(len(bodies))]
    old = next(piece for piece in report.pieces if piece.id in lump.pieces)
    number = max(piece.id for piece in report.pieces) + 1
    pieces = [piece for piece in report.pieces if piece.id not in lump.pieces]
    lumps = [other for other in report.lumps if other.id != lump.id]
    for letter, body in zip(letters, bodies, strict=True):
        rims = grid.outlines(body)
        made = [
            PieceOut(id=number + i, colour=old.colour, role=old.role, area_mm2=0.0, outline=rim)
            for i, rim in enumerate(rims)
        ]
        pieces += made
        lumps.append(LumpOut(id=letter, pieces=[piece.id for piece in made]))
        number += len(made)
    entries = dict(report.entries) | {name: letters[i] for name, i in home.items()}
    first_of = [made.pieces[0] for made in lumps[-len(bodies) :]]
    contacts = [
        contact.model_copy(
            update={
                "between": tuple(
                    first_of[grid.nearest(bodies, contact.at)] if i in lump.pieces else i
                    for i in contact.between
                )
            }
        )
        for contact in report.contacts
    ]
    told = {"pieces": pieces, "lumps": lumps, "entries": entries, "contacts": contacts}
    return report.model_copy(update=told)


@dataclass(frozen=True)
class Grid:
    """A raster over the sculpture: `k` cells per photo px, from `left`, `top`."""

    left: float
    top: float
    k: float
    shape: tuple[int, int]

    @classmethod
    def over(cls, spots: NDArray[np.float64]) -> "Grid":
        """A grid over points (N, 2) with a margin, 1000 cells long at most."""
        (left, top), (right, bottom) = spots.min(axis=0) - 8, spots.max(axis=0) + 8
        k = min(1.0, MASK_PX / max(right - left, bottom - top))
        return cls(float(left), float(top), k, (int((bottom - top) * k) + 2, int((right - left) * k) + 2))

    def cells(self, points: Iterable[Point] | NDArray[np.float64]) -> NDArray[np.int32]:
        """Photo points as cells (N, 2)."""
        told = np.asarray(points, np.float64).reshape(-1, 2)
        return np.rint((told - (self.left, self.top)) * self.k).astype(np.int32)

    def bodies(self, report: Report, lump: LumpOut, cuts: Sequence[Cut]) -> list[NDArray[np.uint8]]:
        """What is left of a lump, the largest first: masks; one only when no cut parts it."""
        mask = np.zeros(self.shape, np.uint8)
        for rim in _rims(report, lump.pieces):
            cv2.fillPoly(mask, [self.cells(rim)], 1)
        # What belongs together hangs together: hairlines between its pieces are closed.
        mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)), np.uint8)
        for contact in report.contacts:
            if set(contact.between) <= set(lump.pieces):
                cv2.circle(mask, self.cells([contact.at])[0].tolist(), 3, 1, -1)
        before = cv2.connectedComponents(mask, connectivity=4)[0]
        for a, b in cuts:
            way = np.subtract(b, a)
            longer = way / max(float(np.hypot(*way)), 1e-9) * 2 / self.k
            one, two = self.cells(np.stack([np.subtract(a, longer), np.add(b, longer)])).tolist()
            cv2.line(mask, one, two, 0, OPEN_PX)
        count, number = cv2.connectedComponents(mask, connectivity=4)
        if count <= before:
            return []
        sizes = np.bincount(number.ravel(), minlength=count)[1:]
        kept = [i for i in np.argsort(-sizes) if sizes[i] >= max(LEAST_CELLS, SCRAP_SHARE * sizes.sum())]
        return [np.asarray(number == i + 1, np.uint8) for i in kept]

    def nearest(self, bodies: Sequence[NDArray[np.uint8]], at: Point) -> int:
        """Which body a photo point lies in, or nearest to."""
        x, y = (int(v) for v in np.clip(self.cells([at])[0], 0, (self.shape[1] - 1, self.shape[0] - 1)))
        far = [float(cv2.distanceTransform(1 - body, cv2.DIST_L2, 3)[y, x]) for body in bodies]
        return int(np.argmin(far))

    def outlines(self, body: NDArray[np.uint8]) -> list[list[Point]]:
        """The outer rims of a body in photo px."""
        rims, _ = cv2.findContours(body, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        wide = [rim.reshape(-1, 2) for rim in rims if len(rim) > 2]
        return [
            [(float(x / self.k + self.left), float(y / self.k + self.top)) for x, y in rim] for rim in wide
        ]

"""Lumps that a cut parts and a filled gap joins, on a raster of their outlines: no photo is needed."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from api.hatch import Outline, inside, outline_of
from api.marks import Point
from api.schemas import LumpOut, PieceOut, Report

MASK_PX = 1000.0
OPEN_PX = 5
"""Cells of the mask that a cut takes away: enough that no corner holds."""
SCRAP_SHARE, LEAST_CELLS = 0.02, 9
"""Less than this share of a lump, and nothing in it, is no lump of its own (estimated)."""
NEAR_MM = 6.0
"""A contact this close to a cut or a join is settled by it (estimated)."""
Cut = tuple[Point, Point]


def _rims(report: Report, pieces: Sequence[int]) -> list[Outline]:
    rims = [outline_of(piece) for piece in report.pieces if piece.id in pieces]
    return [rim for rim in rims if len(rim)]


def nearest_lumps(report: Report, at: Point) -> list[str]:
    """All lumps that have an outline, the nearest to `at` first."""
    depth = {
        lump.id: max(inside(rim, at) for rim in rims)
        for lump in report.lumps
        if (rims := _rims(report, lump.pieces))
    }
    return sorted(depth, key=lambda lump: -depth[lump])


def without_contacts(report: Report, mended: Sequence[Cut]) -> Report:
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


def joined(report: Report, at: Point) -> Report:
    """The two lumps nearest to `at` made one."""
    two = sorted(nearest_lumps(report, at)[:2])
    if len(two) < 2:
        return report
    kept, gone = two
    both = [i for lump in report.lumps if lump.id in two for i in lump.pieces]
    lumps = [
        LumpOut(id=kept, pieces=both) if lump.id == kept else lump for lump in report.lumps if lump.id != gone
    ]
    entries = {name: kept if lump == gone else lump for name, lump in report.entries.items()}
    return report.model_copy(update={"lumps": lumps, "entries": entries})


def parted(report: Report, cuts: Sequence[Cut], places: dict[str, Point]) -> Report:
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

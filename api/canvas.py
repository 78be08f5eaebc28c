"""What the drawing functions share: the sheet with its layers, and tags that find their place."""

import math
import re
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from api import hatch
from api.afterwards import Afterwards, looks_other
from api.hints import Level
from api.language.speech import _, figure, translated
from api.marks import INK, PAPER, PLUS, Pen, Point, cased, el, mark, num, tag, tag_size
from api.part_schemas import TraceOut
from api.placing import Box, Taken, around
from api.schemas import Case, FindingOut, RemedyOut, Report, StepOut
from api.wording.sentences import Age
from api.wording.slots import MM

LAYERS = frozenset(
    {"pool", "answer", "lumps", "leads", "legs", "lights", "numbers", "contacts", "labels", "flow", "trace"}
)
"""`answer`: walk, cut, leads and what changes. `lumps`: hatches, walls, badges. `leads`: the two leads only.
`legs`: all legs. `lights`: all LEDs, not only those that change. `numbers`: mA. `contacts`: every contact of
conductive pieces. `flow`: where current goes, if the report tells it. `trace`: the finger-walk of each leg of
one LED. `pool`: the veil around the pool of light. `labels`: the words of the thread. A page draws its own
pool and thread."""
PICTURE_LAYERS = LAYERS - {"numbers", "contacts", "leads", "flow", "trace"}

CROWDED_UNITS = 28.0
"""Ghosts nearer to each other than this touch."""


@dataclass(frozen=True)
class Sheet:
    """What all the drawing functions share. `frame` is the part of the photo that matters, in photo px.

    plan   the remedy that is drawn, instead of the first one as far as it goes with the finding
    after  given when the sculpture is drawn as it will be: report and case are those of afterwards
    named  LEDs that the hint names, when nothing else is drawn of them
    led    the LED whose legs are walked with `trace`
    sideways  the photo is looked at a quarter turned: upright words stand across it
    """

    report: Report
    case: Case
    pen: Pen
    frame: Box
    layers: frozenset[str]
    finding: FindingOut | None
    first: bool
    plan: RemedyOut | None = None
    after: Afterwards | None = None
    named: frozenset[str] = frozenset()
    level: Level = "do"
    led: str | None = None
    sideways: bool = False

    @property
    def scale(self) -> float:
        """Photo pixels per mark unit."""
        return self.pen.scale

    @cached_property
    def rims(self) -> dict[int, hatch.Outline]:
        """Outlines by piece id."""
        return {piece.id: hatch.outline_of(piece) for piece in self.report.pieces}

    @cached_property
    def steps(self) -> tuple[StepOut, ...]:
        """What is to be done: all of the plan, else the first remedy as far as it goes with the finding.

        All of it goes with the first finding.
        """
        if self.plan is not None:
            return tuple(self.plan.steps)
        if self.finding is None or not self.report.remedies:
            return ()
        parts = {name.split(".")[0] for name in self.finding.parts}
        return tuple(
            step
            for step in self.report.remedies[0].steps
            if self.first or parts & {name.split(".")[0] for name in step.parts}
        )

    @cached_property
    def crowded(self) -> frozenset[Point]:
        """Where legs land so close to each other that their ghosts would cover one another."""
        landings = [step.to_at for step in self.steps if step.action == "move" and step.to_at is not None]
        near = CROWDED_UNITS * self.scale
        return frozenset(
            at
            for i, at in enumerate(landings)
            if any(math.dist(at, other) < near for j, other in enumerate(landings) if i != j)
        )

    @cached_property
    def cuts(self) -> list[tuple[tuple[Point, Point], str]]:
        """The cuts to draw with their words: those of the plan, else of the finding and the first remedy."""
        if self.after is not None:
            return []
        lines: dict[tuple[Point, Point], str] = {}
        found = self.finding if self.plan is None else None
        if found is not None and found.cut is not None and found.cut_mm is not None:
            lines[found.cut] = cut_words(found.do, found.cut_mm, self.case.age)
        for step in self.steps:
            if step.action == "cut" and step.line and all(math.dist(step.line[0], a) > 3 for a, _ in lines):
                told = [f.cut_mm for f in self.report.findings if f.cut == step.line and f.cut_mm]
                long_mm = math.dist(*step.line) * self.report.photo.mm_per_px
                lines[step.line] = cut_words(step.do, told[0] if told else long_mm, self.case.age)
        return list(lines.items())

    @cached_property
    def about(self) -> frozenset[str]:
        """The LEDs and other parts that the finding or its steps are about."""
        names = [*(self.finding.parts if self.finding else ()), *(n for s in self.steps for n in s.parts)]
        return frozenset(name.split(".")[0] for name in names)

    @cached_property
    def traces(self) -> tuple[TraceOut, ...]:
        """The walks of the legs of `led`, where they are wanted."""
        wanted = "trace" in self.layers and self.after is None
        return tuple(one for one in self.report.traces if wanted and one.leg.rpartition(".")[0] == self.led)

    @cached_property
    def changed(self) -> frozenset[str]:
        """LEDs that look other after the remedy."""
        if self.after is not None:
            return self.after.changed
        remedy = self.plan or next(iter(self.report.remedies), None)
        told = looks_other(self.report, self.case, remedy) if remedy else {}
        return frozenset(led for led, other in told.items() if other)

    @cached_property
    def dough(self) -> list[hatch.Outline]:
        """Outlines that have an area."""
        return [rim for rim in self.rims.values() if len(rim)]


def middle(a: Point, b: Point) -> Point:
    """Half way between two points."""
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def cut_words(said: str, long_mm: float, age: Age) -> str:
    """What stands on the thread of a cut: the same figure as in the sentence; none for the youngest."""
    if age == "6-8":
        return _("cut here")
    length = re.escape(translated(MM)).replace(re.escape("{n}"), r"(\d+(?:[.,]\d+)?)")
    told = re.search(length, said)
    return _("cut {n} mm", n=told.group(1) if told else mm_number(long_mm))


def mm_number(value_mm: float) -> str:
    """A length as a figure: whole mm, below 3 mm with one decimal."""
    return figure(value_mm, ".0f" if value_mm >= 3 else ".1f")


def frame_of(report: Report, case: Case) -> Box:
    """The sculpture with all entries and a margin, within the photo; without dough that lies apart."""
    used = set(report.entries.values())
    inner = {i for lump in report.lumps if lump.id in used for i in lump.pieces}
    inner |= {i for contact in report.contacts if inner & set(contact.between) for i in contact.between}
    spots = [spot for piece in report.pieces if not inner or piece.id in inner for spot in piece.outline]
    if case.pack is not None:
        spots += [case.pack.plus, case.pack.minus]
    spots += [leg for led in case.leds for leg in (led.long_leg, led.short_leg)]
    spots += [end for part in case.parts for end in (part.a, part.b)]
    size = float(report.photo.width), float(report.photo.height)
    if not spots:
        return 0.0, 0.0, *size
    points = np.array(spots)
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    margin = max(8.0, 0.09 * max(right - left, bottom - top))
    return (
        max(0.0, float(left - margin)),
        max(0.0, float(top - margin)),
        min(size[0], float(right + margin)),
        min(size[1], float(bottom + margin)),
    )


@dataclass(frozen=True)
class Tag:
    """A tag and the line that ties it to its place; lines lie under all other marks, tags over them."""

    line: str
    label: str


def put_tag(
    sheet: Sheet,
    taken: Taken,
    at: Point,
    label: str,
    symbols: tuple[str, ...],
    kind: str,
    clear_px: float,
    lit: bool = False,
) -> Tag:
    """A tag near `at` with a straight line: its mark stays at `at`, the tag stands off in mark units."""
    size = _size(sheet, label, symbols)
    _, spot = taken.spot(at, size, sheet.scale, clear_px, middle(sheet.frame[:2], sheet.frame[2:]))
    dx, dy = _off(sheet, taken, at, spot, size)
    d = f"M0 0L{num(dx)} {num(dy)}"
    line = cased(d, INK, 1.6, 4.6) + el("circle", r=3.4, fill=INK, stroke=PAPER, stroke_width=1.6)
    return Tag(
        mark(at, line, sheet.scale, "leader"), mark(at, tag(label, symbols, dx, dy, lit), sheet.scale, kind)
    )


def put_over(
    sheet: Sheet, taken: Taken, at: Point, label: str, symbols: tuple[str, ...], kind: str, lit: bool
) -> Tag | None:
    """A tag with its middle at `at`, over what the photo shows there; None when a mark stands there."""
    box = around(at, *_size(sheet, label, symbols))
    if taken.covers(box):
        return None
    taken.add([box])
    return Tag("", mark(at, tag(label, symbols, lit=lit), sheet.scale, kind))


def put_strung(sheet: Sheet, taken: Taken, ends: tuple[Point, Point], label: str) -> Tag:
    """A label on a short thread from that end of a cut that leaves more room."""
    size = _size(sheet, label, ())
    (_, spot), at = min((taken.spot(end, size, sheet.scale, 24 * sheet.scale), end) for end in ends)
    dx, dy = _off(sheet, taken, at, spot, size)
    d = f"M0 0Q{num(dx / 2 - dy / 5)} {num(dy / 2 + dx / 5)} {num(dx)} {num(dy)}"
    yarn = cased(d, PLUS, 2.5, 5) + el("circle", r=4.5, fill=PLUS, stroke=PAPER, stroke_width=2)
    label_mark = mark(at, tag(label, (), dx, dy), sheet.scale, "thread-label")
    return Tag(mark(at, yarn, sheet.scale, "yarn"), label_mark)


def _size(sheet: Sheet, label: str, symbols: tuple[str, ...]) -> Point:
    """Width and height on the photo of a tag with its casing, in px."""
    width, height = tag_size(label, len(symbols))
    size = (width + 8) * sheet.scale, (height + 8) * sheet.scale
    return size[::-1] if sheet.sideways else size


def _off(sheet: Sheet, taken: Taken, at: Point, spot: Point, size: Point) -> Point:
    """Note the tag at `spot`; how far it is from `at` in units."""
    taken.add([around(spot, *size)])
    return (spot[0] - at[0]) / sheet.scale, (spot[1] - at[1]) / sheet.scale

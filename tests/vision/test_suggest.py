"""Suggestions of LEDs and leads on quick photos of random sculptures, whose truth is known.

The floors are well below what `bench_suggestions.py` finds over many photos; they catch what is broken.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations

import cv2
import numpy as np
import pytest

from sample_images.studio.invent import invent
from sample_images.studio.invention import Invention
from sample_images.studio.quick import View, photograph, table_colour
from vision.eyes import look
from vision.model import Colour, LedSeen, Mark, Photo, Point, Suggestions, TableView
from vision.seen import Seen
from vision.straighten import BoxMm, straightened
from vision.suggest import suggest, suggestions_of
from vision.table_view import view_from_mm_per_px

SEEDS = (20001, 20006, 20017)
FAR_MM = 6.0


@dataclass(frozen=True)
class Shot:
    """A photo with what was seen on it without any mark, and its truth."""

    made: Invention
    shot: View
    photo: Photo
    palette: tuple[Colour, ...]
    view: TableView
    seen: Seen
    box: BoxMm

    def off_mm(self, one: Point, other: Point) -> float:
        """Distance of a place on the photo to a place on the dough in mm."""
        return math.dist(self.view.to_mm(one), self.view.to_mm(self.shot.px_of(other)))


@cache
def taken(seed: int) -> Shot:
    rng = np.random.default_rng([seed, 3])
    table = table_colour(rng)
    made = invent(seed, table=table)
    shot = photograph(made, table, mm_per_px=0.2)
    palette = []
    names = [
        ("table", "table"),
        *((d.name, "conductive" if d.conducts else "insulating") for d in made.doughs),
    ]
    for label, (name, role) in enumerate(names):
        free = ((shot.labels == label) & (shot.things == 0)).astype(np.uint8)
        if not free.any():
            continue
        room = cv2.distanceTransform(free, cv2.DIST_L2, 3)
        rows, cols = np.nonzero(room >= 0.6 * room.max())
        picks = rng.integers(0, len(rows), 3)
        taps = tuple((float(cols[i]) + 0.5, float(rows[i]) + 0.5) for i in picks)
        palette.append(Colour(name, role, taps))  # type: ignore[arg-type]
    photo, view = Photo(shot.photo), view_from_mm_per_px(0.2)
    seen, box = look(photo, palette, [], view)
    return Shot(made, shot, photo, tuple(palette), view, seen, box)


@cache
def suggested(seed: int) -> Suggestions:
    it = taken(seed)
    return suggest(it.photo, it.palette, (), it.view, it.seen, it.box)


def pairs() -> Iterator[tuple[Shot, int, LedSeen | None]]:
    """Every LED with the suggestion next to it, if any is near."""
    for seed in SEEDS:
        it, leds = taken(seed), suggested(seed).leds
        for i, lamp in enumerate(it.made.lamps):
            middle = ((lamp.base[0] + lamp.head[0]) / 2, (lamp.base[1] + lamp.head[1]) / 2)
            near = [led for led in leds if it.off_mm(led.at, middle) < FAR_MM]
            yield it, i, min(near, key=lambda led: it.off_mm(led.at, middle), default=None)


def test_most_leds_are_found_and_few_that_are_none() -> None:
    found = [led is not None for _, _, led in pairs()]
    assert len(found) >= 5
    assert np.mean(found) >= 0.7
    assert sum(len(suggested(seed).leds) for seed in SEEDS) <= len(found) + 3


def test_most_sizes_are_right() -> None:
    right = [led.size_mm == 2 * it.made.lamps[i].radius_mm for it, i, led in pairs() if led is not None]
    assert np.mean(right) >= 0.6


def test_few_told_colours_are_wrong_and_bright_is_seldom_taken_for_off() -> None:
    both = [(led, it.made.lamps[i]) for it, i, led in pairs() if led is not None]
    told = [led.colour == lamp.colour for led, lamp in both if led.colour is not None]
    assert told
    assert np.mean(told) >= 0.5
    ends = ({"bright", "off"},)
    assert np.mean([{led.lit, lamp.lit} in ends for led, lamp in both]) <= 0.35


def test_many_legs_are_near_where_they_go_in() -> None:
    off = []
    for it, i, led in pairs():
        lamp = it.made.lamps[i]
        if led is None or led.feet is None:
            continue
        ways = permutations((lamp.long, lamp.short))
        off += min(([it.off_mm(a, b) for a, b in zip(led.feet, way, strict=True)] for way in ways), key=sum)
    assert np.mean(np.array(off) < 4) >= 0.5


def test_many_leads_are_near_where_they_go_in() -> None:
    near = []
    for seed in SEEDS:
        it = taken(seed)
        at = {lead.colour: lead.at for lead in suggested(seed).leads}
        for rod in it.made.rods:
            colour = "red" if rod.red else "black"
            near.append(colour in at and it.off_mm(at[colour], rod.at) < 4)  # type: ignore[index]
    assert np.mean(near) >= 0.5


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_told_is_not_suggested_again(seed: int) -> None:
    it, before = taken(seed), suggested(seed)
    assert before.leds
    assert before.leads
    marks = [Mark("pack.plus", "lead", lead.at) for lead in before.leads]
    for i, led in enumerate(before.leds):
        marks += [Mark(f"L{i}.long", "leg", led.at, led.at), Mark(f"L{i}.short", "leg", led.at, led.at)]
    again = suggest(it.photo, it.palette, marks, it.view, it.seen, it.box)
    assert again == Suggestions()


def test_no_things_no_suggestions() -> None:
    it = taken(SEEDS[0])
    seen = replace(it.seen, things=np.zeros_like(it.seen.things))
    pixels = straightened(it.photo, it.view, it.box, seen.cell_mm)
    assert suggestions_of(seen, pixels, it.palette, ()) == Suggestions()

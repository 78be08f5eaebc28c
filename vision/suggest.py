"""Suggestions: LEDs and leads that the photo seems to show, for the helper to confirm.

They are never taken as true: nothing else in Doughsight reads them.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from vision.model import Colour, LeadSeen, LedSeen, Mark, Photo, Point, Suggestions, TableView
from vision.seen import Seen
from vision.sight import Mask, Sight, sight_of
from vision.straighten import BoxMm, straightened
from vision.suggest_leads import find_leads
from vision.suggest_leds import Body, find_bodies
from vision.suggest_legs import find_feet
from vision.suggest_looks import looks_of

TOLD_MM = 4.0
"""An LED or a lead with a mark so near is already told."""


def suggest(
    photo: Photo, palette: Sequence[Colour], marks: Sequence[Mark], view: TableView, seen: Seen, box: BoxMm
) -> Suggestions:
    """Suggestions for a photo of which `look` made `seen` and `box`."""
    return suggestions_of(seen, straightened(photo, view, box, seen.cell_mm), palette, marks)


def suggestions_of(
    seen: Seen, pixels: NDArray[np.uint8], palette: Sequence[Colour], marks: Sequence[Mark]
) -> Suggestions:
    """LEDs and leads beside those that the helper marked; `pixels` (h, w, 3) are what `seen` was seen on."""
    sight = sight_of(seen, pixels, palette)
    bodies = find_bodies(sight)
    told = [mark for mark in marks if mark.kind == "leg" and mark.partner is not None]
    leds = [_led(sight, body) for body in bodies if not _is_told(sight, body, told)]
    leads = _leads(sight, _covered(sight, bodies), marks, seen.view)
    return Suggestions(tuple(leds), tuple(leads))


def _led(sight: Sight, body: Body) -> LedSeen:
    colour, lit = looks_of(sight, body)
    feet = find_feet(sight, body)
    ends = None if feet is None else (sight.px(feet[0]), sight.px(feet[1]))
    return LedSeen(sight.px(body.at), body.radius_mm, colour, lit, body.chance, ends)


def _is_told(sight: Sight, body: Body, told: Sequence[Mark]) -> bool:
    """Whether the LED is one that was marked: its body lies near the line between the marked feet."""
    view = sight.view
    at = np.array(view.to_mm(sight.px(body.at)))
    for mark in told:
        if mark.partner is None:
            continue
        p, q = (np.array(view.to_mm(end)) for end in (mark.at, mark.partner))
        way = q - p
        part = float(np.clip((at - p) @ way / max(float(way @ way), 1e-9), 0, 1))
        if float(np.hypot(*(at - p - part * way))) < TOLD_MM + body.radius_mm:
            return True
    return False


def _covered(sight: Sight, bodies: Sequence[Body]) -> Mask:
    out = np.zeros(sight.led.shape, bool)
    for body in bodies:
        out[body.window] |= body.mask
    return out


def _leads(sight: Sight, covered: Mask, marks: Sequence[Mark], view: TableView) -> list[LeadSeen]:
    told = [view.to_mm(mark.at) for mark in marks if mark.kind == "lead"]
    found = find_leads(sight, covered)
    seen = [LeadSeen(lead, sight.px(at), sure) for lead, (at, sure) in found.items()]
    return [lead for lead in seen if not _near(view.to_mm(lead.at), told)]


def _near(at: Point, told: Sequence[Point]) -> bool:
    return any(np.hypot(at[0] - x, at[1] - y) < TOLD_MM for x, y in told)

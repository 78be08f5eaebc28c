"""What is known of a sculpture when it is printed."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from api.challenge import Criterion, judged
from api.fields import State
from api.paper.learned import mended
from api.placing import Box
from api.records import KeptSculpture
from api.schemas import Case, FindingOut, Report
from api.workshop_schemas import WorkshopEntry

ON = ("bright", "dim")


class NoPhotoError(LookupError):
    """The photo is gone, though what was found in it is still there."""


@dataclass(frozen=True)
class Seen:
    """A photo with what was found in it.

    frame   the part of the photo that may be shown [photo px]; None: all of it
    pixels  opens the photo, no smaller than so many pixels across: (h, w, 3) uint8 RGB;
            NoPhotoError when it is gone
    """

    case: Case
    report: Report
    pixels: Callable[[int], NDArray[np.uint8]]
    frame: Box | None = None

    @property
    def lights(self) -> dict[str, State]:
        """How each LED looks: what was seen wins over the sums."""
        seen = {led.id: led.seen for led in self.case.leds}
        return {led.id: seen.get(led.id) or led.state for led in self.report.leds}

    @property
    def lit(self) -> int:
        """How many are on."""
        return sum(state in ON for state in self.lights.values())


@dataclass(frozen=True)
class Told:
    """A sculpture with its workshop, and how it was before and after."""

    sculpture: KeptSculpture
    workshop: WorkshopEntry
    before: Seen | None = None
    after: Seen | None = None

    @property
    def name(self) -> str:
        """Its title, else nothing."""
        return self.sculpture.title.strip()

    @cached_property
    def mended(self) -> tuple[FindingOut, ...]:
        """What was found at first and is gone in the end."""
        if self.before is None or self.after is None:
            return ()
        return mended(self.before.report, self.after.report)

    @cached_property
    def criteria(self) -> tuple[Criterion, ...]:
        """The challenge as the sculpture meets it in the end, or as far as it has come."""
        seen = self.after or self.before
        case, report = (seen.case, seen.report) if seen else (None, None)
        one = self.sculpture
        return judged(self.workshop.challenge, report, case, one.started, one.finished)

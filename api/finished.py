"""What is shown of a sculpture: which inspection is before, which after, and which lights are on in each."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from api.challenge import Criterion, judged
from api.paper.learned import learned, mended
from api.records import KeptLook, KeptSculpture
from api.schemas import Case, Report
from api.wording.sentences import Age
from api.workshop_schemas import Challenge

Frame = tuple[float, float, float, float]
"""The part of a photo to be shown: left, top, right, bottom in photo px."""

LIT = ("bright", "dim")


@dataclass(frozen=True)
class Light:
    """An LED and how it is: bright, dim or off."""

    id: str
    state: str


@dataclass(frozen=True)
class Look:
    """An inspection as it is shown. `level` and `why` are those of its first finding, empty without one."""

    kept: KeptLook
    lights: tuple[Light, ...]
    level: str
    why: str
    wrong: tuple[str, ...]
    """Codes of findings of level stop and fix."""

    @property
    def lit(self) -> int:
        """How many lights are on."""
        return sum(one.state in LIT for one in self.lights)

    @property
    def frame(self) -> Frame:
        """What of the photo is shown: all of it unless somebody chose a part."""
        if self.kept.frame is None:
            return (0.0, 0.0, float(self.kept.width), float(self.kept.height))
        left, top, right, bottom = map(float, json.loads(self.kept.frame))
        return (left, top, right, bottom)


@dataclass(frozen=True)
class Shown:
    """Before and after; before is None if there is nothing to compare with."""

    before: Look | None
    after: Look | None


def look_of(kept: KeptLook) -> Look:
    """What is to be known of an inspection. Of lights, what was seen wins over the sums."""
    report, case = json.loads(kept.report), json.loads(kept.case)
    seen = {led["id"]: led.get("seen") for led in case.get("leds", ())}
    first = next(iter(report["findings"]), {"level": "", "why": ""})
    return Look(
        kept=kept,
        lights=tuple(Light(led["id"], seen.get(led["id"]) or led["state"]) for led in report["leds"]),
        level=first["level"],
        why=first["why"],
        wrong=tuple(json.loads(kept.codes)),
    )


def shown_of(one: KeptSculpture, looks: Sequence[Look]) -> Shown:
    """What was chosen; else before is the first with something to put right, and after the last one.

    Chosen the same for both, there is no before.
    """
    by_id = {look.kept.id: look for look in looks}
    first_wrong = next((look for look in looks if look.wrong), None)
    after = by_id.get(one.after_id or "") or (looks[-1] if looks else None)
    before = by_id.get(one.before_id or "") or first_wrong
    return Shown(None if before is after else before, after)


def report_of(look: Look | None) -> Report | None:
    """All that was found."""
    return None if look is None else Report.model_validate_json(look.kept.report)


def criteria_of(one: KeptSculpture, challenge: Challenge, after: Look | None) -> tuple[Criterion, ...]:
    """The challenge as what is shown after meets it."""
    case = None if after is None else Case.model_validate_json(after.kept.case)
    return judged(challenge, report_of(after), case, one.started, one.finished)


def words_of(shown: Shown, age: Age) -> str:
    """What mending it taught, for the maker to begin with; empty where nothing was mended."""
    before, after = report_of(shown.before), report_of(shown.after)
    return "" if before is None or after is None else " ".join(learned(mended(before, after), age))

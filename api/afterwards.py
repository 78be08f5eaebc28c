"""A sculpture as it will be after a remedy: legs moved, lumps parted and joined, lights as foretold.

All of it comes from the report and the case: nothing is seen or solved again.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from api.marks import Point
from api.part_schemas import PartEntry
from api.parting import joined, nearest_lumps, parted, without_contacts
from api.schemas import Case, LedOut, RemedyOut, Report, StepOut


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
    report = parted(without_contacts(report, mended), cuts, places)
    for step in steps:
        if step.action == "join":
            report = joined(report, step.at)
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
        nearest = next(iter(nearest_lumps(report, step.at)), None)
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

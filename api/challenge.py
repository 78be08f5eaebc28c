"""Whether a sculpture meets the challenge: each rule judged from the report, with numbers and doubt.

A limit that lies within the uncertainty is not judged: `cannot-tell`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import inf
from typing import Any, Literal

import networkx as nx

from api.dough_volume import dough_volume
from api.language.languages import spoken
from api.language.speech import N_, _, counted, figure, listed, translated
from api.schemas import Case, FindingOut, Report
from api.wording import TABLES
from api.wording.sentences import Age
from api.workshop_schemas import Challenge, Rule
from circuit.materials import ALIASES

Verdict = Literal["met", "not-met", "cannot-tell"]
VERDICTS: Mapping[Verdict, str] = {
    "met": N_("met"),
    "not-met": N_("not met"),
    "cannot-tell": N_("cannot tell"),
}
"""How each is said."""
COVERAGE = 2.0
"""Coverage factor: about 95 % of a normal spread lies within so many standard uncertainties (JCGM 100:2008,
6.3.3)."""
LIT = ("bright", "dim")
MOST_NAMED = 3
NBSP = "\u00a0"


@dataclass(frozen=True)
class Criterion:
    """A rule, whether it is met, and why.

    value, low, high  what was found, and between which bounds it lies, in `unit`; None when unknown
    wish, found       one short line each, in the language that is spoken
    """

    rule: Rule
    verdict: Verdict
    value: float | None
    low: float | None
    high: float | None
    unit: str
    wish: str
    found: str


@dataclass(frozen=True)
class _Found:
    """What a rule is judged from: the truth lies between `low` and `high`."""

    says: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class _Told:
    """All that may be asked about a sculpture."""

    report: Report
    case: Case
    started: datetime | None
    finished: datetime | None


Judge = Callable[[Any, _Told], tuple[_Found, tuple[float, float]]]
"""A rule and what is known, to what was found and the least and the greatest value that meet the rule."""


def judged(
    challenge: Challenge,
    report: Report | None,
    case: Case | None,
    started: datetime | None = None,
    finished: datetime | None = None,
) -> tuple[Criterion, ...]:
    """Every rule of the challenge, in its order. Without a report only the time can be judged."""
    return tuple(_judged(rule, report, case, started, finished) for rule in challenge.rules)


def wish_of(rule: Rule) -> str:
    """What a rule asks for, in one short line."""
    return _WISHES[rule.rule](rule)


def why_of(finding: FindingOut, report: Report, age: Age) -> str:
    """The sentence on top of a finding of this report, in the language that is spoken.

    A report that was written in another language has the names of its parts in that language only.
    """
    if report.language == spoken().code:
        return finding.ages[age].why if age in finding.ages else finding.why
    ways = TABLES[age].why.get(finding.code)
    return translated(ways[-1]) if ways else finding.why


def _judged(
    rule: Rule,
    report: Report | None,
    case: Case | None,
    started: datetime | None,
    finished: datetime | None,
) -> Criterion:
    if rule.rule == "time-limit":
        found, fits = _time(rule, started, finished)
    elif report is None or case is None:
        found, fits = _Found(_("no photo yet")), (0.0, inf)
    else:
        found, fits = _JUDGES[rule.rule](rule, _Told(report, case, started, finished))
    verdict = _verdict(found, fits)
    return Criterion(rule, verdict, found.value, found.low, found.high, found.unit, wish_of(rule), found.says)


def _verdict(found: _Found, fits: tuple[float, float]) -> Verdict:
    """Met if all of low to high fits, not met if none of it does."""
    if found.low is None or found.high is None:
        return "cannot-tell"
    if fits[0] <= found.low and found.high <= fits[1]:
        return "met"
    return "not-met" if found.high < fits[0] or fits[1] < found.low else "cannot-tell"


def _lit(told: _Told) -> list[frozenset[str]]:
    """The LEDs that are lit, as the sums have it first, then with each doubtful contact the other way.

    What was seen wins over the sums.
    """
    seen = {led.id: led.seen for led in told.case.leds if led.seen is not None}
    answers = [told.report.leds, *(other.leds for other in told.report.otherwise)]
    return [frozenset(led.id for led in leds if (seen.get(led.id) or led.state) in LIT) for leds in answers]


def _between(counts: Sequence[int], says: str) -> _Found:
    """A count as it is taken first, said as `says`, and between which bounds it lies."""
    low, high = min(counts), max(counts)
    if low < high:
        says = _("{low} to {high}: a contact is doubtful", low=low, high=high)
    return _Found(says, counts[0], low, high)


def _lights(rule: Any, told: _Told) -> tuple[_Found, tuple[float, float]]:
    if not told.case.leds:
        return _Found(_("no LED tapped yet")), (rule.at_least, inf)
    counts = [len(lit) for lit in _lit(told)]
    return _between(counts, _("{n} lit", n=counts[0])), (rule.at_least, inf)


def _colours(rule: Any, told: _Told) -> tuple[_Found, tuple[float, float]]:
    if not told.case.leds:
        return _Found(_("no LED tapped yet")), (rule.at_least, inf)
    of = {led.id: _colour(led.colour) for led in told.case.leds}
    counts = [len({of[led] for led in lit if led in of}) for lit in _lit(told)]
    return _between(counts, counted("{n} colour", "{n} colours", counts[0])), (rule.at_least, inf)


def _colour(name: str) -> str:
    """One name for the colours that are sold under two."""
    key = name.strip().lower()
    return ALIASES.get(key, key)


def _volume(rule: Any, told: _Told) -> tuple[_Found, tuple[float, float]]:
    fits = 0.0, float(rule.at_most_cm3)
    # A dough that nobody told may be there under another name.
    names = {one.name.casefold(): one.name for one in told.case.palette if one.role != "table"}
    name = names.get(rule.dough.casefold())
    if name is None:
        return _Found(_("no {dough} dough tapped", dough=translated(rule.dough, "word"))), fits
    volume = dough_volume(told.report, told.case, name)
    if volume is None:
        return _Found(_("no scale in the photo")), fits
    spread = COVERAGE * volume.error_cm3
    if volume.cm3:
        spec = ".0f" if spread >= 2 else ".1f"
        says = _("{cm3} ± {spread} cm³", cm3=figure(volume.cm3, spec), spread=figure(spread, spec))
    else:
        says = _("none found")
    low, high = max(0.0, volume.cm3 - spread), volume.cm3 + spread
    return _Found(says.replace(" ", NBSP) if volume.cm3 else says, volume.cm3, low, high, "cm3"), fits


def _side_by_side(_rule: Any, told: _Told) -> tuple[_Found, tuple[float, float]]:
    """How many LEDs stand in a row; a leg in no dough may mean that one more does."""
    if not told.case.leds or not told.report.entries:
        return _Found(_("no LED tapped yet")), (0, 0)
    ways = [told.report.entries, *(other.entries for other in told.report.otherwise)]
    rows = [in_a_row(told.case, entries) for entries in ways]
    counts = [len(row) for row in rows]
    loose = _loose(told)
    low, high = min(counts), max(counts) + len(loose)
    if rows[0]:
        says = _("in a row: {leds}", leds=_named(rows[0]))
    elif loose:
        says = _("not in dough: {leds}", leds=_named(loose))
    else:
        says = _("yes") if high == 0 else _("a contact is doubtful")
    return _Found(says, counts[0], low, high), (0, 0)


def _named(leds: Sequence[str]) -> str:
    """By name as long as that makes a short line."""
    many = len(leds) > MOST_NAMED
    return counted("{n} light", "{n} lights", len(leds)) if many else listed(leds)


def in_a_row(case: Case, entries: Mapping[str, str | None]) -> list[str]:
    """LEDs of which a leg meets no lead without crossing another light, as the lumps of the entries tell."""
    bodies: nx.Graph[str] = nx.Graph()
    bodies.add_nodes_from(lump for lump in entries.values() if lump is not None)
    for part in case.parts:
        a, b = entries.get(f"{part.id}.a"), entries.get(f"{part.id}.b")
        if a is not None and b is not None and part.closed is not False:
            bodies.add_edge(a, b)
    body_of = {lump: i for i, body in enumerate(nx.connected_components(bodies)) for lump in body}
    at = {name: body_of[lump] for name, lump in entries.items() if lump is not None}
    leads = {at.get("pack.plus"), at.get("pack.minus")}
    legs = {
        led.id: [at[leg] for leg in (f"{led.id}.long", f"{led.id}.short") if leg in at] for led in case.leds
    }
    return [
        led
        for led, own in legs.items()
        if len(set(own)) > 1
        and any(
            body not in leads and any(body in other for name, other in legs.items() if name != led)
            for body in own
        )
    ]


def _loose(told: _Told) -> list[str]:
    """LEDs with a leg that is in no lump."""
    entries = told.report.entries
    legs = {led.id: (f"{led.id}.long", f"{led.id}.short") for led in told.case.leds}
    return [led for led, pair in legs.items() if any(entries.get(leg) is None for leg in pair)]


def _nothing(_rule: Any, told: _Told) -> tuple[_Found, tuple[float, float]]:
    """How many findings and notes there are, and how many more there may be."""
    report = told.report
    left: list[FindingOut] = [*report.findings, *report.notes]
    # Where nobody told how the lights look, the report always asks what else might be checked.
    asked = report.enquiry == "asking" and any(led.seen is not None for led in told.case.leds)
    doubts = len(report.otherwise) + int(asked)
    if report.pack is None and not left:
        return _Found(_("no LED tapped yet")), (0, 0)
    if left:
        says = why_of(left[0], report, told.case.age).rstrip(".")
    elif report.otherwise:
        says = _("a contact is doubtful")
    else:
        says = _("something hidden may be wrong") if asked else _("nothing")
    return _Found(says, len(left), len(left), len(left) + doubts), (0, 0)


def _time(
    rule: Any, started: datetime | None, finished: datetime | None
) -> tuple[_Found, tuple[float, float]]:
    fits = 0.0, float(rule.minutes)
    if started is None or finished is None:
        return _Found(_("not finished yet")), fits
    minutes = max(0.0, (finished - started).total_seconds() / 60)
    # Rounded up, so that what is a few seconds late does not read as in time.
    shown = -int(-minutes // 1)
    says = counted("{n} minute", "{n} minutes", shown).replace(" ", NBSP)
    return _Found(says, minutes, minutes, minutes, "min"), fits


_JUDGES: Mapping[str, Judge] = {
    "lights-lit": _lights,
    "dough-volume": _volume,
    "side-by-side": _side_by_side,
    "light-colours": _colours,
    "nothing-to-watch": _nothing,
}
_WISHES: Mapping[str, Callable[[Any], str]] = {
    "lights-lit": lambda rule: counted("{n} light lit or more", "{n} lights lit or more", rule.at_least),
    "dough-volume": lambda rule: _(
        "{cm3} cm³ of {dough} dough or less",
        cm3=figure(f"{rule.at_most_cm3:.10g}"),
        dough=translated(rule.dough, "word"),
    ).replace(" cm³", f"{NBSP}cm³"),
    "side-by-side": lambda _rule: _("side by side only"),
    "light-colours": lambda rule: counted(
        "{n} colour of light or more", "{n} colours of light or more", rule.at_least
    ),
    "nothing-to-watch": lambda _rule: _("nothing left to watch"),
    "time-limit": lambda rule: (
        counted("{n} minute or less", "{n} minutes or less", int(rule.minutes))
        if float(rule.minutes).is_integer()
        else _("{minutes} minutes or less", minutes=figure(f"{rule.minutes:.4g}"))
    ),
}

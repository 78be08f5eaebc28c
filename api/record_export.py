"""The sculptures of a workshop as a table: CSV for a spreadsheet, JSON for a program."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Literal

from pydantic import BaseModel, Field

from api.challenge import VERDICTS, Criterion, Verdict, wish_of
from api.fields import utc
from api.finished import Look, Shown
from api.language.speech import _, translated
from api.records import KeptSculpture, KeptWorkshop
from api.schemas import Report
from api.sculpture_schemas import LightAnswer
from api.workshop_schemas import Challenge, Rule, WorkshopEntry

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""A cell that begins with one of these may be taken for a formula (CWE-1236; OWASP ASVS 5.0, 1.2.10, and from
memory of the OWASP page on CSV injection line breaks and the wide forms)."""


@dataclass(frozen=True)
class Line:
    """A sculpture with what is shown of it."""

    sculpture: KeptSculpture
    shown: Shown
    criteria: tuple[Criterion, ...]


class CriterionOut(BaseModel):
    """A rule of the challenge, whether it is met, and between which bounds what was found lies."""

    rule: Rule
    verdict: Verdict
    value: float | None
    low: float | None
    high: float | None
    unit: str
    found: str


class FindingLine(BaseModel):
    """What was wrong before."""

    code: str
    level: str
    parts: list[str]
    why: str


class SculptureRecord(BaseModel):
    """A sculpture. Times are UTC; without a photo nothing is known of lights."""

    bench: str
    title: str
    maker: str
    lit: int | None
    lights: list[LightAnswer]
    criteria: list[CriterionOut]
    findings_before: list[FindingLine]
    learned: str
    started: datetime
    finished: datetime | None


class WorkshopRecords(BaseModel):
    """All sculptures of a workshop, by bench."""

    schema_: Literal["doughsight-records/1"] = Field("doughsight-records/1", serialization_alias="schema")
    workshop: WorkshopEntry
    sculptures: list[SculptureRecord]


def records_csv(challenge: Challenge, lines: Sequence[Line]) -> bytes:
    """RFC 4180, UTF-8 with the byte order mark that spreadsheets look for.

    Times are those of the laptop's clock when the first sculpture was begun; the head says its zone.
    """
    begun = lines[0].sculpture.started if lines else datetime.now(UTC).replace(tzinfo=None)
    zone = timezone(begun.replace(tzinfo=UTC).astimezone().utcoffset() or timedelta())
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    rows: list[Sequence[str | int]] = [_head(challenge, zone), *(_cells(line, zone) for line in lines)]
    for cells in rows:
        writer.writerow([harmless(one) if isinstance(one, str) else one for one in cells])
    return out.getvalue().encode("utf-8-sig")


def harmless(text: str) -> str:
    """The text as no spreadsheet takes it for a formula."""
    return f"'{text}" if text.startswith(FORMULA) or text.lstrip().startswith(FORMULA) else text


def records_json(workshop: KeptWorkshop, lines: Sequence[Line]) -> bytes:
    """The same with numbers and codes."""
    told = WorkshopRecords(workshop=workshop.entry, sculptures=[_record(one) for one in lines])
    return told.model_dump_json(by_alias=True, indent=1).encode()


def _head(challenge: Challenge, zone: timezone) -> list[str]:
    wishes = [wish_of(rule) for rule in challenge.rules]
    rules = [cell for wish in wishes for cell in (wish, _("{wish}: found", wish=wish))]
    first = [_("bench"), _("title"), _("maker"), _("lights lit"), _("lights")]
    times = [f"{one} ({zone})" for one in (_("started"), _("finished"))]
    return [*first, *rules, _("findings before"), _("learned"), *times]


def _cells(line: Line, zone: timezone) -> list[str | int]:
    one, after = line.sculpture, line.shown.after
    lights: list[str | int] = ["", ""] if after is None else [after.lit, len(after.lights)]
    told = [cell for each in line.criteria for cell in (translated(VERDICTS[each.verdict]), each.found)]
    before = " ".join(each.why for each in _findings(line.shown.before))
    finished = "" if one.finished is None else _clock(one.finished, zone)
    return [
        one.bench,
        one.title,
        one.maker,
        *lights,
        *told,
        before,
        one.learned,
        _clock(one.started, zone),
        finished,
    ]


def _record(line: Line) -> SculptureRecord:
    one, after = line.sculpture, line.shown.after
    return SculptureRecord(
        bench=one.bench,
        title=one.title,
        maker=one.maker,
        lit=None if after is None else after.lit,
        lights=[LightAnswer(id=light.id, state=light.state) for light in (after.lights if after else ())],
        criteria=[
            CriterionOut(
                rule=each.rule,
                verdict=each.verdict,
                value=each.value,
                low=each.low,
                high=each.high,
                unit=each.unit,
                found=each.found,
            )
            for each in line.criteria
        ],
        findings_before=_findings(line.shown.before),
        learned=one.learned,
        started=utc(one.started),
        finished=None if one.finished is None else utc(one.finished),
    )


def _findings(before: Look | None) -> list[FindingLine]:
    if before is None:
        return []
    found = Report.model_validate_json(before.kept.report).findings
    return [FindingLine(code=one.code, level=one.level, parts=one.parts, why=one.why) for one in found]


def _clock(time: datetime, zone: timezone) -> str:
    """A kept time as a clock of this zone shows it; spreadsheets know this form."""
    return time.replace(tzinfo=UTC).astimezone(zone).strftime("%Y-%m-%d %H:%M")

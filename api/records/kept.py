"""What the records hand out, and how cases, reports and drafts are written down."""

import json
from dataclasses import dataclass

from api.draft_schemas import DraftJob
from api.records.tables import CaseRow, DraftRow, PhotoRow
from api.schemas import Case, Report
from api.second_words import UNDERSIDE_GONE


@dataclass(frozen=True)
class Place:
    """Where a photo belongs: a workshop, a sculpture of it, and the device that sent it."""

    workshop: str | None = None
    sculpture: str | None = None
    device: str | None = None


NOWHERE = Place()
"""Of no workshop, sent by the laptop itself."""


@dataclass(frozen=True)
class KeptPhoto:
    """An upright photo without metadata, as JPEG; width and height in pixels."""

    id: str
    jpeg: bytes
    width: int
    height: int
    place: Place = NOWHERE


@dataclass(frozen=True)
class KeptInspection:
    """A case and what was found in it."""

    id: str
    photo_id: str
    case: Case
    report: Report


@dataclass(frozen=True)
class KeptDraft:
    """What was told so far of a photo; `job` is JSON, `revision` counts its changes from 1."""

    id: str
    photo_id: str
    job: str
    revision: int
    inspection_id: str | None


def without_underside(case: Case) -> Case:
    """The case as if nobody had told of an underside."""
    return case.model_copy(update={"underside": None})


def underside_gone(report: Report) -> Report:
    """The report with one sentence on the lost photo; what came of it is told no more."""
    warnings = [one for one in report.photo.warnings if one != UNDERSIDE_GONE]
    photo = report.photo.model_copy(update={"warnings": [*warnings, UNDERSIDE_GONE]})
    return report.model_copy(update={"photo": photo, "underside": None})


def job_text(job: DraftJob) -> str:
    """The job as it is kept: only what was told."""
    return job.model_dump_json(by_alias=True, exclude_unset=True)


def case_text(case: Case) -> str:
    """Only what was told: a drop that is told as null is another thing than one that is not told."""
    return case.model_dump_json(by_alias=True, exclude_unset=True)


def case_from(text: str) -> Case:
    """The case that was written down."""
    return Case.model_validate(json.loads(text))


def case_columns(case: Case, report: Report) -> dict[str, str | None]:
    """A case and its report as columns, with what the queue and the chart of a workshop show of them."""
    first = report.findings[0] if report.findings else None
    guess = None if first is None else {"code": first.code, "level": first.level, "parts": first.parts}
    codes = dict.fromkeys(one.code for one in report.findings if one.level in ("stop", "fix"))
    return {
        "case": case_text(case),
        "report": report.to_json(),
        "underside_id": None if case.underside is None else case.underside.photo,
        "guess": None if guess is None else json.dumps(guess),
        "codes": json.dumps(list(codes)),
    }


def kept_inspection(row: CaseRow) -> KeptInspection:
    """An inspection as it is kept."""
    return KeptInspection(row.id, row.photo_id, case_from(row.case), Report.model_validate_json(row.report))


def kept_draft(row: DraftRow) -> KeptDraft:
    """A draft as it is kept."""
    return KeptDraft(row.id, row.photo_id, row.job, row.revision, row.inspection_id)


def place_of(row: PhotoRow) -> Place:
    """Where a photo belongs."""
    return Place(row.workshop_id, row.sculpture_id, row.device_id)

"""Photos, drafts and cases, kept until somebody deletes them."""

import json
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine, delete, event, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from api.draft_schemas import DraftJob
from api.records.calls import Calls
from api.records.clock import now
from api.records.photo_files import PhotoFiles
from api.records.sculptures import Sculptures
from api.records.tables import Base, CaseRow, DraftRow, PhotoRow, UploadRow
from api.records.workshops import Workshops
from api.schemas import Case, Report
from api.second_words import UNDERSIDE_GONE


@dataclass(frozen=True)
class Place:
    """Where a photo belongs: a workshop, a sculpture of it, and the device that sent it."""

    workshop: str | None = None
    sculpture: str | None = None
    device: str | None = None


@dataclass(frozen=True)
class KeptPhoto:
    """An upright photo without metadata, as JPEG; width and height in pixels."""

    id: str
    jpeg: bytes
    width: int
    height: int
    place: Place = Place()


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


NOWHERE = Place()
"""Of no workshop, sent by the laptop itself."""


class Records:
    """The photos, drafts and cases of one data folder.

    Ids are random, 16 bytes, so that nobody finds another maker's photo by counting.
    """

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._files = PhotoFiles(folder / "photos")
        self._engine = create_engine(f"sqlite:///{folder / 'doughsight.db'}")
        event.listen(self._engine, "connect", _enforce_foreign_keys)
        Base.metadata.create_all(self._engine)
        self.workshops = Workshops(self._engine)
        self.sculptures = Sculptures(self._engine)
        self.calls = Calls(self._engine)

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def add_photo(
        self, jpeg: bytes, width: int, height: int, token: str | None = None, place: Place = NOWHERE
    ) -> KeptPhoto:
        """Keep a photo; with a token that is known already, the photo that came with it stays the one."""
        kept = KeptPhoto(secrets.token_urlsafe(16), jpeg, width, height, place)
        row = PhotoRow(
            id=kept.id,
            sha256=self._files.keep(jpeg),
            width=width,
            height=height,
            created=now(),
            workshop_id=place.workshop,
            sculpture_id=place.sculpture,
            device_id=place.device,
        )
        try:
            with Session(self._engine) as session, session.begin():
                session.add(row)
                session.flush()
                if token is not None:
                    session.add(UploadRow(token=token, photo_id=kept.id))
        except IntegrityError:
            # The same photo was on its way twice, and the other one was quicker.
            earlier = self.photo_sent(token) if token is not None else None
            if earlier is None:
                raise
            return earlier
        return kept

    def photo_size(self, photo_id: str) -> tuple[int, int] | None:
        """Width and height [px] without reading the photo; None if it is not there."""
        with Session(self._engine) as session:
            wanted = select(PhotoRow.width, PhotoRow.height).where(PhotoRow.id == photo_id)
            row = session.execute(wanted).first()
            return None if row is None else (row.width, row.height)

    def photo_sent(self, token: str) -> KeptPhoto | None:
        """The photo that came with this token, or None."""
        with Session(self._engine) as session:
            row = session.get(UploadRow, token)
        return None if row is None else self.photo(row.photo_id)

    def photo(self, photo_id: str) -> KeptPhoto | None:
        """The photo, or None if it was never there or is deleted."""
        with Session(self._engine) as session:
            row = session.get(PhotoRow, photo_id)
        if row is None:
            return None
        jpeg = self._files.read(row.sha256)
        return None if jpeg is None else KeptPhoto(row.id, jpeg, row.width, row.height, _place(row))

    def place(self, photo_id: str) -> Place | None:
        """Where the photo belongs, without reading it; None if it is not there."""
        with Session(self._engine) as session:
            row = session.get(PhotoRow, photo_id)
            return None if row is None else _place(row)

    def delete_photo(self, photo_id: str) -> bool:
        """Delete the photo with every draft and case of it; False if there was none.

        A case whose underside it was goes on without it, and its report says so.
        """
        with Session(self._engine) as session, session.begin():
            gone = session.scalars(
                delete(PhotoRow).where(PhotoRow.id == photo_id).returning(PhotoRow.sha256)
            ).first()
            for row in session.scalars(
                select(CaseRow).where(CaseRow.case.contains(photo_id, autoescape=True))
            ):
                case = _case(row.case)
                if case.underside is not None and case.underside.photo == photo_id:
                    row.case = _text(without_underside(case))
                    row.report = underside_gone(Report.model_validate_json(row.report)).to_json()
            shared = (
                gone is not None
                and session.scalars(select(PhotoRow.id).where(PhotoRow.sha256 == gone)).first()
            )
        if gone is not None and not shared:
            self._files.drop(gone)
        return gone is not None

    def add_inspection(self, photo_id: str, case: Case, report: Report) -> KeptInspection:
        """Keep a case with its report."""
        kept = KeptInspection(secrets.token_urlsafe(16), photo_id, case, report)
        row = CaseRow(
            id=kept.id,
            photo_id=photo_id,
            case=_text(case),
            report=report.to_json(),
            created=now(),
            **_first_seen(report),
        )
        with Session(self._engine) as session, session.begin():
            session.add(row)
        return kept

    def inspection(self, case_id: str) -> KeptInspection | None:
        """The case with its report, or None if it was never there or is deleted."""
        with Session(self._engine) as session:
            row = session.scalars(select(CaseRow).where(CaseRow.id == case_id)).first()
            if row is None:
                return None
            return KeptInspection(
                row.id, row.photo_id, _case(row.case), Report.model_validate_json(row.report)
            )

    def replace_inspection(self, before: KeptInspection, case: Case, report: Report) -> bool:
        """Keep another case and report in place of `before`; False if that is not what is kept any more."""
        with Session(self._engine) as session, session.begin():
            row = session.get(CaseRow, before.id)
            if row is None or _case(row.case) != before.case:
                return False
            # The row must still be as it was read, whoever else writes at the same moment.
            same = (CaseRow.id == before.id) & (CaseRow.case == row.case)
            new = {"case": _text(case), "report": report.to_json(), **_first_seen(report)}
            done = session.scalars(update(CaseRow).where(same).values(new).returning(CaseRow.id))
            return done.first() is not None

    def delete_inspection(self, case_id: str) -> bool:
        """Delete the case, not its photo; False if there was none."""
        with Session(self._engine) as session, session.begin():
            gone = session.scalars(delete(CaseRow).where(CaseRow.id == case_id).returning(CaseRow.id))
            return gone.first() is not None

    def add_draft(self, photo_id: str, job: DraftJob, inspection_id: str | None) -> KeptDraft:
        """Keep the first of what is told of a photo."""
        kept = KeptDraft(secrets.token_urlsafe(16), photo_id, job_text(job), 1, inspection_id)
        row = DraftRow(
            id=kept.id,
            photo_id=photo_id,
            job=kept.job,
            revision=kept.revision,
            inspection_id=inspection_id,
            updated=now(),
        )
        with Session(self._engine) as session, session.begin():
            session.add(row)
        return kept

    def draft(self, draft_id: str) -> KeptDraft | None:
        """The draft, or None if it was never there or its photo is deleted."""
        with Session(self._engine) as session:
            row = session.get(DraftRow, draft_id)
            return None if row is None else _draft(row)

    def draft_revision(self, draft_id: str) -> int | None:
        """How often the draft was changed, without reading all of it; None if there is none."""
        with Session(self._engine) as session:
            return session.scalars(select(DraftRow.revision).where(DraftRow.id == draft_id)).first()

    def replace_draft(
        self, draft_id: str, after: int, job: DraftJob, inspection_id: str | None
    ) -> KeptDraft | None:
        """The draft with another job; None if it is not at revision `after` any more."""
        same = (DraftRow.id == draft_id) & (DraftRow.revision == after)
        new = {
            "job": job_text(job),
            "revision": after + 1,
            "inspection_id": inspection_id,
            "updated": now(),
        }
        with Session(self._engine) as session, session.begin():
            row = session.scalars(update(DraftRow).where(same).values(new).returning(DraftRow)).first()
            return None if row is None else _draft(row)


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


def _draft(row: DraftRow) -> KeptDraft:
    return KeptDraft(row.id, row.photo_id, row.job, row.revision, row.inspection_id)


def _text(case: Case) -> str:
    """Only what was told: a drop that is told as null is another thing than one that is not told."""
    return case.model_dump_json(by_alias=True, exclude_unset=True)


def _case(text: str) -> Case:
    return Case.model_validate(json.loads(text))


def _enforce_foreign_keys(connection: Any, _record: object) -> None:
    """SQLite leaves foreign keys unchecked unless each connection asks."""
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA secure_delete = ON")  # a deleted photo of a child is to be gone


def _place(row: PhotoRow) -> Place:
    return Place(row.workshop_id, row.sculpture_id, row.device_id)


def _first_seen(report: Report) -> dict[str, str | None]:
    """What the queue and the chart of a workshop show of a report."""
    first = report.findings[0] if report.findings else None
    guess = None if first is None else {"code": first.code, "level": first.level, "parts": first.parts}
    codes = dict.fromkeys(one.code for one in report.findings if one.level in ("stop", "fix"))
    return {"guess": None if guess is None else json.dumps(guess), "codes": json.dumps(list(codes))}

"""Photos, drafts and cases, kept until somebody deletes them."""

import secrets
from collections.abc import Callable, Collection
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine, select, update
from sqlalchemy.exc import IntegrityError, SQLAlchemyError
from sqlalchemy.orm import Session

from api.draft_schemas import DraftJob
from api.errors import InputError
from api.language.speech import N_
from api.records.calls import Calls
from api.records.clock import now
from api.records.counts import Counts
from api.records.covers import Covers
from api.records.database import hold_photo_files, is_file, open_engine, tidy
from api.records.erasing import Erasing, Forget, or_drop
from api.records.joins import Joins
from api.records.kept import (
    NOWHERE,
    KeptDraft,
    KeptInspection,
    KeptPhoto,
    Place,
    case_columns,
    case_from,
    job_text,
    kept_draft,
    kept_inspection,
    place_of,
)
from api.records.photo_files import PhotoFiles
from api.records.sculptures import Sculptures
from api.records.secret_key import secret_key
from api.records.tables import CaseRow, DraftRow, PhotoRow, UploadRow
from api.records.upgrading import upgrade
from api.records.wholes import Wholes
from api.records.workshops import Workshops
from api.schemas import Case, Report

NO_FOLDER = N_("The data folder {folder} cannot be used ({why}): give its owner the right, or name another.")


class Records:
    """The photos, drafts and cases of one data folder.

    Ids are random, 16 bytes, so that nobody finds another maker's photo by counting.
    """

    def __init__(self, folder: Path, database_url: str | None = None) -> None:
        """Open what is kept in this folder, or start it; with a URL the tables are in PostgreSQL.

        Raises InputError, with one sentence on what is in the way.
        """
        try:
            # Other accounts of this machine have no business here.
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._engine = open_engine(folder, database_url)
            self._files = PhotoFiles(photo_folder(folder, self._engine))
            upgrade(self._engine, self._files)
            self._sweep(folder)
            tidy(self._engine)
            self.key = secret_key(folder)
        except OSError as error:
            raise InputError(NO_FOLDER, folder=folder, why=error.strerror) from error
        self._erasing = Erasing(self._engine, self._files)
        self.counts = Counts(self._engine)
        self.covers = Covers(self._engine, self._files)
        self.workshops = Workshops(self._engine)
        self.wholes = Wholes(self._engine, self._files)
        self.sculptures = Sculptures(self._engine)
        self.calls = Calls(self._engine)
        self.joins = Joins(self._engine, self.key)

    def when_erased(self, forget: Forget, erased: Callable[[], None] = lambda: None) -> None:
        """Have `forget` told of every photo that is deleted, and `erased` called after every deletion."""
        self._erasing.forget, self._erasing.erased = forget, erased

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def takes_writes(self) -> bool:
        """Whether the database takes a change now; none is made."""
        try:
            with Session(self._engine) as session, session.begin():
                session.execute(update(PhotoRow).where(PhotoRow.id == "").values(width=0))
        except SQLAlchemyError:
            return False
        return True

    def add_photo(
        self, jpeg: bytes, width: int, height: int, token: str | None = None, place: Place = NOWHERE
    ) -> KeptPhoto:
        """Keep a photo; with a token that is known already, the photo that came with it stays the one."""
        kept = KeptPhoto(secrets.token_urlsafe(16), jpeg, width, height, place)
        half = self._files.write(jpeg)
        row = PhotoRow(
            id=kept.id,
            sha256=half.name,
            width=width,
            height=height,
            created=now(),
            workshop_id=place.workshop,
            sculpture_id=place.sculpture,
            device_id=place.device,
        )
        try:
            with (
                or_drop(self._engine, self._files, [half.name]),
                Session(self._engine) as session,
                session.begin(),
            ):
                session.add(row)
                session.flush()
                if token is not None:
                    session.add(UploadRow(token=token, photo_id=kept.id))
                    session.flush()
                hold_photo_files(session.connection())
                self._files.place(half)
        except IntegrityError:
            # The same photo was on its way twice, and the other one was quicker.
            earlier = self.photo_sent(token) if token is not None else None
            if earlier is None:
                raise
            return earlier
        finally:
            half.drop()
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
        return None if jpeg is None else KeptPhoto(row.id, jpeg, row.width, row.height, place_of(row))

    def place(self, photo_id: str) -> Place | None:
        """Where the photo belongs, without reading it; None if it is not there."""
        with Session(self._engine) as session:
            row = session.get(PhotoRow, photo_id)
            return None if row is None else place_of(row)

    def delete_photo(self, photo_id: str) -> bool:
        """Delete the photo with every draft and case of it; False if there was none.

        A case whose underside it was goes on without it, and its report says so.
        """
        return self.delete_photos([photo_id]) == 1

    def delete_photos(self, ids: Collection[str]) -> int:
        """Delete several photos as one; how many there were."""
        return self._erasing.photos(ids)

    def delete_sculpture(self, sculpture_id: str) -> bool:
        """Delete the sculpture with its photos and calls; False if there was none."""
        return self._erasing.sculpture(sculpture_id)

    def delete_workshop(self, workshop_id: str) -> bool:
        """Delete the workshop with all that belongs to it; False if there was none."""
        return self._erasing.workshop(workshop_id)

    def photos_of_no_workshop(self, before: datetime) -> list[str]:
        """Ids of photos that belong to no workshop, and were neither sent nor worked on since (UTC)."""
        worked_on = select(DraftRow.photo_id).where(DraftRow.updated >= before)
        old = PhotoRow.workshop_id.is_(None) & (PhotoRow.created < before) & PhotoRow.id.not_in(worked_on)
        with Session(self._engine) as session:
            return list(session.scalars(select(PhotoRow.id).where(old)))

    def pictures(self) -> dict[str, list[str]]:
        """Which pictures there ought to be, by their name, with the ids of the photos that show them."""
        found: dict[str, list[str]] = {}
        with Session(self._engine) as session:
            for row in session.execute(select(PhotoRow.sha256, PhotoRow.id).order_by(PhotoRow.sha256)):
                found.setdefault(row.sha256, []).append(row.id)
        return found

    def add_inspection(self, photo_id: str, case: Case, report: Report) -> KeptInspection:
        """Keep a case with its report."""
        kept = KeptInspection(secrets.token_urlsafe(16), photo_id, case, report)
        row = CaseRow(
            id=kept.id,
            photo_id=photo_id,
            created=now(),
            **case_columns(case, report),
        )
        with Session(self._engine) as session, session.begin():
            session.add(row)
        return kept

    def inspection(self, case_id: str) -> KeptInspection | None:
        """The case with its report, or None if it was never there or is deleted."""
        with Session(self._engine) as session:
            row = session.scalars(select(CaseRow).where(CaseRow.id == case_id)).first()
        return None if row is None else kept_inspection(row)

    def replace_inspection(self, before: KeptInspection, case: Case, report: Report) -> bool:
        """Keep another case and report in place of `before`; False if that is not what is kept any more."""
        with Session(self._engine) as session, session.begin():
            row = session.get(CaseRow, before.id)
            if row is None or case_from(row.case) != before.case:
                return False
            # The row must still be as it was read, whoever else writes at the same moment.
            same = (CaseRow.id == before.id) & (CaseRow.case == row.case)
            new = case_columns(case, report)
            done = session.scalars(update(CaseRow).where(same).values(new).returning(CaseRow.id))
            return done.first() is not None

    def delete_inspection(self, case_id: str) -> bool:
        """Delete the case, not its photo; False if there was none."""
        return self._erasing.case(case_id)

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
            return None if row is None else kept_draft(row)

    def draft_head(self, draft_id: str) -> tuple[str, int] | None:
        """Its photo and how often the draft was changed, without reading all of it; None if there is none."""
        wanted = select(DraftRow.photo_id, DraftRow.revision).where(DraftRow.id == draft_id)
        with Session(self._engine) as session:
            row = session.execute(wanted).first()
            return None if row is None else (row[0], row[1])

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
            return None if row is None else kept_draft(row)

    def _sweep(self, folder: Path) -> None:
        """Delete what an interrupted write or deletion has left in the folder."""
        for half in folder.glob("*.half"):
            half.unlink(missing_ok=True)
        with Session(self._engine) as session, session.begin():
            hold_photo_files(session.connection())
            self._files.sweep(set(session.scalars(select(PhotoRow.sha256))))


def photo_folder(folder: Path, engine: Engine) -> Path:
    """Where the pictures are. Each database has a folder of its own, so that none deletes another's."""
    if is_file(engine):
        return folder / "photos"
    return folder / f"photos-{engine.url.database}"

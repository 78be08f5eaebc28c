"""Deleting: rows first, then the pictures that no row names any more, then every trace in the file."""

from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager, suppress

from sqlalchemy import ColumnElement, Engine, delete, select
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from api.opened import forget_opened
from api.records.database import hold_photo_files, note_wipe, wipe
from api.records.kept import case_columns, case_from, underside_gone, without_underside
from api.records.photo_files import PhotoFiles
from api.records.tables import CaseRow, PhotoRow, SculptureRow, WorkshopRow
from api.schemas import Report

Forget = Callable[[str], None]
"""Is told the id of each photo of which nothing is to be remembered any more."""


class Erasing:
    """Deletes photos, sculptures and workshops with all that belongs to them, so that nothing is left.

    When a call returns, no byte of it is in the data folder, whatever else is being written meanwhile.
    """

    def __init__(self, engine: Engine, files: PhotoFiles) -> None:
        self._engine, self._files = engine, files
        self.forget: Forget = lambda _: None
        self.erased: Callable[[], None] = lambda: None

    def photos(self, ids: Collection[str]) -> int:
        """Delete these photos with every draft and case of them; how many there were."""
        with Session(self._engine) as session, session.begin():
            gone = _delete_photos(session, PhotoRow.id.in_(ids))
        if gone:
            self._finish(gone)
        return len(gone)

    def sculpture(self, sculpture_id: str) -> bool:
        """Delete the sculpture with its photos and calls; False if there was none."""
        return self._owner(SculptureRow, sculpture_id, PhotoRow.sculpture_id == sculpture_id)

    def workshop(self, workshop_id: str) -> bool:
        """Delete the workshop with all sculptures, photos, calls and devices; False if there was none."""
        return self._owner(WorkshopRow, workshop_id, PhotoRow.workshop_id == workshop_id)

    def case(self, case_id: str) -> bool:
        """Delete the case, not its photo; False if there was none."""
        with Session(self._engine) as session, session.begin():
            row = session.scalars(delete(CaseRow).where(CaseRow.id == case_id).returning(CaseRow.id)).first()
            note_wipe(session.connection())
        if row is not None:
            wipe(self._engine)
        return row is not None

    def _owner(
        self, kind: type[SculptureRow | WorkshopRow], owner_id: str, photos: ColumnElement[bool]
    ) -> bool:
        with Session(self._engine) as session, session.begin():
            # Held first, so that no photo is added to it meanwhile.
            if session.get(kind, owner_id, with_for_update=True) is None:
                return False
            gone = _delete_photos(session, photos)
            session.execute(delete(kind).where(kind.id == owner_id))
        self._finish(gone)
        return True

    def _finish(self, gone: dict[str, str]) -> None:
        drop_unused(self._engine, self._files, set(gone.values()))
        for photo in gone:
            self.forget(photo)
        self.erased()
        forget_opened(gone.values())
        wipe(self._engine)


def drop_unused(engine: Engine, files: PhotoFiles, names: Collection[str]) -> None:
    """Delete the pictures of these names that no photo shows any more; nobody may add one meanwhile."""
    if not names:
        return
    with Session(engine) as session, session.begin():
        hold_photo_files(session.connection())
        for name in names:
            shown = session.scalars(select(PhotoRow.id).where(PhotoRow.sha256 == name).limit(1))
            if shown.first() is None:
                files.drop(name)


@contextmanager
def or_drop(engine: Engine, files: PhotoFiles, names: Collection[str]) -> Iterator[None]:
    """Where the rows of these pictures are not kept, say because the disk is full, the pictures go, too.

    It goes around the transaction: a picture lies in its place before its row is kept for good.
    """
    try:
        yield
    except BaseException:
        with suppress(SQLAlchemyError, OSError):  # what is left then is swept away at the next start
            drop_unused(engine, files, names)
        raise


def _delete_photos(session: Session, photos: ColumnElement[bool]) -> dict[str, str]:
    """The ids of those that are gone, with the names of their pictures; what is left is to be wiped."""
    _leave_undersides(session, photos)
    note_wipe(session.connection())
    gone = session.execute(delete(PhotoRow).where(photos).returning(PhotoRow.id, PhotoRow.sha256))
    return {row.id: row.sha256 for row in gone}


def _leave_undersides(session: Session, photos: ColumnElement[bool]) -> None:
    """A case whose underside is deleted goes on without it, and its report says so."""
    gone = select(PhotoRow.id).where(photos)
    about = CaseRow.underside_id.in_(gone) & CaseRow.photo_id.not_in(gone)
    for row in session.scalars(select(CaseRow).where(about).with_for_update()):
        report = underside_gone(Report.model_validate_json(row.report))
        for name, value in case_columns(without_underside(case_from(row.case)), report).items():
            setattr(row, name, value)
    session.flush()

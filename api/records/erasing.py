"""Deleting: rows first, then the pictures that no row names any more, then every trace in the file."""

from sqlalchemy import ColumnElement, Engine, delete, select
from sqlalchemy.orm import Session

from api.opened import forget_opened
from api.records.database import hold_photo_files, note_wipe, wipe
from api.records.kept import case_columns, case_from, underside_gone, without_underside
from api.records.photo_files import PhotoFiles
from api.records.tables import CaseRow, PhotoRow, SculptureRow, WorkshopRow
from api.schemas import Report

_Owner = PhotoRow | SculptureRow | WorkshopRow


class Erasing:
    """Deletes photos, sculptures and workshops with all that belongs to them, so that nothing is left.

    When a call returns, no byte of it is in the data folder, whatever else is being written meanwhile.
    """

    def __init__(self, engine: Engine, files: PhotoFiles) -> None:
        self._engine, self._files = engine, files

    def photo(self, photo_id: str) -> bool:
        """Delete the photo with every draft and case of it; False if there was none."""
        return self._erase(PhotoRow.id == photo_id, PhotoRow, photo_id)

    def sculpture(self, sculpture_id: str) -> bool:
        """Delete the sculpture with its photos and calls; False if there was none."""
        return self._erase(PhotoRow.sculpture_id == sculpture_id, SculptureRow, sculpture_id)

    def workshop(self, workshop_id: str) -> bool:
        """Delete the workshop with all sculptures, photos, calls and devices; False if there was none."""
        return self._erase(PhotoRow.workshop_id == workshop_id, WorkshopRow, workshop_id)

    def _erase(self, photos: ColumnElement[bool], kind: type[_Owner], owner_id: str) -> bool:
        with Session(self._engine) as session, session.begin():
            # Held first, so that no photo is added to it meanwhile.
            owner = session.get(kind, owner_id, with_for_update=True)
            if owner is None:
                return False
            _leave_undersides(session, photos)
            pictures = session.scalars(delete(PhotoRow).where(photos).returning(PhotoRow.sha256)).all()
            session.execute(delete(kind).where(kind.id == owner_id))
            note_wipe(session.connection())
        self._drop_unused(set(pictures))
        forget_opened()
        wipe(self._engine)
        return True

    def _drop_unused(self, pictures: set[str]) -> None:
        """Delete the pictures that no photo shows any more; nobody may add one of them meanwhile."""
        if not pictures:
            return
        with Session(self._engine) as session, session.begin():
            hold_photo_files(session.connection())
            for name in pictures:
                if (
                    session.scalars(select(PhotoRow.id).where(PhotoRow.sha256 == name).limit(1)).first()
                    is None
                ):
                    self._files.drop(name)


def _leave_undersides(session: Session, photos: ColumnElement[bool]) -> None:
    """A case whose underside is deleted goes on without it, and its report says so."""
    gone = select(PhotoRow.id).where(photos)
    about = CaseRow.underside_id.in_(gone) & CaseRow.photo_id.not_in(gone)
    for row in session.scalars(select(CaseRow).where(about).with_for_update()):
        report = underside_gone(Report.model_validate_json(row.report))
        for name, value in case_columns(without_underside(case_from(row.case)), report).items():
            setattr(row, name, value)
    session.flush()

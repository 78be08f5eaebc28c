"""How many there are of what fills the disk; each is counted by an index."""

from sqlalchemy import ColumnElement, Engine, func, select
from sqlalchemy.orm import Session

from api.records.kept import Place
from api.records.tables import CaseRow, DraftRow, PhotoRow


class Counts:
    """Counts what is kept of something."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def photos_of_sculpture(self, place: Place) -> int:
        """Photos of the sculpture of this place; 0 where it has none."""
        return 0 if place.sculpture is None else self._count(PhotoRow.sculpture_id == place.sculpture)

    def photos_of_device(self, place: Place) -> int:
        """Photos that the device of this place has sent into its workshop."""
        mine = (PhotoRow.workshop_id == place.workshop) & (PhotoRow.device_id == place.device)
        return self._count(mine)

    def drafts(self, photo_id: str) -> int:
        """Drafts of a photo."""
        return self._count(DraftRow.photo_id == photo_id)

    def cases(self, photo_id: str) -> int:
        """Cases of a photo."""
        return self._count(CaseRow.photo_id == photo_id)

    def _count(self, which: ColumnElement[bool]) -> int:
        with Session(self._engine) as session:
            return session.scalars(select(func.count()).where(which)).one()

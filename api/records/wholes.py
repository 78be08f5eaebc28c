"""A workshop as a whole: all rows of it at one moment, and all of another one's put in at once."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from api.records.database import hold_photo_files
from api.records.erasing import or_drop
from api.records.photo_files import Half, PhotoFiles
from api.records.tables import CallRow, CaseRow, PhotoRow, SculptureRow, WorkshopRow


@dataclass(frozen=True)
class Whole:
    """All rows of a workshop but its ways in, devices and drafts, loose: changing one changes nothing."""

    workshop: WorkshopRow
    sculptures: Sequence[SculptureRow]
    photos: Sequence[PhotoRow]
    cases: Sequence[CaseRow]
    calls: Sequence[CallRow]


class Wholes:
    """Reads and writes workshops as a whole."""

    def __init__(self, engine: Engine, files: PhotoFiles) -> None:
        self._engine, self._files = engine, files

    def get(self, workshop_id: str) -> Whole | None:
        """All that is kept of a workshop, in the order in which it came; None if there is none."""
        with Session(self._engine) as session:
            workshop = session.get(WorkshopRow, workshop_id)
            if workshop is None:
                return None
            sculptures = session.scalars(
                select(SculptureRow)
                .where(SculptureRow.workshop_id == workshop_id)
                .order_by(SculptureRow.started, SculptureRow.bench_key)
            ).all()
            photos = session.scalars(
                select(PhotoRow)
                .where(PhotoRow.workshop_id == workshop_id)
                .order_by(PhotoRow.created, PhotoRow.id)
            ).all()
            # Named by what was read above: on PostgreSQL others may have written since.
            cases = session.scalars(
                select(CaseRow)
                .where(CaseRow.photo_id.in_([one.id for one in photos]))
                .order_by(CaseRow.created, CaseRow.id)
            ).all()
            calls = session.scalars(
                select(CallRow)
                .where(CallRow.sculpture_id.in_([one.id for one in sculptures]))
                .order_by(CallRow.asked, CallRow.id)
            ).all()
            session.expunge_all()
            return Whole(workshop, sculptures, photos, cases, calls)

    def picture(self, name: str) -> bytes | None:
        """The picture with this name (`PhotoRow.sha256`); None if it was deleted meanwhile."""
        return self._files.read(name)

    def put_aside(self, jpeg: bytes) -> Half:
        """Write a picture that `add` puts in its place; whoever asks for it drops it in the end."""
        return self._files.write(jpeg)

    def add(self, whole: Whole, pictures: Sequence[Half]) -> None:
        """Put in all rows and pictures, or nothing."""
        named = [(one, one.before_id, one.after_id) for one in whole.sculptures]
        with (
            or_drop(self._engine, self._files, [half.name for half in pictures]),
            Session(self._engine, expire_on_commit=False) as session,
            session.begin(),
        ):
            session.add(whole.workshop)
            session.flush()
            for one, _, _ in named:
                one.before_id = one.after_id = None  # the cases come in later than the sculptures
            for rows in (whole.sculptures, whole.photos, whole.cases, whole.calls):
                session.add_all(rows)
                session.flush()
            for one, before, after in named:
                one.before_id, one.after_id = before, after
            session.flush()
            hold_photo_files(session.connection())
            for half in pictures:
                self._files.place(half)

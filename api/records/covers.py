"""Photos replaced by ones on which something is covered; what was there before is deleted."""

import hashlib
import json

from sqlalchemy import Engine, select, update
from sqlalchemy.orm import Session

from api.covering import Frame
from api.records.database import hold_photo_files
from api.records.erasing import drop_unused, or_drop
from api.records.kept import KeptInspection, kept_inspection
from api.records.photo_files import PhotoFiles
from api.records.tables import CaseRow, PhotoRow


class Covers:
    """Which part of a photo is shown, and the one way to change a kept photo."""

    def __init__(self, engine: Engine, files: PhotoFiles) -> None:
        self._engine, self._files = engine, files

    def frame(self, photo_id: str) -> Frame | None:
        """The only part that was kept [px]; None: all of it."""
        with Session(self._engine) as session:
            told = session.scalars(select(PhotoRow.frame).where(PhotoRow.id == photo_id)).first()
        if told is None:
            return None
        left, top, right, bottom = json.loads(told)
        return left, top, right, bottom

    def inspections(self, photo_id: str) -> list[KeptInspection]:
        """What was looked at on this photo."""
        with Session(self._engine) as session:
            rows = session.scalars(select(CaseRow).where(CaseRow.photo_id == photo_id)).all()
            return [kept_inspection(row) for row in rows]

    def replace(self, photo_id: str, before: bytes, jpeg: bytes, frame: Frame | None) -> bool:
        """Keep `jpeg` in place of `before`, which is deleted; False if that is not what is kept any more."""
        old = hashlib.sha256(before).hexdigest()
        half = self._files.write(jpeg)
        same = (PhotoRow.id == photo_id) & (PhotoRow.sha256 == old)
        new = {"sha256": half.name, "frame": None if frame is None else json.dumps(frame)}
        try:
            with (
                or_drop(self._engine, self._files, [half.name]),
                Session(self._engine) as session,
                session.begin(),
            ):
                hold_photo_files(session.connection())
                done = session.scalars(update(PhotoRow).where(same).values(new).returning(PhotoRow.id))
                if done.first() is None:
                    return False
                self._files.place(half)
        finally:
            half.drop()
        drop_unused(self._engine, self._files, [old])
        return True

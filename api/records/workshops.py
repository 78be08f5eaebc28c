"""Workshops: what the helper told of each, and whether it is over."""

import json
import secrets
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Engine, select, update
from sqlalchemy.orm import Session

from api.records.clock import now
from api.records.tables import WorkshopRow
from api.workshop_schemas import DoughOfDay, WorkshopEntry


@dataclass(frozen=True)
class KeptWorkshop:
    """One occasion. Times are UTC; `revision` counts the changes of `entry` from 1."""

    id: str
    entry: WorkshopEntry
    created: datetime
    ended: datetime | None
    revision: int


class Workshops:
    """The workshops of one data folder."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def add(self, entry: WorkshopEntry) -> KeptWorkshop:
        """Keep a new workshop."""
        row = WorkshopRow(
            id=secrets.token_urlsafe(16), created=now(), ended=None, revision=1, **entry_columns(entry)
        )
        with Session(self._engine) as session, session.begin():
            session.add(row)
            session.flush()
            return kept_workshop(row)

    def get(self, workshop_id: str) -> KeptWorkshop | None:
        """The workshop, or None if it was never there or is deleted."""
        with Session(self._engine) as session:
            row = session.get(WorkshopRow, workshop_id)
            return None if row is None else kept_workshop(row)

    def all(self) -> list[KeptWorkshop]:
        """Every workshop, the latest day first."""
        newest_first = select(WorkshopRow).order_by(WorkshopRow.day.desc(), WorkshopRow.created.desc())
        with Session(self._engine) as session:
            return [kept_workshop(row) for row in session.scalars(newest_first)]

    def running(self, today: date | None = None) -> KeptWorkshop | None:
        """The workshop that is on: not ended, its day nearest to `today`, the newest of several."""
        day = today or date.today()
        going = [one for one in self.all() if one.ended is None]
        going.sort(key=lambda one: one.created, reverse=True)
        return min(going, key=lambda one: abs((one.entry.day - day).days), default=None)

    def change(self, workshop_id: str, revision: int, entry: WorkshopEntry) -> KeptWorkshop | None:
        """The workshop with another entry; None if it is not at `revision` any more, or gone."""
        return self._write(workshop_id, revision, entry_columns(entry))

    def set_doughs(
        self, workshop_id: str, revision: int, doughs: tuple[DoughOfDay, ...]
    ) -> KeptWorkshop | None:
        """The workshop with other doughs of the day; None as in `change`."""
        return self._write(workshop_id, revision, {"doughs": _list(doughs)})

    def end(self, workshop_id: str) -> KeptWorkshop | None:
        """It is over; over already, it keeps its time. None if there is none."""
        over = (WorkshopRow.id == workshop_id) & (WorkshopRow.ended.is_(None))
        with Session(self._engine) as session, session.begin():
            session.execute(update(WorkshopRow).where(over).values(ended=now()))
        return self.get(workshop_id)

    def reopen(self, workshop_id: str) -> KeptWorkshop | None:
        """It goes on. None if there is none."""
        with Session(self._engine) as session, session.begin():
            session.execute(update(WorkshopRow).where(WorkshopRow.id == workshop_id).values(ended=None))
        return self.get(workshop_id)

    def _write(self, workshop_id: str, revision: int, new: dict[str, Any]) -> KeptWorkshop | None:
        """In one statement, so that of two who write after the same revision only one does."""
        same = (WorkshopRow.id == workshop_id) & (WorkshopRow.revision == revision)
        change = update(WorkshopRow).where(same).values(**new, revision=revision + 1)
        with Session(self._engine) as session, session.begin():
            row = session.scalars(change.returning(WorkshopRow)).first()
            return None if row is None else kept_workshop(row)


def entry_columns(entry: WorkshopEntry) -> dict[str, Any]:
    """What is told of a workshop, as columns."""
    return {
        "name": entry.name,
        "day": entry.day,
        "place": entry.place,
        "age": entry.age,
        "kit": entry.kit.model_dump_json(),
        "doughs": _list(entry.doughs),
        "challenge": entry.challenge.model_dump_json(),
        "keep_days": entry.keep_days,
    }


def _list(doughs: tuple[DoughOfDay, ...]) -> str:
    return json.dumps([one.model_dump(mode="json") for one in doughs])


def kept_workshop(row: WorkshopRow) -> KeptWorkshop:
    """A workshop as it is kept."""
    entry = WorkshopEntry.model_validate(
        {
            "name": row.name,
            "day": row.day,
            "place": row.place,
            "age": row.age,
            "kit": json.loads(row.kit),
            "doughs": json.loads(row.doughs),
            "challenge": json.loads(row.challenge),
            "keep_days": row.keep_days,
        }
    )
    return KeptWorkshop(row.id, entry, row.created, row.ended, row.revision)

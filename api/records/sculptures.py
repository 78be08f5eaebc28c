"""Sculptures: what one maker builds in a workshop, and the record that is left of it."""

import json
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Engine, func, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from api.records.clock import now
from api.records.stored import Stored, stored_about
from api.records.tables import CaseRow, PhotoRow, SculptureRow


@dataclass(frozen=True)
class KeptSculpture:
    """One maker's work; `finished` is None while it is being built, `revision` counts its changes from 1."""

    id: str
    workshop_id: str
    bench: str
    title: str
    maker: str
    learned: str
    before_id: str | None
    after_id: str | None
    overlay: bool
    started: datetime
    finished: datetime | None
    revision: int


@dataclass(frozen=True)
class SculptureTold:
    """What is told of a sculpture; `before_id` and `after_id` are inspections of its photos.

    `finished` tells whether it is; one that is finished already keeps its time.
    """

    title: str
    maker: str
    learned: str
    before_id: str | None
    after_id: str | None
    overlay: bool
    finished: bool


@dataclass(frozen=True)
class KeptLook:
    """An inspection of a sculpture with what is to be known of its photo [px].

    `case`, `report` and `codes` (of findings of level stop and fix) are JSON, and so is `frame`, the part
    of the photo to be shown, unless it is None: all of it. `picture` names what the photo shows: it is
    another one when something was covered.
    """

    id: str
    created: datetime
    case: str
    report: str
    codes: str
    photo_id: str
    width: int
    height: int
    frame: str | None
    picture: str


class Sculptures:
    """The sculptures of one data folder."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def at_bench(self, workshop_id: str, bench: str) -> KeptSculpture:
        """The sculpture at this bench, begun if there is none yet; two who ask at once get the same.

        Raises sqlalchemy.exc.IntegrityError where there is no such workshop.
        """
        name = " ".join(bench.split())
        key = bench_key(name)
        known = self._at(workshop_id, key)
        if known is not None:
            return known
        row = SculptureRow(
            id=secrets.token_urlsafe(16),
            workshop_id=workshop_id,
            bench=name,
            bench_key=key,
            title="",
            maker="",
            learned="",
            overlay=True,
            started=now(),
            revision=1,
        )
        try:
            with Session(self._engine) as session, session.begin():
                session.add(row)
                session.flush()
                return _kept(row)
        except IntegrityError:
            # Somebody else at the same bench was quicker.
            known = self._at(workshop_id, key)
            if known is None:
                raise
            return known

    def get(self, sculpture_id: str) -> KeptSculpture | None:
        """The sculpture, or None if it was never there or is deleted."""
        with Session(self._engine) as session:
            row = session.get(SculptureRow, sculpture_id)
            return None if row is None else _kept(row)

    def of_workshop(self, workshop_id: str) -> tuple[KeptSculpture, ...]:
        """All of them, by bench: numbers as numbers, then names."""
        with Session(self._engine) as session:
            rows = session.scalars(select(SculptureRow).where(SculptureRow.workshop_id == workshop_id))
            return tuple(sorted(map(_kept, rows), key=_by_bench))

    def change(self, sculpture_id: str, after: int, told: SculptureTold) -> KeptSculpture | None:
        """The sculpture as it is told now; None if it is not at revision `after` any more."""
        same = (SculptureRow.id == sculpture_id) & (SculptureRow.revision == after)
        time = func.coalesce(SculptureRow.finished, now()) if told.finished else None
        new = {**vars(told), "finished": time, "revision": after + 1}
        with Session(self._engine) as session, session.begin():
            row = session.scalars(
                update(SculptureRow).where(same).values(new).returning(SculptureRow)
            ).first()
            return None if row is None else _kept(row)

    def take_in(self, one: KeptSculpture, photo_id: str) -> bool:
        """The photo is one of this sculpture from now on; False if it is not there.

        Another sculpture that showed it as before or after shows it no more: its archive could not be read.
        """
        place = {"workshop_id": one.workshop_id, "sculpture_id": one.id}
        wish = update(PhotoRow).where(PhotoRow.id == photo_id).values(place).returning(PhotoRow.id)
        cases = select(CaseRow.id).where(CaseRow.photo_id == photo_id)
        with Session(self._engine) as session, session.begin():
            for name in ("before_id", "after_id"):
                others = (SculptureRow.id != one.id) & getattr(SculptureRow, name).in_(cases)
                new = {name: None, "revision": SculptureRow.revision + 1}
                session.execute(update(SculptureRow).where(others).values(new))
            return session.scalars(wish).first() is not None

    def undersides(self, photo_id: str) -> set[str]:
        """Photos of the underside that cases of this photo name."""
        with Session(self._engine) as session:
            cases = session.scalars(select(CaseRow.case).where(CaseRow.photo_id == photo_id))
            told = [json.loads(case).get("underside") or {} for case in cases]
        return {one["photo"] for one in told if one.get("photo")}

    def looks(self, sculpture_id: str) -> tuple[KeptLook, ...]:
        """The inspections of all its photos, the first one first."""
        wanted = (
            select(CaseRow.id, CaseRow.created, CaseRow.case, CaseRow.report, CaseRow.codes)
            .add_columns(PhotoRow.id, PhotoRow.width, PhotoRow.height, PhotoRow.frame, PhotoRow.sha256)
            .join(PhotoRow, PhotoRow.id == CaseRow.photo_id)
            .where(PhotoRow.sculpture_id == sculpture_id)
            .order_by(CaseRow.created, CaseRow.id)
        )
        with Session(self._engine) as session:
            return tuple(KeptLook(*row) for row in session.execute(wanted))

    def stored(self, sculpture_id: str) -> Stored | None:
        """All that is stored about it; None if it is not there."""
        with Session(self._engine) as session:
            return stored_about(session, sculpture_id)

    def _at(self, workshop_id: str, key: str) -> KeptSculpture | None:
        same = (SculptureRow.workshop_id == workshop_id) & (SculptureRow.bench_key == key)
        with Session(self._engine) as session:
            row = session.scalars(select(SculptureRow).where(same)).first()
            return None if row is None else _kept(row)


def bench_key(bench: str) -> str:
    """The same for all ways to write one bench: case, width and spaces do not matter."""
    return " ".join(unicodedata.normalize("NFKC", bench).casefold().split())


def _by_bench(one: KeptSculpture) -> tuple[bool, int, str]:
    key = bench_key(one.bench)
    number = int(key) if key.isdecimal() else None
    return (number is None, number or 0, key)


def _kept(row: SculptureRow) -> KeptSculpture:
    return KeptSculpture(
        id=row.id,
        workshop_id=row.workshop_id,
        bench=row.bench,
        title=row.title,
        maker=row.maker,
        learned=row.learned,
        before_id=row.before_id,
        after_id=row.after_id,
        overlay=row.overlay,
        started=row.started,
        finished=row.finished,
        revision=row.revision,
    )

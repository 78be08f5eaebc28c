"""Calls: a bench asks for help, a helper comes. Whoever taps at the same moment, one of them wins."""

import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Engine, Executable, func, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from api.records.clock import now
from api.records.tables import CallRow, CaseRow, DeviceRow, DraftRow, PhotoRow, SculptureRow

State = Literal["waiting", "taken", "solved", "withdrawn"]
OPEN: tuple[State, ...] = ("waiting", "taken")


@dataclass(frozen=True)
class KeptCall:
    """A call. `asked` is when it was first asked, `revision` counts its changes from 1.

    `device_id` has it (None: nobody, or the laptop itself), `helper` is how that device is called. `kind` is
    what it turned out to be: a code of a finding, a hidden cause, `other`, or empty.
    """

    id: str
    workshop_id: str
    sculpture_id: str
    state: State
    asked: datetime
    changed: datetime
    device_id: str | None
    helper: str
    kind: str
    revision: int


@dataclass(frozen=True)
class Outcome:
    """What came of a tap: `call` is what is kept now; `done` is False where somebody else was quicker."""

    call: KeptCall
    done: bool


@dataclass(frozen=True)
class WaitingCall:
    """An open call with its sculpture: newest photo, newest draft, newest guess (JSON, `CaseRow.guess`).

    The guess is None where nobody has looked yet, and JSON's `null` where the last look found nothing.
    """

    call: KeptCall
    bench: str
    title: str
    maker: str
    photo_id: str | None
    picture: str | None
    """What the photo shows, as a name: it is another one when something on it was covered."""
    draft_id: str | None
    guess: str | None


@dataclass(frozen=True)
class Fault:
    """Kinds that a sculpture had, as a JSON list or one name, and when it was last seen to have them."""

    sculpture_id: str
    kinds: str
    seen: datetime


@dataclass(frozen=True)
class Queue:
    """All that the helpers of a workshop see: open calls in the order in which they asked."""

    calls: tuple[WaitingCall, ...]
    faults: tuple[Fault, ...]
    benches: int
    helpers: int


class Calls:
    """The calls of one data folder."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def ask(self, workshop_id: str, sculpture_id: str) -> KeptCall:
        """The open call of this sculpture; a new one where there is none.

        Raises sqlalchemy.exc.IntegrityError where there is no such sculpture.
        """
        for last in (False, False, True):
            known = self.open_of(sculpture_id)
            if known is not None:
                return known
            try:
                return self._add(workshop_id, sculpture_id)
            except IntegrityError:
                # The same bench pressed twice, and the other press was quicker.
                if last:
                    raise
        raise AssertionError

    def get(self, call_id: str) -> KeptCall | None:
        """The call, or None if it was never there or its sculpture is deleted."""
        with Session(self._engine) as session:
            row = session.get(CallRow, call_id)
            return None if row is None else _kept(row)

    def open_of(self, sculpture_id: str) -> KeptCall | None:
        """The call of this sculpture that waits or is taken."""
        mine = (CallRow.sculpture_id == sculpture_id) & CallRow.state.in_(OPEN)
        with Session(self._engine) as session:
            row = session.scalars(select(CallRow).where(mine)).first()
            return None if row is None else _kept(row)

    def take(self, call_id: str, after: int, device_id: str | None, helper: str) -> Outcome | None:
        """This device goes there; None if there is no such call."""
        new = {"state": "taken", "device_id": device_id, "helper": helper}
        return self._move(call_id, after, ("waiting",), new)

    def solve(self, call_id: str, after: int, kind: str) -> Outcome | None:
        """It works again, and it was `kind`; None if there is no such call."""
        return self._move(call_id, after, ("taken",), {"state": "solved", "kind": kind})

    def put_back(self, call_id: str, after: int) -> Outcome | None:
        """It waits again, where it stood before; None if there is no such call."""
        return self._move(call_id, after, ("taken",), {"state": "waiting", "device_id": None, "helper": ""})

    def withdraw(self, call_id: str, after: int) -> Outcome | None:
        """The bench needs nobody any more; None if there is no such call."""
        return self._move(call_id, after, OPEN, {"state": "withdrawn"})

    def let_go(self, workshop_id: str) -> int:
        """What devices have taken that are out by now waits again: nobody is coming. Says how many."""
        inside = select(DeviceRow.id).where(DeviceRow.revoked.is_(False))
        lost = CallRow.device_id.is_not(None) & CallRow.device_id.not_in(inside)
        of_them = (CallRow.workshop_id == workshop_id) & (CallRow.state == "taken") & lost
        new = {"state": "waiting", "device_id": None, "helper": "", "changed": now()}
        change = update(CallRow).where(of_them).values(**new, revision=CallRow.revision + 1)
        with Session(self._engine) as session, session.begin():
            return len(session.scalars(change.returning(CallRow.id)).all())

    def queue(self, workshop_id: str) -> Queue:
        """All that the helpers of this workshop see."""
        here, there = SculptureRow.workshop_id == workshop_id, DeviceRow.workshop_id == workshop_id
        helps = there & (DeviceRow.role == "helper") & DeviceRow.revoked.is_(False)
        with Session(self._engine) as session:
            waiting = session.execute(_waiting(workshop_id)).all()
            faults = [*session.execute(_seen(workshop_id)), *session.execute(_solved(workshop_id))]
            return Queue(
                calls=tuple(WaitingCall(_kept(row), *rest) for row, *rest in waiting),
                faults=tuple(Fault(*row) for row in faults),
                benches=session.scalar(select(func.count()).where(here)) or 0,
                helpers=session.scalar(select(func.count()).where(helps)) or 0,
            )

    def _add(self, workshop_id: str, sculpture_id: str) -> KeptCall:
        time = now()
        row = CallRow(
            id=secrets.token_urlsafe(16),
            workshop_id=workshop_id,
            sculpture_id=sculpture_id,
            state="waiting",
            asked=time,
            changed=time,
            device_id=None,
            helper="",
            kind="",
            revision=1,
        )
        with Session(self._engine) as session, session.begin():
            session.add(row)
            session.flush()
            return _kept(row)

    def _move(self, call_id: str, after: int, states: Collection[str], new: dict[str, Any]) -> Outcome | None:
        """In one statement, so that of all who move it after the same revision only one does.

        A move that is there already right after `after` is the same one, sent again after a lost answer.
        """
        same = (CallRow.id == call_id) & (CallRow.revision == after) & CallRow.state.in_(states)
        change = update(CallRow).where(same).values(**new, changed=now(), revision=after + 1)
        with Session(self._engine) as session, session.begin():
            row = session.scalars(change.returning(CallRow)).first()
            if row is not None:
                return Outcome(_kept(row), done=True)
        kept = self.get(call_id)
        if kept is None:
            return None
        again = kept.revision == after + 1 and all(getattr(kept, name) == new[name] for name in new)
        return Outcome(kept, done=again)


def _waiting(workshop_id: str) -> Executable:
    """Open calls in order, each with what stands in `WaitingCall`; no report is read."""
    of_it = PhotoRow.sculpture_id == SculptureRow.id
    photo, picture = (
        select(column).where(of_it).order_by(PhotoRow.created.desc(), PhotoRow.id)
        for column in (PhotoRow.id, PhotoRow.sha256)
    )
    draft = (
        select(DraftRow.id)
        .join(PhotoRow, PhotoRow.id == DraftRow.photo_id)
        .where(of_it)
        .order_by(PhotoRow.created.desc(), DraftRow.updated.desc())
    )
    guess = (
        select(func.coalesce(CaseRow.guess, "null"))
        .join(PhotoRow, PhotoRow.id == CaseRow.photo_id)
        .where(of_it)
        .order_by(CaseRow.created.desc())
    )
    newest = [
        one.limit(1).correlate(SculptureRow).scalar_subquery() for one in (photo, picture, draft, guess)
    ]
    return (
        select(CallRow, SculptureRow.bench, SculptureRow.title, SculptureRow.maker, *newest)
        .join(SculptureRow, SculptureRow.id == CallRow.sculpture_id)
        .where(CallRow.workshop_id == workshop_id, CallRow.state.in_(OPEN))
        .order_by(CallRow.asked, CallRow.id)
    )


def _seen(workshop_id: str) -> Executable:
    """What inspections found, once for each sculpture and list of codes."""
    return (
        select(PhotoRow.sculpture_id, CaseRow.codes, func.max(CaseRow.created))
        .join(PhotoRow, PhotoRow.id == CaseRow.photo_id)
        .where(PhotoRow.workshop_id == workshop_id, PhotoRow.sculpture_id.is_not(None), CaseRow.codes != "[]")
        .group_by(PhotoRow.sculpture_id, CaseRow.codes)
    )


def _solved(workshop_id: str) -> Executable:
    """What calls turned out to be, once for each sculpture and kind."""
    told = (CallRow.workshop_id == workshop_id) & (CallRow.state == "solved") & (CallRow.kind != "")
    return (
        select(CallRow.sculpture_id, CallRow.kind, func.max(CallRow.changed))
        .where(told)
        .group_by(CallRow.sculpture_id, CallRow.kind)
    )


def _kept(row: CallRow) -> KeptCall:
    state: Any = row.state
    return KeptCall(
        id=row.id,
        workshop_id=row.workshop_id,
        sculpture_id=row.sculpture_id,
        state=state,
        asked=row.asked,
        changed=row.changed,
        device_id=row.device_id,
        helper=row.helper,
        kind=row.kind,
        revision=row.revision,
    )

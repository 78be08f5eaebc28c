"""Ways in for phones, and the phones that came in by them.

Neither a code nor a link is kept: both are reckoned from the id of a way in and the secret of the data folder
(HMAC, RFC 2104), so that whoever reads the database gets in nowhere.
"""

import hashlib
import hmac
import secrets
import time
from base64 import urlsafe_b64encode
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock
from typing import Literal

from sqlalchemy import ColumnElement, Engine, delete, func, select, update
from sqlalchemy.orm import Session

from api.records.clock import now
from api.records.tables import DeviceRow, JoinRow, WorkshopRow
from api.who import Who

JoinRole = Literal["helper", "bench"]
DIGITS = 6
MOST_DEVICES = 200
"""Phones and tablets of one workshop: thirty benches and their helpers, many times over (estimated)."""
FRESH_S = 0.3
"""How long what is known of a device is believed without another look [s]: it is to be out within 1 s."""


@dataclass(frozen=True)
class KeptJoin:
    """A way in; times are UTC. It is open until it expires or is revoked."""

    id: str
    workshop_id: str
    role: JoinRole
    created: datetime
    expires: datetime
    revoked: bool

    @property
    def open(self) -> bool:
        """Whether somebody may still come in by it."""
        return not self.revoked and now() < self.expires


@dataclass(frozen=True)
class KeptDevice:
    """A phone or tablet that has joined; a bench has the sculpture that it works on now."""

    id: str
    join_id: str
    workshop_id: str
    role: JoinRole
    name: str
    sculpture_id: str | None
    joined: datetime
    revoked: bool


class Joins:
    """The ways in of one data folder. Of one server process: it remembers for a moment who is in."""

    def __init__(self, engine: Engine, key: bytes) -> None:
        self._engine = engine
        self._key = key
        self._lock = Lock()
        self._seen: dict[str, tuple[float, Who | None, datetime | None]] = {}

    def add(self, workshop_id: str, role: JoinRole, hours: float) -> KeptJoin:
        """Open a way in. Its code differs from those of all others that are open.

        Raises sqlalchemy.exc.IntegrityError where there is no such workshop.
        """
        with self._lock, Session(self._engine) as session, session.begin():
            taken = {self.code(one) for one in session.scalars(select(JoinRow.id).where(_open()))}
            new = secrets.token_urlsafe(16)
            while self.code(new) in taken:
                new = secrets.token_urlsafe(16)
            row = JoinRow(
                id=new,
                workshop_id=workshop_id,
                role=role,
                created=now(),
                expires=now() + timedelta(hours=hours),
                revoked=False,
            )
            session.add(row)
            session.flush()
            return _join(row)

    def get(self, join_id: str) -> KeptJoin | None:
        """The way in, or None if it was never there or is deleted."""
        with Session(self._engine) as session:
            row = session.get(JoinRow, join_id)
            return None if row is None else _join(row)

    def of_workshop(self, workshop_id: str) -> tuple[KeptJoin, ...]:
        """The open ways in of a workshop, the oldest first."""
        wanted = select(JoinRow).where(JoinRow.workshop_id == workshop_id, _open())
        with Session(self._engine) as session:
            return tuple(map(_join, session.scalars(wanted.order_by(JoinRow.created))))

    def code(self, join_id: str) -> str:
        """The six digits that are typed in."""
        return f"{int.from_bytes(self._reckoned('code', join_id)[:8]) % 10**DIGITS:0{DIGITS}}"

    def token(self, join_id: str) -> str:
        """What the link holds: 128 bits."""
        return urlsafe_b64encode(self._reckoned("link", join_id)[:16]).decode().rstrip("=")

    def by_code(self, code: str) -> KeptJoin | None:
        """The open way in with this code. All are compared, each in constant time."""
        return self._found(code, self.code)

    def by_token(self, token: str) -> KeptJoin | None:
        """The open way in with this link."""
        return self._found(token, self.token)

    def revoke(self, join_id: str) -> bool:
        """Close it, for those who came in by it, too; False if there is none."""
        with Session(self._engine) as session, session.begin():
            mine = DeviceRow.join_id == join_id
            session.execute(update(DeviceRow).where(mine).values(revoked=True))
            wish = update(JoinRow).where(JoinRow.id == join_id).values(revoked=True).returning(JoinRow.id)
            done = session.scalars(wish).first() is not None
        self._forget()
        return done

    def enter(self, join: KeptJoin, name: str) -> KeptDevice | None:
        """A new device comes in; a name in which {n} stands gets its number. None if there are too many."""
        with self._lock, Session(self._engine) as session, session.begin():
            of_workshop = DeviceRow.workshop_id == join.workshop_id
            inside = (
                select(func.count())
                .select_from(DeviceRow)
                .join(JoinRow, JoinRow.id == DeviceRow.join_id)
                .where(of_workshop, DeviceRow.revoked.is_(False), _open())
            )
            count = session.scalar(inside) or 0
            if count >= MOST_DEVICES:
                return None
            same_role = session.scalar(select(func.count()).where(of_workshop, DeviceRow.role == join.role))
            row = DeviceRow(
                id=secrets.token_urlsafe(16),
                join_id=join.id,
                workshop_id=join.workshop_id,
                role=join.role,
                name=name.replace("{n}", str((same_role or 0) + 1)),
                joined=now(),
                revoked=False,
            )
            session.add(row)
            session.flush()
            return _device(row)

    def device(self, device_id: str) -> KeptDevice | None:
        """The device, or None if it left."""
        with Session(self._engine) as session:
            row = session.get(DeviceRow, device_id)
            return None if row is None else _device(row)

    def devices(self, workshop_id: str) -> tuple[KeptDevice, ...]:
        """Who is in, in the order in which they came."""
        wanted = select(DeviceRow).where(DeviceRow.workshop_id == workshop_id, DeviceRow.revoked.is_(False))
        with Session(self._engine) as session:
            return tuple(map(_device, session.scalars(wanted.order_by(DeviceRow.joined))))

    def revoke_device(self, workshop_id: str, device_id: str) -> bool:
        """Put a device out; False if there is none in this workshop."""
        here = (DeviceRow.id == device_id) & (DeviceRow.workshop_id == workshop_id)
        wish = update(DeviceRow).where(here).values(revoked=True).returning(DeviceRow.id)
        with Session(self._engine) as session, session.begin():
            done = session.scalars(wish).first() is not None
        self._forget(device_id)
        return done

    def leave(self, device_id: str) -> None:
        """The device goes, and nothing is left of it; nothing happens if it is gone."""
        with Session(self._engine) as session, session.begin():
            session.execute(delete(DeviceRow).where(DeviceRow.id == device_id))
        self._forget(device_id)

    def set_sculpture(self, device_id: str, sculpture_id: str) -> bool:
        """The bench works on this sculpture from now on; False if another tablet that is in does so already.

        Otherwise a tablet could read and rename what others build by going round the benches.
        """
        mine = (DeviceRow.id == device_id) & (DeviceRow.role == "bench")
        taken = (
            select(DeviceRow.id)
            .join(JoinRow, JoinRow.id == DeviceRow.join_id)
            .where(DeviceRow.sculpture_id == sculpture_id, DeviceRow.id != device_id)
            .where(DeviceRow.revoked.is_(False), _open())
        )
        with self._lock, Session(self._engine) as session, session.begin():
            free = session.scalars(taken).first() is None
            if free:
                session.execute(update(DeviceRow).where(mine).values(sculpture_id=sculpture_id))
        self._forget(device_id)
        return free

    def who(self, device_id: str) -> Who | None:
        """Who this device is now; None if it left, was put out, or its way in has expired."""
        known = self._seen.get(device_id)
        if known is None or time.monotonic() - known[0] > FRESH_S:
            known = self._look(device_id)
        _, found, expires = known
        return found if expires is not None and now() < expires else None

    def over(self, device_id: str) -> bool:
        """Whether the workshop of this device has ended; False, too, where there is no such device."""
        its = (DeviceRow.id == device_id) & WorkshopRow.ended.is_not(None)
        wanted = select(DeviceRow.id).join(WorkshopRow, WorkshopRow.id == DeviceRow.workshop_id).where(its)
        with Session(self._engine) as session:
            return session.scalar(wanted) is not None

    def still_in(self, who: Who) -> bool:
        """Whether it is still who it was when it asked: for answers that go on for long."""
        if who.role == "owner":
            return True
        found = None if who.device is None else self.who(who.device)
        return found is not None and (found.role, found.workshop) == (who.role, who.workshop)

    def _look(self, device_id: str) -> tuple[float, Who | None, datetime | None]:
        at = time.monotonic()
        wanted = (
            select(DeviceRow, JoinRow.expires)
            .join(JoinRow, JoinRow.id == DeviceRow.join_id)
            .where(DeviceRow.id == device_id, DeviceRow.revoked.is_(False), JoinRow.revoked.is_(False))
        )
        with Session(self._engine) as session:
            row = session.execute(wanted).first()
        if row is None:
            return (at, None, None)
        device, expires = _device(row[0]), row[1]
        who = Who(device.role, device.workshop_id, device.id, device.sculpture_id, device.name)
        known = (at, who, expires)
        with self._lock:
            while len(self._seen) >= MOST_DEVICES:
                self._seen.pop(next(iter(self._seen)))
            self._seen[device_id] = known
        return known

    def _forget(self, device_id: str | None = None) -> None:
        """Look again next time."""
        with self._lock:
            if device_id is None:
                self._seen.clear()
            else:
                self._seen.pop(device_id, None)

    def _found(self, told: str, secret_of: Callable[[str], str]) -> KeptJoin | None:
        found = None
        with Session(self._engine) as session:
            for row in session.scalars(select(JoinRow).where(_open())):
                if hmac.compare_digest(secret_of(row.id).encode(), told.encode()):
                    found = _join(row)
        return found

    def _reckoned(self, what: str, join_id: str) -> bytes:
        return hmac.digest(self._key, f"doughsight {what} {join_id}".encode(), hashlib.sha256)


def _open() -> ColumnElement[bool]:
    return JoinRow.revoked.is_(False) & (JoinRow.expires > now())


def _join(row: JoinRow) -> KeptJoin:
    role: JoinRole = "helper" if row.role == "helper" else "bench"
    return KeptJoin(row.id, row.workshop_id, role, row.created, row.expires, row.revoked)


def _device(row: DeviceRow) -> KeptDevice:
    role: JoinRole = "helper" if row.role == "helper" else "bench"
    return KeptDevice(
        row.id, row.join_id, row.workshop_id, role, row.name, row.sculpture_id, row.joined, row.revoked
    )

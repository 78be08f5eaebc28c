"""The database of one data folder: an SQLite file in it, or PostgreSQL by one setting.

A session that is begun (`with Session(engine) as session, session.begin():`) may write, and has the right
to from its first statement on, so that it never fails half-way because somebody else was quicker. A session
that is not begun only reads: it takes no lock, and SQLite refuses a write in it.
"""

import logging
import time
from contextlib import closing
from pathlib import Path
from threading import Lock
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, OperationalError
from sqlalchemy.orm import Session, SessionTransaction, SessionTransactionOrigin
from sqlalchemy.pool import ConnectionPoolEntry

from api.errors import InputError
from api.language.speech import N_

_log = logging.getLogger(__name__)
FILE = "doughsight.db"
WAIT_S = 30
"""How long a writer waits for the others before it gives up (estimated; a write takes milliseconds)."""
MOST_IN_MEMORY = 64_000_000
"""Bytes: a larger database is written anew by way of a nameless file in the system's temporary folder."""
READS, WRITES = "doughsight_reads", "doughsight_writes"
WIPE_IS_DUE = 1
"""Kept as SQLite's `user_version` while something deleted may be left in the file."""
PHOTO_LOCK = 0x646F7567685F7068
"""Number of PostgreSQL's advisory lock on the photo files; any number nobody else uses."""
NO_DRIVER = N_(
    "DOUGHSIGHT_DATABASE_URL names PostgreSQL, whose driver is not installed here: "
    "install doughsight[postgresql], or take the setting away."
)
NO_SERVER = N_(
    "The database named by DOUGHSIGHT_DATABASE_URL does not answer: start it, or correct its address, "
    "its name and its password in the setting."
)
NOT_OURS = N_("DOUGHSIGHT_DATABASE_URL is no address of PostgreSQL: let it begin with postgresql://.")
NO_DATABASE = N_("{file} is not a database of Doughsight: move it away, or put a backup in its place.")
NOT_NOW = N_(
    "The database {file} cannot be opened ({why}): stop whoever else uses it, or give the right to write it."
)
PRAGMAS = (
    "journal_mode = WAL",  # readers and the one writer do not wait for each other
    "synchronous = FULL",  # what was acknowledged outlives a power cut
    "foreign_keys = ON",  # SQLite leaves them unchecked unless each connection asks
    "secure_delete = ON",  # a deleted photo of a child is to be gone
    "temp_store = MEMORY",  # nothing of it lies about outside the data folder
)


def open_engine(folder: Path, url: str | None = None) -> Engine:
    """The database of a data folder, or the one at `url`, which names PostgreSQL.

    Raises InputError if there is no driver, no server or no database that can be used.
    """
    engine = _sqlite(folder / FILE) if url is None else _postgresql(url)
    try:
        engine.connect().close()
    except DatabaseError as error:
        engine.dispose()
        if url is not None:
            raise InputError(NO_SERVER) from error
        if isinstance(error, OperationalError):
            raise InputError(NOT_NOW, file=folder / FILE, why=str(error.orig)) from error
        raise InputError(NO_DATABASE, file=folder / FILE) from error
    return engine


def is_file(engine: Engine) -> bool:
    """Whether it is SQLite."""
    return engine.dialect.name == "sqlite"


def hold_photo_files(connection: Connection) -> None:
    """Until the end of this transaction nobody else puts photo files in place or takes them away.

    With SQLite that is so anyhow: there is one writer at a time.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": PHOTO_LOCK})


def note_wipe(connection: Connection) -> None:
    """Note within this transaction that `wipe` is due, in case the power fails before it is done."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA user_version = {WIPE_IS_DUE}")


def wipe(engine: Engine) -> None:
    """See to it that what was deleted is in no byte of the file, nor in the log beside it.

    SQLite overwrites what is deleted (`secure_delete`), but not the copies that stay behind when it moves
    rows between pages (seen once in some 1,400 deletions); writing the file anew leaves those out, and
    takes 0.3 s for 60 MB. PostgreSQL cleans up by its own rules.
    """
    if not is_file(engine):
        return
    with closing(engine.raw_connection()) as connection:
        cursor = connection.cursor()
        pages, page = (cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
        aside = "MEMORY" if pages * page <= MOST_IN_MEMORY else "FILE"
        for statement in (
            "PRAGMA query_only = OFF",
            f"PRAGMA temp_store = {aside}",
            "VACUUM",
            "PRAGMA temp_store = MEMORY",
            "PRAGMA user_version = 0",
        ):
            cursor.execute(statement)
        cursor.close()
    _empty_log(engine)


def tidy(engine: Engine) -> None:
    """At the start: finish what was interrupted, and give room back that is free."""
    if not is_file(engine):
        return
    with engine.connect() as connection:
        due, free, pages = (
            int(connection.execute(text(f"PRAGMA {name}")).scalar_one())
            for name in ("user_version", "freelist_count", "page_count")
        )
    if due == WIPE_IS_DUE or 2 * free > pages:
        wipe(engine)
    else:
        _empty_log(engine)


def _empty_log(engine: Engine) -> None:
    # It waits for those who read and write, but not for somebody else who is emptying it.
    until = time.monotonic() + WAIT_S
    with closing(engine.raw_connection()) as connection:
        cursor = connection.cursor()
        while cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]:
            if time.monotonic() > until:
                _log.warning(
                    "the log of the database could not be emptied: somebody is reading for very long"
                )
                break
            time.sleep(0.02)
        cursor.close()


def _sqlite(file: Path) -> Engine:
    # Forty requests may be at work at once, and each may have a session.
    engine = create_engine(
        f"sqlite:///{file}", connect_args={"timeout": WAIT_S}, pool_size=5, max_overflow=60
    )
    event.listen(engine, "connect", _set_up)
    turns = _Turns()
    event.listen(engine, "begin", turns.begin)
    event.listen(engine, "checkin", turns.end)
    return engine


def _postgresql(url: str) -> Engine:
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise InputError(NOT_OURS) from error
    if parsed.get_backend_name() not in ("postgresql", "postgres"):
        raise InputError(NOT_OURS)
    try:
        return create_engine(
            parsed.set(drivername="postgresql+psycopg"), pool_size=5, max_overflow=60, pool_pre_ping=True
        )
    except ModuleNotFoundError as error:
        raise InputError(NO_DRIVER) from error


def _set_up(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # the driver begins nothing by itself: `_begin` does
    for pragma in PRAGMAS:
        connection.execute(f"PRAGMA {pragma}")


class _Turns:
    """The writers of this process, one at a time.

    SQLite has those who wait sleep for up to 0.1 s and look again, and whoever comes just then is first;
    here the next one goes on at once.
    """

    def __init__(self) -> None:
        self._turn = Lock()

    def begin(self, connection: Connection) -> None:
        """Begin a transaction that reads, or one that writes as soon as nobody else does."""
        reads = bool(connection.get_execution_options().get(READS, False))
        waits = not reads and not connection.connection.is_detached and not connection.info.get(WRITES)
        if waits:  # after so long SQLite itself says that somebody else is writing
            connection.info[WRITES] = self._turn.acquire(timeout=WAIT_S)
        connection.exec_driver_sql(f"PRAGMA query_only = {int(reads)}")
        connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")

    def end(self, _connection: object, record: ConnectionPoolEntry) -> None:
        """The connection is given back, after whatever it has done."""
        if record.info.pop(WRITES, False):
            self._turn.release()


@event.listens_for(Session, "after_transaction_create")
def _say_what_it_is_for(session: Session, transaction: SessionTransaction) -> None:
    """A session that was not begun by anybody is there to read."""
    if transaction.origin is SessionTransactionOrigin.AUTOBEGIN and session.bind is not None:
        session.connection(execution_options={READS: True})

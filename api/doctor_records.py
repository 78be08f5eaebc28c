"""What `doughsight doctor` says of what is kept: read, never written, and only counted."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from sqlalchemy import Engine, create_engine, func, inspect, select, text
from sqlalchemy.pool import NullPool

from api.doctor import Finding, shown
from api.errors import InputError
from api.records.database import FILE, is_file, open_engine
from api.records.photo_files import PhotoFiles
from api.records.records import photo_folder
from api.records.tables import CaseRow, PhotoRow
from api.records.upgrading import STEPS
from api.settings import Settings

BACKUP = "Stop Doughsight and restore a backup (doughsight restore)."


@contextmanager
def _read_only(settings: Settings) -> Iterator[Engine | None]:
    """The database as it is; None where nothing was kept yet."""
    file = settings.data_dir / FILE
    if settings.database_address is not None:
        engine = open_engine(settings.data_dir, settings.database_address)
    elif file.exists():
        # Without a log beside it nobody has it open; then not even the files of a reader are made.
        how = "mode=ro" if file.with_name(f"{FILE}-wal").exists() else "mode=ro&immutable=1"
        uri = f"{file.absolute().as_uri()}?{how}"
        engine = create_engine(
            "sqlite://", creator=lambda: sqlite3.connect(uri, uri=True), poolclass=NullPool
        )
    else:
        yield None
        return
    try:
        yield engine
    finally:
        engine.dispose()


def database(settings: Settings) -> Finding:
    """Whether it opens, holds together, and has the tables of today."""
    try:
        with _read_only(settings) as engine:
            if engine is None:
                return Finding("database", "ok", f"made at the first start in {shown(settings.data_dir)}")
            return _looked_at(engine)
    except InputError as error:  # a PostgreSQL that is set and cannot be used: the sentence says what to do
        return Finding("database", "wrong", str(error).rstrip("."), "")
    except Exception as error:
        return Finding("database", "wrong", f"cannot be opened ({type(error).__name__})", BACKUP)


def _looked_at(engine: Engine) -> Finding:
    kind = "SQLite" if is_file(engine) else "PostgreSQL"
    names = inspect(engine).get_table_names()
    with engine.connect() as connection:
        version = None
        if "alembic_version" in names:
            version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        if is_file(engine):
            if connection.execute(text("PRAGMA integrity_check(1)")).scalar() != "ok":
                return Finding("database", "wrong", f"{kind} does not hold together", BACKUP)
            lost = len(connection.execute(text("PRAGMA foreign_key_check")).all())
            if lost:
                return Finding("database", "wrong", f"{lost} rows belong to nothing", BACKUP)
    if not names:
        return Finding("database", "ok", f"{kind} answers; tables are made at the first start")
    if version not in STEPS and version is not None:
        do = "Install that one, or restore an older backup."
        return Finding("database", "wrong", f"{kind} was kept by a newer Doughsight", do)
    if version != STEPS[-1]:
        do = "Make a backup (doughsight backup); the next start brings the tables up to date."
        return Finding("database", "watch", f"{kind} has the tables of an older Doughsight", do)
    return Finding("database", "ok", f"{kind} holds together, tables of version {version}")


def photos(settings: Settings) -> Finding:
    """Photos without a row, and rows whose photo is gone."""
    with _read_only(settings) as engine:
        if engine is None or "sha256" not in _columns(engine):
            return Finding("photos", "ok", "none is kept yet" if engine is None else "still in the database")
        with engine.connect() as connection:
            told = set(connection.scalars(select(PhotoRow.sha256)))
        folder = photo_folder(settings.data_dir, engine)
        there = PhotoFiles(folder).names() if folder.exists() else set()
    gone, extra = len(told - there), len(there - told)
    if gone:
        return Finding("photos", "wrong", f"{gone} of {len(told)} are gone from the folder", BACKUP)
    if extra:
        return Finding("photos", "watch", f"{extra} belong to nothing", "The next start deletes them.")
    return Finding("photos", "ok", f"{len(told)}, each in its place")


def _columns(engine: Engine) -> set[str]:
    tables = inspect(engine)
    return {one["name"] for one in tables.get_columns("photos")} if tables.has_table("photos") else set()


def newest(settings: Settings) -> datetime | None:
    """When the last photo or inspection was kept."""
    with _read_only(settings) as engine:
        if engine is None or "sha256" not in _columns(engine):
            return None
        with engine.connect() as connection:
            times = [
                connection.scalar(select(func.max(column))) for column in (PhotoRow.created, CaseRow.created)
            ]
    return max((one.replace(tzinfo=UTC) for one in times if one is not None), default=None)

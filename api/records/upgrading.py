"""Brings a database to the tables of today: a fresh one at once, an older one step by step."""

from pathlib import Path

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    inspect,
    text,
)

from api.errors import InputError
from api.language.speech import N_
from api.records.database import hold_photo_files, is_file, note_wipe
from api.records.photo_files import PhotoFiles
from api.records.tables import Base

STEPS = ("0001", "0002")
"""The steps in `migrations/versions`, oldest first; the last one leads to the tables of today."""
UNMARKED = STEPS[0]
"""What a database is that has tables and tells no version: the first ones were made so."""
_MARK = Table(
    "alembic_version",
    MetaData(),
    Column("version_num", String(32), nullable=False),
    PrimaryKeyConstraint("version_num", name="alembic_version_pkc"),
)
NEWER = N_(
    "The data was kept by a newer Doughsight (version {version} of its tables, and this one knows {known}): "
    "install the newer one again, or restore an older backup."
)
FOREIGN = N_("The database holds tables that are not Doughsight's: name an empty one.")
PICTURES_ALONE = N_(
    "There are photos in the data folder, but the database that belongs to them is not: put it back, "
    "or delete the photos folder."
)
BROKEN = N_("The data of the older Doughsight does not hold together ({what}): restore a backup of it.")


def upgrade(engine: Engine, files: PhotoFiles) -> None:
    """All of it or nothing: interrupted, the old state is left.

    Raises InputError if the database is newer than this code or belongs to somebody else.
    """
    with engine.connect() as connection:
        if is_file(engine):
            # A table that is made anew takes nothing with it then; said before the transaction begins.
            connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
        connection.detach()  # and nobody else is to get this connection
        with connection.begin():
            hold_photo_files(connection)
            version = _version(connection)
            if version is None:
                _start(connection, files)
            elif version not in STEPS:
                raise InputError(NEWER, version=version, known=STEPS[-1])
            elif version != STEPS[-1]:
                _step(connection, files)


def _version(connection: Connection) -> str | None:
    """Which step has been taken; None: the database is empty."""
    there = inspect(connection)
    names = set(there.get_table_names())
    if _MARK.name in names:
        return str(connection.execute(_MARK.select()).scalar_one())
    if not names:
        return None
    if "photos" in names and "jpeg" in {column["name"] for column in there.get_columns("photos")}:
        _mark(connection, UNMARKED)
        return UNMARKED
    raise InputError(FOREIGN)


def _start(connection: Connection, files: PhotoFiles) -> None:
    """The tables of today, without the way there."""
    if files.names():
        raise InputError(PICTURES_ALONE)
    Base.metadata.create_all(connection)
    _mark(connection, STEPS[-1])


def _mark(connection: Connection, version: str) -> None:
    _MARK.create(connection)
    connection.execute(_MARK.insert().values(version_num=version))


def _step(connection: Connection, files: PhotoFiles) -> None:
    # Here and not at the top: most starts need no step, and are quicker without.
    from alembic import command
    from alembic.config import Config

    config = Config()
    folder = Path(__file__).parent / "migrations"
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.attributes |= {"connection": connection, "keep_picture": files.keep}
    command.upgrade(config, "head")
    if connection.dialect.name == "sqlite":
        lost = connection.execute(text("PRAGMA foreign_key_check")).first()
        if lost is not None:
            raise InputError(BROKEN, what=str(lost[0]))
    note_wipe(connection)

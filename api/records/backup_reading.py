"""What a backup must be before a byte of it is used: ours, whole, and nothing beside."""

import hashlib
import json
import re
import shutil
import sqlite3
import zipfile
import zlib
from contextlib import closing
from pathlib import Path

from api.errors import InputError
from api.language.speech import N_
from api.records.database import FILE
from api.records.tables import Base
from api.records.upgrading import NEWER, STEPS

MANIFEST = "backup.json"
FORM = "doughsight-backup/1"
MOST_MANIFEST_BYTES = 10_000
FOREIGN = N_("{file} is no backup of Doughsight: it holds {name}, which none does. Choose another file.")
NO_BACKUP = N_("{file} is no backup of Doughsight: choose another file.")
DAMAGED = N_("The backup {file} is damaged ({what}): choose an older one.")
NO_ROOM = N_("The backup {file} needs {need_MB} MB, and there is room for {free_MB} MB: make room first.")
_PICTURE = re.compile(r"photos/([0-9a-f]{64})\.jpg")


def picture_name(name: str) -> str:
    """How the picture of this name is called in a backup."""
    return f"photos/{name}.jpg"


def checked(archive: zipfile.ZipFile, file: Path, tables: Path) -> list[str]:
    """The names of its pictures; its tables are written to the file `tables`.

    `file` is how the backup is called in errors. Raises InputError unless all of it is as it was written.
    """
    try:
        names = _names(archive, file)
        _check_room(archive, file, tables.parent)
        told = _told(archive, file)
        if _extract(archive, tables) != told.get("sha256"):
            raise InputError(DAMAGED, file=file, what=FILE)
        if _check_tables(tables, file) != set(names):
            raise InputError(DAMAGED, file=file, what="photos")
        for name in names:
            if hashlib.sha256(archive.read(picture_name(name))).hexdigest() != name:
                raise InputError(DAMAGED, file=file, what=picture_name(name))
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        # RuntimeError: encrypted; NotImplementedError: packed in a way that we never do.
        raise InputError(DAMAGED, file=file, what="zip") from error
    except sqlite3.DatabaseError as error:
        raise InputError(DAMAGED, file=file, what=FILE) from error
    return names


def _names(archive: zipfile.ZipFile, file: Path) -> list[str]:
    """Nothing is written under a name from the archive: each must be one of ours, and stand there once."""
    there = [entry.filename for entry in archive.infolist()]
    pictures = [found[1] for name in there if (found := _PICTURE.fullmatch(name))]
    strange = [name for name in there if name not in (MANIFEST, FILE) and not _PICTURE.fullmatch(name)]
    if strange:
        raise InputError(FOREIGN, file=file, name=repr(strange[0][:80]))
    if len(set(there)) != len(there) or len(there) != len(pictures) + 2:
        raise InputError(NO_BACKUP, file=file)
    return pictures


def _check_room(archive: zipfile.ZipFile, file: Path, folder: Path) -> None:
    need, free = sum(entry.file_size for entry in archive.infolist()), shutil.disk_usage(folder).free
    if need > free:
        raise InputError(NO_ROOM, file=file, need_MB=need // 1_000_000, free_MB=free // 1_000_000)


def _told(archive: zipfile.ZipFile, file: Path) -> dict[str, object]:
    with archive.open(MANIFEST) as entry:
        text = entry.read(MOST_MANIFEST_BYTES)
    try:
        told = json.loads(text)
    except ValueError as error:
        raise InputError(DAMAGED, file=file, what=MANIFEST) from error
    if not isinstance(told, dict) or told.get("form") != FORM:
        raise InputError(NO_BACKUP, file=file)
    if told.get("tables") not in STEPS:
        raise InputError(NEWER, version=str(told.get("tables"))[:20], known=STEPS[-1])
    return told


def _extract(archive: zipfile.ZipFile, tables: Path) -> str:
    """Write the tables; SHA-256 of them."""
    digest = hashlib.sha256()
    tables.unlink(missing_ok=True)
    with archive.open(FILE) as entry, tables.open("xb") as out:
        tables.chmod(0o600)
        while piece := entry.read(1_000_000):
            digest.update(piece)
            out.write(piece)
    return digest.hexdigest()


def _check_tables(tables: Path, file: Path) -> set[str]:
    """Whether these are our tables and hold together; the pictures that they name."""
    with closing(sqlite3.connect(tables)) as data:
        data.execute("PRAGMA trusted_schema = OFF")
        kinds = data.execute("SELECT type, tbl_name FROM sqlite_master").fetchall()
        ours = {*Base.metadata.tables, "alembic_version"}
        if any(kind not in ("table", "index") or table not in ours for kind, table in kinds):
            raise InputError(NO_BACKUP, file=file)
        sound = data.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        if not sound or data.execute("PRAGMA foreign_key_check").fetchone() is not None:
            raise InputError(DAMAGED, file=file, what=FILE)
        return {str(row[0]) for row in data.execute("SELECT sha256 FROM photos")}

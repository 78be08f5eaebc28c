"""A backup of a data folder as one file: the tables at one moment, and the pictures that they name.

Not a public format: only `restore` reads it. `api/archive.py` writes what other installations read.
"""

import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from api.errors import InputError
from api.language.speech import N_
from api.records.backup_reading import FORM, MANIFEST, checked, picture_name
from api.records.database import FILE
from api.records.photo_files import PhotoFiles, settle
from api.records.records import Records
from api.records.upgrading import STEPS

HALF = f"{FILE}.half"
ASIDE, LOCK = ".doughsight-backup-", "lock.db"
"""Where a backup is made, beside its target; the lock is held by the process that makes it."""
NOTHING = N_("There is nothing to back up: {folder} holds no {file}.")
INSIDE = N_("{to} is in the data folder: put the backup somewhere else, best on another disk.")
THERE = N_("{to} is there already: give the backup another name.")
NO_ZIP = N_("{to} is neither a folder nor a name that ends in .zip: give one of the two.")
UNWRITABLE = N_("{to} cannot be written ({why}): give another name, or make room.")
IN_USE = N_("Doughsight is running on {folder}: stop it, then restore.")
NOT_EMPTY = N_("{folder} holds photos and cases already: add --replace to lose them for those of the backup.")


@dataclass(frozen=True)
class Backup:
    """What was written, or put back."""

    file: Path
    photos: int
    lost: int = 0
    """Photos whose picture is missing or damaged in the data folder: they are not in the backup."""


def back_up(folder: Path, to: Path) -> Backup:
    """Write what is kept in `folder` to the file, or into the folder, `to`; a server may run meanwhile.

    The file is there whole and checked, or not at all. Raises InputError.
    """
    if not (folder / FILE).is_file():
        raise InputError(NOTHING, folder=folder, file=FILE)
    target = _target(folder, to)
    try:
        # Beside the target, because only within one disk a file is put in place at once.
        _sweep(target.parent)
        with (
            tempfile.TemporaryDirectory(dir=target.parent, prefix=ASIDE) as name,
            closing(_held(Path(name))),
        ):
            aside = Path(name)
            half = aside / "half.zip"
            photos, lost = _write(folder, aside, half)
            with zipfile.ZipFile(half) as archive:
                checked(archive, half, aside / "checked.db")
            half.replace(target)
            settle(target.parent)
    except OSError as error:
        raise InputError(UNWRITABLE, to=target, why=error.strerror) from error
    return Backup(target, photos, lost)


def restore(file: Path, folder: Path, *, replace: bool = False) -> Backup:
    """Put the content of a backup into an empty data folder, or with `replace` in place of what is there.

    Everything is checked before anything is touched; then pictures come first, and the tables last and at
    once. Phones have to join anew: one that was put out after the backup does not come back.
    Raises InputError.
    """
    if not replace and ((folder / FILE).exists() or any(folder.glob("photos/*/*"))):
        raise InputError(NOT_EMPTY, folder=folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        half = folder / HALF
        try:
            with zipfile.ZipFile(file) as archive:
                names = checked(archive, file, half)
                _claim(folder)
                files = PhotoFiles(folder / "photos")
                for name in names:
                    files.keep(archive.read(picture_name(name)))
            _put_in_place(half, folder)
        finally:
            half.unlink(missing_ok=True)
    except zipfile.BadZipFile as error:
        raise InputError("{file} is no backup of Doughsight: choose another file.", file=file) from error
    except FileNotFoundError as error:
        raise InputError("There is no backup {file}: check the name.", file=file) from error
    except OSError as error:
        raise InputError(UNWRITABLE, to=folder, why=error.strerror) from error
    Records(folder).close()  # brings older tables to today's, and sweeps away what was there before
    return Backup(file, len(names))


def _held(aside: Path) -> sqlite3.Connection:
    """The lock of a folder in which a backup is being made, held until it is closed or the process ends."""
    lock = sqlite3.connect(aside / LOCK, timeout=0, isolation_level=None)
    try:
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.Error:
        lock.close()
        raise
    return lock


def _sweep(beside: Path) -> None:
    """Delete what backups have left there whose process was killed: they hold photos of children."""
    for aside in beside.glob(f"{ASIDE}*"):
        if aside.is_symlink() or not (aside / LOCK).is_file():
            continue
        with suppress(sqlite3.Error):  # one that is held is being made
            _held(aside).close()
            shutil.rmtree(aside, ignore_errors=True)


def _target(folder: Path, to: Path) -> Path:
    target = to / f"doughsight-{datetime.now():%Y-%m-%d-%H%M}.zip" if to.is_dir() else to
    if target.suffix.lower() != ".zip":
        raise InputError(NO_ZIP, to=to)
    if target.resolve().is_relative_to(folder.resolve()):
        raise InputError(INSIDE, to=to)
    if target.exists():
        raise InputError(THERE, to=target)
    return target


def _write(folder: Path, aside: Path, half: Path) -> tuple[int, int]:
    """The zip, on the disk; how many photos are in it, and how many could not be."""
    with closing(sqlite3.connect(folder / FILE)) as source, closing(sqlite3.connect(aside / FILE)) as copy:
        source.backup(copy)
    # The copy is opened as a data folder of its own: it upgrades itself, and it can forget photos.
    live, own = PhotoFiles(folder / "photos"), PhotoFiles(aside / "photos")
    with half.open("xb") as out:
        half.chmod(0o600)
        with zipfile.ZipFile(out, "w") as archive:
            gone: list[str] = []
            with closing(Records(aside)) as records:
                for name, photos in records.pictures().items():
                    jpeg = live.read(name) or own.read(name)
                    if jpeg is None or hashlib.sha256(jpeg).hexdigest() != name:
                        gone += photos
                    else:
                        archive.writestr(picture_name(name), jpeg)
                for photo in gone:
                    records.delete_photo(photo)
                count = len(records.pictures())
            tables = _one_file(aside / FILE)
            archive.writestr(FILE, tables, zipfile.ZIP_DEFLATED)
            archive.writestr(MANIFEST, _manifest(tables, count))
        out.flush()
        os.fsync(out.fileno())
    return count, _still_there(folder, gone)


def _one_file(tables: Path) -> bytes:
    """The tables as a file that needs no log beside it."""
    with closing(sqlite3.connect(tables)) as data:
        data.execute("PRAGMA journal_mode = DELETE")
    return tables.read_bytes()


def _manifest(tables: bytes, count: int) -> str:
    told = {
        "form": FORM,
        "made": f"{datetime.now():%Y-%m-%d %H:%M}",
        "tables": STEPS[-1],
        "sha256": hashlib.sha256(tables).hexdigest(),
        "pictures": count,
    }
    return json.dumps(told)


def _still_there(folder: Path, photos: list[str]) -> int:
    """How many of these are kept: the others were deleted while the backup was being written."""
    with closing(sqlite3.connect(folder / FILE)) as data:
        found = (data.execute("SELECT 1 FROM photos WHERE id = ?", (one,)).fetchone() for one in photos)
        return sum(row is not None for row in found)


def _claim(folder: Path) -> None:
    """Write the log of the old database into its file, which needs that nobody else has it open."""
    file = folder / FILE
    if not file.exists():
        return
    with closing(sqlite3.connect(file, timeout=0)) as old:
        try:
            old.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.OperationalError as error:
            raise InputError(IN_USE, folder=folder) from error
        except sqlite3.DatabaseError:
            pass  # a damaged one is what backups are for


def _put_in_place(half: Path, folder: Path) -> None:
    with closing(sqlite3.connect(half)) as data, data, suppress(sqlite3.OperationalError):
        for table in ("joins", "devices"):
            data.execute(f"UPDATE {table} SET revoked = 1")
    for ending in ("-wal", "-shm", "-journal"):
        (folder / f"{FILE}{ending}").unlink(missing_ok=True)
    with half.open("rb") as written:
        os.fsync(written.fileno())
    half.replace(folder / FILE)
    settle(folder)

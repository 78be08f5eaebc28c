"""A backup is whole or not there; what is not one is refused in one sentence before anything is touched."""

import hashlib
import io
import json
import sqlite3
import subprocess
import sys
import threading
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path
from random import Random

import pytest
from typer.testing import CliRunner

from api.backup_commands import backup as backup_command
from api.commands import app
from api.errors import InputError
from api.records import Place, Records
from api.records.backup import ASIDE, LOCK, _held, back_up, restore
from api.records.database import FILE
from api.records.photo_files import PhotoFiles
from api.workshop_schemas import WorkshopEntry

ENTRY = WorkshopEntry(name="Tuesday club", day=date(2026, 11, 24))


def picture(seed: int) -> bytes:
    return b"\xff\xd8" + Random(seed).randbytes(5000)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A data folder with a workshop, a sculpture, a way in and three photos, two of them the same."""
    with closing(Records(tmp_path / "data")) as records:
        workshop = records.workshops.add(ENTRY).id
        one = records.sculptures.at_bench(workshop, "7")
        join = records.joins.add(workshop, "helper", 3)
        records.joins.enter(join, "helper 1")
        for seed in (1, 2, 2):
            records.add_photo(picture(seed), 40, 30, place=Place(workshop, one.id))
    return tmp_path / "data"


def rows(folder: Path, but: tuple[str, ...] = ()) -> dict[str, list[tuple[object, ...]]]:
    """All that the tables hold."""
    with closing(sqlite3.connect(folder / FILE)) as data:
        names = [row[0] for row in data.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: sorted(data.execute(f"SELECT * FROM {name}")) for name in names if name not in but}


def pictures(folder: Path) -> set[str]:
    return {file.stem for file in folder.glob("photos/*/*") if file.is_file()}


def test_what_was_backed_up_comes_back(folder: Path, tmp_path: Path) -> None:
    made = back_up(folder, tmp_path / "kept.zip")
    assert (made.file, made.photos, made.lost) == (tmp_path / "kept.zip", 2, 0)
    assert made.file.stat().st_mode & 0o777 == 0o600
    assert {file.name for file in tmp_path.iterdir()} == {"data", "kept.zip"}
    other = tmp_path / "new"
    assert restore(made.file, other).photos == 2
    phones = ("joins", "devices")
    assert rows(other, but=phones) == rows(folder, but=phones)
    assert pictures(other) == pictures(folder)
    with closing(sqlite3.connect(other / FILE)) as data:  # phones have to join anew
        assert [data.execute(f"SELECT DISTINCT revoked FROM {name}").fetchall() for name in phones] == [
            [(1,)]
        ] * 2


def test_a_backup_into_a_folder_has_the_time_in_its_name(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "stick").mkdir()
    made = back_up(folder, tmp_path / "stick")
    assert made.file.parent == tmp_path / "stick"
    assert made.file.name.startswith("doughsight-20")


def test_a_backup_while_others_write_and_delete_holds_together(folder: Path, tmp_path: Path) -> None:
    stop = threading.Event()

    def write() -> None:
        with closing(Records(folder)) as records:
            for seed in range(10, 100_000):
                photo = records.add_photo(picture(seed), 4, 3)
                if seed % 2:
                    records.delete_photo(photo.id)
                if stop.is_set():
                    return

    writer = threading.Thread(target=write)
    writer.start()
    try:
        made = [back_up(folder, tmp_path / f"{n}.zip") for n in range(3)]
    finally:
        stop.set()
        writer.join()
    for n, one in enumerate(made):
        assert one.lost == 0
        other = tmp_path / f"new{n}"
        restore(one.file, other)
        assert pictures(other) == {row[0] for row in _names(other)}
        assert len(pictures(other)) == one.photos >= 2


def _names(folder: Path) -> list[tuple[str]]:
    with closing(sqlite3.connect(folder / FILE)) as data:
        return data.execute("SELECT DISTINCT sha256 FROM photos").fetchall()


def test_a_photo_deleted_while_the_backup_is_written_is_no_error(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = PhotoFiles.read

    def read_late(self: PhotoFiles, name: str) -> bytes | None:
        with closing(Records(folder)) as records:
            for photo in records.pictures().get(hashlib.sha256(picture(1)).hexdigest(), []):
                records.delete_photo(photo)
        return read(self, name)

    monkeypatch.setattr(PhotoFiles, "read", read_late)
    made = back_up(folder, tmp_path / "kept.zip")
    assert (made.photos, made.lost) == (1, 0)
    assert picture(1)[50:90] not in made.file.read_bytes()


def test_missing_and_damaged_pictures_are_told(folder: Path, tmp_path: Path) -> None:
    files = PhotoFiles(folder / "photos")
    files.drop(hashlib.sha256(picture(1)).hexdigest())
    files.file(hashlib.sha256(picture(2)).hexdigest()).write_bytes(b"damaged")
    made = back_up(folder, tmp_path / "kept.zip")
    assert (made.photos, made.lost) == (0, 3)


@pytest.mark.parametrize(
    ("to", "says"),
    [
        ("data/kept.zip", "is in the data folder"),
        ("kept.tar", "neither a folder nor a name that ends in .zip"),
        ("there.zip", "is there already"),
        ("nowhere/kept.zip", "cannot be written"),
    ],
)
def test_where_no_backup_can_go(folder: Path, tmp_path: Path, to: str, says: str) -> None:
    (tmp_path / "there.zip").write_bytes(b"another one")
    with pytest.raises(InputError, match=says):
        back_up(folder, tmp_path / to)
    assert (tmp_path / "there.zip").read_bytes() == b"another one"


def test_nothing_to_back_up(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nothing to back up: .* holds no doughsight.db"):
        back_up(tmp_path, tmp_path / "kept.zip")


def test_what_is_kept_is_replaced_only_if_asked(folder: Path, tmp_path: Path) -> None:
    made = back_up(folder, tmp_path / "kept.zip")
    before = rows(folder, but=("joins", "devices"))
    with closing(Records(folder)) as records:
        records.add_photo(picture(9), 4, 3)
    with pytest.raises(InputError, match="add --replace"):
        restore(made.file, folder)
    assert len(pictures(folder)) == 3
    restore(made.file, folder, replace=True)
    assert rows(folder, but=("joins", "devices")) == before
    assert len(pictures(folder)) == 2
    assert not list(folder.glob("*.half"))


def test_a_damaged_database_is_replaced(folder: Path, tmp_path: Path) -> None:
    made = back_up(folder, tmp_path / "kept.zip")
    (folder / FILE).write_bytes(b"damaged" * 1000)
    restore(made.file, folder, replace=True)
    assert len(rows(folder)["photos"]) == 3


def test_nothing_is_restored_under_a_running_server(folder: Path, tmp_path: Path) -> None:
    made = back_up(folder, tmp_path / "kept.zip")
    with closing(Records(folder)) as records:
        new = records.add_photo(picture(9), 4, 3)
        with pytest.raises(InputError, match=r"is running on .*: stop it"):
            restore(made.file, folder, replace=True)
        assert records.photo(new.id) == new


def test_a_restore_that_fails_leaves_what_was_there(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = back_up(folder, tmp_path / "kept.zip")
    with closing(Records(folder)) as records:
        new = records.add_photo(picture(9), 4, 3)

    def full(*_told: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch, pytest.raises(InputError, match="No space left on device"):
        patch.setattr(PhotoFiles, "keep", full)
        restore(made.file, folder, replace=True)
    with closing(Records(folder)) as records:
        assert records.photo(new.id) == new
    assert not list(folder.glob("*.half"))


Change = Callable[[dict[str, bytes]], object]
NAME = f"photos/{hashlib.sha256(picture(1)).hexdigest()}.jpg"


def _foreign_tables(parts: dict[str, bytes]) -> None:
    """Tables that are not ours, with all sums right."""
    with closing(sqlite3.connect(":memory:")) as data:
        data.execute("CREATE TABLE recipes (flour REAL)")
        data.commit()
        _retell(parts, data.serialize())


def _with_trigger(parts: dict[str, bytes]) -> None:
    with closing(sqlite3.connect(":memory:")) as data:
        data.deserialize(parts[FILE])
        data.execute("CREATE TRIGGER t AFTER INSERT ON photos BEGIN DELETE FROM cases; END")
        data.commit()
        _retell(parts, data.serialize())


def _with_loose_rows(parts: dict[str, bytes]) -> None:
    with closing(sqlite3.connect(":memory:")) as data:
        data.deserialize(parts[FILE])
        data.execute("DELETE FROM workshops")
        data.commit()
        _retell(parts, data.serialize())


def _retell(parts: dict[str, bytes], tables: bytes) -> None:
    told = json.loads(parts["backup.json"]) | {"sha256": hashlib.sha256(tables).hexdigest()}
    parts.update({FILE: tables, "backup.json": json.dumps(told).encode()})


def _newer(parts: dict[str, bytes]) -> None:
    parts["backup.json"] = json.dumps(json.loads(parts["backup.json"]) | {"tables": "0099"}).encode()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda parts: parts.update({"../../evil.jpg": b"x"}), "holds '../../evil.jpg', which none does"),
        (lambda parts: parts.update({"/etc/evil": b"x"}), "holds '/etc/evil'"),
        (lambda parts: parts.update({"photos/../evil.jpg": b"x"}), "holds 'photos/../evil.jpg'"),
        (lambda parts: parts.update({f"{NAME}/../../evil": b"x"}), "which none does"),
        (lambda parts: parts.pop(NAME), "damaged .photos."),
        (lambda parts: parts.update({NAME: b"another picture"}), "damaged .photos/"),
        (lambda parts: parts.update({FILE: parts[FILE][:-1]}), "damaged .doughsight.db."),
        (lambda parts: parts.pop(FILE), "no backup"),
        (lambda parts: parts.pop("backup.json"), "no backup"),
        (lambda parts: parts.update({"backup.json": b"{"}), "damaged .backup.json."),
        (lambda parts: parts.update({"backup.json": b"[]"}), "no backup"),
        (_newer, "newer Doughsight .version 0099"),
        (_foreign_tables, "no backup"),
        (_with_trigger, "no backup"),
        (_with_loose_rows, "damaged .doughsight.db."),
        (lambda parts: _retell(parts, b"no tables" * 999), "damaged .doughsight.db."),
    ],
)  # fmt: skip
def test_what_is_no_sound_backup_is_refused(folder: Path, tmp_path: Path, change: Change, says: str) -> None:
    made, bad, other = back_up(folder, tmp_path / "kept.zip").file, tmp_path / "bad.zip", tmp_path / "a" / "b"
    with zipfile.ZipFile(made) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    change(parts)
    with zipfile.ZipFile(bad, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    with pytest.raises(InputError, match=says):
        restore(bad, other)
    assert list(other.iterdir()) == []
    assert not list(tmp_path.rglob("*evil*"))


def test_files_with_any_bytes_changed_or_cut_off_are_refused(folder: Path, tmp_path: Path) -> None:
    whole = back_up(folder, tmp_path / "kept.zip").file.read_bytes()
    bad, other, random = tmp_path / "bad.zip", tmp_path / "new", Random(5)
    refused = 0
    for _ in range(40):
        data = bytearray(whole)
        if random.random() < 0.3:
            del data[random.randrange(len(data)) :]
        else:
            at = random.randrange(len(data))
            data[at : at + 20] = random.randbytes(20)
        bad.write_bytes(data)
        try:
            restore(bad, other)
        except InputError:
            refused += 1
            assert list(other.iterdir()) == []
        else:  # only where it says nothing, as in a time stamp
            assert pictures(other) == pictures(folder)
            restore(bad, other, replace=True)
            other = tmp_path / f"new{refused}"
    assert refused > 30


def test_what_is_no_zip_or_not_there_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letter.zip").write_bytes(b"Dear all, " * 50)
    with pytest.raises(InputError, match=r"letter.zip is no backup of Doughsight"):
        restore(tmp_path / "letter.zip", tmp_path / "new")
    with pytest.raises(InputError, match=r"There is no backup .*none.zip"):
        restore(tmp_path / "none.zip", tmp_path / "new")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("letter.txt", "Dear all")
    (tmp_path / "other.zip").write_bytes(out.getvalue())
    with pytest.raises(InputError, match=r"holds 'letter.txt', which none does"):
        restore(tmp_path / "other.zip", tmp_path / "new")


def test_both_commands(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DOUGHSIGHT_DATA_DIR", str(folder))
    call = CliRunner().invoke
    done = call(app, ["backup", str(tmp_path / "kept.zip")])
    assert (done.exit_code, "2 photos, checked" in done.stdout) == (0, True), done.output
    assert "children's work" in " ".join((backup_command.__doc__ or "").split())
    monkeypatch.setenv("DOUGHSIGHT_DATA_DIR", str(tmp_path / "new"))
    done = call(app, ["restore", str(tmp_path / "kept.zip")])
    assert (done.exit_code, "2 photos" in done.stdout) == (0, True), done.output
    done = call(app, ["restore", str(tmp_path / "kept.zip")])
    assert isinstance(done.exception, InputError)
    monkeypatch.setenv("DOUGHSIGHT_DATABASE_URL", "postgresql://dough@localhost/dough")
    done = call(app, ["backup", str(tmp_path / "more.zip")])
    assert "with the tools of PostgreSQL" in str(done.exception)


def test_what_a_killed_backup_left_goes_with_the_next_one_and_nothing_else(
    folder: Path, tmp_path: Path
) -> None:
    to = tmp_path / "disk"
    left, running, other = (to / f"{ASIDE}{name}" for name in ("left", "running", "other"))
    for aside in (left, running, other):
        aside.mkdir(parents=True)
        (aside / "half.zip").write_bytes(picture(1))
    code = (
        "import os, sys, pathlib, api.records.backup as b; "
        "lock = b._held(pathlib.Path(sys.argv[1])); os.kill(os.getpid(), 9)"
    )
    subprocess.run([sys.executable, "-c", code, str(left)], check=False, timeout=30)
    assert (left / LOCK).is_file()
    with closing(_held(running)):
        made = back_up(folder, to)
    assert set(to.iterdir()) == {running, other, made.file}

"""Who may write when: readers wait for nobody, and no writer fails half-way."""

import io
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from sqlalchemy import Engine, select, text, update
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from api.errors import InputError
from api.records import Records
from api.records.database import open_engine
from api.records.tables import PhotoRow


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    """Of a data folder with one photo."""
    with closing(Records(tmp_path)) as records:
        records.add_photo(b"jpeg", 0, 3)
    engine = open_engine(tmp_path)
    yield engine
    engine.dispose()


def test_each_connection_is_set_up_so_that_nothing_is_lost_and_nothing_stays(engine: Engine) -> None:
    wanted = {
        "journal_mode": "wal",
        "synchronous": 2,  # FULL, https://www.sqlite.org/pragma.html#pragma_synchronous
        "foreign_keys": 1,
        "secure_delete": 1,
        "temp_store": 2,  # MEMORY
        "busy_timeout": 30_000,
    }
    for _ in range(2):
        with engine.connect() as one:
            assert {name: one.execute(text(f"PRAGMA {name}")).scalar_one() for name in wanted} == wanted
        engine.dispose()


def test_many_who_read_and_then_write_lose_nothing_and_never_fail(engine: Engine) -> None:
    def count_up(_: int) -> None:
        for _ in range(10):
            with Session(engine) as session, session.begin():
                before = session.scalars(select(PhotoRow.width)).one()
                session.execute(update(PhotoRow).values(width=before + 1))

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(count_up, range(6)))
    with Session(engine) as session:
        assert session.scalars(select(PhotoRow.width)).one() == 60


def test_a_writer_that_fails_lets_the_next_one_go_on(engine: Engine) -> None:
    for _ in range(3):
        with pytest.raises(ZeroDivisionError), Session(engine) as session, session.begin():
            session.execute(update(PhotoRow).values(width=1 // 0))
        with pytest.raises(OperationalError, match="no such table"), engine.begin() as connection:
            connection.execute(text("DELETE FROM nowhere"))
    with engine.connect() as connection:  # twice over one connection
        for width in (5, 6):
            with connection.begin():
                connection.execute(update(PhotoRow).values(width=width))
    with Session(engine) as session, session.begin():
        assert session.scalars(select(PhotoRow.width)).one() == 6


def test_what_is_deleted_at_the_same_time_is_gone_for_each(tmp_path: Path) -> None:
    """Two who empty the log at the same moment: each must wait until it is empty."""
    with closing(Records(tmp_path)) as records:
        photos = [records.add_photo(b"jpeg %d" % n, 4, 3).id for n in range(24)]

        def delete(photo: str) -> bool:
            records.delete_photo(photo)
            files = [file for file in tmp_path.glob("doughsight.db*") if not file.name.endswith("-shm")]
            return any(photo.encode() in file.read_bytes() for file in files)

        with ThreadPoolExecutor(4) as pool:
            assert not any(pool.map(delete, photos))


def test_a_reader_neither_waits_for_a_writer_nor_holds_one_up(engine: Engine) -> None:
    read, written = threading.Event(), threading.Event()

    def read_slowly() -> tuple[int, int]:
        with Session(engine) as session:
            before = session.scalars(select(PhotoRow.width)).one()
            read.set()
            assert written.wait(5)
            return before, session.scalars(select(PhotoRow.width)).one()

    with ThreadPoolExecutor(1) as pool:
        found = pool.submit(read_slowly)
        assert read.wait(5)
        with Session(engine) as session, session.begin():
            session.execute(update(PhotoRow).values(width=7))
            with Session(engine) as other:
                assert other.scalars(select(PhotoRow.width)).one() == 0
        written.set()
        assert found.result(5) == (0, 0)
    with Session(engine) as session:
        assert session.scalars(select(PhotoRow.width)).one() == 7


def test_who_only_reads_cannot_write(engine: Engine) -> None:
    with Session(engine) as session, pytest.raises(OperationalError, match="readonly"):
        session.execute(update(PhotoRow).values(width=7))
    with Session(engine) as session, session.begin():
        session.execute(update(PhotoRow).values(width=8))
    with Session(engine) as session:
        assert session.scalars(select(PhotoRow.width)).one() == 8


def test_a_folder_that_cannot_be_used_is_told_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError, match=r"The data folder .*file cannot be used \(.*\): give"):
        Records(tmp_path / "file")


def test_a_database_that_somebody_else_holds_is_told_in_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.records.database.WAIT_S", 0)
    with closing(sqlite3.connect(tmp_path / "doughsight.db")) as other:
        other.execute("CREATE TABLE t (a)")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(InputError, match=r"cannot be opened \(database is locked\): stop whoever else"):
            Records(tmp_path)


def test_a_new_data_folder_is_closed_to_other_accounts(tmp_path: Path) -> None:
    Records(tmp_path / "data").close()
    assert (tmp_path / "data").stat().st_mode & 0o777 == 0o700


def _full(*_told: object) -> None:
    raise OSError(28, "No space left on device")


@pytest.mark.parametrize("where", ["picture", "tables"])
def test_a_full_disk_is_told_in_one_sentence_and_leaves_nothing(
    client: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 30, 30)).save(out, "JPEG")
    if where == "picture":
        monkeypatch.setattr("api.records.photo_files.os.fsync", _full)
    else:
        monkeypatch.setattr("api.records.records.hold_photo_files", _locked)
    answer = client.post("/photos", files={"photo": out.getvalue()})
    assert answer.status_code == 503
    assert answer.json()["error"].startswith("This could not be kept or read just now: look whether the disk")
    assert [file for file in tmp_path.glob("photos/*/*") if file.is_file()] == []
    with closing(sqlite3.connect(tmp_path / "doughsight.db")) as data:
        assert data.execute("SELECT count(*) FROM photos").fetchone() == (0,)


def _locked(*_told: object) -> None:
    raise OperationalError("INSERT", None, sqlite3.OperationalError("database or disk is full"))

"""What is deleted is gone: from the tables, from the folder, and from every byte of every file."""

import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from random import Random

import pytest
from sqlalchemy import Engine
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from api.records import Place, Records, SculptureTold
from api.records.clock import now
from api.records.database import open_engine
from api.records.photo_files import PhotoFiles
from api.records.tables import CaseRow, PhotoRow
from api.schemas import Case, PhotoOut, Report
from api.second_words import UNDERSIDE_GONE
from api.workshop_schemas import WorkshopEntry

REPORT = Report(
    photo=PhotoOut(width=9, height=9, mm_per_px=1.0, true_scale=False, labels="l.png"),
    pieces=[], contacts=[], leds=[], findings=[],
)  # fmt: skip

SEED = 1
"""With this one a copy stays behind (SQLite 3.40) if the file is not written anew."""


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with closing(Records(tmp_path)) as records:
        yield records


def picture(seed: int) -> bytes:
    return b"\xff\xd8" + Random(seed).randbytes(5000)


def case(photo: str, name: str, underside: str | None = None) -> Case:
    told: dict[str, object] = {
        "schema": "doughsight-case/1",
        "photo": photo,
        "palette": [{"name": name, "role": "conductive", "taps": [[5, 5]]}],
    }
    if underside is not None:
        told["underside"] = {"photo": underside, "palette": [{"name": name, "taps": [[5, 5]]}]}
    return Case.model_validate(told)


def everything(folder: Path) -> bytes:
    """All files of a data folder, and their names."""
    files = [file for file in folder.rglob("*") if file.is_file()]
    return b"\n".join(str(file.name).encode() + file.read_bytes() for file in files)


def pieces(data: bytes) -> list[bytes]:
    """Long enough that none is found by chance."""
    return [data[at : at + 24] for at in range(0, len(data) - 24, 500)]


@dataclass(frozen=True)
class Filled:
    """Ids, and what may not be found after all of it was deleted."""

    workshop: str
    sculpture: str
    photo: str
    case: str
    traces: list[bytes]


def fill(records: Records, tag: str, seed: int) -> Filled:
    """A workshop with a sculpture, a photo, an inspection and a call."""
    entry = WorkshopEntry(name=f"Club{tag}", day=date(2026, 11, 24), place=f"Hall{tag}")
    workshop = records.workshops.add(entry).id
    one = records.sculptures.at_bench(workshop, f"Bench{tag}")
    told = SculptureTold(
        title=f"Title{tag}", maker=f"Nick{tag}", learned=f"Learned{tag}",
        before_id=None, after_id=None, overlay=True, finished=True,
    )  # fmt: skip
    assert records.sculptures.change(one.id, one.revision, told) is not None
    photo = records.add_photo(picture(seed), 40, 30, f"Token{tag}" * 4, Place(workshop, one.id)).id
    kept = records.add_inspection(photo, case(photo, f"Dough{tag}"), REPORT).id
    records.calls.ask(workshop, one.id)
    words = [
        f"{kind}{tag}" for kind in ("Club", "Hall", "Bench", "Title", "Nick", "Learned", "Token", "Dough")
    ]
    traces = [word.encode() for word in (*words, workshop, one.id, photo, kept)]
    return Filled(workshop, one.id, photo, kept, traces + pieces(picture(seed)))


GOES = {
    "case": ("Dough",),
    "photo": ("Dough", "Token"),
    "sculpture": ("Dough", "Token", "Bench", "Title", "Nick", "Learned"),
    "workshop": ("Dough", "Token", "Bench", "Title", "Nick", "Learned", "Club", "Hall"),
}
"""What goes with each."""


@pytest.mark.parametrize("what", GOES)
def test_no_byte_of_it_is_left_in_the_folder(records: Records, tmp_path: Path, what: str) -> None:
    gone, others = fill(records, "Gone7", 1), fill(records, "Stays3", 2)
    ids = {name: getattr(gone, name).encode() for name in GOES}
    traces = [word for word in gone.traces if word.startswith(tuple(map(str.encode, GOES[what])))]
    traces += [one for name, one in ids.items() if list(GOES).index(name) <= list(GOES).index(what)]
    traces += pieces(picture(1)) if what != "case" else []
    before = everything(tmp_path)
    assert all(one in before for one in traces + others.traces)
    delete, told = {
        "case": (records.delete_inspection, gone.case),
        "photo": (records.delete_photo, gone.photo),
        "sculpture": (records.delete_sculpture, gone.sculpture),
        "workshop": (records.delete_workshop, gone.workshop),
    }[what]
    assert delete(told)
    # The records are still open: nothing waits for the end of the server.
    after = everything(tmp_path)
    assert [one for one in traces if one in after] == []
    assert all(one in after for one in others.traces)
    assert all(one in after for name, one in ids.items() if one not in traces)
    assert not delete(told)


def scatter(engine: Engine, workshops: tuple[str, str], seed: int) -> tuple[list[bytes], list[bytes]]:
    """Rows of many sizes in random order, some made longer or shorter; a word in each, by workshop."""
    random, words = Random(seed), ([], [])  # type: tuple[Random, tuple[list[bytes], list[bytes]]]
    with Session(engine) as session, session.begin():
        for n in range(200):
            photo, word = random.randbytes(16).hex(), f"Row{random.randbytes(8).hex()}"
            words[n % 2].append(word.encode())
            sizes = [random.choice([10, 100, 900, 3000, 9000]) for _ in range(2)]
            place = {"workshop_id": workshops[n % 2], "created": now(), "width": 4, "height": 3}
            session.add(PhotoRow(id=photo, sha256=photo * 2, **place))
            session.flush()
            row = CaseRow(id=word, photo_id=photo, case="{}", report="x" * sizes[0] + word, codes="[]")
            row.created = now()
            session.add(row)
            session.flush()
            if n % 2:
                row.report = word + "y" * sizes[1]
                session.flush()
    return words


@pytest.mark.parametrize("by_file", [False, True])
def test_no_byte_is_left_of_rows_that_the_database_had_moved(
    records: Records, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, by_file: bool
) -> None:
    """It moves rows between pages, and leaves copies behind that no deletion overwrites."""
    workshops = fill(records, "One", 1).workshop, fill(records, "Two", 2).workshop
    engine = open_engine(tmp_path)
    gone, kept = scatter(engine, workshops, SEED)
    engine.dispose()
    if by_file:
        monkeypatch.setattr("api.records.database.MOST_IN_MEMORY", 0)
    assert records.delete_workshop(workshops[0])
    left = everything(tmp_path)
    assert [word for word in gone if word in left] == []
    assert all(word in left for word in kept)


def test_a_case_goes_on_without_its_underside(records: Records) -> None:
    photo, below, other = (records.add_photo(picture(n), 4, 3) for n in range(3))
    kept = records.add_inspection(photo.id, case(photo.id, "rose", below.id), REPORT)
    same = records.add_inspection(other.id, case(other.id, "rose"), REPORT)
    assert records.delete_photo(below.id)
    left = records.inspection(kept.id)
    assert left is not None
    assert (left.case, left.report.photo.warnings) == (case(photo.id, "rose"), [UNDERSIDE_GONE])
    assert records.inspection(same.id) == same


def test_a_case_that_is_told_of_an_underside_later_goes_on_without_it(records: Records) -> None:
    photo, below = (records.add_photo(picture(n), 4, 3) for n in range(2))
    kept = records.add_inspection(photo.id, case(photo.id, "rose"), REPORT)
    assert records.replace_inspection(kept, case(photo.id, "rose", below.id), REPORT)
    assert records.delete_photo(below.id)
    left = records.inspection(kept.id)
    assert left is not None and left.case.underside is None


def test_a_picture_kept_twice_stays_until_the_last_is_deleted(records: Records, tmp_path: Path) -> None:
    first, second = (records.add_photo(picture(1), 4, 3) for _ in range(2))
    assert first.id != second.id
    assert len(list(tmp_path.glob("photos/*/*"))) == 1
    records.delete_photo(first.id)
    assert records.photo(second.id) == second
    records.delete_photo(second.id)
    assert list(tmp_path.glob("photos/*/*")) == []


def test_the_same_picture_added_and_deleted_at_once_is_never_lost(records: Records) -> None:
    """Each worker deletes what it added; whoever still has the picture must be able to read it."""

    def work(_: int) -> bool:
        fine = True
        for _ in range(8):
            mine = records.add_photo(picture(1), 4, 3)
            fine &= records.photo(mine.id) == mine
            fine &= records.delete_photo(mine.id)
        return fine

    with ThreadPoolExecutor(4) as pool:
        assert all(pool.map(work, range(4)))


def test_what_a_kill_leaves_is_gone_after_the_next_start(tmp_path: Path) -> None:
    with closing(Records(tmp_path)) as records:
        kept = records.add_photo(picture(1), 4, 3)
    files = PhotoFiles(tmp_path / "photos")
    files.write(picture(2))
    files.keep(picture(3))
    (tmp_path / "doughsight.db.half").write_bytes(b"half a backup")
    (tmp_path / "photos" / "note.txt").write_text("of somebody else")
    with closing(Records(tmp_path)) as records:
        assert records.photo(kept.id) == kept
    assert len([file for file in tmp_path.glob("photos/*/*") if file.is_file()]) == 1
    assert not (tmp_path / "doughsight.db.half").exists()
    assert (tmp_path / "photos" / "note.txt").exists()


def test_a_deletion_that_is_killed_before_the_file_is_rewritten_is_finished_at_the_next_start(
    records: Records, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone = fill(records, "Gone7", 1)
    monkeypatch.setattr("api.records.erasing.wipe", lambda _: None)
    records.delete_workshop(gone.workshop)
    with closing(sqlite3.connect(tmp_path / "doughsight.db")) as data:
        assert data.execute("PRAGMA user_version").fetchone() == (1,)
    Records(tmp_path).close()
    after = everything(tmp_path)
    assert [one for one in gone.traces if one in after] == []
    with closing(sqlite3.connect(tmp_path / "doughsight.db")) as data:
        assert data.execute("PRAGMA user_version").fetchone() == (0,)


def test_a_photo_without_its_picture_is_one_that_is_not_there(records: Records, tmp_path: Path) -> None:
    lost, kept = (records.add_photo(picture(n), 4, 3) for n in range(2))
    PhotoFiles(tmp_path / "photos").drop(sha256(lost.jpeg).hexdigest())
    assert (records.photo(lost.id), records.photo(kept.id)) == (None, kept)
    assert records.pictures() == {sha256(one.jpeg).hexdigest(): [one.id] for one in (lost, kept)}
    assert records.delete_photo(lost.id)


def test_what_was_remembered_of_photos_is_forgotten(records: Records) -> None:
    told: list[str] = []
    records.when_erased(told.append)
    photos = [records.add_photo(picture(n), 4, 3).id for n in range(4)]
    assert records.delete_photos([*photos[:2], "none"]) == 2
    assert records.delete_photo(photos[2])
    assert not records.delete_photo(photos[2])
    assert sorted(told) == sorted(photos[:3])


def test_a_photo_for_a_workshop_that_is_gone_leaves_no_file(records: Records, tmp_path: Path) -> None:
    with pytest.raises(IntegrityError):
        records.add_photo(picture(1), 4, 3, place=Place("nowhere"))
    assert [file for file in tmp_path.glob("photos/*/*") if file.is_file()] == []

"""Sculptures in the records: one for each bench, and no change lost."""

import threading
from collections.abc import Iterator
from contextlib import closing
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError

from api.records import KeptSculpture, Records, SculptureTold
from api.workshop_schemas import WorkshopEntry

ENTRY = WorkshopEntry(name="Tuesday club", day=date(2026, 11, 24))


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with closing(Records(tmp_path)) as records:
        yield records


@pytest.fixture
def workshop(records: Records) -> str:
    return records.workshops.add(ENTRY).id


def told(one: KeptSculpture, **new: object) -> SculptureTold:
    names = [field.name for field in fields(SculptureTold) if field.name != "finished"]
    before = SculptureTold(**{name: getattr(one, name) for name in names}, finished=one.finished is not None)
    return replace(before, **new)  # type: ignore[arg-type]


def test_a_bench_has_one_sculpture(records: Records, workshop: str) -> None:
    first = records.sculptures.at_bench(workshop, "  Owl ")
    assert (first.bench, first.title, first.finished, first.revision) == ("Owl", "", None, 1)
    for same in ("owl", "OWL", "o\uff57l"):  # the last one with a wide w
        assert records.sculptures.at_bench(workshop, same).id == first.id
    other = records.workshops.add(ENTRY).id
    assert records.sculptures.at_bench(other, "Owl").id != first.id
    assert records.sculptures.get(first.id) == first


def test_many_at_once_get_the_same_sculpture(records: Records, workshop: str) -> None:
    together, found = threading.Barrier(6), set()

    def ask() -> None:
        together.wait()
        found.add(records.sculptures.at_bench(workshop, "7").id)

    threads = [threading.Thread(target=ask) for _ in range(6)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(found) == 1
    assert len(records.sculptures.of_workshop(workshop)) == 1


def test_benches_are_in_the_order_of_their_numbers(records: Records, workshop: str) -> None:
    for bench in ("10", "moth", "9", "Bee"):
        records.sculptures.at_bench(workshop, bench)
    assert [one.bench for one in records.sculptures.of_workshop(workshop)] == ["9", "10", "Bee", "moth"]


def test_of_two_changes_after_the_same_revision_one_is_kept(records: Records, workshop: str) -> None:
    one = records.sculptures.at_bench(workshop, "7")
    beetle = records.sculptures.change(one.id, 1, told(one, title="Beetle"))
    assert beetle is not None and (beetle.title, beetle.revision) == ("Beetle", 2)
    assert records.sculptures.change(one.id, 1, told(one, title="Whale")) is None
    assert records.sculptures.get(one.id) == beetle


def test_what_is_finished_keeps_its_time(records: Records, workshop: str) -> None:
    one = records.sculptures.at_bench(workshop, "7")
    done = records.sculptures.change(one.id, 1, told(one, finished=True))
    assert done is not None and done.finished is not None and done.finished >= one.started
    named = records.sculptures.change(one.id, 2, told(done, title="Beetle"))
    assert named is not None and (named.finished, named.title) == (done.finished, "Beetle")
    opened = records.sculptures.change(one.id, 3, told(named, finished=False))
    assert opened is not None and opened.finished is None


def test_no_sculpture_without_a_workshop(records: Records) -> None:
    with pytest.raises(IntegrityError):
        records.sculptures.at_bench("nowhere", "7")

"""What is kept no longer than it was said, tried with a clock that is moved on."""

import asyncio
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from api.live import Live
from api.records import Place, Records
from api.retention import Swept, deleted_on, sweep, sweeping
from api.workshop_schemas import WorkshopEntry

TODAY = datetime.now(UTC).date()
NOON = datetime.combine(TODAY, datetime.min.time(), UTC) + timedelta(hours=12)


def entry(day: date = TODAY, keep_days: int | None = 30) -> WorkshopEntry:
    return WorkshopEntry(name="Tuesday club", day=day, keep_days=keep_days)


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    records = Records(tmp_path)
    yield records
    records.close()


def photo(records: Records, workshop: str | None = None, name: str = "a") -> str:
    return records.add_photo(name.encode(), 4, 3, place=Place(workshop)).id


def pictures(folder: Path) -> int:
    return len(list(folder.glob("photos/??/*")))


def test_a_workshop_goes_with_its_photos_on_the_day_that_was_told(records: Records, tmp_path: Path) -> None:
    kept = records.workshops.add(entry())
    photo(records, kept.id)
    other = photo(records, None, "b")
    assert sweep(records, Live(), NOON + timedelta(days=29)) == Swept(0, 0)
    assert records.workshops.get(kept.id) is not None
    assert sweep(records, Live(), NOON + timedelta(days=30)) == Swept(1, 0)
    assert records.workshops.get(kept.id) is None
    assert pictures(tmp_path) == 1
    assert records.photo(other) is not None, "it is of no workshop, and nobody set its days"


def test_without_days_it_stays(records: Records) -> None:
    kept = records.workshops.add(entry(keep_days=None))
    assert sweep(records, Live(), NOON + timedelta(days=5000)) == Swept(0, 0)
    assert records.workshops.get(kept.id) is not None


def test_the_days_of_an_old_workshop_begin_when_it_comes_here(records: Records) -> None:
    kept = records.workshops.add(entry(day=TODAY - timedelta(days=700), keep_days=7))
    assert deleted_on(kept.entry, kept.created) == TODAY + timedelta(days=7)
    assert sweep(records, Live(), NOON) == Swept(0, 0)
    assert sweep(records, Live(), NOON + timedelta(days=7)) == Swept(1, 0)


def test_the_day_is_that_of_the_laptop(records: Records) -> None:
    """At 23:30 in Greenwich it is tomorrow already further east."""
    records.workshops.add(entry(keep_days=1))
    late = datetime.combine(TODAY, datetime.min.time(), UTC) + timedelta(hours=23, minutes=30)
    assert sweep(records, Live(), late) == Swept(0, 0)
    assert sweep(records, Live(), late.astimezone(timezone(timedelta(hours=9)))) == Swept(1, 0)


def test_photos_of_no_workshop_go_after_their_days(records: Records, tmp_path: Path) -> None:
    kept = records.workshops.add(entry(keep_days=None))
    photo(records, kept.id, "of a workshop")
    photo(records, None, "of none")
    assert sweep(records, Live(), NOON + timedelta(days=400)) == Swept(0, 0), "nobody set days"
    assert sweep(records, Live(), NOON + timedelta(days=6), photo_days=8) == Swept(0, 0)
    assert sweep(records, Live(), NOON + timedelta(days=10), photo_days=8) == Swept(0, 1)
    assert pictures(tmp_path) == 1


def test_phones_of_a_workshop_that_goes_are_told(records: Records) -> None:
    live = Live()
    kept = records.workshops.add(entry())
    sweep(records, live, NOON + timedelta(days=31))
    assert live.count(kept.id) == 1


def test_it_is_done_at_the_start_and_again_and_ends_with_the_app(records: Records) -> None:
    """The clock is moved on between two looks."""
    days = iter((0, 30, 30))
    asked = []

    def clock() -> datetime:
        asked.append(next(days, 30))
        return NOON + timedelta(days=asked[-1])

    async def run() -> None:
        records.workshops.add(entry())
        async with sweeping(records, Live(), None, clock, every_s=0.01):
            async with asyncio.timeout(10):
                while records.workshops.all():
                    await asyncio.sleep(0.01)
        count = len(asked)
        await asyncio.sleep(0.05)
        assert len(asked) == count, "nothing is looked at after the end"

    asyncio.run(run())
    assert asked[:2] == [0, 30]


def test_a_sweep_that_fails_is_not_the_last_one(
    records: Records, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    records.workshops.add(entry())
    tries = []
    right = Records.delete_workshop

    def fails_once(self: Records, workshop_id: str) -> bool:
        tries.append(workshop_id)
        if len(tries) == 1:
            raise OSError("busy")
        return right(self, workshop_id)

    monkeypatch.setattr(Records, "delete_workshop", fails_once)

    async def run() -> None:
        async with sweeping(records, Live(), None, lambda: NOON + timedelta(days=99), every_s=0.01):
            async with asyncio.timeout(10):
                while records.workshops.all():
                    await asyncio.sleep(0.01)

    asyncio.run(run())
    assert "what is over could not be deleted" in caplog.text
    assert "Tuesday club" not in caplog.text

"""Ways in as they are kept: codes that never collide, reckoned from a key; devices, many at once."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError

from api.records import Records, joins
from api.records.joins import Joins
from api.records.secret_key import NAME, secret_key
from api.who import OWNER, STRANGER
from api.workshop_schemas import WorkshopEntry


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    records = Records(tmp_path)
    yield records
    records.close()


@pytest.fixture
def workshop(records: Records) -> str:
    return records.workshops.add(WorkshopEntry(name="Tuesday club", day=date(2026, 11, 24))).id


def test_codes_of_open_ways_in_never_collide(
    records: Records, workshop: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(joins, "DIGITS", 1)  # ten codes only, so that luck does not do it
    ways = [records.joins.add(workshop, "helper", 1) for _ in range(10)]
    codes = {records.joins.code(one.id) for one in ways}
    assert codes == set("0123456789")
    for one in ways:
        found = records.joins.by_code(records.joins.code(one.id))
        assert found is not None
        assert found.id == one.id
    records.joins.revoke(ways[3].id)
    assert records.joins.by_code(records.joins.code(ways[3].id)) is None
    again = records.joins.add(workshop, "bench", 1)
    assert records.joins.code(again.id) == records.joins.code(ways[3].id)


def test_codes_and_links_come_from_the_key_and_stay(records: Records, workshop: str) -> None:
    way = records.joins.add(workshop, "helper", 1)
    engine = records.joins._engine
    same, other = Joins(engine, records.key), Joins(engine, b"another key")
    assert (same.code(way.id), same.token(way.id)) == (
        records.joins.code(way.id),
        records.joins.token(way.id),
    )
    assert other.token(way.id) != same.token(way.id)
    assert len(same.code(way.id)) == 6
    assert len(same.token(way.id)) == 22  # 128 bits in base 64, RFC 4648
    assert other.by_token(same.token(way.id)) is None
    assert same.by_token("") is None
    assert same.by_code("") is None


def test_a_way_in_needs_a_workshop(records: Records) -> None:
    with pytest.raises(IntegrityError):
        records.joins.add("nowhere", "helper", 1)


def test_all_who_come_at_once_get_a_number_of_their_own(records: Records, workshop: str) -> None:
    way = records.joins.add(workshop, "helper", 1)
    with ThreadPoolExecutor(8) as pool:
        came = list(pool.map(lambda _: records.joins.enter(way, "helper {n}"), range(16)))
    assert {one.name for one in came if one} == {f"helper {n}" for n in range(1, 17)}
    assert len(records.joins.devices(workshop)) == 16


def test_a_workshop_takes_so_many_devices_and_no_more(
    records: Records, workshop: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(joins, "MOST_DEVICES", 3)
    way = records.joins.add(workshop, "bench", 1)
    assert [records.joins.enter(way, "x") is not None for _ in range(4)] == [True] * 3 + [False]


def test_of_two_tablets_that_say_the_same_bench_at_once_one_is_there(records: Records, workshop: str) -> None:
    way = records.joins.add(workshop, "bench", 1)
    tablets = [one for one in (records.joins.enter(way, "tablet {n}") for _ in range(8)) if one]
    at = records.sculptures.at_bench(workshop, "3").id
    with ThreadPoolExecutor(8) as pool:
        there = list(pool.map(lambda one: records.joins.set_sculpture(one.id, at), tablets))
    assert sorted(there) == [False] * 7 + [True]


def test_who_is_still_in(records: Records, workshop: str) -> None:
    way = records.joins.add(workshop, "bench", 1)
    device = records.joins.enter(way, "tablet {n}")
    assert device is not None
    who = records.joins.who(device.id)
    assert who is not None
    assert (who.role, who.workshop, who.device, who.name) == ("bench", workshop, device.id, "tablet 1")
    assert records.joins.still_in(who)
    assert records.joins.still_in(OWNER)
    assert not records.joins.still_in(STRANGER)
    records.joins.revoke_device(workshop, device.id)
    assert not records.joins.still_in(who)


def test_a_device_is_put_out_of_its_own_workshop_only(records: Records, workshop: str) -> None:
    device = records.joins.enter(records.joins.add(workshop, "helper", 1), "x")
    assert device is not None
    assert not records.joins.revoke_device("another", device.id)
    assert records.joins.who(device.id) is not None


def test_the_key_is_made_once_and_for_one_account(tmp_path: Path) -> None:
    key = secret_key(tmp_path)
    assert len(key) == 32
    (tmp_path / NAME).chmod(0o644)  # as after a careless copy
    assert secret_key(tmp_path) == key
    assert (tmp_path / NAME).stat().st_mode & 0o777 == 0o600
    (tmp_path / NAME).write_bytes(key[:7])  # as after a full disk
    assert len(secret_key(tmp_path)) == 32
    assert [file.name for file in tmp_path.iterdir()] == [NAME]

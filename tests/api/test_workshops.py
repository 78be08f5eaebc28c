"""Workshops: made, changed by two at once, copied, ended, and read by those who may."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from askers import Club, one_sentence
from fastapi.testclient import TestClient

from api.records import Records
from api.routes.parts import parts
from api.who import Who
from api.workshop_schemas import WorkshopEntry

TODAY = date.today()


@contextmanager
def asked_by(client: TestClient, who: Who) -> Iterator[None]:
    """All requests come from this device."""
    app: Any = client.app
    app.dependency_overrides[parts] = lambda: replace(app.state.parts, who=who)
    yield
    app.dependency_overrides.clear()


def entry(**other: object) -> dict[str, object]:
    return {"name": "Tuesday club", "day": TODAY.isoformat(), **other}


@pytest.fixture
def workshop(client: TestClient) -> dict[str, Any]:
    told = entry(
        place="the green room",
        kit={"cells": 4, "leds": [{"colour": "red", "count": 30}]},
        doughs=[{"name": "pink", "role": "conductive", "rgb": [240, 155, 170]}],
        challenge={"title": "Two eyes", "rules": [{"rule": "lights-lit", "at_least": 2}]},
    )
    made = client.post("/workshops", json=told)
    assert made.status_code == 201
    return dict(made.json())


def test_what_was_told_is_read_again(client: TestClient, workshop: dict[str, Any]) -> None:
    assert client.get(f"/workshops/{workshop['id']}").json() == workshop
    assert client.get("/workshops").json() == [workshop]
    assert workshop["revision"] == 1
    assert workshop["entry"]["kit"]["leds"] == [{"colour": "red", "count": 30}]
    assert workshop["deleted_on"] == (TODAY + timedelta(days=30)).isoformat()


def test_of_two_who_change_it_the_later_is_shown_what_is_kept(
    client: TestClient, workshop: dict[str, Any]
) -> None:
    where = f"/workshops/{workshop['id']}"
    first = client.put(where, params={"after": 1}, json=entry(name="Owls"))
    late = client.put(where, params={"after": 1}, json=entry(name="Newts"))
    assert (first.status_code, first.json()["revision"]) == (200, 2)
    assert late.status_code == 409
    assert late.json()["workshop"] == first.json()
    assert client.get(where).json()["entry"]["name"] == "Owls"


def test_a_copy_has_everything_but_the_work(client: TestClient, workshop: dict[str, Any]) -> None:
    day = (TODAY + timedelta(days=7)).isoformat()
    copy = client.post(f"/workshops/{workshop['id']}/copy", json={"day": day}).json()
    assert copy["id"] != workshop["id"]
    assert copy["entry"] == {**workshop["entry"], "day": day}
    assert (copy["revision"], copy["ended"]) == (1, None)
    long_ago = client.post(f"/workshops/{workshop['id']}/copy", json={"day": "0190-12-23"})
    assert long_ago.status_code == 422
    assert client.get("/workshops").status_code == 200


def test_it_ends_and_goes_on(client: TestClient, workshop: dict[str, Any]) -> None:
    where = f"/workshops/{workshop['id']}"
    ended = client.post(f"{where}/end").json()["ended"]
    assert ended is not None
    assert client.post(f"{where}/end").json()["ended"] == ended, "it ended when it ended"
    assert client.post(f"{where}/reopen").json()["ended"] is None


def test_nobody_comes_in_after_its_end(client: TestClient, workshop: dict[str, Any]) -> None:
    where = f"/workshops/{workshop['id']}"
    client.post(f"{where}/end")
    assert "over" in one_sentence(client.post(f"{where}/joins", json={"role": "bench"}), 409)
    assert client.get(f"{where}/joins").json() == []
    client.post(f"{where}/reopen")
    assert client.post(f"{where}/joins", json={"role": "bench"}).status_code == 201


def test_at_its_end_codes_and_phones_are_out(club: Club) -> None:
    code = club.way_in("bench")["code"]
    helper, elsewhere = club.phone("helper"), club.phone("helper", club.there)
    club.owner.post(f"/workshops/{club.here}/end")
    assert club.owner.get(f"/workshops/{club.here}/joins").json() == []
    assert one_sentence(helper.get("/here"), 401).startswith("The workshop is over.")
    assert "over" not in one_sentence(club.stranger().get("/here"), 401)
    assert club.stranger().post("/join", json={"code": code}).status_code == 403
    assert elsewhere.get("/here").status_code == 200, "another workshop goes on"


def test_deleted_it_is_gone(client: TestClient, workshop: dict[str, Any]) -> None:
    where = f"/workshops/{workshop['id']}"
    assert client.delete(where).status_code == 204
    for again in (client.get(where), client.delete(where), client.post(f"{where}/end")):
        assert again.status_code == 404
        assert again.json()["error"].startswith("This workshop is not kept here")


def test_a_helper_reads_it_and_tells_the_doughs_but_changes_nothing_else(
    client: TestClient, workshop: dict[str, Any]
) -> None:
    where = f"/workshops/{workshop['id']}"
    other = client.post("/workshops", json=entry(name="Another")).json()
    doughs = [{"name": "sky", "role": "insulating", "rgb": [110, 190, 225]}]
    with asked_by(client, Who("helper", workshop["id"], "d1")):
        assert client.get("/workshops").json() == [workshop]
        told = client.put(f"{where}/doughs", params={"after": 1}, json={"doughs": doughs})
        assert told.json()["entry"]["doughs"] == doughs
        assert client.put(f"{where}/doughs", params={"after": 1}, json={"doughs": []}).status_code == 409
        refused = [
            client.put(where, params={"after": 2}, json=entry()),
            client.post("/workshops", json=entry()),
            client.post(f"{where}/copy", json={"day": TODAY.isoformat()}),
            client.post(f"{where}/end"),
            client.post(f"{where}/reopen"),
            client.delete(where),
            client.get(f"/rooms/workshop?id={workshop['id']}"),
            client.get("/rooms/workshops"),
            client.get(f"/workshops/{other['id']}"),
            client.put(f"/workshops/{other['id']}/doughs", params={"after": 1}, json={"doughs": []}),
        ]
    assert [one.status_code for one in refused] == [403] * 8 + [404] * 2


def test_a_bench_learns_the_doughs_and_no_more(client: TestClient, workshop: dict[str, Any]) -> None:
    where = f"/workshops/{workshop['id']}"
    with asked_by(client, Who("bench", workshop["id"], "d1", "s1")):
        doughs = client.get(f"{where}/doughs").json()
        assert [one["name"] for one in doughs["doughs"]] == ["pink"]
        assert client.get(where).status_code == 403
        assert client.get("/workshops").status_code == 403
        assert client.put(f"{where}/doughs", params={"after": 1}, json={"doughs": []}).status_code == 403


@pytest.mark.parametrize(
    "wrong",
    [
        {"name": ""},
        {"name": "x" * 61},
        {"day": "yesterday"},
        {"day": "9999-12-31"},
        {"kit": {"cells": 0}},
        {"keep_days": 0},
        {"challenge": {"rules": [{"rule": "most-beautiful"}]}},
        {"challenge": {"rules": [{"rule": "lights-lit", "at_least": "many"}]}},
        {"adress": "nobody needs it"},
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(client: TestClient, wrong: dict[str, object]) -> None:
    refused = client.post("/workshops", json=entry(**wrong))
    assert refused.status_code == 422
    assert refused.json()["error"].endswith(".")
    assert client.get("/workshops").json() == []


def test_a_slip_of_the_pen_deletes_nothing(client: TestClient, workshop: dict[str, Any]) -> None:
    """A day long ago, typed by mistake into a workshop that is older than it is kept."""
    records: Records = client.app.state.parts.records  # type: ignore[attr-defined]
    old = records.workshops.add(WorkshopEntry(name="Old", day=TODAY, keep_days=5))
    _made_earlier(records, old.id, days=10)
    told = entry(day=(TODAY - timedelta(days=400)).isoformat(), keep_days=5)
    refused = client.put(f"/workshops/{old.id}", params={"after": 1}, json=told)
    assert refused.status_code == 422
    assert "deleted at once" in refused.json()["error"]


def test_the_workshop_that_is_on_is_the_one_nearest_to_today(client: TestClient) -> None:
    records: Records = client.app.state.parts.records  # type: ignore[attr-defined]
    for name, days in (("last week", -7), ("today", 0), ("next week", 7)):
        records.workshops.add(WorkshopEntry(name=name, day=TODAY + timedelta(days=days)))
    running = records.workshops.running()
    assert running is not None and running.entry.name == "today"
    records.workshops.end(running.id)
    later = records.workshops.running(TODAY + timedelta(days=6))
    assert later is not None and later.entry.name == "next week"


def _made_earlier(records: Records, workshop_id: str, days: int) -> None:
    from sqlalchemy import update
    from sqlalchemy.orm import Session

    from api.records.tables import WorkshopRow

    kept = records.workshops.get(workshop_id)
    assert kept is not None
    with Session(records.workshops._engine) as session, session.begin():
        earlier = kept.created - timedelta(days=days)
        session.execute(update(WorkshopRow).where(WorkshopRow.id == workshop_id).values(created=earlier))

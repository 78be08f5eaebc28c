"""Who may ask for what: every route, every role, and ids of others (WSTG-ATHZ-03 and 04; ASVS V4.2.1)."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from askers import Club, case_of, one_sentence, picture
from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from api.routes import parts

ROLES = {
    parts.open_to_all: "open",
    parts.anyone_inside: "inside",
    parts.helper_or_owner: "helper",
    parts.owner_only: "owner",
}
BODIES: dict[tuple[str, str], dict[str, Any]] = {
    ("PUT", "/photos/{photo_id}/cover"): {"json": {"frame": [0, 0, 100, 100]}},
    ("PUT", "/drafts/{draft_id}"): {"json": {"job": {}}, "params": {"after": 1}},
    ("POST", "/inspections/{case_id}/again"): {"json": {"photo": "x"}},
    ("PUT", "/inspections/{case_id}/age"): {"json": {"age": "6-8"}},
    ("POST", "/inspections/{case_id}/checks"): {
        "json": {"action": "turn", "parts": ["L1"], "answer": "same"},
        "params": {"after": 0},
    },
    ("DELETE", "/inspections/{case_id}/checks/last"): {"params": {"after": 0}},
    ("POST", "/inspections/{case_id}/what-if"): {"json": {"changes": [{"do": "turn", "part": "L1"}]}},
    ("POST", "/workshops/{workshop_id}/joins"): {"json": {"role": "helper"}},
    ("POST", "/workshops/{workshop_id}/sculptures"): {"json": {"bench": "9"}},
    ("PUT", "/sculptures/{sculpture_id}"): {"json": {"title": "Mine"}, "params": {"after": 1}},
    ("POST", "/workshops/{workshop_id}/calls"): {"json": {}},
    ("POST", "/calls/{call_id}/take"): {"params": {"after": 1}},
    ("POST", "/calls/{call_id}/solve"): {"json": {"kind": "other"}, "params": {"after": 1}},
    ("POST", "/calls/{call_id}/back"): {"params": {"after": 1}},
    ("POST", "/calls/{call_id}/withdraw"): {"params": {"after": 1}},
    ("PUT", "/workshops/{workshop_id}"): {
        "json": {"name": "Mine", "day": "2026-11-24"},
        "params": {"after": 1},
    },
    ("PUT", "/workshops/{workshop_id}/doughs"): {"json": {"doughs": []}, "params": {"after": 1}},
    ("POST", "/workshops/{workshop_id}/copy"): {"json": {"day": "2026-11-25"}},
}
"""What a route needs to be told beside ids, so that it is the id that is refused."""


def routes_of(app: FastAPI) -> Iterator[APIRoute]:
    for one in app.routes:
        inner = getattr(one, "original_router", None)  # newer FastAPI keeps what was included as it is
        for route in inner.routes if inner is not None else [one]:
            if isinstance(route, APIRoute):
                yield route


def roles_of(route: APIRoute) -> set[str]:
    """What the route and its router say of who may ask."""
    said, left = set(), list(route.dependant.dependencies)
    while left:
        one = left.pop()
        left += one.dependencies
        if one.call in ROLES:
            said.add(ROLES[one.call])
    return said


def test_every_route_says_who_may_ask_it(club: Club) -> None:
    routes = list(routes_of(club.app))
    assert len(routes) > 50
    for route in routes:
        assert roles_of(route), f"{route.path} says not who may ask it: dependencies=[OwnerOnly] or another"
    others = {getattr(one, "path", "") for one in club.app.routes if not isinstance(one, APIRoute)}
    assert others <= {"", "/static", "/openapi.json"}


def test_only_what_joining_needs_is_open(club: Club) -> None:
    opened = {route.path for route in routes_of(club.app) if "open" in roles_of(route)}
    assert opened == {"/join", "/rooms/join", "/health", "/sw.js"}


@pytest.fixture
def others(club: Club) -> tuple[dict[str, str], dict[str, str]]:
    """Ids of what belongs to bench 2 here, and of what belongs to a bench of another workshop."""
    return _things(club, club.here, "2"), _things(club, club.there, "1")


def _things(club: Club, workshop: str, bench: str) -> dict[str, str]:
    phone = club.phone("bench", workshop, bench)
    ids = {**club.things_of(phone), "sculpture_id": phone.get("/here").json()["sculpture"]["id"]}
    ids["call_id"] = phone.post(f"/workshops/{workshop}/calls", json={}).json()["id"]
    way = club.owner.get(f"/workshops/{workshop}/joins").json()[0]
    device = way["devices"][0]["id"]
    return {
        **ids,
        "workshop_id": workshop,
        "join_id": way["id"],
        "device_id": device,
        "token": "x",
        "name": "x",
    }


def refused(phone: TestClient, route: APIRoute, ids: dict[str, str]) -> None:
    path = route.path.format_map(ids)
    for method in route.methods:
        answer = phone.request(method, path, **BODIES.get((method, route.path), {}))
        assert answer.status_code in (403, 404), (method, route.path, answer.status_code, answer.text)
        one_sentence(answer, answer.status_code)


def with_ids(club: Club, *names: str) -> list[APIRoute]:
    """Routes with one of these ids in their path."""
    return [one for one in routes_of(club.app) if set(re.findall(r"{(\w+)}", one.path)) & set(names)]


OF_A_BENCH = ("photo_id", "case_id", "draft_id", "sculpture_id", "call_id")
OF_A_WORKSHOP = (*OF_A_BENCH, "workshop_id", "join_id", "device_id")


def test_a_bench_reaches_nothing_of_another_bench(club: Club, others: Any) -> None:
    bench = club.phone("bench", bench="1")
    routes = with_ids(club, *OF_A_BENCH)
    assert len(routes) > 20
    for route in routes:
        refused(bench, route, others[0])


@pytest.mark.parametrize("role", ["helper", "bench"])
def test_nobody_reaches_anything_of_another_workshop(club: Club, others: Any, role: str) -> None:
    phone = club.phone(role, bench="1" if role == "bench" else None)
    routes = with_ids(club, *OF_A_WORKSHOP)
    assert len(routes) > 35
    for route in routes:
        refused(phone, route, others[1])
    # All of it is still there.
    for name, path in (("photo_id", "photos"), ("case_id", "inspections"), ("draft_id", "drafts")):
        assert club.owner.get(f"/{path}/{others[1][name]}").status_code == 200


def test_what_only_the_laptop_may_do_is_refused_to_all_others(club: Club, others: Any) -> None:
    ids, before = others[0], club.owner.get("/workshops").json()
    for role in ("helper", "bench"):
        phone = club.phone(role)
        for route in routes_of(club.app):
            if "owner" in roles_of(route) or ("helper" in roles_of(route) and role == "bench"):
                for method in route.methods:
                    told = BODIES.get((method, route.path), {"json": {}, "params": {"id": "x"}})
                    one_sentence(phone.request(method, route.path.format_map(ids), **told), 403)
    assert club.owner.get("/workshops").json() == before


@pytest.mark.parametrize("which", [0, 1])
def test_ids_of_others_in_a_body_or_a_query_are_refused_too(club: Club, others: Any, which: int) -> None:
    ids, bench = others[which], club.phone("bench", bench="1")
    mine = club.things_of(bench)
    photo, palette = ids["photo_id"], case_of("x")["palette"]
    doughs = [{"name": "pink", "role": "conductive", "rgb": [1, 2, 3]}]
    asked = [
        bench.post("/drafts", json={"photo": photo, "job": {}}),
        bench.post("/drafts", json={"photo": mine["photo_id"], "job": {}, "inspection": ids["case_id"]}),
        bench.post("/preview", json={"photo": photo, "palette": palette}),
        bench.post("/palettes/found", json={"photo": photo, "doughs": doughs}),
        bench.post("/inspections", json=case_of(photo)),
        bench.post(f"/inspections/{mine['case_id']}/again", json={"photo": photo}),
        bench.get("/rooms/cover", params={"photo": photo}),
        bench.get("/rooms/help", params={"workshop": club.there}),
    ]
    for answer in asked:
        assert one_sentence(answer, 404)


def test_the_picture_of_an_underside_is_no_way_round(club: Club, others: Any) -> None:
    bench = club.phone("bench", bench="1")
    mine = club.things_of(bench)
    below = {**case_of(mine["photo_id"]), "underside": {"photo": others[0]["photo_id"]}}
    told = bench.post("/inspections", json=below)
    assert told.status_code == 201
    assert "underside" not in {name for name, value in told.json()["case"].items() if value}


def test_the_token_of_an_upload_gives_nobody_the_photo_of_another(club: Club) -> None:
    one, other = club.phone("bench", bench="1"), club.phone("bench", bench="2")
    send: dict[str, Any] = {"params": {"token": "t" * 20}, "files": {"photo": picture()}}
    first = one.post("/photos", **send).json()
    assert one.post("/photos", **send).json() == first
    assert other.post("/photos", **send).json()["id"] != first["id"]


def test_photos_of_a_bench_go_to_its_own_sculpture_only(club: Club, others: Any) -> None:
    bench = club.phone("bench", bench="1")
    mine = bench.get("/here").json()["sculpture"]["id"]
    send: dict[str, Any] = {"params": {"sculpture": others[0]["sculpture_id"]}, "files": {"photo": picture()}}
    photo = bench.post("/photos", **send).json()["id"]
    assert club.has.records.place(photo).sculpture == mine
    helper = club.phone("helper")
    assert helper.get(f"/photos/{photo}").status_code == 200
    assert helper.post("/photos", **send).status_code == 201
    send["params"]["sculpture"] = others[1]["sculpture_id"]
    one_sentence(helper.post("/photos", **send), 404)


def test_a_bench_says_first_which_it_is(club: Club) -> None:
    bench = club.phone("bench")
    assert one_sentence(bench.post("/photos", files={"photo": picture()}), 409)
    sample = f"/samples/{bench.get('/samples').json()[0]['name']}"
    assert one_sentence(bench.post(sample), 403)
    assert club.phone("helper").post(sample).status_code == 201
    for asked in (club.phone("helper"), club.owner):
        assert one_sentence(asked.put("/here/bench", json={"bench": "1"}), 403)


def test_a_bench_is_one_tablets_until_that_goes(club: Club) -> None:
    first, second = club.phone("bench", bench="1"), club.phone("bench", bench="2")
    one_sentence(second.put("/here/bench", json={"bench": "1"}), 409)
    assert second.get("/here").json()["sculpture"]["bench"] == "2"
    assert first.put("/here/bench", json={"bench": "1"}).status_code == 200
    assert first.put("/here/bench", json={"bench": "3"}).status_code == 200
    assert second.put("/here/bench", json={"bench": "1"}).status_code == 200
    second.delete("/here")
    assert first.put("/here/bench", json={"bench": "1"}).status_code == 200


def test_where_there_are_too_many_benches_those_that_are_there_stay_open(
    club: Club, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.routes.here.MOST_SCULPTURES", 1)
    bench = club.phone("bench", bench="Owl")
    one_sentence(bench.put("/here/bench", json={"bench": "Newt"}), 409)
    assert bench.put("/here/bench", json={"bench": " owl "}).status_code == 200


def test_a_tablet_that_comes_to_a_bench_does_not_see_what_was_sent_before(club: Club) -> None:
    before = club.phone("bench", bench="1")
    things = club.things_of(before)
    before.delete("/here")
    after = club.phone("bench", bench="1")
    sculpture = after.get("/here").json()["sculpture"]["id"]
    for path in (f"photos/{things['photo_id']}", f"inspections/{things['case_id']}"):
        one_sentence(after.get(f"/{path}"), 404)
    assert after.get(f"/sculptures/{sculpture}/inspections").json() == []


def test_a_helper_sees_what_the_benches_of_its_workshop_send(club: Club, others: Any) -> None:
    helper, ids = club.phone("helper"), others[0]
    for path in (f"photos/{ids['photo_id']}", f"inspections/{ids['case_id']}", f"drafts/{ids['draft_id']}"):
        assert helper.get(f"/{path}").status_code == 200
    for route in with_ids(club, "join_id", "device_id"):
        refused(helper, route, ids)


def test_a_second_photo_comes_to_the_sculpture_of_the_first(club: Club) -> None:
    bench, helper = club.phone("bench", bench="1"), club.phone("helper")
    photo = club.things_of(bench)["photo_id"]
    second = helper.post("/photos", files={"photo": picture()}).json()["id"]
    assert club.has.records.place(second).sculpture is None
    parts.put_beside(club.has, second, photo)
    assert club.has.records.place(second).sculpture == club.has.records.place(photo).sculpture

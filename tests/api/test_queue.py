"""The queue over the web: who may do what, what each sees, what went wrong by kind, and all of it live."""

import io
import json
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from askers import at_laptop, on_phone
from fastapi import FastAPI
from fastapi.testclient import TestClient
from PIL import Image

from api.access import COOKIE
from api.app import create_app
from api.queue_board import STOP_WINDOW, chart_of
from api.records.calls import Fault
from api.routes.parts import Parts, Tools
from api.settings import Settings

AT = datetime(2026, 11, 24, 15, 0)
Case = dict[str, Any]


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> FastAPI:
    """One for all tests: each has a workshop of its own."""

    def no(*_told: object, **_how: object) -> Any:
        raise AssertionError

    return create_app(Settings(data_dir=tmp_path_factory.mktemp("data")), Tools(no, no, no, no, no, no))


@pytest.fixture(scope="module")
def laptop(app: FastAPI) -> Iterator[TestClient]:
    with at_laptop(app) as laptop:
        yield laptop


@pytest.fixture
def has(app: FastAPI) -> Parts:
    found: Parts = app.state.parts
    return found


@pytest.fixture
def workshop(laptop: TestClient) -> str:
    return begun(laptop)


def begun(client: TestClient) -> str:
    made = client.post("/workshops", json={"name": "Tuesday club", "day": "2026-11-24"})
    assert made.status_code == 201, made.text
    return str(made.json()["id"])


def photo() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 30, 30)).save(out, "JPEG")
    return out.getvalue()


Join = Callable[..., TestClient]


@pytest.fixture
def join(app: FastAPI, has: Parts, workshop: str) -> Iterator[Join]:
    """A phone that has joined, as a helper or a bench."""
    came: list[TestClient] = []

    def joined(role: str, bench: str | None = None, where: str = workshop) -> TestClient:
        entered = has.records.joins.enter(has.records.joins.add(where, role, 1.0), role + " {n}")  # type: ignore[arg-type]
        assert entered is not None
        if bench is not None:
            mine = has.records.sculptures.at_bench(where, bench)
            assert has.records.joins.set_sculpture(entered.id, mine.id)
        phone = on_phone(app)
        phone.cookies.set(COOKIE, has.ticket.signed(entered.id))
        phone.headers["x-device"] = entered.id
        came.append(phone)
        return phone

    yield joined
    for phone in came:
        phone.close()


def ask(client: TestClient, workshop: str, bench: str | None = None) -> dict[str, Any]:
    came = client.post(f"/workshops/{workshop}/calls", json={"bench": bench} if bench else {})
    assert came.status_code == 201, came.text
    told: dict[str, Any] = came.json()
    return told


def queue(client: TestClient, workshop: str) -> dict[str, Any]:
    came = client.get(f"/workshops/{workshop}/queue")
    assert came.status_code == 200, came.text
    told: dict[str, Any] = came.json()
    return told


def move(
    client: TestClient, call: dict[str, Any], what: str, after: int, **body: Any
) -> tuple[int, dict[str, Any]]:
    came = client.post(f"/calls/{call['id']}/{what}?after={after}", json=body or None)
    return came.status_code, came.json()


# ---------------------------------------------------------------- take, solve, put back


def test_a_call_from_ask_to_solved(laptop: TestClient, workshop: str, join: Join) -> None:
    first, second = join("helper"), join("helper")
    call = ask(laptop, workshop, "7")
    assert (call["state"], call["revision"], call["yours"]) == ("waiting", 1, False)
    assert move(first, call, "take", 1)[0] == 200
    (mine,), (theirs,) = queue(first, workshop)["calls"], queue(second, workshop)["calls"]
    assert (mine["yours"], mine["helper"], mine["bench"]) == (True, "helper 1", "7")
    assert (theirs["yours"], theirs["helper"]) == (False, "helper 1")
    status, told = move(second, call, "take", 1)
    assert status == 409
    assert (told["call"]["helper"], told["call"]["revision"]) == ("helper 1", 2)
    assert told["error"].startswith("Somebody else was quicker.")
    assert move(first, call, "take", 1)[0] == 200  # the same tap again, after a lost answer
    assert move(first, call, "back", 2)[1]["state"] == "waiting"
    assert move(second, call, "take", 3)[1]["yours"]
    assert move(second, call, "solve", 4, kind="led-backwards")[1]["kind"] == "led-backwards"
    assert queue(first, workshop)["calls"] == []


def test_a_bench_sees_its_own_call_and_place_only(laptop: TestClient, workshop: str, join: Join) -> None:
    owl, fox = join("bench", "Owl"), join("bench", "Fox")
    ask(owl, workshop)
    call = ask(fox, workshop)
    told = queue(fox, workshop)
    assert "Owl" not in json.dumps(told)
    assert set(told) == {"at_ms", "workshop", "name", "over", "sculpture", "call", "before", "photo"}
    assert (told["before"], told["call"]["id"], told["call"]["state"]) == (1, call["id"], "waiting")
    first = queue(laptop, workshop)["calls"][0]
    assert move(laptop, first, "take", 1)[0] == 200
    assert queue(fox, workshop)["before"] == 0
    assert queue(owl, workshop)["call"]["state"] == "taken"
    assert move(owl, first, "withdraw", 2)[0] == 200
    assert queue(owl, workshop)["call"] is None


def test_a_bench_sees_small_pictures_of_its_own_photos_only(
    laptop: TestClient, workshop: str, join: Join, has: Parts
) -> None:
    owl = join("bench", "Owl")
    ask(owl, workshop)
    assert queue(owl, workshop)["photo"] is False
    mine = owl.post("/photos", files={"photo": photo()}).json()["id"]
    assert owl.post("/drafts", json={"photo": mine, "job": {}}).status_code == 201
    assert queue(owl, workshop)["photo"] is True  # a page that is loaded anew knows it
    sculpture = has.records.sculptures.at_bench(workshop, "Fox").id
    theirs = laptop.post(f"/photos?sculpture={sculpture}", files={"photo": photo()}).json()["id"]
    assert [owl.get(f"/photos/{one}/small.jpg").status_code for one in (mine, theirs)] == [200, 404]
    assert join("helper").get(f"/photos/{theirs}/small.jpg").status_code == 200


def test_who_may_not(laptop: TestClient, workshop: str, join: Join) -> None:
    other = begun(laptop)
    owl, nobody, stranger = join("bench", "Owl"), join("bench"), join("helper", where=other)
    theirs = ask(laptop, workshop, "Fox")
    for what, body in (("take", {}), ("back", {}), ("solve", {"kind": "leg-out"})):
        assert move(owl, theirs, what, 1, **body)[0] == 403
        assert move(stranger, theirs, what, 1, **body)[0] == 404
    assert move(owl, theirs, "withdraw", 1)[0] == 404
    assert move(stranger, theirs, "withdraw", 1)[0] == 404
    for path in ("queue", "events"):
        assert stranger.get(f"/workshops/{workshop}/{path}").status_code == 404
    assert stranger.post(f"/workshops/{workshop}/calls", json={"bench": "7"}).status_code == 404
    assert nobody.post(f"/workshops/{workshop}/calls", json={}).status_code == 409
    assert owl.post(f"/workshops/{workshop}/calls", json={"bench": "Fox"}).status_code == 422
    assert laptop.post(f"/workshops/{workshop}/calls", json={}).status_code == 422
    assert [one["state"] for one in queue(laptop, workshop)["calls"]] == ["waiting"]


def test_a_workshop_that_is_over_takes_no_calls(laptop: TestClient, workshop: str) -> None:
    open_call = ask(laptop, workshop, "7")
    laptop.post(f"/workshops/{workshop}/end")
    refused = laptop.post(f"/workshops/{workshop}/calls", json={"bench": "8"})
    assert (refused.status_code, refused.json()["error"].split(".")[0]) == (409, "This workshop is over")
    assert queue(laptop, workshop)["over"]
    assert move(laptop, open_call, "take", 1)[0] == 200  # what was asked before can be brought to an end


def test_a_kind_is_a_code(laptop: TestClient, workshop: str) -> None:
    call = ask(laptop, workshop, "7")
    move(laptop, call, "take", 1)
    for kind in ("", "x" * 41, "LED backwards", "<b>", None):
        status, told = move(laptop, call, "solve", 2, kind=kind)
        assert (status, list(told)) == (422, ["error"]), kind


# ---------------------------------------------------------------- what the helpers see of a sculpture


def test_photo_draft_and_guess_are_the_newest(client: TestClient, case: Case) -> None:
    workshop, records = begun(client), client.app.state.parts.records  # type: ignore[attr-defined]
    call = ask(client, workshop, "7")
    sculpture = records.sculptures.get(call["sculpture"])
    assert sculpture is not None
    before = queue(client, workshop)["calls"][0]
    assert (before["photo"], before["draft"], before["guess"]) == (None, None, None)
    records.sculptures.take_in(sculpture, str(case["photo"]))
    draft = client.post("/drafts", json={"photo": case["photo"], "job": {}}).json()["id"]
    client.post("/inspections", json=case)
    shown = queue(client, workshop)["calls"][0]
    assert (shown["photo"], shown["draft"]) == (case["photo"], draft)
    assert shown["guess"] == {"code": "leg-out", "level": "fix", "parts": ["L1"]}
    assert queue(client, workshop)["chart"]["kinds"] == [{"kind": "leg-out", "sculptures": 1}]


def test_a_sculpture_without_a_fault_was_looked_at_all_the_same(client: TestClient, case: Case) -> None:
    workshop, records = begun(client), client.app.state.parts.records  # type: ignore[attr-defined]
    sculpture = records.sculptures.get(ask(client, workshop, "7")["sculpture"])
    assert sculpture is not None
    assert queue(client, workshop)["calls"][0]["looked"] is False
    records.sculptures.take_in(sculpture, str(case["photo"]))
    bare = {key: told for key, told in case.items() if key not in ("pack", "leds")}
    client.post("/inspections", json=bare).raise_for_status()
    shown = queue(client, workshop)["calls"][0]
    assert (shown["looked"], shown["guess"]) == (True, None)


# ---------------------------------------------------------------- what went wrong, by kind


def faults(*told: tuple[str, str], seen: datetime = AT) -> list[Fault]:
    return [Fault(sculpture, kinds, seen) for sculpture, kinds in told]


def test_a_sculpture_counts_once_for_each_kind() -> None:
    chart = chart_of(
        faults(
            ("a", '["led-backwards"]'),
            ("a", '["led-backwards", "leg-out"]'),
            ("a", "led-backwards"),
            ("b", "led-backwards"),
            ("c", "other"),
        ),
        AT,
        running=True,
    )
    assert [(one.code, one.sculptures) for one in chart.kinds] == [("led-backwards", 2), ("leg-out", 1)]
    assert chart.of == 3
    assert chart.stop is None


def test_the_chart_has_the_five_commonest_kinds() -> None:
    kinds = [f"kind-{n}" for n in range(7)]
    told = [(f"{n} {kind}", kind) for n, kind in enumerate(kinds) for n in range(n + 1)]
    chart = chart_of(faults(*told), AT, running=True)
    assert [one.code for one in chart.kinds] == kinds[:1:-1]


@pytest.mark.parametrize(
    ("backwards", "others", "stop"),
    [(9, 2, "led-backwards"), (4, 4, "led-backwards"), (4, 5, None), (3, 0, None)],
)
def test_a_good_moment_to_stop_the_class(backwards: int, others: int, stop: str | None) -> None:
    told = [(f"b{n}", "led-backwards") for n in range(backwards)]
    told += [(f"o{n}", f"kind-{n}") for n in range(others)]
    assert chart_of(faults(*told), AT, running=True).stop == stop
    assert chart_of(faults(*told), AT, running=False).stop is None
    # Long ago it was told already; the chart still counts it.
    late = chart_of(faults(*told), AT + STOP_WINDOW + timedelta(seconds=1), running=True)
    assert late.stop is None
    assert late.kinds[0].sculptures == backwards


def test_what_calls_turned_out_to_be_is_counted(laptop: TestClient, workshop: str) -> None:
    for bench in ("1", "2", "3", "4"):
        call = ask(laptop, workshop, bench)
        move(laptop, call, "take", 1)
        move(laptop, call, "solve", 2, kind="led-backwards")
    chart = queue(laptop, workshop)["chart"]
    assert chart == {
        "kinds": [{"kind": "led-backwards", "sculptures": 4}],
        "of": 4,
        "stop": "led-backwards",
    }
    laptop.post(f"/workshops/{workshop}/end")
    assert queue(laptop, workshop)["chart"]["stop"] is None

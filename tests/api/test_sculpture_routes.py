"""Sculptures over the web: named, shown before and after, finished; the gallery."""

import io
from typing import Any

import pytest
from askers import Club, one_sentence
from fastapi.testclient import TestClient
from PIL import Image

WORKSHOP = {
    "name": "Tuesday club",
    "day": "2026-11-24",
    "challenge": {"title": "Beetles", "rules": [{"rule": "lights-lit", "at_least": 1}]},
}
TOLD = {
    "title": "Beetle",
    "maker": "Moth",
    "learned": "Look at the legs.",
    "overlay": False,
    "finished": True,
}


@pytest.fixture
def client(club: Club) -> TestClient:
    return club.owner


@pytest.fixture
def workshop(client: TestClient) -> str:
    return str(client.post("/workshops", json=WORKSHOP).json()["id"])


@pytest.fixture
def sculpture(client: TestClient, workshop: str) -> str:
    return begun(client, workshop, "7")


def begun(client: TestClient, workshop: str, bench: str) -> str:
    answer = client.post(f"/workshops/{workshop}/sculptures", json={"bench": bench})
    assert answer.status_code == 201
    return str(answer.json()["id"])


def jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 30, 30)).save(out, "JPEG")
    return out.getvalue()


def look(client: TestClient, case: dict[str, Any], sculpture: str, good: bool = False) -> str:
    """An inspection of a new photo of the sculpture; in a good one every LED is lit, nothing is wrong."""
    photo = client.post("/photos", files={"photo": jpeg()}).json()["id"]
    assert client.put(f"/sculptures/{sculpture}/photos/{photo}").status_code == 204
    leds = [{**led, "seen": "bright"} if good else led for led in case["leds"]]
    made = client.post("/inspections", json={**case, "photo": photo, "leds": leds})
    assert made.status_code == 201, made.json()
    if good:
        records = client.app.state.parts.records  # type: ignore[attr-defined]
        kept = records.inspection(made.json()["id"])
        records.replace_inspection(kept, kept.case, kept.report.model_copy(update={"findings": []}))
    return str(made.json()["id"])


def test_before_and_after_are_proposed(client: TestClient, case: dict[str, Any], sculpture: str) -> None:
    record = f"/sculptures/{sculpture}/record"
    assert client.get(record).json()["after"] is None
    look(client, case, sculpture, good=True)
    wrong = look(client, case, sculpture)
    look(client, case, sculpture)
    good = look(client, case, sculpture, good=True)
    shown = client.get(record).json()
    assert (shown["before"]["id"], shown["after"]["id"]) == (wrong, good)
    assert (shown["before"]["lit"], shown["after"]["lit"]) == (0, 1)
    assert (shown["before"]["level"], shown["before"]["why"]) == ("fix", "A leg is out.")
    assert shown["after"]["frame"] == [0, 0, 400, 300]
    assert [one["verdict"] for one in shown["criteria"]] == ["met"]
    assert len(client.get(f"/sculptures/{sculpture}/inspections").json()) == 4


def test_before_and_after_are_chosen(client: TestClient, case: dict[str, Any], sculpture: str) -> None:
    first, second = look(client, case, sculpture), look(client, case, sculpture)
    third = look(client, case, sculpture)
    where, record = f"/sculptures/{sculpture}", f"/sculptures/{sculpture}/record"
    chosen = {**TOLD, "before_id": second, "after_id": first}
    assert client.put(f"{where}?after=1", json=chosen).json()["title"] == "Beetle"
    shown = client.get(record).json()
    assert (shown["before"]["id"], shown["after"]["id"]) == (second, first)
    alone = {**TOLD, "before_id": third, "after_id": third}
    assert client.put(f"{where}?after=2", json=alone).status_code == 200
    shown = client.get(record).json()
    assert (shown["before"], shown["after"]["id"]) == (None, third)
    client.delete(f"/inspections/{third}")
    shown = client.get(record).json()
    assert (shown["before"]["id"], shown["after"]["id"]) == (first, second)


def test_an_inspection_of_another_sculpture_is_refused(
    client: TestClient, case: dict[str, Any], workshop: str, sculpture: str
) -> None:
    other = look(client, case, begun(client, workshop, "8"))
    answer = client.put(f"/sculptures/{sculpture}?after=1", json={"after_id": other})
    assert answer.status_code == 422
    assert "of another sculpture" in answer.json()["error"]


def test_a_photo_that_moves_to_another_sculpture_is_shown_there_only(
    client: TestClient, case: dict[str, Any], workshop: str, sculpture: str
) -> None:
    moves, stays = look(client, case, sculpture), look(client, case, sculpture)
    where = f"/sculptures/{sculpture}"
    told = {**TOLD, "before_id": moves, "after_id": stays}
    assert client.put(where, params={"after": 1}, json=told).status_code == 200
    photo = client.get(f"/inspections/{moves}/place").json()["photo"]
    assert client.put(f"/sculptures/{begun(client, workshop, '8')}/photos/{photo}").status_code == 204
    now = client.get(where).json()
    assert (now["before_id"], now["after_id"], now["revision"]) == (None, stays, 3)
    archive = client.get(f"/workshops/{workshop}/archive.zip").content
    assert client.post("/workshops/import", content=archive).status_code == 201


def test_who_was_not_the_quicker_one_is_told(client: TestClient, sculpture: str) -> None:
    assert client.put(f"/sculptures/{sculpture}?after=1", json=TOLD).status_code == 200
    late = client.put(f"/sculptures/{sculpture}?after=1", json={"title": "Whale"})
    assert late.status_code == 409
    assert (late.json()["sculpture"]["title"], late.json()["sculpture"]["revision"]) == ("Beetle", 2)


def test_no_revision_is_so_large(client: TestClient, sculpture: str) -> None:
    for after in (-1, 2**31, 10**30):
        assert one_sentence(client.put(f"/sculptures/{sculpture}?after={after}", json=TOLD), 422)


def test_the_gallery_has_what_is_finished(client: TestClient, case: dict[str, Any], workshop: str) -> None:
    for bench, finished in (("7", True), ("8", False), ("9", True), ("10", True)):
        one = begun(client, workshop, bench)
        if bench != "9":  # finished without a photo: there is nothing to show
            look(client, case, one, good=True)
        client.put(f"/sculptures/{one}?after=1", json={"title": f"Beetle {bench}", "finished": finished})
    slides = client.get(f"/workshops/{workshop}/gallery").json()
    assert [slide["title"] for slide in slides] == ["Beetle 7", "Beetle 10"]
    assert set(slides[0]) == {"id", "title", "maker", "overlay", "before", "after"}
    assert slides[0]["after"]["lights"] == [{"id": "L1", "state": "bright"}]


def test_changes_are_told_to_the_workshop(client: TestClient, workshop: str) -> None:
    live = client.app.state.parts.live  # type: ignore[attr-defined]
    counts = [live.count(workshop)]
    one = begun(client, workshop, "7")
    counts.append(live.count(workshop))
    client.put(f"/sculptures/{one}?after=1", json=TOLD)
    counts.append(live.count(workshop))
    assert counts[0] < counts[1] < counts[2]


def test_what_does_not_fit_is_refused(client: TestClient, sculpture: str) -> None:
    long: dict[str, object] = {"title": "x" * 61, "maker": "x" * 25, "learned": "x" * 601}
    for field, value in {**long, "colour": "pink", "overlay": None}.items():
        answer = client.put(f"/sculptures/{sculpture}?after=1", json={field: value})
        assert answer.status_code == 422
        assert field in answer.json()["error"]


def test_what_is_not_there_is_not_found(client: TestClient, workshop: str, sculpture: str) -> None:
    for path in ("/sculptures/none", "/sculptures/none/record", "/workshops/none/gallery"):
        assert client.get(path).status_code == 404
    assert client.put(f"/sculptures/{sculpture}/photos/none").status_code == 404
    assert client.post("/workshops/none/sculptures", json={"bench": "7"}).status_code == 404
    assert client.post(f"/workshops/{workshop}/sculptures", json={"bench": " "}).status_code == 422


def test_a_bench_names_and_finishes_its_own_sculpture_only(club: Club) -> None:
    bench, helper = club.phone("bench", bench="7"), club.phone("helper")
    mine = bench.get("/here").json()["sculpture"]["id"]
    other = begun(helper, club.here, "8")
    things = club.things_of(bench)
    assert [one["id"] for one in bench.get(f"/workshops/{club.here}/sculptures").json()] == [mine]
    assert bench.put(f"/sculptures/{mine}?after=1", json=TOLD).status_code == 200
    assert bench.get(f"/sculptures/{mine}/record").json()["after"]["id"] == things["case_id"]
    for path in (f"/sculptures/{other}", f"/sculptures/{other}/record", f"/sculptures/{other}/inspections"):
        one_sentence(bench.get(path), 404)
    one_sentence(bench.put(f"/sculptures/{other}?after=1", json=TOLD), 404)
    one_sentence(bench.put(f"/sculptures/{other}/photos/{things['photo_id']}"), 404)
    for path in (f"/workshops/{club.here}/gallery", f"/workshops/{club.here}/records.csv"):
        one_sentence(bench.get(path), 403)
    one_sentence(bench.get(f"/sculptures/{mine}/parents.zip"), 403)
    one_sentence(bench.delete(f"/sculptures/{mine}"), 403)
    assert helper.delete(f"/sculptures/{mine}").status_code == 204
    one_sentence(helper.get(f"/photos/{things['photo_id']}"), 404)


def test_helpers_of_another_workshop_see_nothing(club: Club) -> None:
    one, stranger = begun(club.owner, club.here, "7"), club.phone("helper", club.there)
    for path in (f"/sculptures/{one}", f"/sculptures/{one}/record", f"/sculptures/{one}/parents.zip"):
        assert one_sentence(stranger.get(path), 404)
    for path in ("gallery", "sculptures", "records.csv", "records.json"):
        assert one_sentence(stranger.get(f"/workshops/{club.here}/{path}"), 404)
    assert one_sentence(stranger.post(f"/workshops/{club.here}/sculptures", json={"bench": "9"}), 404)
    assert one_sentence(stranger.put(f"/sculptures/{one}?after=1", json=TOLD), 404)
    assert one_sentence(stranger.delete(f"/sculptures/{one}"), 404)


def test_a_sculpture_takes_no_photo_of_another_bench(club: Club) -> None:
    """A bench cannot take in, and so see, what another bench has sent."""
    seven, eight = club.phone("bench", bench="7"), club.phone("bench", bench="8")
    photo = club.things_of(seven)["photo_id"]
    mine = eight.get("/here").json()["sculpture"]["id"]
    assert one_sentence(eight.put(f"/sculptures/{mine}/photos/{photo}"), 404)

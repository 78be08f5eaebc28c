"""One tablet in play does not fill the disk: how much a bench and a helper may have kept."""

from dataclasses import replace
from typing import Any

import pytest
from askers import Club, case_of, one_sentence, picture
from fastapi.testclient import TestClient

from api.routes import limits


@pytest.fixture(autouse=True)
def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    """So little room that a test fills it: one for a bench, and two for a helper."""
    for name in ("OF_SCULPTURE", "DRAFTS", "CASES"):
        monkeypatch.setattr(limits, name, replace(getattr(limits, name), most=1))
    monkeypatch.setattr(limits, "OF_DEVICE", replace(limits.OF_DEVICE, most=2))
    monkeypatch.setattr(limits, "HELPERS", 2)


def sent(phone: TestClient, sculpture: str | None = None) -> Any:
    where = {} if sculpture is None else {"sculpture": sculpture}
    return phone.post("/photos", params=where, files={"photo": picture()})


def test_a_bench_has_room_for_so_many_photos_and_deleting_makes_room(club: Club) -> None:
    bench = club.phone("bench", bench="7")
    first = sent(bench).json()["id"]
    assert "This sculpture has 1 photos" in one_sentence(sent(bench), 409)
    assert bench.put("/here/bench", json={"bench": "8"}).status_code == 200
    assert sent(bench).status_code == 201
    assert bench.put("/here/bench", json={"bench": "9"}).status_code == 200
    assert "This phone has sent 2 photos" in one_sentence(sent(bench), 409)
    assert club.owner.delete(f"/photos/{first}").status_code == 204
    assert sent(bench).status_code == 201


def test_so_many_drafts_and_cases_of_a_photo(club: Club) -> None:
    bench = club.phone("bench", bench="7")
    photo = club.things_of(bench)["photo_id"]
    draft = {"photo": photo, "job": {}}
    assert "1 drafts" in one_sentence(bench.post("/drafts", json=draft), 409)
    told = bench.post("/inspections", json=case_of(photo))
    assert "looked at 1 times" in one_sentence(told, 409)
    helper = club.phone("helper")
    assert helper.post("/drafts", json=draft).status_code == 201
    assert helper.post("/inspections", json=case_of(photo)).status_code == 201
    assert "2 drafts" in one_sentence(helper.post("/drafts", json=draft), 409)
    for _ in range(3):
        assert club.owner.post("/drafts", json=draft).status_code == 201
        assert club.owner.post("/inspections", json=case_of(photo)).status_code == 201


def test_a_photo_sent_again_after_a_lost_answer_is_the_same_though_there_is_no_more_room(club: Club) -> None:
    bench = club.phone("bench", bench="7")
    first, again = (
        bench.post("/photos", params={"token": "t" * 20}, files={"photo": picture()}) for _ in range(2)
    )
    assert first.json() == again.json()

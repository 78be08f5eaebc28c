"""Covering over the web: the stored photo is another one afterwards, and nothing of the old one is left."""

import hashlib
import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from numpy.typing import NDArray
from PIL import Image

from api.recent import RecentSculptures, _key
from api.records import Records
from api.schemas import Case, Underside

FACE = {"kind": "box", "box": [96, 64, 176, 160]}


def png(seed: int) -> bytes:
    """A table with a face of noise where FACE lies."""
    pixels = np.full((300, 400, 3), (150, 120, 90), np.uint8)
    pixels[64:160, 96:176] = np.random.default_rng(seed).integers(0, 256, (96, 80, 3))
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


def sent(client: TestClient, seed: int = 1) -> str:
    return str(client.post("/photos", files={"photo": png(seed)}).json()["id"])


def pixels(client: TestClient, photo_id: str) -> NDArray[np.uint8]:
    return np.array(Image.open(io.BytesIO(client.get(f"/photos/{photo_id}").content)))


def files(folder: Path) -> list[str]:
    return sorted(file.stem for file in folder.rglob("*.jpg"))


def test_two_faces_leave_the_same_file(client: TestClient, tmp_path: Path) -> None:
    one, other = sent(client, 1), sent(client, 2)
    before = files(tmp_path)
    assert len(before) == 2
    for photo_id in (one, other):
        told = client.put(f"/photos/{photo_id}/cover", json={"areas": [FACE]})
        assert told.json() == {"id": photo_id, "width": 400, "height": 300, "frame": None, "warnings": []}
    kept = client.get(f"/photos/{one}").content
    assert kept == client.get(f"/photos/{other}").content
    assert files(tmp_path) == [hashlib.sha256(kept).hexdigest()], "both files as they were are deleted"


def test_only_the_framed_part_stays(client: TestClient, tmp_path: Path) -> None:
    photo_id = sent(client)
    answer = client.put(f"/photos/{photo_id}/cover", json={"frame": [200, 10, 390.5, 290]}).json()
    assert answer["frame"] == [200, 16, 384, 288]
    done = pixels(client, photo_id)
    assert done.shape == (300, 400, 3)
    assert np.abs(done[:, :192].astype(int) - done[0, 0]).max() <= 2, "one flat colour, but for JPEG"
    again = client.put(f"/photos/{photo_id}/cover", json={"areas": [FACE]}).json()
    assert again["frame"] == [200, 16, 384, 288], "it stays"
    wider = client.put(f"/photos/{photo_id}/cover", json={"frame": [0, 0, 400, 300]}).json()
    assert wider["frame"] == [200, 16, 384, 288], "it never grows"
    assert len(files(tmp_path)) == 1


def test_a_photo_that_is_kept_twice_is_covered_once(client: TestClient) -> None:
    one, other = sent(client), sent(client)
    before = client.get(f"/photos/{other}").content
    client.put(f"/photos/{one}/cover", json={"areas": [FACE]})
    assert client.get(f"/photos/{other}").content == before
    assert client.get(f"/photos/{one}").content != before


def test_what_was_looked_at_stays_and_is_warned_of(client: TestClient, case: dict[str, Any]) -> None:
    made = client.post("/inspections", json=case).json()
    stroke = {"kind": "stroke", "points": [[3, 3]], "width_px": 4}
    covered = {"areas": [stroke]}
    photo = f"/photos/{case['photo']}"
    before = client.get(photo).content
    dry = client.put(f"{photo}/cover?dry=true", json=covered).json()
    assert client.get(photo).content == before
    told = client.put(f"{photo}/cover", json=covered).json()
    assert told == dry
    assert [one.split(".")[0] for one in told["warnings"]] == [
        "This covers an entry of L1",
        "This covers an entry of the pack",
        "This covers dough that was looked at",
    ]
    assert client.get(f"/inspections/{made['id']}").json()["report"] == made["report"]
    far = client.put(f"{photo}/cover", json={"areas": [{"kind": "box", "box": [200, 200, 240, 240]}]}).json()
    assert far["warnings"] == []


@pytest.mark.parametrize(
    "wish",
    [
        {},
        {"areas": []},
        {"areas": [{"kind": "box", "box": [900, 900, 950, 950]}]},
        {"areas": [{"kind": "box", "box": [1, 2, 3]}]},
        {"areas": [{"kind": "star", "box": [1, 2, 3, 4]}]},
        {"areas": [{"kind": "stroke", "points": [], "width_px": 5}]},
        {"areas": [{"kind": "stroke", "points": [[1, 1]], "width_px": 1e9}]},
        {"areas": [FACE] * 101},
        {"frame": [0, 0, 10, 10]},
        {"frame": [0, 0, "x", 10]},
        {"frame": [0, 0, 400, 300], "more": 1},
    ],
)
def test_wrong_wishes_are_refused_and_change_nothing(client: TestClient, wish: dict[str, Any]) -> None:
    photo_id = sent(client)
    before = client.get(f"/photos/{photo_id}").content
    answer = client.put(f"/photos/{photo_id}/cover", json=wish)
    assert answer.status_code == 422
    assert set(answer.json()) == {"error"}
    assert client.get(f"/photos/{photo_id}").content == before


def test_a_lost_race_covers_what_is_kept_now(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    photo_id = sent(client)
    records: Records = client.app.state.parts.records  # type: ignore[attr-defined]
    keep, tries = records.covers.replace, []

    def late(*told: Any) -> bool:
        tries.append(told)
        if len(tries) == 1:  # somebody else is quicker, with a frame
            assert keep(photo_id, told[1], told[1], (200, 0, 400, 300))
            wish = {"areas": [{"kind": "box", "box": [300, 200, 340, 240]}]}
            monkeypatch.setattr(records.covers, "replace", keep)
            assert client.put(f"/photos/{photo_id}/cover", json=wish).status_code == 200
            monkeypatch.setattr(records.covers, "replace", late)
        return keep(*told)

    monkeypatch.setattr(records.covers, "replace", late)
    told = client.put(f"/photos/{photo_id}/cover", json={"areas": [FACE]})
    assert told.json()["frame"] == [200, 0, 400, 300]
    assert len(tries) == 2
    plain = pixels(client, photo_id)[210:230, 310:330]
    assert len(np.unique(plain // 4)) > 1, "the cover of the other one is still there"


def test_nobody_covers_what_is_not_there(client: TestClient) -> None:
    assert client.put("/photos/none/cover", json={"areas": [FACE]}).status_code == 404
    assert client.get("/rooms/cover?photo=none").status_code == 404


def test_the_page_knows_its_photo(client: TestClient) -> None:
    photo_id = sent(client)
    page = client.get(f"/rooms/cover?photo={photo_id}")
    assert page.status_code == 200
    assert photo_id in page.text and 'class="room on-cover"' in page.text
    assert " style=" not in page.text


def test_what_is_remembered_of_it_is_forgotten(client: TestClient) -> None:
    app: Any = client.app
    forgotten: list[str] = []
    app.state.parts = replace(app.state.parts, tools=replace(app.state.parts.tools, forget=forgotten.append))
    photo_id = sent(client)
    client.put(f"/photos/{photo_id}/cover?dry=true", json={"areas": [FACE]})
    assert forgotten == []
    client.put(f"/photos/{photo_id}/cover", json={"areas": [FACE]})
    assert forgotten == [photo_id]


def test_forgetting_one_photo_leaves_the_others(case: dict[str, Any]) -> None:
    """As a photo and as an underside, under whatever age and checks."""
    recent = RecentSculptures()
    seen: Any = object()
    mine = Case.model_validate(case)
    below = mine.model_copy(update={"photo": "other", "underside": Underside(photo=mine.photo)})
    other = mine.model_copy(update={"photo": "other"})
    for one in (mine, below, other):
        recent._seen[_key(one)] = seen
    assert mine.photo is not None
    recent.forget(mine.photo)
    assert list(recent._seen) == [_key(other)]


def test_open_pages_learn_that_the_photo_is_another_one(client: TestClient) -> None:
    """The queue and the gallery keep pictures that they have shown, by what these show."""
    workshop = client.post("/workshops", json={"name": "Owls", "day": "2026-11-26"}).json()["id"]
    bench = client.post(f"/workshops/{workshop}/sculptures", json={"bench": "7"}).json()["id"]
    photo = client.post(f"/photos?sculpture={bench}", files={"photo": png(1)}).json()["id"]
    palette = [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}]
    case = {"schema": "doughsight-case/1", "photo": photo, "palette": palette}
    assert client.post("/inspections", json=case).status_code == 201
    client.post(f"/workshops/{workshop}/calls", json={"bench": "7"})

    def shown() -> tuple[str, str]:
        look = client.get(f"/sculptures/{bench}/inspections").json()[0]["picture"]
        return look, client.get(f"/workshops/{workshop}/queue").json()["calls"][0]["picture"]

    before = shown()
    news = client.app.state.parts.live.count(workshop)  # type: ignore[attr-defined]
    client.put(f"/photos/{photo}/cover", json={"areas": [FACE]})
    after = shown()
    assert before[0] == before[1] != after[0] == after[1]
    assert client.app.state.parts.live.count(workshop) > news  # type: ignore[attr-defined]

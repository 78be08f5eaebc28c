"""In memory, too, nothing is left of what was deleted, though somebody was at work with it just then."""

import io
from hashlib import sha256
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from PIL import Image

from api import opened, recent, thumbs
from api.gone import KNOWN_S, Gone
from api.paper import faces
from api.schemas import Case
from circuit.model import Inspection

ONE = {"name": "pink", "role": "conductive", "taps": [[5, 5]]}


def picture(seed: int) -> bytes:
    """A photo that no other test has."""
    out = io.BytesIO()
    shades = np.random.default_rng(seed).integers(0, 255, (30, 40, 3), np.uint8)
    Image.fromarray(shades).resize((400, 300)).save(out, "JPEG")
    return out.getvalue()


def sent(client: TestClient, seed: int) -> tuple[str, bytes]:
    photo = str(client.post("/photos", files={"photo": picture(seed)}).json()["id"])
    return photo, client.get(f"/photos/{photo}").content


def test_a_photo_that_is_opened_just_when_it_is_deleted_is_not_remembered(client: TestClient) -> None:
    photo, jpeg = sent(client, 1)
    _, other = sent(client, 2)
    client.delete(f"/photos/{photo}")
    late = [opened.opened(jpeg, None) for _ in range(2)]
    small = [thumbs.small_jpeg(jpeg, None) for _ in range(2)]
    assert late[0] is not late[1]
    assert small[0] is not small[1]
    assert opened.opened(other, None) is opened.opened(other, None)
    assert thumbs.small_jpeg(other, None) is thumbs.small_jpeg(other, None)


def test_names_of_what_is_gone_are_known_for_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    time = iter([0.0, KNOWN_S - 1, KNOWN_S + 1])
    monkeypatch.setattr("time.monotonic", lambda: next(time))
    gone = Gone()
    gone.add([sha256(b"a").hexdigest()])
    assert [gone.is_in(sha256(b"a").hexdigest()) for _ in range(2)] == [True, False]


def test_a_sculpture_of_a_photo_that_is_gone_is_not_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    known = recent.RecentSculptures()
    monkeypatch.setattr(recent, "_seen_in", lambda result: result)
    monkeypatch.setattr(recent._Packed, "of", lambda seen: seen)
    monkeypatch.setattr(recent, "replace", lambda result, **_told: result)
    cases = [
        Case.model_validate({"schema": "doughsight-case/1", "photo": photo, "palette": [ONE]})
        for photo in ("kept-photo", "gone-photo")
    ]
    known.forget("gone-photo")
    for case in cases:
        known._remember(case, Inspection)  # type: ignore[arg-type]
    assert ["gone-photo" in key for key in (*known._seen, *known._whole)] == [False, False]


def test_no_board_is_left_of_a_workshop_that_is_deleted(client: TestClient) -> None:
    app: Any = client.app
    has = app.state.parts
    workshop = client.post("/workshops", json={"name": "Owls", "day": "2026-11-24"}).json()["id"]
    assert has.boards.of(has.records, has.live, workshop).name == "Owls"
    assert has.boards._read
    client.delete(f"/workshops/{workshop}")
    assert not has.boards._read


def test_no_name_is_left_of_what_was_printed(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    held = []

    def forgets() -> None:
        held.append(faces._line_of.cache_info().currsize)
        faces.forget_lines()
        held.append(faces._line_of.cache_info().currsize)

    monkeypatch.setattr("api.routes.paper.forget_lines", forgets)
    workshop = client.post("/workshops", json={"name": "بومة", "day": "2026-11-24"}).json()["id"]
    faces.forget_lines()
    assert client.get(f"/workshops/{workshop}/class.pdf").status_code == 200
    assert held[0] > 0
    assert held[1:] == [0]

"""Who asks the app in tests: the laptop that serves, and phones on its network."""

import io
import re
from contextlib import ExitStack
from dataclasses import replace
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient
from PIL import Image

from api.door import Door
from api.tries import Tries

LAPTOP = ("127.0.0.1", 50000)
PHONE = ("192.0.2.40", 50000)  # addresses for documentation, RFC 5737
ADDRESS = "http://192.0.2.7"


def at_laptop(app: FastAPI, **told: Any) -> TestClient:
    """The laptop itself, which is the owner."""
    return TestClient(app, base_url="http://127.0.0.1", client=LAPTOP, **told)


def on_phone(app: FastAPI, peer: str = PHONE[0], **told: Any) -> TestClient:
    """A phone that has not joined yet."""
    return TestClient(app, base_url=ADDRESS, client=(peer, 50000), **told)


class Club:
    """An app with two workshops, `here` and `there`, and any number of phones in them."""

    def __init__(self, app: FastAPI) -> None:
        self.app = app
        self.open = ExitStack()
        self.owner = self.open.enter_context(at_laptop(app, raise_server_exceptions=False))
        self.begin()

    def begin(self) -> None:
        """Two new workshops without phones, no wrong code counted, the owner's link unused."""
        self.app.state.parts = replace(self.app.state.parts, tries=Tries())
        self.has: Any = self.app.state.parts
        vars(self.has.door).update(vars(Door(network=True, port=80)))
        self.here, self.there = (self._workshop(name) for name in ("Zinnia club", "Lilac club"))

    def _workshop(self, name: str) -> str:
        told = {"name": name, "day": "2026-11-24"}
        return str(self.owner.post("/workshops", json=told).json()["id"])

    def way_in(self, role: str, workshop: str | None = None, **told: Any) -> dict[str, Any]:
        """A code and a link, as the owner sees them."""
        where = f"/workshops/{workshop or self.here}/joins"
        made = self.owner.post(where, json={"role": role, **told})
        assert made.status_code == 201, made.text
        answer: dict[str, Any] = made.json()
        return answer

    def stranger(self, peer: str = PHONE[0]) -> TestClient:
        """A phone without a code."""
        phone = on_phone(self.app, peer, raise_server_exceptions=False)
        phone.portal = self.owner.portal  # all are answered by one server
        return phone

    def phone(self, role: str, workshop: str | None = None, bench: str | None = None) -> TestClient:
        """A phone that has joined, at a bench if one is told."""
        phone = self.stranger()
        joined = phone.post("/join", json={"code": self.way_in(role, workshop)["code"]})
        assert joined.status_code == 200, joined.text
        if bench is not None:
            assert phone.put("/here/bench", json={"bench": bench}).status_code == 200
        return phone

    def things_of(self, phone: TestClient) -> dict[str, str]:
        """A photo of this phone with all that hangs on it: ids by the names that the routes give them."""
        photo = phone.post("/photos", files={"photo": picture()}).json()["id"]
        case = phone.post("/inspections", json=case_of(photo)).json()["id"]
        draft = phone.post("/drafts", json={"photo": photo, "job": {}}).json()["id"]
        return {"photo_id": photo, "case_id": case, "draft_id": draft}


def picture() -> bytes:
    """A small photo."""
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 30, 30)).save(out, "JPEG")
    return out.getvalue()


def case_of(photo: str) -> dict[str, Any]:
    """The least that can be told of a photo."""
    return {
        "schema": "doughsight-case/1",
        "photo": photo,
        "palette": [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}],
        "pack": {"plus": [1, 1], "minus": [20, 20]},
        "leds": [{"id": "L1", "long_leg": [3, 3], "short_leg": [6, 6]}],
    }


def one_sentence(answer: Any, status: int) -> str:
    """What an error says; every error has the same shape."""
    assert answer.status_code == status, (answer.status_code, answer.text)
    told = answer.json()
    assert set(told) == {"error"}
    assert re.fullmatch(r"[A-Z].{5,250}[.]", told["error"])
    return str(told["error"])


def wrong_code(club: Club) -> str:
    """Six digits that open nothing."""
    open_ones = {club.has.records.joins.code(one.id) for one in club.has.records.joins.of_workshop(club.here)}
    return next(code for n in range(1000) if (code := f"{n:06}") not in open_ones)

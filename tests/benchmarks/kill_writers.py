"""Those who write while the server is killed, and what they know to be kept."""

import http.client
import io
import json
import secrets
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from random import Random
from typing import Any

from PIL import Image


class GoneError(Exception):
    """The server was killed: nobody knows whether the last write was kept."""


@dataclass
class Thing:
    """Something that is kept. `allowed`: what may be found of it; None stands for nothing at all."""

    kind: str
    id: str
    allowed: set[str | None]
    revision: int = 0
    of: str = ""
    """The photo or the workshop that it belongs to."""


class Line:
    """One connection to the server."""

    def __init__(self, port: int) -> None:
        self._http = http.client.HTTPConnection("127.0.0.1", port, timeout=20)

    def ask(self, method: str, path: str, told: object = None, photo: bytes | None = None) -> tuple[int, Any]:
        """Status and JSON. Raises GoneError if no whole answer comes."""
        body, headers = None, {}
        if photo is not None:
            edge = secrets.token_hex(8)
            head = f'--{edge}\r\ncontent-disposition: form-data; name="photo"; filename="p.jpg"\r\n\r\n'
            body = head.encode() + photo + f"\r\n--{edge}--\r\n".encode()
            headers["content-type"] = f"multipart/form-data; boundary={edge}"
        elif told is not None:
            body, headers["content-type"] = json.dumps(told).encode(), "application/json"
        try:
            self._http.request(method, path, body, headers)
            answer = self._http.getresponse()
            text = answer.read()
        except (OSError, http.client.HTTPException) as error:
            self._http.close()
            raise GoneError from error
        kind = answer.headers.get("content-type", "")
        return answer.status, json.loads(text) if text and "json" in kind else None

    def close(self) -> None:
        """Hang up."""
        self._http.close()


@dataclass
class Writer:
    """Works in a workshop of its own: what it was told is kept must be there afterwards."""

    number: int
    chance: Random
    things: dict[str, Thing] = field(default_factory=dict)
    touched: set[str] = field(default_factory=set)
    written: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    _line: Line = field(init=False)

    def work(self, port: int) -> None:
        """Write until the server is gone."""
        self._line = Line(port)
        try:
            while True:
                self._step()
        except GoneError:
            self._line.close()

    def _step(self) -> None:
        workshop = next(self._of_kind("workshop"), None)
        if workshop is None:
            self._add("workshop", "/workshops", {"name": "Club", "day": "2026-11-24", "keep_days": None}, "")
            return
        photos = list(self._of_kind("photo"))
        steps = [self._photo, self._photo, self._workshop, self._call, self._join, self._sculpture]
        steps += [self._draft, self._draft, self._case] if photos else []
        steps += [self._delete] if len(photos) > 4 else []
        self.chance.choice(steps)(workshop)

    def _of_kind(self, kind: str) -> Iterator[Thing]:
        return (one for one in self.things.values() if one.kind == kind and None not in one.allowed)

    def _any(self, kind: str) -> Thing | None:
        return self.chance.choice(found) if (found := list(self._of_kind(kind))) else None

    def _photo(self, workshop: Thing) -> None:
        out = io.BytesIO()
        colour = tuple(self.chance.randrange(256) for _ in range(3))
        Image.new("RGB", (400, 300), colour).save(out, "JPEG")
        sculpture = self._any("sculpture")
        where = f"/photos?token={secrets.token_hex(10)}" + (f"&sculpture={sculpture.id}" if sculpture else "")
        self._add("photo", where, None, workshop.id, photo=out.getvalue())

    def _draft(self, workshop: Thing) -> None:
        word, draft = self.chance.randrange(10**9), self._any("draft")
        job = {"plus": [word, 1]}
        if draft is None or self.chance.random() < 0.3:
            photo = self._any("photo")
            assert photo is not None
            self._add("draft", "/drafts", {"photo": photo.id, "job": job}, photo.id, str(word))
        else:
            self._change(draft, f"/drafts/{draft.id}?after={draft.revision}", {"job": job}, str(word))

    def _case(self, workshop: Thing) -> None:
        photo, word = self._any("photo"), f"d{self.chance.randrange(10**9)}"
        assert photo is not None
        palette = [{"name": word, "role": "conductive", "taps": [[5, 5]]}]
        told = {"schema": "doughsight-case/1", "photo": photo.id, "palette": palette}
        self._add("case", "/inspections", told, photo.id, word)

    def _workshop(self, workshop: Thing) -> None:
        word = f"Hall {self.chance.randrange(10**9)}"
        told = {"name": "Club", "day": "2026-11-24", "keep_days": None, "place": word}
        self._change(workshop, f"/workshops/{workshop.id}?after={workshop.revision}", told, word)

    def _sculpture(self, workshop: Thing) -> None:
        one = self._any("sculpture")
        if one is None:
            self._add("sculpture", f"/workshops/{workshop.id}/sculptures", {"bench": "1"}, workshop.id)
            return
        word = f"Owl {self.chance.randrange(10**9)}"
        self._change(one, f"/sculptures/{one.id}?after={one.revision}", {"title": word}, word)

    def _call(self, workshop: Thing) -> None:
        call = self._any("call")
        if call is None:
            told = {"bench": str(self.chance.randrange(1, 9))}
            self._add("call", f"/workshops/{workshop.id}/calls", told, workshop.id, "waiting")
            return
        state = "taken" if call.allowed == {"waiting"} else None
        path = f"/calls/{call.id}/{'take' if state else 'solve'}?after={call.revision}"
        self._change(call, path, None if state else {"kind": "leg-out"}, state, "POST")

    def _join(self, workshop: Thing) -> None:
        join, where = self._any("join"), f"/workshops/{workshop.id}/joins"
        if join is None:
            self._add("join", where, {"role": "bench"}, workshop.id)
        else:
            self._change(join, f"{where}/{join.id}", None, None, "DELETE")

    def _delete(self, workshop: Thing) -> None:
        photo = self._any("photo")
        assert photo is not None
        parts = [one for one in self.things.values() if one.of == photo.id]
        for one in parts:
            one.allowed.add(None)
            self.touched.add(one.id)
        self._change(photo, f"/photos/{photo.id}", None, None, "DELETE")
        for one in parts:
            one.allowed = {None}

    def _add(
        self, kind: str, path: str, told: object, of: str, word: str = "", photo: bytes | None = None
    ) -> None:
        status, answer = self._line.ask("POST", path, told, photo)
        if status != 201:
            self.wrong.append(f"{kind} {status} {answer}")
            return
        one = Thing(kind, answer["id"], {word}, answer.get("revision", 0), of)
        self.things[one.id] = one
        self.touched.add(one.id)
        self.written[kind] += 1

    def _change(self, one: Thing, path: str, told: object, word: str | None, method: str = "PUT") -> None:
        one.allowed.add(word)
        self.touched.add(one.id)
        status, answer = self._line.ask(method, path, told)
        if status not in (200, 204):
            self.wrong.append(f"{method} {one.kind} {status} {answer}")
            return
        one.allowed = {word}
        one.revision = (answer or {}).get("revision", one.revision)
        self.written[f"{one.kind} {'deleted' if method == 'DELETE' else 'changed'}"] += 1

    def lost(self, port: int, *, everything: bool = False) -> list[str]:
        """What is not as it was told to be kept; from now on, what is found is what is known."""
        line, lost = Line(port), []
        for name in sorted(self.things if everything else self.touched):
            one = self.things[name]
            found, one.revision = _look(line, one)
            if found not in one.allowed:
                lost.append(f"{one.kind} {one.id}: {found!r} instead of {one.allowed}")
            one.allowed = {found}
        self.touched.clear()
        line.close()
        return lost


def _look(line: Line, one: Thing) -> tuple[str | None, int]:
    """What is kept of it, and its revision."""
    where = {
        "photo": f"/photos/{one.id}",
        "draft": f"/drafts/{one.id}",
        "case": f"/inspections/{one.id}",
        "workshop": f"/workshops/{one.id}",
        "sculpture": f"/sculptures/{one.id}",
        "call": f"/workshops/{one.of}/queue",
        "join": f"/workshops/{one.of}/joins",
    }[one.kind]
    status, told = line.ask("GET", where)
    if one.kind in ("call", "join"):
        rows = told["calls"] if one.kind == "call" else told
        told = next((row for row in rows if row["id"] == one.id), None)
    if status == 404 or (told is None and one.kind != "photo"):
        return None, one.revision
    revision = (told or {}).get("revision", one.revision)
    if one.kind == "draft":
        return f"{told['job']['plus'][0]:.0f}", revision
    if one.kind == "workshop":
        return told["entry"]["place"], revision
    words = {"sculpture": "title", "call": "state"}
    if one.kind == "case":
        return told["case"]["palette"][0]["name"], revision
    return (told[words[one.kind]] if one.kind in words else ""), revision

"""The queue as server-sent events: a tap on one phone is seen on all others, and who is out hears no more."""

import asyncio
import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from queue import Empty, Queue
from typing import Any

import httpx2
import pytest
import uvicorn
from askers import at_laptop
from fastapi import FastAPI
from sse_starlette.sse import AppStatus
from starlette.types import Message

from api.access import COOKIE
from api.app import create_app
from api.queue_board import MOST_STREAMS
from api.queue_stream import BURST_S, stream
from api.routes.parts import Parts, Tools
from api.settings import Settings
from api.who import OWNER

PATIENCE_S = 10.0
SEEN_S = 1.0
"""A tap is seen on the other phones within a second."""


class Server:
    """The app without its engines on a free port."""

    def __init__(self, folder: Path, no: Callable[..., Any]) -> None:
        door = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{door.getsockname()[1]}"
        self.app: FastAPI = create_app(Settings(data_dir=folder), Tools(no, no, no, no, no, no))
        self.has: Parts = self.app.state.parts
        config = uvicorn.Config(self.app, log_level="error", ws="none", timeout_graceful_shutdown=5)
        self.uvicorn = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.uvicorn.run, kwargs={"sockets": [door]}, daemon=True)
        self.thread.start()
        until = time.monotonic() + PATIENCE_S
        while not self.uvicorn.started and time.monotonic() < until:
            time.sleep(0.01)
        assert self.uvicorn.started

    def stop(self) -> None:
        self.has.live.close()
        self.uvicorn.should_exit = True
        self.thread.join(timeout=PATIENCE_S)
        assert not self.thread.is_alive()


class Phone:
    """Hears the events of a workshop in a thread of its own."""

    def __init__(self, server: Server, workshop: str, device: str | None = None) -> None:
        told = {}
        if device is not None:  # what came by way of another machine is not the laptop's own
            told = {"x-forwarded-for": "192.0.2.40", "cookie": f"{COOKIE}={server.has.ticket.signed(device)}"}
        self.client = httpx2.Client(base_url=server.address, headers=told, timeout=PATIENCE_S)
        self.heard: Queue[tuple[str, Any]] = Queue()
        self.headers: Any = None
        where = f"/workshops/{workshop}/events"
        self.thread = threading.Thread(target=self._listen, args=(where,), daemon=True)
        self.thread.start()

    def _listen(self, where: str) -> None:
        kind = ""
        with suppress(httpx2.RemoteProtocolError), self.client.stream("GET", where) as answer:
            self.headers = answer.headers
            for line in answer.iter_lines():
                name, _, value = line.partition(": ")
                if name == "event":
                    kind = value
                if name == "data":
                    self.heard.put((kind, json.loads(value)))
        self.heard.put(("end", None))

    def close(self) -> None:
        self.thread.join(timeout=PATIENCE_S)
        self.client.close()

    def calls(self, count: int) -> list[Any]:
        """The calls as soon as there are so many."""
        while True:
            calls: list[Any] = self.hears("queue", SEEN_S)["calls"]
            if len(calls) == count:
                return calls

    def hears(self, kind: str, within_s: float = PATIENCE_S) -> Any:
        """What the next event of this kind tells; what comes before it is passed over."""
        until = time.monotonic() + within_s
        while True:
            try:
                name, value = self.heard.get(timeout=max(0.0, until - time.monotonic()))
            except Empty:
                pytest.fail(f"no {kind} within {within_s} s")
            if name == kind:
                return value

    def hears_nothing_more(self, for_s: float) -> None:
        time.sleep(for_s)
        assert [name for name, _ in self.heard.queue if name != "still"] == []


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    def no(*_told: object, **_how: object) -> Any:
        raise AssertionError

    server = Server(tmp_path_factory.mktemp("data"), no)
    yield server
    if server.thread.is_alive():
        server.stop()


@pytest.fixture
def laptop(server: Server) -> Iterator[httpx2.Client]:
    with httpx2.Client(base_url=server.address, timeout=PATIENCE_S) as client:
        yield client


@pytest.fixture
def workshop(laptop: httpx2.Client) -> str:
    return str(laptop.post("/workshops", json={"name": "Tuesday club", "day": "2026-11-24"}).json()["id"])


Listen = Callable[..., Phone]


@pytest.fixture
def listen(server: Server, laptop: httpx2.Client, workshop: str) -> Iterator[Listen]:
    phones: list[Phone] = []

    def new(device: str | None = None) -> Phone:
        phones.append(Phone(server, workshop, device))
        return phones[-1]

    yield new
    if server.thread.is_alive():
        laptop.delete(f"/workshops/{workshop}")  # which ends all that listen to it
    for phone in phones:
        phone.close()


def joined(server: Server, workshop: str, role: Any, bench: str | None = None) -> str:
    device = server.has.records.joins.enter(server.has.records.joins.add(workshop, role, 1.0), role + " {n}")
    assert device is not None
    if bench is not None:
        mine = server.has.records.sculptures.at_bench(workshop, bench)
        server.has.records.joins.set_sculpture(device.id, mine.id)
    return device.id


def test_a_tap_is_seen_on_every_phone(
    server: Server, laptop: httpx2.Client, workshop: str, listen: Listen
) -> None:
    helper = listen(joined(server, workshop, "helper"))
    owl = listen(joined(server, workshop, "bench", "Owl"))
    fox = listen(joined(server, workshop, "bench", "Fox"))
    assert helper.hears("queue")["calls"] == []
    assert owl.hears("queue")["call"] is None
    assert fox.hears("queue")["call"] is None
    assert helper.headers["content-type"].startswith("text/event-stream")
    assert "content-encoding" not in helper.headers
    call = laptop.post(f"/workshops/{workshop}/calls", json={"bench": "owl"}).json()
    assert helper.hears("queue", SEEN_S)["calls"][0]["bench"] == "Owl"
    assert owl.hears("queue", SEEN_S)["call"]["state"] == "waiting"
    assert laptop.post(f"/calls/{call['id']}/take?after=1").status_code == 200
    assert helper.hears("queue", SEEN_S)["calls"][0]["state"] == "taken"
    assert owl.hears("queue", SEEN_S)["call"]["state"] == "taken"
    # The other bench has nothing to do with it, and is not told.
    fox.hears_nothing_more(2 * BURST_S)


def test_a_burst_is_told_as_one(server: Server, laptop: httpx2.Client, workshop: str, listen: Listen) -> None:
    helper = listen(joined(server, workshop, "helper"))
    helper.hears("queue")
    benches = [server.has.records.sculptures.at_bench(workshop, str(n)).id for n in range(12)]
    for one in benches:
        server.has.records.calls.ask(workshop, one)
        server.has.live.tell(workshop)
    heard = 0
    while len(helper.hears("queue", SEEN_S)["calls"]) < len(benches):
        heard += 1
    assert heard < len(benches) / 2


def test_who_is_put_out_hears_no_more(
    server: Server, laptop: httpx2.Client, workshop: str, listen: Listen
) -> None:
    out, stays = joined(server, workshop, "helper"), joined(server, workshop, "helper")
    phone, other = listen(out), listen(stays)
    phone.hears("queue")
    other.hears("queue")
    assert laptop.delete(f"/workshops/{workshop}/devices/{out}").status_code == 204
    phone.hears("out", SEEN_S)
    assert phone.hears("end", SEEN_S) is None
    laptop.post(f"/workshops/{workshop}/calls", json={"bench": "7"})
    assert other.calls(1)[0]["bench"] == "7"


def test_a_bench_that_changes_hears_of_the_other_one(
    server: Server, laptop: httpx2.Client, workshop: str, listen: Listen
) -> None:
    laptop.post(f"/workshops/{workshop}/calls", json={"bench": "Fox"})
    tablet = listen(joined(server, workshop, "bench", "Owl"))
    assert tablet.hears("queue")["call"] is None
    assert tablet.client.put("/here/bench", json={"bench": "Fox"}).status_code == 200
    assert tablet.hears("queue", SEEN_S)["call"]["state"] == "waiting"


def test_a_phone_that_comes_back_often_has_its_newest_streams(
    server: Server, laptop: httpx2.Client, workshop: str, listen: Listen
) -> None:
    device = joined(server, workshop, "helper")
    streams = []
    for _ in range(MOST_STREAMS + 2):
        streams.append(listen(device))
        streams[-1].hears("queue")
    laptop.post(
        f"/workshops/{workshop}/calls", json={"bench": "7"}
    )  # whoever wakes up looks whether it counts
    for old in streams[:2]:
        old.hears("end", SEEN_S)
    for new in streams[2:]:
        assert new.calls(1)[0]["bench"] == "7"


def test_a_deleted_workshop_ends_its_streams(
    server: Server, laptop: httpx2.Client, workshop: str, listen: Listen
) -> None:
    phone = listen(joined(server, workshop, "helper"))
    phone.hears("queue")
    assert laptop.delete(f"/workshops/{workshop}").status_code == 204
    phone.hears("out", SEEN_S)


def test_streams_end_when_the_server_stops(server: Server, workshop: str, listen: Listen) -> None:
    phone = listen()
    phone.hears("queue")
    server.stop()
    assert phone.hears("end", SEEN_S) is None


def test_a_stream_ends_by_itself_when_the_server_stops(
    tmp_path: Path, tools: Tools, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is cut off instead has no last part, and the server logs an error for each phone."""
    monkeypatch.setattr(AppStatus, "should_exit", True)  # the library has seen the signal first
    with at_laptop(create_app(Settings(data_dir=tmp_path), tools)) as laptop:
        told = {"name": "Tuesday club", "day": "2026-11-24"}
        workshop = laptop.post("/workshops", json=told).json()["id"]
        has = replace(laptop.app.state.parts, who=OWNER)  # type: ignore[attr-defined]
        last = asyncio.run(last_of(has, workshop))
    assert last == {"type": "http.response.body", "body": b"", "more_body": False}


async def last_of(has: Parts, workshop: str) -> Message:
    """What is sent last by a stream that is told to end when its first part has come."""
    sent: list[Message] = []

    async def send(message: Message) -> None:
        sent.append(message)
        if message.get("body"):
            has.live.close()

    async def receive() -> Message:
        await asyncio.Event().wait()
        raise AssertionError

    async with asyncio.timeout(20):
        await stream(has, workshop)({"type": "http", "method": "GET"}, receive, send)
    return sent[-1]

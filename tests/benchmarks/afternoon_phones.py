"""Phones of a simulated afternoon: photos to send, requests that are timed, and what was acknowledged."""

import io
import json
import random
import time
from collections import Counter, defaultdict
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from typing import Any

import httpx2
from PIL import Image

import sample_images

PHONE_PX = 2400
"""Longer side of what a phone sends: between a small picture and the 3200 that are kept (estimated)."""
PATIENCE_S = 120.0
"""Then a phone gives up, which is an error here (estimated; the page itself goes on asking)."""
SAMPLES = ("boat", "caterpillar", "frog", "lighthouse", "newt", "owl", "snail", "turtle")


@dataclass
class Log:
    """What all phones saw: times in ms by kind of request, errors, and how often what was done."""

    times_ms: defaultdict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: Counter[str] = field(default_factory=Counter)
    done: Counter[str] = field(default_factory=Counter)
    measuring: bool = True

    def wrong(self, what: str) -> None:
        """Note an error."""
        self.errors[what] += 1


@dataclass(frozen=True)
class Shot:
    """A photo to send, with its case in the pixels of what is sent."""

    name: str
    jpeg: bytes
    case: dict[str, Any]
    doughs: list[dict[str, Any]]
    """As the page remembers them for the next photo: name, role and colour."""


def shots() -> list[Shot]:
    """All samples at the size of a phone's photo; drawn once, so that the phones cost little."""
    return [_shot(name) for name in SAMPLES]


def _shot(name: str) -> Shot:
    case = json.loads(sample_images.sample_path(f"{name}.case.json").read_text("utf-8"))
    with Image.open(sample_images.sample_path(f"{name}.jpg")) as opened:
        by = PHONE_PX / max(opened.size)
        larger = opened.resize(
            (round(opened.width * by), round(opened.height * by)), Image.Resampling.BICUBIC
        )
        small = opened.convert("RGB")
    out = io.BytesIO()
    larger.save(out, "JPEG", quality=88)
    case.pop("labels", None)
    doughs = [
        {"name": one["name"], "role": one["role"], "rgb": small.getpixel(tuple(map(round, one["taps"][0])))}
        for one in case["palette"]
    ]
    return Shot(name, out.getvalue(), scaled(case, by), doughs)


def scaled(told: Any, by: float) -> Any:
    """Every point [x, y] of a case times a factor."""
    if isinstance(told, dict):
        return {name: scaled(value, by) for name, value in told.items()}
    if not isinstance(told, list):
        return told
    if len(told) == 2 and all(isinstance(value, (int, float)) for value in told):
        return [round(value * by, 1) for value in told]
    return [scaled(value, by) for value in told]


def unlike(jpeg: bytes, chance: random.Random) -> bytes:
    """The same picture under another content: a comment (ITU-T T.81, marker COM) behind the first marker."""
    comment = chance.randbytes(16).hex().encode()
    return jpeg[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + jpeg[2:]


@dataclass
class Ledger:
    """What the server has acknowledged of calls and drafts, whoever asked for it."""

    calls: defaultdict[str, dict[int, str]] = field(default_factory=lambda: defaultdict(dict))
    """By call: the state that each revision led to."""
    marks: defaultdict[str, set[tuple[float, float]]] = field(default_factory=lambda: defaultdict(set))
    """By draft: places that were told."""
    asked_at: dict[str, float] = field(default_factory=dict)
    """By call: when the bench was told that it waits."""
    log: Log = field(default_factory=Log)

    def changed(self, call: dict[str, Any]) -> None:
        """A change of a call was acknowledged: no other may have led to the same revision."""
        if call["revision"] in self.calls[call["id"]]:
            self.log.wrong("call: two changes were acknowledged as one revision")
        self.calls[call["id"]][call["revision"]] = call["state"]

    def seen(self, call: dict[str, Any]) -> None:
        """A call was told of, which the same bench may have begun before."""
        self.calls[call["id"]].setdefault(call["revision"], call["state"])

    def open_calls(self) -> dict[str, str]:
        """The calls that nobody has ended, with their state; a gap in the revisions is an error."""
        left = {}
        for name, states in self.calls.items():
            last = max(states)
            if len(states) != last - min(states) + 1:
                self.log.wrong("call: a change was made that nobody was told of")
            if states[last] in ("waiting", "taken"):
                left[name] = states[last]
        return left


class Phone:
    """One browser: its own connections and cookies, and not on the laptop itself."""

    def __init__(self, address: str, log: Log, laptop: bool = False) -> None:
        self.log = log
        limits = httpx2.Limits(max_connections=6, max_keepalive_connections=6)  # as browsers do
        # Whoever was passed on is not the laptop: so the phones of this process are strangers at first.
        headers = {} if laptop else {"via": "1.1 hall"}
        self.http = httpx2.AsyncClient(base_url=address, timeout=PATIENCE_S, limits=limits, headers=headers)

    async def join(self, link: str) -> None:
        """Come in by the link of a QR code."""
        token = link.rpartition("#")[2]
        await self.ask("join", "POST", "/join", json={"token": token})

    async def events(self, path: str) -> AsyncIterator[dict[str, Any]]:
        """Each `queue` event of a stream, until it ends."""
        kind = ""
        async with self.http.stream("GET", path, timeout=None) as answer:
            if answer.status_code != 200:
                self.log.wrong(f"events: {answer.status_code}")
                return
            async for line in answer.aiter_lines():
                if line.startswith("event:"):
                    kind = line[6:].strip()
                elif line.startswith("data:") and kind == "queue":
                    yield json.loads(line[5:])

    async def ask(
        self, kind: str, method: str, path: str, well: tuple[int, ...] = (200, 201, 204), **more: Any
    ) -> httpx2.Response | None:
        """The answer, timed under `kind`; None, and an error noted, where it is none of `well`."""
        began = time.perf_counter()
        try:
            answer = await self.http.request(method, path, **more)
        except httpx2.HTTPError as error:
            self.log.wrong(f"{kind}: {type(error).__name__}")
            return None
        if self.log.measuring:
            self.log.times_ms[kind].append((time.perf_counter() - began) * 1000)
        if answer.status_code not in well:
            self.log.wrong(f"{kind}: {answer.status_code} {answer.text[:120]}")
            return None
        return answer

    async def close(self) -> None:
        """Hang up."""
        await self.http.aclose()

"""A bench of a simulated afternoon: photo, taps, answer, checks, and now and then a call for help.

The pace is estimated. Benches come with their first photo within the first two minutes. A round takes about a
minute: a photo (every second round; else the taps go on), a tap every 1.5 s on average, each kept as a draft,
the answer with its picture, one check, and some time with the dough. Colours are tapped on the first photo,
with outlines asked for at each tap; on the next ones the page finds them again and asks for outlines once, as
it does at a real bench. All the while it asks every 2 s for what others have told.
"""

import asyncio
import contextlib
import copy
import secrets
import time
from dataclasses import dataclass, field
from random import Random
from typing import Any

from afternoon_phones import Ledger, Log, Phone, Shot, unlike

TAP_S = 1.5
POLL_S, STAGE_S = 2.0, 0.4
ROUND_S, COMING_S = 60.0, 120.0
ASKS = 0.25
"""Chance that a round ends with a call for help."""
GIVES_UP = 0.02
"""Chance, at each piece of news, that a bench needs nobody any more."""


class _OverError(Exception):
    """The afternoon ends."""


@dataclass
class Draft:
    """What the page of a bench knows of its draft."""

    id: str
    revision: int
    job: dict[str, Any]


@dataclass
class Bench:
    """One sculpture with its phone."""

    phone: Phone
    log: Log
    chance: Random
    shots: list[Shot]
    number: int
    ledger: Ledger
    workshop: str
    slower: float = 1.0
    """How many times slower than that, for a machine that has other things to do."""
    sculpture: str | None = None
    drafts: list[Draft] = field(default_factory=list)
    photos: list[str] = field(default_factory=list)
    _shot: Shot | None = None
    _case: dict[str, Any] = field(default_factory=dict)
    _until: float = 0.0
    _preview: asyncio.Task[object] | None = None
    _watching: list[asyncio.Task[None]] = field(default_factory=list)

    async def come(self, link: str) -> None:
        """Join, and say which bench this is."""
        await self.phone.join(link)
        told = await self.phone.ask("bench", "PUT", "/here/bench", json={"bench": str(self.number)})
        self.sculpture = None if told is None else told.json()["id"]

    async def work(self, until: float) -> None:
        """Round after round until the clock of the loop says `until`."""
        clock = asyncio.get_running_loop().time
        await asyncio.sleep(self.chance.uniform(0, min(COMING_S * self.slower, (until - clock()) / 3)))
        self._until = until
        polling = asyncio.create_task(self._poll())
        rounds = 0
        with contextlib.suppress(_OverError):
            while True:
                next_round = clock() + ROUND_S * self.slower * self.chance.uniform(0.8, 1.2)
                if rounds % 2 == 0:
                    await self._new_photo()
                await self._tap_entries()
                await self._look()
                rounds += 1
                await self._pause(next_round - clock())
        for task in (polling, *self._watching):
            task.cancel()
        if self._preview is not None:
            self._preview.cancel()

    async def _pause(self, seconds: float | None = None) -> None:
        """So long, or as long as until the next tap; raises _OverError when the afternoon ends."""
        left = self._until - asyncio.get_running_loop().time()
        pause = self.chance.expovariate(1 / TAP_S / self.slower) if seconds is None else seconds
        await asyncio.sleep(max(0.0, min(pause, left)))
        if pause >= left:
            raise _OverError

    async def _new_photo(self) -> None:
        """Send a photo; tap its colours one after the other, or have them found again."""
        first = self._shot is None
        shot = self._shot or self.chance.choice(self.shots)
        where = f"/photos?token={secrets.token_urlsafe(16)}&sculpture={self.sculpture}"
        form = {"photo": ("photo.jpg", unlike(shot.jpeg, self.chance), "image/jpeg")}
        kept = await self.phone.ask("photo", "POST", where, files=form)
        if kept is None:
            return
        photo = kept.json()["id"]
        self.photos.append(photo)
        self._shot, self._case = shot, {**shot.case, "photo": photo}
        job: dict[str, Any] = {"palette": [], "size": {"kind": "mat"}, "leds": []}
        made = await self.phone.ask("draft", "POST", "/drafts", json={"photo": photo, "job": job})
        if made is None:
            return
        self.drafts.append(Draft(made.json()["id"], made.json()["revision"], job))
        if not first:
            wish = {"photo": photo, "doughs": shot.doughs}
            await self.phone.ask("colours found again", "POST", "/palettes/found", json=wish)
            self._outline(shot.case["palette"])
        for n, colour in enumerate(shot.case["palette"], start=1):
            if not first:
                self.drafts[-1].job["palette"].append({key: colour[key] for key in ("name", "role", "taps")})
                continue
            for m, tap in enumerate(colour["taps"], start=1):
                await self._pause()
                self._mark(n - 1, colour, tap)
                await self._put(self.drafts[-1])
                less = [*shot.case["palette"][: n - 1], {**colour, "taps": colour["taps"][:m]}]
                self._outline(less)

    def _mark(self, at: int, colour: dict[str, Any], tap: list[float]) -> None:
        palette = self.drafts[-1].job["palette"]
        if len(palette) <= at:
            palette.append({"name": colour["name"], "role": colour["role"], "taps": []})
        palette[at]["taps"].append(tap)

    def _outline(self, palette: list[dict[str, Any]]) -> None:
        """Ask for outlines; whoever taps on does not wait for those before."""
        if self._preview is not None and not self._preview.done():
            self._preview.cancel()
            self.log.done["outlines not waited for"] += 1
        if any(one["role"] == "conductive" for one in palette):
            wish = {"photo": self._case["photo"], "palette": palette, "scale": self._case.get("scale")}
            asking = self.phone.ask("preview", "POST", "/preview", json=wish)
            self._preview = asyncio.create_task(asking)

    async def _tap_entries(self) -> None:
        """The leads and legs, or some of them anew."""
        if not self.drafts or self._shot is None:
            return
        draft, case = self.drafts[-1], self._shot.case
        draft.job.update(plus=case["pack"]["plus"], minus=case["pack"]["minus"])
        await self._put(draft)
        draft.job["leds"] = []
        for led in case["leds"]:
            await self._pause()
            jitter = [round(value + self.chance.uniform(-2, 2), 2) for value in led["long_leg"]]
            told = {"id": led["id"], "long_leg": jitter, "short_leg": led["short_leg"]}
            draft.job["leds"].append({**told, "colour": led.get("colour", "red")})
            await self._put(draft)

    async def _put(self, draft: Draft) -> None:
        """Keep the draft; after a 409 put what is kept and what is new together, and try again."""
        for _ in range(6):
            sent = copy.deepcopy(draft.job)
            path = f"/drafts/{draft.id}?after={draft.revision}"
            answer = await self.phone.ask("draft", "PUT", path, (200, 409), json={"job": sent})
            if answer is None:
                return
            if answer.status_code == 200:
                draft.revision = answer.json()["revision"]
                self.ledger.marks[draft.id] |= marks_of(sent)
                return
            self.log.done["draft put together after 409"] += 1
            now = answer.json()["draft"]
            draft.revision = now["revision"]
            draft.job["cuts"] = now["job"].get("cuts", [])  # what helpers add; the rest is the bench's own
        self.log.wrong("draft: six times 409")

    async def _look(self) -> None:
        """The answer, with stages asked for meanwhile, its marks, and one check."""
        if not self.drafts or not self._case:
            return
        token = secrets.token_urlsafe(12)
        leds = [{**led, "long_leg": draft["long_leg"]} for led, draft in self._legs()]
        case = {**self._case, "leds": leds}
        waiting = asyncio.create_task(self._watch(token))
        answer = await self.phone.ask("inspection", "POST", f"/inspections?token={token}", json=case)
        waiting.cancel()
        if answer is None:
            return
        told = answer.json()
        if told["report"].get("schema") != "doughsight-report/1":
            self.log.wrong("inspection: an answer without a report")
        width, height = told["report"]["photo"]["width"], told["report"]["photo"]["height"]
        marks = f"/inspections/{told['id']}/overlay.svg?level=do&layers=walk,cut&px_per_mark=4"
        await self.phone.ask("overlay", "GET", f"{marks}&frame=0,0,{width},{height}")
        await self._pause(self.chance.uniform(3, 8))  # reading, and trying it on the dough
        check = told["report"].get("next_check")
        if check is not None:
            said = self.chance.choice(check["answers"])["answer"]
            body = {"action": check["action"], "parts": check["parts"], "answer": said}
            await self.phone.ask("check", "POST", f"/inspections/{told['id']}/checks?after=0", json=body)
        if self.chance.random() < ASKS:
            await self.ask_for_help()

    async def ask_for_help(self) -> None:
        """Press the big button, and watch the place in the queue until somebody has come."""
        answer = await self.phone.ask("queue: ask", "POST", f"/workshops/{self.workshop}/calls", json={})
        if answer is None:
            return
        call = answer.json()
        self.ledger.asked_at.setdefault(call["id"], time.perf_counter())
        self.ledger.seen(call)
        self._watching.append(asyncio.create_task(self._wait_for_help(call["id"])))

    async def _wait_for_help(self, call: str) -> None:
        async for told in self.phone.events(f"/workshops/{self.workshop}/events"):
            mine = told["call"]
            if mine is None or mine["id"] != call:
                return
            if mine["state"] == "waiting" and self.chance.random() < GIVES_UP:
                path = f"/calls/{call}/withdraw?after={mine['revision']}"
                answer = await self.phone.ask("queue: withdraw", "POST", path, (200, 409))
                if answer is not None and answer.status_code == 200:
                    self.ledger.changed(answer.json())
                    return

    def _legs(self) -> list[tuple[dict[str, Any], dict[str, Any]]]:
        told = {led["id"]: led for led in self.drafts[-1].job["leds"]}
        return [(led, told[led["id"]]) for led in self._case["leds"] if led["id"] in told]

    async def _watch(self, token: str) -> None:
        while True:
            await asyncio.sleep(STAGE_S)
            await self.phone.ask("stage", "GET", f"/stages/{token}")

    async def _poll(self) -> None:
        while True:
            await asyncio.sleep(POLL_S)
            if self.drafts:
                draft = self.drafts[-1]
                path = f"/drafts/{draft.id}?after={draft.revision}"
                answer = await self.phone.ask("draft asked for", "GET", path)
                if answer is not None and answer.status_code == 200:
                    told = answer.json()
                    draft.revision, draft.job["cuts"] = told["revision"], told["job"].get("cuts", [])


def marks_of(job: dict[str, Any]) -> set[tuple[float, float]]:
    """Every tap on dough and every cut, as places; the jittered legs come and go."""
    taps = [tuple(tap) for colour in job.get("palette", []) for tap in colour["taps"]]
    return {(x, y) for x, y in taps} | {tuple(cut["points"][0]) for cut in job.get("cuts", [])}

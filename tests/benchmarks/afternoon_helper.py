"""A helper of a simulated afternoon, who watches the queue on a phone and goes to whoever has waited longest.

The pace is estimated. All helpers see the same queue and press within a few seconds, so two often want to go
to the same bench: one may. Who goes looks at the photo and at what was found, marks a cut in the draft of the
bench, talks for 10 to 20 s, and says what it was; one in five puts the call back instead. Between calls
sculptures are finished, and now and then a sheet is printed.
"""

import asyncio
import contextlib
import itertools
import time
from dataclasses import dataclass, field
from random import Random
from typing import Any

from afternoon_phones import Ledger, Log, Phone

BREATH_S = (1.0, 4.0)
TALK_S = (10.0, 20.0)
PUTS_BACK = 0.2
FINISHES, PRINTS = 0.1, 0.02
"""Chances at each look at a quiet queue."""
KINDS = ("led-backwards", "leg-out", "short-pack", "gap-in-lump", "other")
_unique = itertools.count(1)


@dataclass
class Helper:
    """A phone in a helper's hand."""

    phone: Phone
    log: Log
    chance: Random
    ledger: Ledger
    workshop: str
    queue: dict[str, Any] = field(default_factory=dict)
    titles: dict[str, str] = field(default_factory=dict)
    """By sculpture: the last title that was acknowledged."""
    _told: set[str] = field(default_factory=set)

    async def work(self, until: float) -> None:
        """Until the clock of the loop says so."""
        clock = asyncio.get_running_loop().time
        watching = asyncio.create_task(self._watch())
        while clock() < until:
            await asyncio.sleep(min(self.chance.uniform(*BREATH_S), max(0.0, until - clock())))
            waiting = [one for one in self.queue.get("calls", ()) if one["state"] == "waiting"]
            if self.chance.random() < 0.2:
                await self.phone.ask("queue: look", "GET", f"/workshops/{self.workshop}/queue")
            if waiting:
                await self._go_to(waiting[0])
            elif self.chance.random() < FINISHES:
                await self._finish()
            elif self.chance.random() < PRINTS:
                await self._print()
        watching.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await watching

    async def _watch(self) -> None:
        async for told in self.phone.events(f"/workshops/{self.workshop}/events"):
            self.queue = told
            for call in told["calls"]:
                asked = self.ledger.asked_at.get(call["id"])
                if asked is not None and call["id"] not in self._told:
                    late = max(0.0, time.perf_counter() - asked) * 1000
                    self.log.times_ms["told live that a bench asks"].append(late)
                self._told.add(call["id"])

    async def _go_to(self, call: dict[str, Any]) -> None:
        path = f"/calls/{call['id']}"
        taken = await self._change("take", f"{path}/take?after={call['revision']}")
        if taken is None:
            return
        if call["photo"] is not None:
            await self.phone.ask("photo looked at", "GET", f"/photos/{call['photo']}")
        if call["draft"] is not None:
            await self._mark(call["draft"])
        await asyncio.sleep(self.chance.uniform(*TALK_S))
        if self.chance.random() < PUTS_BACK:
            await self._change("back", f"{path}/back?after={taken['revision']}")
        else:
            kind = {"kind": self.chance.choice(KINDS)}
            await self._change("solve", f"{path}/solve?after={taken['revision']}", json=kind)

    async def _change(self, what: str, path: str, **more: Any) -> dict[str, Any] | None:
        """The call as it is now; None where somebody else was quicker."""
        answer = await self.phone.ask(f"queue: {what}", "POST", path, (200, 409), **more)
        if answer is None:
            return None
        if answer.status_code == 409:
            self.log.done[f"{what}: somebody else was quicker"] += 1
            return None
        call: dict[str, Any] = answer.json()
        self.ledger.changed(call)
        return call

    async def _mark(self, draft: str) -> None:
        """A cut in the draft of the bench, which is being tapped on at the same time."""
        at = (float(next(_unique)), 7.5)
        for _ in range(6):
            kept = await self.phone.ask("draft read", "GET", f"/drafts/{draft}")
            if kept is None:
                return
            job, revision = kept.json()["job"], kept.json()["revision"]
            job["cuts"] = [*job.get("cuts", []), {"points": [list(at), [at[0], 20.0]]}]
            path = f"/drafts/{draft}?after={revision}"
            answer = await self.phone.ask("draft", "PUT", path, (200, 409), json={"job": job})
            if answer is None:
                return
            if answer.status_code == 200:
                self.ledger.marks[draft].add(at)
                self.log.done["cuts marked by helpers"] += 1
                return
        self.log.wrong("cut: six times 409")

    async def _finish(self) -> None:
        """Give one sculpture a title and call it finished, after the revision that is kept."""
        listed = await self.phone.ask("sculptures", "GET", f"/workshops/{self.workshop}/sculptures")
        if listed is None or not listed.json():
            return
        one = self.chance.choice(listed.json())
        title = f"Light {next(_unique)}"
        path = f"/sculptures/{one['id']}?after={one['revision']}"
        told = {"title": title, "finished": True}
        answer = await self.phone.ask("finish", "PUT", path, (200, 409), json=told)
        if answer is not None and answer.status_code == 200:
            self.titles[f"{one['id']} {answer.json()['revision']}"] = title

    async def _print(self) -> None:
        listed = await self.phone.ask("sculptures", "GET", f"/workshops/{self.workshop}/sculptures")
        if listed is not None and listed.json():
            one = self.chance.choice(listed.json())
            await self.phone.ask("sheet", "GET", f"/sculptures/{one['id']}/sheet.pdf", (200, 404, 409))

"""The help queue as it is told: read once for all phones that look at it, and what went wrong, by kind."""

import json
import time
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from threading import Lock

from anyio import CapacityLimiter, to_thread

from api.live import Live
from api.records import Records, WaitingCall
from api.records.calls import Fault
from api.records.clock import now
from api.who import Who

OTHER = "other"
"""What a call turned out to be when none of the kinds fits."""
MOST_KINDS = 5
"""Rows of the chart: more are not read at arm's length (estimated)."""
STOP_SCULPTURES, STOP_SHARE = 4, 0.5
"""A good moment to stop the class: so many sculptures with one kind, and that share of all with a fault
(estimated: with fewer it is quicker to go from bench to bench)."""
STOP_WINDOW = timedelta(minutes=30)
"""Only what was seen lately counts for that: who was told an hour ago need not be told again (estimated)."""
FRESH_S = 2.0
"""How long a board is believed though nobody told of a change [s] (estimated)."""
AT_ONCE = 4
"""Threads that read for all phones: they must not wait for the threads that look at photos (estimated)."""
MOST_STREAMS = 6
"""Of one device: browsers open so many connections to a server (from memory)."""


@dataclass(frozen=True)
class KindCount:
    """A kind of fault, and how many sculptures had it."""

    code: str
    sculptures: int


@dataclass(frozen=True)
class Chart:
    """What went wrong in this workshop so far, most first; `of` counts the sculptures with any fault.

    `stop` is the kind that it would be good to stop the class for, None: none.
    """

    kinds: tuple[KindCount, ...]
    of: int
    stop: str | None


@dataclass(frozen=True)
class Board:
    """A workshop's queue as all helpers see it."""

    workshop_id: str
    name: str
    over: bool
    benches: int
    helpers: int
    calls: tuple[WaitingCall, ...]
    chart: Chart
    at_ms: int = field(compare=False)
    """When it was read: of two that come to a phone by two ways, the later one counts."""

    def of_sculpture(self, sculpture_id: str | None) -> tuple[WaitingCall, int] | None:
        """Its open call, and how many calls that nobody has taken stand before it; None if it has none."""
        before = 0
        for one in self.calls:
            if one.call.sculpture_id == sculpture_id:
                return one, before
            before += one.call.state == "waiting"
        return None


class Listeners:
    """Which streams are open. A phone that comes back often leaves dead ones behind: its newest ones stay."""

    def __init__(self) -> None:
        self._of: defaultdict[str, list[object]] = defaultdict(list)

    def add(self, device_id: str) -> object:
        """A stream of this device opens; what stands for it is handed out."""
        new, streams = object(), self._of[device_id]
        streams.append(new)
        del streams[:-MOST_STREAMS]
        return new

    def counts(self, device_id: str, stream: object) -> bool:
        """Whether this stream is to go on."""
        return stream in self._of[device_id]

    def drop(self, device_id: str, stream: object) -> None:
        """It has ended."""
        self._of[device_id] = [one for one in self._of[device_id] if one is not stream]
        if not self._of[device_id]:
            del self._of[device_id]


class Boards:
    """The boards of one running app, each read once for everybody until something of it changes."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._read: dict[str, tuple[int, float, Board]] = {}
        self._turns: CapacityLimiter | None = None
        self.listeners = Listeners()

    async def seen(
        self, records: Records, live: Live, workshop_id: str, who: Who
    ) -> tuple[Board, Who] | None:
        """The board, and who asks by now; None if there is no such workshop, or none open to this device."""
        self._turns = self._turns or CapacityLimiter(AT_ONCE)
        read = partial(self._seen, records, live, workshop_id, who)
        return await to_thread.run_sync(read, limiter=self._turns)

    def of(self, records: Records, live: Live, workshop_id: str) -> Board | None:
        """The board as it is now; None if there is no such workshop. May be called from any thread."""
        with self._lock:
            # The count comes first: what changes while the board is read makes it be read again.
            count = live.count(workshop_id)
            known = self._read.get(workshop_id)
            if known is not None and known[0] == count and time.monotonic() - known[1] < FRESH_S:
                return known[2]
            at, board = time.monotonic(), _board(records, workshop_id)
            if board is None:
                self._read.pop(workshop_id, None)
            else:
                self._read[workshop_id] = (count, at, board)
            return board

    def forget(self) -> None:
        """Keep none of them, after something was deleted."""
        with self._lock:
            self._read.clear()

    def _seen(self, records: Records, live: Live, workshop_id: str, who: Who) -> tuple[Board, Who] | None:
        by_now = who if who.device is None else records.joins.who(who.device)
        if by_now is None or by_now.role != who.role or not by_now.may_enter(workshop_id):
            return None
        board = self.of(records, live, workshop_id)
        return None if board is None else (board, by_now)


def chart_of(faults: Iterable[Fault], at: datetime, running: bool) -> Chart:
    """Counted over sculptures: each once for each kind, however often it was looked at."""
    by_kind: defaultdict[str, set[str]] = defaultdict(set)
    lately: defaultdict[str, set[str]] = defaultdict(set)
    for fault in faults:
        for kind in _kinds(fault.kinds):
            by_kind[kind].add(fault.sculpture_id)
            if fault.seen >= at - STOP_WINDOW:
                lately[kind].add(fault.sculpture_id)
    return Chart(
        kinds=tuple(KindCount(kind, n) for kind, n in _ranked(by_kind)[:MOST_KINDS]),
        of=_together(by_kind),
        stop=_stop(lately) if running else None,
    )


def _ranked(by_kind: dict[str, set[str]]) -> list[tuple[str, int]]:
    """Kinds that have a name, most sculptures first."""
    counts = [(kind, len(of)) for kind, of in by_kind.items() if kind != OTHER]
    return sorted(counts, key=lambda one: (-one[1], one[0]))


def _together(by_kind: dict[str, set[str]]) -> int:
    return len(set().union(*by_kind.values()))


def _stop(lately: dict[str, set[str]]) -> str | None:
    for kind, n in _ranked(lately)[:1]:
        if n >= STOP_SCULPTURES and n >= STOP_SHARE * _together(lately):
            return kind
    return None


def _kinds(told: str) -> list[str]:
    return json.loads(told) if told.startswith("[") else [told]


def _board(records: Records, workshop_id: str) -> Board | None:
    at_ms, workshop = time.time_ns() // 1_000_000, records.workshops.get(workshop_id)
    if workshop is None:
        return None
    queue = records.calls.queue(workshop_id)
    return Board(
        workshop_id=workshop_id,
        name=workshop.entry.name,
        over=workshop.ended is not None,
        benches=queue.benches,
        helpers=queue.helpers,
        calls=queue.calls,
        chart=chart_of(queue.faults, now(), running=workshop.ended is None),
        at_ms=at_ms,
    )

"""News of each workshop, for whoever waits for it: a number that grows with every change."""

import asyncio
from collections import defaultdict
from threading import Lock


class Live:
    """Tells waiting phones that something in a workshop has changed. Of one server process.

    `tell` may be called from any thread; `wait` belongs to the server's event loop.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._count: defaultdict[str, int] = defaultdict(int)
        self._waiting: dict[str, set[asyncio.Event]] = defaultdict(set)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._closed = False

    def count(self, workshop: str) -> int:
        """How many changes there were."""
        with self._lock:
            return self._count[workshop]

    def tell(self, workshop: str | None) -> None:
        """Something of this workshop has changed; nothing happens without one."""
        if workshop is None:
            return
        with self._lock:
            self._count[workshop] += 1
            waiting, loop = list(self._waiting[workshop]), self._loop
        for event in waiting:
            if loop is not None and not loop.is_closed():
                loop.call_soon_threadsafe(event.set)

    async def wait(self, workshop: str, after: int, most_s: float) -> int:
        """The count as soon as it is not `after` any more, or after `most_s`, or at the end of the server."""
        event = asyncio.Event()
        with self._lock:
            self._loop = asyncio.get_running_loop()
            if self._count[workshop] != after or self._closed:
                return self._count[workshop]
            self._waiting[workshop].add(event)
        try:
            async with asyncio.timeout(most_s):
                await event.wait()
        except TimeoutError:
            pass
        finally:
            with self._lock:
                self._waiting[workshop].discard(event)
        return self.count(workshop)

    @property
    def closed(self) -> bool:
        """Whether the server is stopping: streams are to end."""
        return self._closed

    def close(self) -> None:
        """Wake everybody up for the last time."""
        with self._lock:
            self._closed = True
            names = list(self._waiting)
        for name in names:
            self.tell(name)

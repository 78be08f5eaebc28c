"""Whose turn it is: heavy work, so many at once, answers before outlines."""

from heapq import heappop, heappush
from threading import Condition

from anyio import CapacityLimiter
from fastapi import HTTPException

from api.language.speech import N_
from api.memory import give_back

STOPPING = N_("Doughsight is being stopped on the laptop. Try again when it runs.")


THREADS = 12
"""So many of each kind stand in the row with a thread of their own; the others wait without one, so that the
server's threads are there for what takes milliseconds (anyio has 40)."""


class Turns:
    """Lets `most` work at once; the others wait in a row. Used by `with turns:` in any thread.

    With `with turns.later:` one stands behind all who came by `with turns:`, and begins only while two places
    are free: two photos looked at on the same two cores take twice as long each. `row` is what a route passes
    before it takes a thread.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self.row = CapacityLimiter(THREADS)
        self._changed = Condition()
        self._row: list[tuple[int, int]] = []
        self._came = self.running = 0
        self._closed = False
        self.later = _Later(self)

    def enter(self, rank: int) -> None:
        """Wait for one's turn, behind all of a lower rank. HTTPException 503 where the server stops first."""
        with self._changed:
            mine = (rank, self._came)
            self._came += 1
            heappush(self._row, mine)
            self._changed.wait_for(lambda: self._closed or (self._row[0] == mine and self._room_for(rank)))
            if self._closed:
                raise HTTPException(503, STOPPING)
            heappop(self._row)
            self.running += 1
            self._changed.notify_all()  # there may be room for one more

    def leave(self) -> None:
        """Let the next one work."""
        give_back()
        with self._changed:
            self.running -= 1
            self._changed.notify_all()

    def _room_for(self, rank: int) -> bool:
        return self.running < (self._most if rank == 0 else max(1, self._most - 1))

    def __enter__(self) -> None:
        self.enter(0)

    def __exit__(self, *_error: object) -> None:
        self.leave()

    def close(self) -> None:
        """Who works may end; who waits or comes is sent away."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    @property
    def waiting(self) -> int:
        """How many wait."""
        return len(self._row)


class _Later:
    """The end of the row."""

    def __init__(self, turns: Turns) -> None:
        self._turns = turns
        self.row = CapacityLimiter(THREADS)

    def __enter__(self) -> None:
        self._turns.enter(1)

    def __exit__(self, *_error: object) -> None:
        self._turns.leave()

"""Whose turn it is: heavy work, so many at once, in the order in which it was asked for."""

from threading import Condition

from fastapi import HTTPException

from api.language.speech import N_

STOPPING = N_("Doughsight is being stopped on the laptop. Try again when it runs.")


class Turns:
    """Lets `most` work at once; the others wait in a row. Used by `with turns:` in any thread."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._changed = Condition()
        self._came = self._done = 0
        self._closed = False

    def __enter__(self) -> None:
        """Wait for one's turn. HTTPException 503 where the server stops before that."""
        with self._changed:
            mine = self._came
            self._came += 1
            self._changed.wait_for(lambda: self._closed or mine < self._done + self._most)
            if self._closed and mine >= self._done + self._most:
                raise HTTPException(503, STOPPING)

    def __exit__(self, *_error: object) -> None:
        with self._changed:
            self._done += 1
            self._changed.notify_all()

    def close(self) -> None:
        """Who works may end; who waits is sent away."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    @property
    def running(self) -> int:
        """How many work."""
        return min(self._most, self._came - self._done)

    @property
    def waiting(self) -> int:
        """How many wait."""
        return max(0, self._came - self._done - self._most)

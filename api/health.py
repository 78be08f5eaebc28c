"""How the running server is: what its health check and its owner are told."""

import shutil
import sys
import time
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from threading import Lock

from api.records import Records
from api.turns import Turns

FRESH_S = 5.0
"""Asked more often than that, the same is told again: whoever asks costs nothing."""
LEAST_FREE_MB = 100.0
"""Less room than that on the disk, and photos are soon refused (estimated: a hundred photos of 1 MB)."""


@dataclass(frozen=True)
class Health:
    """What was seen, with nothing of anybody in it."""

    well: bool
    version: str
    up_s: int
    database_writes: bool
    disk_free_MB: float
    eyes_loaded: bool
    """False until the first photo is looked at."""
    inspecting: int
    waiting: int
    memory_MB: float | None
    """What lies in memory; None where the system does not tell."""


class Doctor:
    """Looks at one running server."""

    def __init__(self, records: Records, turn: Turns, folder: Path) -> None:
        self._records, self._turn, self._folder = records, turn, folder
        self._began = time.monotonic()
        self._lock = Lock()
        self._last: tuple[float, Health] | None = None

    def health(self) -> Health:
        """How it is now, or was some seconds ago; while somebody looks, others are told what was seen last.

        So a database that hangs takes one thread and not all of them, whoever asks how often.
        """
        if self._last is not None and self._lock.locked():
            return self._last[1]
        with self._lock:
            if self._last is None or time.monotonic() - self._last[0] > FRESH_S:
                self._last = (time.monotonic(), self._look())
            return self._last[1]

    def _look(self) -> Health:
        writes = self._records.takes_writes()
        free = shutil.disk_usage(self._folder).free / 1e6
        eyes = sys.modules.get("vision.eyes")
        return Health(
            well=writes and free > LEAST_FREE_MB,
            version=version("doughsight"),
            up_s=round(time.monotonic() - self._began),
            database_writes=writes,
            disk_free_MB=round(free),
            eyes_loaded=bool(eyes is not None and eyes.is_loaded()),
            inspecting=self._turn.running,
            waiting=self._turn.waiting,
            memory_MB=memory_mb(),
        )


def memory_mb() -> float | None:
    """What this process has in memory."""
    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    except OSError:
        return None
    import resource  # there is none on Windows, nor a /proc

    return round(pages * resource.getpagesize() / 1e6, 1)

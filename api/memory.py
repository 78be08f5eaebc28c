"""The server's memory: given back to the system after each photo, so that it stays level all afternoon.

glibc keeps what is freed, in an arena for each thread; with the pictures of thirty benches in forty threads
it grew to 2.9 GB within six minutes. Other systems' libraries are left as they are.
"""

import ctypes
import gc
import sys
import time
from dataclasses import dataclass

ARENA_MAX, MMAP_THRESHOLD, TRIM_THRESHOLD = -8, -3, -1
"""Names of `mallopt` (glibc, malloc.h)."""
ARENAS = 2
APART_BYTES = 2_000_000
"""Arrays above that get memory of their own from the system, and give it back at once. At 1 MB that took a
tenth more time for a photo, at 4 MB half as much memory more (measured on the samples)."""
SPARE_BYTES = 64_000_000
"""So much may lie ready; with less, the same pages go to and fro all the time."""
PAUSE_S = 1.0
"""At the most once in this time: it takes 20 ms of a photo's second, but three times as long as a what-if."""


@dataclass
class _Kept:
    """Whether this process is a server that stays small, and when it gave back last."""

    small: bool = False
    at_s: float = 0.0


_kept = _Kept()


def stay_small() -> None:
    """Set this before other threads begin, when all that is needed for good has been loaded."""
    gc.collect()
    _kept.small = True
    gc.freeze()  # so that looking for what hangs in rings of references takes milliseconds
    mallopt = getattr(_libc(), "mallopt", None)
    if mallopt is not None:
        for name, value in (
            (ARENA_MAX, ARENAS),
            (MMAP_THRESHOLD, APART_BYTES),
            (TRIM_THRESHOLD, SPARE_BYTES),
        ):
            mallopt(name, value)


def give_back() -> None:
    """Let the system have what is free: some 50 MB of a sculpture's sums hang in rings of references.

    Only in a process that was told to stay small, and not again and again.
    """
    if not _kept.small or time.monotonic() - _kept.at_s < PAUSE_S:
        return
    _kept.at_s = time.monotonic()
    gc.collect()
    trim = getattr(_libc(), "malloc_trim", None)
    if trim is not None:
        trim(0)


def _libc() -> ctypes.CDLL | None:
    return ctypes.CDLL(None) if sys.platform == "linux" else None

"""Wrong codes, counted: six digits are few, so nobody may try many of them.

At 60 wrong codes in 5 minutes and 500 a day from all addresses together, a stranger who tries all day finds
one of ten open codes with a chance of 0.5 % (500 x 10 / 1,000,000). Counts are in memory only, and gone
within a day; addresses are written nowhere.
"""

import math
import time
from collections.abc import Callable
from ipaddress import IPv6Address, ip_address
from threading import Lock
from typing import TypeVar

from limits import RateLimitItem, RateLimitItemPerDay, RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import FixedWindowRateLimiter

OF_ADDRESS = RateLimitItemPerMinute(10, 5)
OF_ALL = (RateLimitItemPerMinute(60, 5), RateLimitItemPerDay(500))
Found = TypeVar("Found")
NETWORK_BITS = 64
"""One household has at least that many IPv6 addresses (RFC 6177), so they count as one."""


class TooManyError(Exception):
    """There were too many wrong tries; `wait_s` [s] until the next one."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(f"{wait_s} s to wait")
        self.wait_s = wait_s


class Tries:
    """Counts wrong tries, by address and over all. Of one server process."""

    def __init__(self) -> None:
        self._limiter = FixedWindowRateLimiter(MemoryStorage())
        self._lock = Lock()

    def one(self, peer: str | None, look: Callable[[], Found | None], guessable: bool = True) -> Found | None:
        """What `look` finds; raises TooManyError instead of looking after too many tries that found nothing.

        One at a time, so that many at once are counted, too. What cannot be guessed, such as a link, counts
        for its address only: nobody shuts others out with it.
        """
        counts = self._counts(peer) if guessable else self._counts(peer)[:1]
        with self._lock:
            full = [one for one in counts if not self._limiter.test(*one)]
            if full:
                ends = max(self._limiter.get_window_stats(*one).reset_time for one in full)
                raise TooManyError(max(1, math.ceil(ends - time.time())))
            found = look()
            if found is None:
                for one in counts:
                    self._limiter.hit(*one)
        return found

    def _counts(self, peer: str | None) -> list[tuple[RateLimitItem, str]]:
        return [(OF_ADDRESS, _network(peer)), *((one, "all") for one in OF_ALL)]


def _network(peer: str | None) -> str:
    """The address, or the network of an IPv6 address."""
    try:
        address = ip_address(peer or "")
    except ValueError:
        return "unknown"
    if isinstance(address, IPv6Address) and address.ipv4_mapped is None:
        return str(int(address) >> (128 - NETWORK_BITS))
    return str(address)

"""What was deleted a moment ago: whoever was at work with it meanwhile does not remember it afterwards."""

import time
from collections.abc import Collection
from dataclasses import dataclass, field
from threading import Lock

KNOWN_S = 300.0
"""Whatever was begun before a deletion is over by then: the longest looks take a minute (estimated)."""


@dataclass(frozen=True)
class Gone:
    """Names of what was deleted lately."""

    _until: dict[str, float] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def add(self, names: Collection[str]) -> None:
        """Note them, before what is remembered of them is forgotten."""
        now = time.monotonic()
        with self._lock:
            for name in [one for one, until in self._until.items() if until < now]:
                del self._until[name]
            self._until.update(dict.fromkeys(names, now + KNOWN_S))

    def is_in(self, text: str) -> bool:
        """Whether a name of something deleted is part of the text; ask this when it would be remembered."""
        now = time.monotonic()
        with self._lock:
            return any(until >= now and name in text for name, until in self._until.items())

"""How long things are kept: when a workshop is deleted, and the deleting, at the start and every hour."""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from anyio import to_thread

from api.live import Live
from api.logs import tell
from api.records import KeptWorkshop, Records
from api.workshop_schemas import WorkshopEntry

EVERY_S = 3600.0
_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Swept:
    """How much was deleted."""

    workshops: int
    photos: int


def deleted_on(entry: WorkshopEntry, created: datetime) -> date | None:
    """The day on which everything of a workshop is deleted; None: nobody set one.

    Its days begin with the workshop, or when it came here (`created`, UTC), whichever is later:
    an archive of last year is not gone an hour after it was brought in.
    """
    if entry.keep_days is None:
        return None
    return max(entry.day, created.date()) + timedelta(days=entry.keep_days)


def local_now() -> datetime:
    """The time with the laptop's own zone: its days are meant, not those of Greenwich."""
    return datetime.now().astimezone()


def sweep(records: Records, live: Live, at: datetime, photo_days: int | None = None) -> Swept:
    """Delete workshops whose days are over at the time `at` (with a zone), and photos of no workshop.

    Those go that were neither sent nor worked on for `photo_days`; None keeps them.
    """
    workshops = 0
    for one in records.workshops.all():
        if _is_over(one, at.date()) and records.delete_workshop(one.id):
            live.tell(one.id)
            workshops += 1
    if photo_days is None:
        return Swept(workshops, 0)
    before = (at.astimezone(UTC) - timedelta(days=photo_days)).replace(tzinfo=None)
    photos = records.delete_photos(records.photos_of_no_workshop(before))
    return Swept(workshops, photos)


def _is_over(kept: KeptWorkshop, today: date) -> bool:
    day = deleted_on(kept.entry, kept.created)
    return day is not None and day <= today


@asynccontextmanager
async def sweeping(
    records: Records,
    live: Live,
    photo_days: int | None,
    clock: Callable[[], datetime] = local_now,
    every_s: float = EVERY_S,
) -> AsyncIterator[None]:
    """Sweep at once and every `every_s` seconds, until the block ends; a sweep on its way is waited for."""

    async def on_and_on() -> None:
        while True:
            try:
                swept = await to_thread.run_sync(sweep, records, live, clock(), photo_days)
            except Exception:
                # The next one may do better: a database that is busy is no reason to keep photos for ever.
                _log.exception("what is over could not be deleted")
            else:
                if swept != Swept(0, 0):
                    tell("deleted what is over", workshops=swept.workshops, photos=swept.photos)
            await asyncio.sleep(every_s)

    task = asyncio.create_task(on_and_on())
    try:
        yield
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task

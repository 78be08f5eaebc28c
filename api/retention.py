"""How long things are kept: when a workshop is deleted, and the deleting."""

from datetime import date, datetime, timedelta

from api.workshop_schemas import WorkshopEntry


def deleted_on(entry: WorkshopEntry, created: datetime) -> date | None:
    """The day on which everything of a workshop is deleted; None: nobody set one.

    Its days begin with the workshop, or when it came here (`created`, UTC), whichever is later:
    an archive of last year is not gone an hour after it was brought in.
    """
    if entry.keep_days is None:
        return None
    return max(entry.day, created.date()) + timedelta(days=entry.keep_days)

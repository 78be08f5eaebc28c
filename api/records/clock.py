"""The time as it is kept."""

from datetime import UTC, datetime


def now() -> datetime:
    """UTC, without saying so."""
    return datetime.now(UTC).replace(tzinfo=None)

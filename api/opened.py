"""The photos decoded last: every tap of a preview, and the answer after it, look at the same photo again."""

from functools import lru_cache

from api.thumbs import forget_thumbs
from vision.model import Photo
from vision.photo import open_photo, photo_size, shrink_for

MOST = 2
"""Up to 25 MB each: one and the same phone taps on, or looks at a photo beside the one before (estimated)."""


@lru_cache(maxsize=MOST)
def decoded(data: bytes, shrink: int) -> Photo:
    """The same as `open_photo`, remembered."""
    return open_photo(data, shrink)


def opened(data: bytes, mm_per_px: float | None) -> Photo:
    """The photo, decoded no larger than needed at this scale, None where no true one is known.

    Raises PhotoError as `open_photo` does.
    """
    return decoded(data, shrink_for(*photo_size(data), mm_per_px))


def forget_opened() -> None:
    """Keep none of them, nor small pictures: a deleted photo is to be gone."""
    decoded.cache_clear()
    forget_thumbs()

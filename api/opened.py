"""The photos decoded last: every tap of a preview, and the answer after it, look at the same photo again."""

import hashlib
from collections import OrderedDict
from collections.abc import Collection
from threading import Lock

from api.gone import Gone
from api.thumbs import forget_thumbs
from vision.model import Photo
from vision.photo import open_photo, photo_size, shrink_for

MOST = 2
"""Up to 25 MB each: one and the same phone taps on, or looks at a photo beside the one before (estimated)."""

_lock = Lock()
_known: OrderedDict[tuple[str, int], Photo] = OrderedDict()
_gone = Gone()


def decoded(data: bytes, shrink: int) -> Photo:
    """The same as `open_photo`, remembered unless the photo was deleted meanwhile."""
    key = (hashlib.sha256(data).hexdigest(), shrink)
    with _lock:
        if key in _known:
            _known.move_to_end(key)
            return _known[key]
    photo = open_photo(data, shrink)
    with _lock:
        if not _gone.is_in(key[0]):
            _known[key] = photo
            while len(_known) > MOST:
                _known.popitem(last=False)
    return photo


def opened(data: bytes, mm_per_px: float | None) -> Photo:
    """The photo, decoded no larger than needed at this scale, None where no true one is known.

    Raises PhotoError as `open_photo` does.
    """
    return decoded(data, shrink_for(*photo_size(data), mm_per_px))


def forget_opened(names: Collection[str] = ()) -> None:
    """Keep none of them, nor small pictures: a deleted photo is to be gone.

    `names` are those of what was deleted, SHA-256 of its content: it is not remembered by those who still
    look at it either.
    """
    _gone.add(names)
    with _lock:
        _known.clear()
    forget_thumbs(names)

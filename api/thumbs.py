"""Small pictures of photos, for lists: made when asked for, in memory only, and gone with their photos."""

import hashlib
from collections import OrderedDict
from collections.abc import Collection
from threading import Lock

import cv2
import numpy as np

from api.gone import Gone
from vision.model import Photo
from vision.photo import SHRINKS, encode_jpeg, open_photo, photo_size

SHORT_PX = 240
"""The shorter side in a list: a slip shows 76 CSS px, and phones have up to 3 pixels in each."""
LARGER_PX = 720
"""The same where one photo fills a phone's width."""
MOST_BYTES = 8_000_000
"""About 15 kB each in a list, 90 kB where one fills the width: those of some workshops (estimated)."""
Frame = tuple[int, int, int, int]


class _Made:
    """The small pictures made last; what was being made when they were forgotten is not kept."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._by_key: OrderedDict[tuple[str, Frame | None, int], bytes] = OrderedDict()
        self._bytes = 0
        self._forgotten = 0
        self._gone = Gone()

    def of(self, jpeg: bytes, frame: Frame | None, short_px: int) -> bytes:
        key = (hashlib.sha256(jpeg).hexdigest(), frame, short_px)
        with self._lock:
            forgotten, known = self._forgotten, self._by_key.get(key)
            if known is not None:
                self._by_key.move_to_end(key)
                return known
        made = _made_small(jpeg, frame, short_px)
        with self._lock:
            new = key not in self._by_key and not self._gone.is_in(key[0])
            if new and forgotten == self._forgotten:
                self._by_key[key] = made
                self._bytes += len(made)
                while self._bytes > MOST_BYTES:
                    self._bytes -= len(self._by_key.popitem(last=False)[1])
        return made

    def forget(self, names: Collection[str]) -> None:
        self._gone.add(names)
        with self._lock:
            self._by_key.clear()
            self._bytes = 0
            self._forgotten += 1

    def __len__(self) -> int:
        return len(self._by_key)


_made = _Made()


def small_jpeg(jpeg: bytes, frame: Frame | None, short_px: int = SHORT_PX) -> bytes:
    """The part of a photo inside `frame` [left, top, right, bottom in px; None: all of it], small."""
    return _made.of(jpeg, frame, short_px)


def thumbs_in_memory() -> int:
    """How many are kept."""
    return len(_made)


def forget_thumbs(names: Collection[str] = ()) -> None:
    """Keep none of them, and none of the photos of these names later on: a deleted photo is to be gone."""
    _made.forget(names)


def _made_small(jpeg: bytes, frame: Frame | None, short_px: int) -> bytes:
    width, height = photo_size(jpeg)
    left, top, right, bottom = frame or (0, 0, width, height)
    short = min(right - left, bottom - top)
    shrink = max((one for one in SHRINKS if short >= one * short_px), default=1)
    pixels = open_photo(jpeg, shrink).pixels
    rows = slice(top // shrink, max(bottom // shrink, top // shrink + 1))
    columns = slice(left // shrink, max(right // shrink, left // shrink + 1))
    part = pixels[rows, columns]
    scale = min(1.0, short_px / min(part.shape[:2]))
    size = (max(1, round(part.shape[1] * scale)), max(1, round(part.shape[0] * scale)))
    small = cv2.resize(np.ascontiguousarray(part), size, interpolation=cv2.INTER_AREA)
    return encode_jpeg(Photo(np.ascontiguousarray(small, dtype=np.uint8)))

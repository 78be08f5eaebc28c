"""What may come of a hostile request: it is refused in one sentence, or a clean picture is kept."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hostile_pictures import SCRIPT
from PIL import Image

MOST_SIDE_PX = 3200
CLEAN = {0xDB, 0xC0, 0xC4, 0xDA, 0xE0}
"""Markers of a JPEG with tables, frame, scan and JFIF's head only (ITU-T T.81, annex B)."""


def judged(answer: Any, get: Callable[[str], Any]) -> str:
    """'kept' or 'refused'; AssertionError for anything else. `get` asks for a path."""
    told = answer.json()
    if answer.status_code == 201:
        photo = get(f"/photos/{told['id']}")
        assert photo.status_code == 200
        assert_clean(photo.content, told)
        return "kept"
    assert 400 <= answer.status_code < 500, answer.status_code
    assert_one_sentence(told)
    return "refused"


def judged_archive(answer: Any) -> str:
    """The same of an archive."""
    if answer.status_code == 201:
        assert answer.json()["id"]
        return "kept"
    assert 400 <= answer.status_code < 500, answer.status_code
    assert_one_sentence(answer.json())
    return "refused"


def assert_one_sentence(told: Any) -> None:
    assert set(told) == {"error"}
    text = told["error"]
    assert isinstance(text, str) and 10 < len(text) < 300, text
    assert text[0].isupper() and text.endswith("."), text
    assert "Traceback" not in text and "object at 0x" not in text


def assert_clean(jpeg: bytes, told: Any) -> None:
    """A re-encoded JPEG that holds nothing but its pixels."""
    at = 2
    while jpeg[at + 1] != 0xDA:
        assert jpeg[at] == 0xFF and jpeg[at + 1] in CLEAN, hex(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    assert jpeg.endswith(b"\xff\xd9") and jpeg.count(b"\xff\xd9") == 1
    assert SCRIPT not in jpeg
    with Image.open(io.BytesIO(jpeg)) as image:
        assert image.format == "JPEG" and image.size == (told["width"], told["height"])
        assert max(image.size) <= MOST_SIDE_PX
        image.load()


def surroundings(*folders: Path) -> set[str]:
    """All that lies there now."""
    return {str(one) for folder in folders for one in folder.rglob("*")}

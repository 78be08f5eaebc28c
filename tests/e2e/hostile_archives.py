"""Archives of workshops that mean ill, made by a seed: names that climb out, bombs, and lies."""

import io
import json
import random
import stat
import warnings
import zipfile
from collections.abc import Iterator
from functools import cache
from typing import Any

from hostile_pictures import HTML, MAKERS, SVG, ZIP, good

TIME = "2026-03-04T10:00:00Z"
SLIPS = (
    "../slipped.txt",
    "../../../../../../tmp/doughsight-was-here.jpg",
    "/tmp/doughsight-was-here.jpg",
    "..\\..\\slipped.txt",
    "photos/../../slipped.txt",
    "photos/0001.jpg/../../../slipped.txt",
    "C:/slipped.txt",
    "photos/\0.jpg",
    "photos/0001.jpg\0.txt",
    "photos/\u202egpj.1000",
    "doughsight.db",
    "photos/" + "a" * 9000,
    "photos/0002.jpg",
    "PHOTOS/0001.JPG",
    "./photos/0001.jpg",
    "photos//0001.jpg",
    "workshop.json/",
)

Files = list[tuple[str | zipfile.ZipInfo, bytes]]


def attempts(seed: int, count: int) -> Iterator[tuple[str, bytes]]:
    """What was tried, and the archive; the same for the same seed."""
    rng = random.Random(seed)
    for number in range(count):
        make = MUTATIONS[number % len(MUTATIONS)]
        yield make.__name__, make(rng)


def told() -> dict[str, Any]:
    """A workshop with one photo, as `workshop.json` tells it."""
    photo = {"width": 300, "height": 400, "sent": TIME, "sculpture": None, "frame": None}
    return {
        "schema": "doughsight-workshop/1",
        "workshop": {"name": "Owls", "day": "2026-03-04"},
        "ended": TIME,
        "sculptures": [],
        "photos": [photo],
        "cases": [],
        "calls": [],
    }


def files(told: Any, photo: bytes | None = None) -> Files:
    text = told if isinstance(told, bytes) else json.dumps(told).encode()
    return [("workshop.json", text), ("photos/0001.jpg", good("jpeg") if photo is None else photo)]


def packed(files: Files) -> bytes:
    out = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        warnings.simplefilter("ignore")  # that a name comes twice is meant
        for name, data in files:
            archive.writestr(name, data)
    return out.getvalue()


@cache
def whole() -> bytes:
    """An archive with nothing wrong."""
    return packed(files(told()))


def cut(rng: random.Random) -> bytes:
    return whole()[: rng.randrange(len(whole()))]


def flipped(rng: random.Random) -> bytes:
    data = bytearray(whole())
    for _ in range(rng.choice((1, 3, 30))):
        at = rng.choice((rng.randrange(len(data)), len(data) - 1 - rng.randrange(160), rng.randrange(80)))
        data[at] ^= 1 << rng.randrange(8)
    return bytes(data)


def spliced(rng: random.Random) -> bytes:
    data = whole()
    a, b = sorted(rng.randrange(len(data)) for _ in range(2))
    return rng.choice((data[:a] + data[b:], data[:b] + data[a:], data + data, ZIP + data, data + SVG))


def climbing(rng: random.Random) -> bytes:
    """A file that would lie elsewhere if it were unpacked by its name."""
    return packed([*files(told()), (rng.choice(SLIPS), b"slipped")])


def link(rng: random.Random) -> bytes:
    """A link, a device or a folder with the name of a photo."""
    one = zipfile.ZipInfo("photos/0001.jpg")
    one.external_attr = rng.choice((stat.S_IFLNK, stat.S_IFCHR, stat.S_IFDIR, stat.S_IFIFO)) << 16
    return packed([files(told())[0], (one, b"../../../../etc/passwd")])


def bomb(rng: random.Random) -> bytes:
    """Zeros where a text or a photo should be."""
    zeros = bytes(rng.choice((5, 60)) << 20)
    return packed(files(zeros) if rng.random() < 0.5 else files(told(), zeros))


def many(rng: random.Random) -> bytes:
    return packed([*files(told()), *((f"photos/{n:04}.jpg", b"") for n in range(2, rng.choice((10, 9000))))])


def other_photo(rng: random.Random) -> bytes:
    """A photo that is none, or that means ill itself."""
    return packed(files(told(), rng.choice((HTML, ZIP, b"", whole(), rng.choice(MAKERS)(rng)))))


def other_text(rng: random.Random) -> bytes:
    """A `workshop.json` with one value that it must not have, or that is no JSON at all."""
    wrong: tuple[Any, ...] = (None, -1, 10**400, 1e308, "x" * 100_000, [], {}, [[]], True, "\0", "\ud800")
    told_wrong = told()
    where = rng.choice((told_wrong, told_wrong["workshop"], told_wrong["photos"][0]))
    where[rng.choice([*where, "surprise"])] = rng.choice(wrong)
    texts = (b"", b"{", b"[" * 100_000, b'{"a":' * 50_000, b"NaN", b"\xff\xfe", b'{"schema":1}', b"null")
    return packed(files(rng.choice((told_wrong, told_wrong, told_wrong, rng.choice(texts)))))


def locked(rng: random.Random) -> bytes:
    """Marked as encrypted, or packed in another way."""
    data = bytearray(whole())
    at = data.rfind(b"PK\1\2")
    field, value = rng.choice(((8, 1), (10, 12), (10, 99), (24, 0), (20, 0), (42, 255)))
    data[at + field] = value
    return bytes(data)


MUTATIONS = (cut, flipped, spliced, climbing, link, bomb, many, other_photo, other_text, locked)

"""Requests that bring a photo and mean ill, made by a seed: forms that are none, and names that are paths."""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from hostile_pictures import MAKERS, good

NAMES = (
    "photo.jpg",
    "../../../../etc/passwd",
    "..\\..\\windows\\system32\\photo.jpg",
    "/tmp/doughsight-was-here.jpg",
    "C:\\photo.jpg",
    "photo\0.jpg",
    "\u202egpj.exe",
    "a" * 10_000 + ".jpg",
    "",
    ".",
    "con.jpg",
    "photo.jpg%00.php",
    "'; DROP TABLE photos; --",
    "<script>alert(1)</script>.svg",
    "{0.__class__}",
    "%s%n%x",
    "\udce4.jpg",
    '"',
)


@dataclass(frozen=True)
class Attempt:
    """One request to POST /photos; `name` says what was tried."""

    name: str
    body: bytes
    kind: str


def attempts(seed: int, count: int) -> Iterator[Attempt]:
    """So many of them; the same for the same seed."""
    rng = random.Random(seed)
    for number in range(count):
        if number % 4 == 3:
            make = FORMS[number // 4 % len(FORMS)]
            yield make(rng)
        else:
            maker = MAKERS[number % len(MAKERS)]
            data = maker(rng)
            yield form(rng, data, maker.__name__)


def part(data: bytes, filename: str | None, field: str = "photo", more: bytes = b"") -> bytes:
    """One part of a form."""
    name = b"" if filename is None else b'; filename="' + filename.encode("utf-8", "surrogateescape") + b'"'
    head = b'Content-Disposition: form-data; name="' + field.encode() + b'"' + name + b"\r\n" + more
    return b"--edge\r\n" + head + b"\r\n" + data + b"\r\n"


def form(rng: random.Random, data: bytes, what: str) -> Attempt:
    """A proper form with a file and any name."""
    named = rng.choice(NAMES) if rng.random() < 0.5 else "photo.jpg"
    typed = rng.choice((b"", b"Content-Type: image/jpeg\r\n", b"Content-Type: text/html\r\n"))
    return Attempt(
        what, part(data, named, more=typed) + b"--edge--\r\n", "multipart/form-data; boundary=edge"
    )


# ---------------------------------------------------------------- forms that are none


def hostile_name(rng: random.Random) -> Attempt:
    return Attempt("hostile_name", part(good("jpeg"), rng.choice(NAMES)) + b"--edge--\r\n", KIND)


def two_photos(rng: random.Random) -> Attempt:
    return Attempt(
        "two_photos", part(good("jpeg"), "a.jpg") + part(good("png"), "b.png") + b"--edge--\r\n", KIND
    )


def no_end(rng: random.Random) -> Attempt:
    return Attempt("no_end", part(good("jpeg"), "a.jpg")[: -rng.choice((1, 2, 200, 3000))], KIND)


def wrong_edge(rng: random.Random) -> Attempt:
    kinds = (
        "multipart/form-data; boundary=other",
        "multipart/form-data",
        "multipart/form-data; boundary=",
        "multipart/form-data; boundary=" + "e" * 5000,
        "multipart/form-data; boundary=edge; charset=utf-7",
        "multipart/form-data; boundary=edge; charset=../../x",
        "multipart/mixed; boundary=edge",
        "application/x-www-form-urlencoded",
        "application/json",
        "image/jpeg",
        "",
        'multipart/form-data; boundary="ed\\ge',
    )
    return Attempt("wrong_edge", part(good("jpeg"), "a.jpg") + b"--edge--\r\n", rng.choice(kinds))


def other_fields(rng: random.Random) -> Attempt:
    many = b"".join(part(b"x" * 50, None, f"f{n}") for n in range(rng.choice((1, 30, 2000))))
    return Attempt("other_fields", many + part(good("jpeg"), "a.jpg") + b"--edge--\r\n", KIND)


def text_field(rng: random.Random) -> Attempt:
    return Attempt(
        "text_field", part(rng.choice((good("jpeg"), b"hello", b"")), None) + b"--edge--\r\n", KIND
    )


def wrong_field(rng: random.Random) -> Attempt:
    field = rng.choice(("photos", "file", "", "photo[]", "__proto__", "photo.jpg"))
    return Attempt("wrong_field", part(good("jpeg"), "a.jpg", field) + b"--edge--\r\n", KIND)


def large_head(rng: random.Random) -> Attempt:
    more = rng.choice(
        (
            b"X-A: " + b"a" * 200_000 + b"\r\n",
            b"X-A: b\r\n" * 5000,
            b"Content-Type: " + b"\xff" * 90 + b"\r\n",
        )
    )
    return Attempt("large_head", part(good("jpeg"), "a.jpg", more=more) + b"--edge--\r\n", KIND)


def nested(rng: random.Random) -> Attempt:
    inner = part(good("jpeg"), "a.jpg") + b"--edge--\r\n"
    for _ in range(rng.choice((1, 50))):
        inner = part(inner, None, more=b"Content-Type: multipart/mixed; boundary=edge\r\n") + b"--edge--\r\n"
    return Attempt("nested", inner, KIND)


def no_form(rng: random.Random) -> Attempt:
    body = rng.choice((b"", b"--edge--", b"--edge\r\n", b"\r\n" * 500, rng.randbytes(3000), good("jpeg")))
    return Attempt("no_form", body, KIND)


def too_large(rng: random.Random) -> Attempt:
    return Attempt("too_large", part(good("jpeg") + bytes(4_000_000), "a.jpg") + b"--edge--\r\n", KIND)


KIND = "multipart/form-data; boundary=edge"
FORMS: tuple[Callable[[random.Random], Attempt], ...] = (
    hostile_name,
    two_photos,
    no_end,
    wrong_edge,
    other_fields,
    text_field,
    wrong_field,
    large_head,
    nested,
    no_form,
    too_large,
)

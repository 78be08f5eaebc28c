"""Which languages there are, which one is spoken now, and which one suits a browser."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal, cast

from babel import Locale, negotiate_locale

ENGLISH = "en"
CATALOGUES = Path(__file__).with_name("catalogues")
Direction = Literal["ltr", "rtl"]


@dataclass(frozen=True)
class Language:
    """A language: its code (BCP 47), its own name, where its lines begin, and how Babel knows it."""

    code: str
    name: str
    direction: Direction
    locale: Locale


@cache
def languages() -> Mapping[str, Language]:
    """English, and every language that has a catalogue, by code."""
    codes = [ENGLISH, *sorted(path.stem for path in CATALOGUES.glob("*.po"))]
    return {code: _language(code) for code in codes}


_now: ContextVar[str] = ContextVar("language", default=ENGLISH)


def spoken() -> Language:
    """The language of this request, or of this command."""
    return languages()[_now.get()]


def speak(code: str) -> None:
    """From now on this language is spoken, by this command."""
    _now.set(code)


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Within it this language is spoken, in this thread and those that it starts through anyio."""
    token = _now.set(code if code in languages() else ENGLISH)
    try:
        yield
    finally:
        _now.reset(token)


def suited(chosen: str | None, accepted: str) -> str:
    """The language that was chosen, else the best of a header Accept-Language, else English."""
    if chosen in languages():
        return cast(str, chosen)
    return negotiate_locale(_by_liking(accepted), list(languages()), sep="-") or ENGLISH


def _by_liking(accepted: str) -> list[str]:
    """The codes of a header Accept-Language (RFC 9110, 12.5.4), the most wanted first."""
    wishes: list[tuple[float, str]] = []
    for one in accepted.split(","):
        code, _, quality = one.partition(";")
        try:
            wanted = float(quality.strip().removeprefix("q=") or 1.0)
        except ValueError:
            wanted = 0.0
        if code.strip() and wanted > 0:
            wishes.append((wanted, code.strip()))
    return [code for _, code in sorted(wishes, key=lambda wish: -wish[0])]


def _language(code: str) -> Language:
    # British spelling and lists ('L1, L2 and L3') are the English of this project.
    locale = Locale.parse("en-GB" if code == ENGLISH else code, sep="-")
    own = Locale.parse(code, sep="-").get_display_name() or code
    return Language(code, own[:1].upper() + own[1:], cast(Direction, locale.text_direction), locale)

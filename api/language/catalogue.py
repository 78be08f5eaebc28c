"""Message catalogues (gettext .po, read as they are, without a build step)."""

import gettext
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from api.language.languages import CATALOGUES, ENGLISH

Key = tuple[str | None, str]
"""Context and English template; the context of a word of the page is its key."""


@dataclass(frozen=True)
class Messages:
    """What a language has words for: one for each English template, or one for each plural form."""

    plain: Mapping[Key, str]
    plural: Mapping[Key, tuple[str, ...]]
    form_of: Callable[[int], int]
    """Which plural form a number takes (the header Plural-Forms)."""


def read_catalogue(code: str) -> Catalog:
    """The catalogue of a language as Babel knows it."""
    with (CATALOGUES / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code.replace("-", "_"))


@cache
def messages(code: str) -> Messages:
    """The finished translations of a language; English has none."""
    if code == ENGLISH:
        return Messages({}, {}, lambda _: 0)
    catalogue = read_catalogue(code)
    plain: dict[Key, str] = {}
    plural: dict[Key, tuple[str, ...]] = {}
    for message in catalogue:
        if not message.id or message.fuzzy:
            continue
        said = message.string
        if isinstance(message.id, str):
            if isinstance(said, str) and said:
                plain[message.context, message.id] = said
        elif isinstance(said, tuple | list) and all(said):
            plural[message.context, message.id[0]] = tuple(said)
    return Messages(plain, plural, gettext.c2py(catalogue.plural_expr))

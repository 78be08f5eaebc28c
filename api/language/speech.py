"""Templates into the language that is spoken: translated first, then filled."""

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from string import Formatter
from typing import Any

from babel.lists import format_list
from babel.numbers import format_decimal

from api.language.catalogue import messages
from api.language.languages import ENGLISH, spoken

FIGURES = re.compile(r"-?\d+(\.\d+)?")


def _(text: str, /, **slots: object) -> str:
    """An English template with `{slots}`, translated and filled. Literals in this call are collected."""
    return filled(translated(text), slots)


def N_(text: str, /) -> str:
    """The text as it is; marks a template that is translated where it is said."""
    return text


def translated(text: str, context: str | None = None) -> str:
    """The template in the language that is spoken; as it is where that language has none."""
    return messages(spoken().code).plain.get((context, text), text)


def known(text: str) -> bool:
    """Whether the language that is spoken has words for this template."""
    code = spoken().code
    return code == ENGLISH or (None, text) in messages(code).plain


def counted(one: str, other: str, n: int, /, **slots: object) -> str:
    """The plural form for `n`, which fills the slot `n`. Literals in this call are collected."""
    has = messages(spoken().code)
    forms = has.plural.get((None, one))
    text = forms[has.form_of(n)] if forms else one if n == 1 else other
    return filled(text, {"n": n, **slots})


def filled(text: str, slots: Mapping[str, object]) -> str:
    """The slots put in, numbers as the language writes them. Without slots braces stay as they are."""
    return _Filler().vformat(text, (), slots) if slots else text


def figure(value: float | str, spec: str = "") -> str:
    """A number as the language writes it; `spec` as in `format`."""
    shown = format(value, spec)
    language = spoken()
    if language.code == ENGLISH or not FIGURES.fullmatch(shown):
        return shown
    decimals = len(shown.partition(".")[2])
    pattern = f"0.{'0' * decimals}" if decimals else "0"
    return format_decimal(Decimal(shown), pattern, locale=language.locale)


def listed(names: Sequence[str]) -> str:
    """L1, L2 and L3."""
    return format_list(list(names), locale=spoken().locale)


class _Filler(Formatter):
    def format_field(self, value: Any, spec: str) -> str:
        if isinstance(value, int | float) and not isinstance(value, bool):
            return figure(value, spec)
        return str(format(value, spec))

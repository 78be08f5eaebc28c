"""The words of the page: a key, and its sentence or one sentence for each plural category (CLDR)."""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from babel import Locale

from api.language.catalogue import messages
from api.language.languages import ENGLISH, languages
from api.language.vocabulary import DOUGHS, OF_SAMPLES

Template = str | Mapping[str, str]
BENCH = ("page.en.json",)
ALL = ("page.en.json", "rooms.en.json")
MOST_TRIED = 200
"""Every plural category of whole numbers that CLDR has shows itself below (from memory)."""


@cache
def page_words(code: str = ENGLISH, files: tuple[str, ...] = BENCH) -> Mapping[str, Template]:
    """Key -> template with `{slots}`, English where the language has none; names of doughs as `dough_...`.

    The bench page gets only the words of `page.en.json`; the rooms those of `rooms.en.json`, too.
    """
    has = messages(code).plain
    doughs = {f"dough_{name}": has.get(("word", name), name) for name in (*DOUGHS, *OF_SAMPLES, "table")}
    return {**{key: _in_language(code, key, text) for key, text in english_words(files).items()}, **doughs}


def english_words(files: tuple[str, ...] = ALL) -> Mapping[str, Template]:
    """The words of the pages as they are written."""
    found: dict[str, Template] = {}
    for name in files:
        found |= json.loads(Path(__file__).with_name(name).read_text("utf-8"))
    return found


def _in_language(code: str, key: str, english: Template) -> Template:
    has = messages(code)
    if isinstance(english, str):
        return has.plain.get((key, english), english)
    forms = has.plural.get((key, english["one"]))
    if forms is None:
        return english
    return {category: forms[i] for category, i in _form_by_category(code).items()}


@cache
def _form_by_category(code: str) -> Mapping[str, int]:
    """Plural category -> number of the form in the catalogue, found by trying numbers."""
    category_of, form_of = _locale(code).plural_form, messages(code).form_of
    found = {category_of(n): form_of(n) for n in range(MOST_TRIED)}
    return {**found, "other": found.get("other", form_of(MOST_TRIED))}


def _locale(code: str) -> Locale:
    return languages()[code].locale

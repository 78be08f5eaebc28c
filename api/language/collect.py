"""Bring the catalogues up to date: `python -m api.language.collect`.

Collects all that may be said: the words of the page, the tables of sentences, and what stands as a literal
in the calls of `CALLS`. Writes `doughsight.pot`, and into each `.po` what is new there; what nobody says any
more goes, and what was changed a little stays, marked as fuzzy until somebody has looked at it.
"""

import io
import json
import sys
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_file
from babel.messages.pofile import write_po

import sample_images
from api import second_words, words
from api.language.catalogue import read_catalogue
from api.language.languages import CATALOGUES, ENGLISH, languages
from api.language.page_words import ALL, english_words
from api.language.vocabulary import WORDS
from api.wording import DIALOGUES, TABLES
from vision import quality

ROOT = Path(__file__).parents[2]
PACKAGES = ("api", "vision", "circuit")
ERRORS = ("InputError", "VisionError", "PhotoError", "ScaleError", "PaletteError")
OF_SUMS = ("CircuitError", "SculptureError", "SolveError", "ChangeError")
CALLS: Mapping[str, tuple[int, ...] | None] = {
    "_": None,
    "N_": None,
    "counted": (1, 2),
    "HTTPException": (2,),
    **dict.fromkeys((*ERRORS, *OF_SUMS)),
}
"""Whose first argument, or which ones, are templates."""
TEMPLATE = CATALOGUES / "doughsight.pot"
WIDTH = 110
LEFT_OUT = tuple(
    f'"{head}'
    for head in (
        *("POT-Creation-Date", "PO-Revision-Date", "Generated-By"),
        *("Report-Msgid-Bugs-To", "Last-Translator", "Language-Team"),
    )
)
"""Lines of the head that say nothing of the words."""

Id = str | tuple[str, str]
"""A template, or that for one and that for more."""


def everything() -> Iterator[tuple[Id, str | None, str]]:
    """Each template with its context, and where it comes from."""
    for name in ALL:
        for key, text in english_words((name,)).items():
            yield (text if isinstance(text, str) else (text["one"], text["other"])), key, name
    for word in WORDS:
        yield word, "word", "vocabulary.py"
    for age, table in TABLES.items():
        yield from ((text, None, f"sentences {age}") for text in _texts(table))
    for age, dialogue in DIALOGUES.items():
        yield from ((text, None, f"dialogue {age}") for text in _texts(dialogue))
    told = (second_words.SAYS, words.CAUTIONS, words.BLOCK_CAUTION, quality.SAYS)
    yield from ((text, None, "sentences") for text in _texts(told))
    for row in json.loads(sample_images.sample_path("samples.json").read_text("utf-8")):
        yield row["title"], None, "samples.json"
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            yield from _in_code(path)


def template() -> Catalog:
    """All of it as a catalogue without a language."""
    catalogue = Catalog(project="Doughsight", charset="utf-8", fuzzy=False)
    for text, context, where in everything():
        catalogue.add(text, context=context, locations=[(where, 1)])
    return catalogue


def po_text(catalogue: Catalog) -> str:
    """A catalogue as it is kept: without names and dates, so that the same words make the same file."""
    out = io.BytesIO()
    write_po(out, catalogue, width=WIDTH, ignore_obsolete=True, include_lineno=False)
    lines = out.getvalue().decode().splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith(LEFT_OUT))


def main() -> None:
    """Write the template and all catalogues; say what lacks words."""
    found = template()
    TEMPLATE.write_text(po_text(found), "utf-8")
    for code in languages():
        if code == ENGLISH:
            continue
        catalogue = read_catalogue(code)
        catalogue.update(found)
        (CATALOGUES / f"{code}.po").write_text(po_text(catalogue), "utf-8")
        lacking = [one for one in catalogue if one.id and (one.fuzzy or not any(one.string or ""))]
        sys.stdout.write(f"{code}: {len(found) - len(lacking)} of {len(found)} have words\n")


def _texts(value: object) -> Iterator[str]:
    """All texts in tables of tables."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _texts(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from _texts(inner)
    elif is_dataclass(value):
        for one in fields(value):
            yield from _texts(getattr(value, one.name))


def _in_code(path: Path) -> Iterator[tuple[Id, str | None, str]]:
    for _line, text, _comments, _context in extract_from_file("python", path, keywords=CALLS):
        yield (text[0], text[1]) if isinstance(text, tuple) else text, None, str(path.relative_to(ROOT))


if __name__ == "__main__":
    main()

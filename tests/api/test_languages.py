"""Languages: which is spoken, what falls back to English, plurals, numbers, and catalogues without holes."""

import contextvars
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from askers import at_laptop
from babel.messages.catalog import Message
from babel.messages.pofile import read_po
from fastapi.testclient import TestClient
from typer.testing import CliRunner

import sample_images
from api import commands, fonts, strip, words
from api.app import create_app
from api.check_words import answer_words, cause_words, check_words
from api.errors import InputError, told
from api.language import speech
from api.language.catalogue import messages, read_catalogue
from api.language.collect import TEMPLATE, everything, template
from api.language.languages import ENGLISH, languages, speaking, spoken, suited
from api.language.page_words import english_words, page_words
from api.language.speech import counted, figure, filled, known, listed
from api.marks import words as words_mark
from api.schemas import Case, Report
from api.second_words import change_words
from api.settings import Settings
from api.wording.sentences import Age
from api.wording.slots import amperes, mm, ohms, volts
from circuit.model import Cause, Finding, Step
from vision.errors import PhotoError
from vision.photo import photo_size

SLOT = re.compile(r"{(\w+)(![rs])?(:[^}]*)?}")
OTHERS = [code for code in languages() if code != ENGLISH]
PAGE = "page.en.json"


def slots(text: str) -> list[str]:
    """The slots with their formats, in any order: a language may turn a sentence round."""
    return sorted(found.group() for found in SLOT.finditer(text))


def said(code: str) -> Iterator[Message]:
    """The finished messages of a catalogue."""
    for message in read_catalogue(code):
        if message.id and not message.fuzzy and any(message.string or ""):
            yield message


# ---------------------------------------------------------------- which language


@pytest.mark.parametrize(
    ("chosen", "accepted", "right"),
    [
        (None, "", "en"),
        (None, "es-MX,es;q=0.9,en;q=0.8", "es"),
        (None, "de, ar-EG;q=0.7, es;q=0.3", "ar"),
        (None, "de,fr;q=0.5", "en"),
        (None, "es;q=0, ar;q=0.1", "ar"),
        (None, "en;q=0.4, es;q=0.6", "es"),
        (None, "*, es;q=nonsense", "en"),
        ("ar", "es", "ar"),
        ("en", "es", "en"),
        ("xx", "es", "es"),
        ("../etc", "", "en"),
    ],
)
def test_the_chosen_language_counts_then_the_browsers(chosen: str | None, accepted: str, right: str) -> None:
    assert suited(chosen, accepted) == right


def test_each_language_names_itself_and_says_where_it_begins() -> None:
    assert {(one.code, one.name, one.direction) for one in languages().values()} >= {
        ("en", "English", "ltr"),
        ("es", "Español", "ltr"),
        ("ar", "العربية", "rtl"),
    }


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with at_laptop(create_app(Settings(data_dir=tmp_path))) as client:
        yield client


def test_page_and_errors_come_in_the_language_of_the_request(client: TestClient) -> None:
    spanish = {"accept-language": "es"}
    assert '<html lang="es" dir="ltr">' in client.get("/", headers=spanish).text
    arabic = client.get("/", headers={**spanish, "cookie": "doughsight-language=ar"})
    assert '<html lang="ar" dir="rtl">' in arabic.text
    assert client.get("/photos/nix", headers=spanish).json() == {
        "error": "Esta foto no se guarda aquí, o se borró. Envíala otra vez."
    }
    refused = client.delete("/photos/nix", headers={**spanish, "sec-fetch-site": "cross-site"})
    assert refused.status_code == 403
    assert refused.json()["error"].startswith("Esto se pidió desde otro sitio.")
    # After all that the next helper is spoken to in English.
    assert client.get("/photos/nix").json()["error"].startswith("This photo is not kept here")


def test_photo_errors_are_translated_with_their_numbers(client: TestClient) -> None:
    files = {"photo": ("x.jpg", b"nothing of a photo", "image/jpeg")}
    answer = client.post("/photos", files=files, headers={"accept-language": "ar"})
    assert answer.status_code == 422
    assert answer.json()["error"].startswith("الملف ليس صورة تُقرأ")
    with speaking("es"):
        error = InputError(
            "This draft has {count} characters, over {most}. Take some strokes out.", count=7, most=5
        )
        assert told(error) == "Este borrador tiene 7 caracteres, más de 5. Quita algunos trazos."
    assert str(error) == told(error) == "This draft has 7 characters, over 5. Take some strokes out."


def test_an_error_without_slots_may_hold_braces() -> None:
    assert told(InputError("The case has {odd} braces.")) == "The case has {odd} braces."
    with pytest.raises(PhotoError, match="0 bytes"):
        photo_size(b"")


# ---------------------------------------------------------------- sentences, numbers, plurals


def test_sentences_are_translated_before_their_slots_are_filled() -> None:
    short = Finding("short-round-the-end", "stop", ("pack",), (0.0, 0.0), facts={"dough": "pink"}, cut_mm=1.4)
    with speaking("es"):
        told_es = words.finding_words(short)
    assert told_es.why == "La masa rosa claro rodea el final de la pared."
    assert told_es.do == "Corta aquí, 1,4\u00a0mm de largo, hasta la mesa. Deja separados los dos lados."
    with speaking("ar"):
        assert words.finding_words(short).why == "العجينة الوردية تدور حول نهاية الجدار."
    assert words.finding_words(short).why == "Pink dough goes round the end of the wall."


def test_a_name_that_the_helper_gave_stays_as_it_is() -> None:
    gap = Finding("gap-in-lump", "fix", (), (0.0, 0.0), facts={"dough": "Lunas Teig"})
    with speaking("es"):
        assert words.finding_words(gap).look == "Busca un hueco en la masa Lunas Teig."


def test_legs_leads_and_kinds_of_parts_are_words_of_the_language() -> None:
    with speaking("es"):
        assert words.step_words(Step("move", ("L2.short",), (0.0, 0.0), facts={"dough": "teal"})) == (
            "Pasa la pata corta de L2 a la masa verde azulada, aquí."
        )
        wire = Finding(
            "short-wire", "fix", ("W1",), (0.0, 0.0), facts={"part_kind": "wire", "crosses": "L1 and L2"}
        )
        assert words.finding_words(wire).why == "El alambre W1 rodea L1 y L2."
        assert change_words("light", "9-12", part="L1", was="off", now="bright") == (
            "L1 estaba apagado; según los cálculos ahora está brillante."
        )


def test_checks_speak_the_language() -> None:
    with speaking("es"):
        assert check_words("turn", ("L2",)).do == "Gira L2 y mira. Si nada cambia, gíralo otra vez."
        assert answer_words("turn", "same") == "Nada cambia"
        assert cause_words(Cause("leg-loose", ("L3",), (0.0, 0.0))) == "una pata suelta de L3"


def test_what_has_no_words_falls_back_to_english() -> None:
    with speaking("ar"):
        assert filled("No such sentence {n}.", {"n": 3}) == "No such sentence 3."
        assert counted("one thing", "{n} things", 2) == "2 things"


def test_a_sentence_that_falls_back_is_english_with_its_units(monkeypatch: pytest.MonkeyPatch) -> None:
    short = Finding(
        "short-round-the-end", "stop", ("pack",), (0.0, 0.0), facts={"dough": "pink"}, cut_mm=13.2
    )
    with speaking("ar"):
        said = words.finding_words(short, "13+")
        assert said.do == "اقطع العنق، عرضه 13\u00a0مم، حتى الطاولة."
        without = {
            key: text for key, text in messages("ar").plain.items() if not key[1].startswith("Cut the")
        }
        gap = replace(messages("ar"), plain=without)
        monkeypatch.setattr(speech, "messages", lambda code: gap if code == "ar" else messages(code))
        fallen = words.finding_words(short, "13+")
    assert fallen == replace(said, do="Cut the 13\u00a0mm neck, right down to the table.")


def test_a_way_to_say_it_that_has_words_goes_before_one_that_has_none() -> None:
    with speaking("ar"):
        assert words.with_words(("No such sentence.", "The wall is thin here.")) == (
            "The wall is thin here.",
        )
    assert words.with_words(("No such sentence.", "Nor this.")) == ("No such sentence.", "Nor this.")


def test_numbers_and_units_are_written_as_the_language_does() -> None:
    with speaking("es"):
        assert (mm(1.25), volts(-1.62), amperes(0.0019), ohms(2600)) == (
            *("1,2\u00a0mm", "1,6\u00a0V", "1,9\u00a0mA"),
            "2,6\u00a0kilohmios",
        )
        assert (figure(1234.5, ".1f"), listed(("L1", "L2", "L3"))) == ("1234,5", "L1, L2 y L3")
    with speaking("ar"):
        assert (mm(13.2), listed(("L1", "L2"))) == ("13\u00a0مم", "L1 وL2")
    assert (mm(1.25), listed(("L1", "L2", "L3"))) == ("1.2\u00a0mm", "L1, L2 and L3")
    assert figure(float("nan")) == "nan"


def test_arabic_has_six_plurals() -> None:
    """Categories of CLDR, Language Plural Rules: zero, one, two, few 3-10, many 11-99, other 100-102."""
    forms = {n: messages("ar").form_of(n) for n in (0, 1, 2, 3, 10, 11, 99, 100, 102, 103, 111)}
    assert forms == {0: 0, 1: 1, 2: 2, 3: 3, 10: 3, 11: 4, 99: 4, 100: 5, 102: 5, 103: 3, 111: 4}
    page = page_words("ar")["offline_kept"]
    assert not isinstance(page, str)
    assert set(page) == {"zero", "one", "two", "few", "many", "other"}
    assert "لمستان" in page["two"]
    with speaking("ar"):
        assert [counted("{n} gap", "{n} gaps", n) for n in (1, 2, 5, 40)] == [
            *("فجوة واحدة", "فجوتان"),
            *("5 فجوات", "40 فجوة"),
        ]
    spanish = page_words("es")["offline_kept"]
    assert not isinstance(spanish, str)
    assert set(spanish) == {"one", "other"}


# ---------------------------------------------------------------- catalogues


def test_every_template_is_collected() -> None:
    """What is new or stale: run `python -m api.language.collect`."""
    with TEMPLATE.open("rb") as file:
        kept = {(one.context, one.id if isinstance(one.id, str) else tuple(one.id)) for one in read_po(file)}
    now = {(one.context, one.id if isinstance(one.id, str) else tuple(one.id)) for one in template()}
    # Words of the page may run ahead while it is being worked on; they fall back to English.
    ahead = {(context, text) for context, text in now - kept if context not in english_words()}
    assert not ahead
    assert not {(context, text) for context, text in kept - now if context is None}


def test_code_is_searched_for_templates() -> None:
    found = {text for text, _, where in everything() if where.endswith(".py")}
    assert {
        "Every light is on.",
        "The photo is empty (0 bytes). Take it again and send the new file.",
        "This photo is not kept here, or it was deleted. Send it again.",
        "{part} is pulled out already: put it back, or choose another.",
    } <= found
    assert ("{n} gap", "{n} gaps") in found


@pytest.mark.parametrize("code", OTHERS)
def test_translations_keep_the_slots(code: str) -> None:
    for message in said(code):
        if isinstance(message.id, str):
            assert slots(str(message.string)) == slots(message.id), message.id
        else:
            # A form for one or two may say the number in a word.
            for form in message.string or ():
                assert set(slots(form)) | {"{n}"} == set(slots(message.id[1])) | {"{n}"}, message.id


@pytest.mark.parametrize("code", OTHERS)
def test_plurals_have_every_form(code: str) -> None:
    catalogue = read_catalogue(code)
    plurals = [one for one in said(code) if not isinstance(one.id, str)]
    assert plurals
    assert all(len(one.string or ()) == catalogue.num_plurals and all(one.string or ()) for one in plurals)


@pytest.mark.parametrize("code", OTHERS)
def test_a_figure_and_its_unit_never_part(code: str) -> None:
    for message in said(code):
        text = message.id if isinstance(message.id, str) else message.id[1]
        if "\u00a0" in text:
            forms = [message.string] if isinstance(message.string, str) else message.string or ()
            assert all("\u00a0" in str(form) or "{" not in str(form) for form in forms), text


@pytest.mark.parametrize("code", OTHERS)
def test_the_voice_has_no_shout(code: str) -> None:
    assert not [one.id for one in said(code) if re.search("[!¡]", SLOT.sub("", str(one.string)))]


def test_the_page_is_spoken_nearly_whole() -> None:
    for code in OTHERS:
        has = {one.context for one in said(code)}
        assert len(has & set(english_words())) >= 0.95 * len(english_words()), code


AGES: tuple[Age, ...] = ("6-8", "9-12", "13+")


TOLD = (*(f"{kind} {age}" for kind in ("sentences", "dialogue") for age in AGES), "sentences")
"""Where the sentences of the answers come from: the tables of each age, and what is said to all."""


@pytest.mark.parametrize("code", ["es", "ar"])
@pytest.mark.parametrize("where", TOLD)
def test_all_is_said_to_every_age(code: str, where: str) -> None:
    texts = [text for text, _ in _texts(where)]
    assert texts
    assert not [text for text in texts if not _known(code, text)]


@pytest.mark.parametrize("where", TOLD)
def test_arabic_sentences_begin_in_arabic(where: str) -> None:
    """So that a browser that looks at the first strong letter (dir=auto) turns them the right way."""
    for text, _ in _texts(where):
        arabic = messages("ar").plain[None, text].removeprefix("{entry} ").removeprefix("{leg} ")
        assert "\u0600" <= arabic[0] <= "\u06ff", arabic


def _texts(where: str) -> list[tuple[str, str]]:
    return [(text, one) for text, context, one in everything() if one == where and isinstance(text, str)]


def _known(code: str, text: str) -> bool:
    with speaking(code):
        return known(text)


# ---------------------------------------------------------------- pictures


def test_pictures_are_in_english_where_the_machine_lacks_the_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fonts, "_in_system", lambda _letters: frozenset())
    with speaking("ar"), fonts.in_letters():
        assert spoken().code == "en"
        case = Case.model_validate_json(sample_images.sample_path("newt.case.json").read_text("utf-8"))
        report = Report.model_validate_json(sample_images.sample_path("newt.report.json").read_text("utf-8"))
        first = report.findings[0].model_copy(update={"why": "كتلتان مضغوطتان معًا."})
        drawn = strip.strip(report.model_copy(update={"findings": [first]}), case, "").svg
    assert "Read on the page what to do." in drawn
    assert "معًا" not in drawn
    with speaking("es"), fonts.in_letters():
        assert spoken().code == "es"


def test_arabic_words_in_pictures_keep_their_own_direction() -> None:
    assert "\u202bقف.\u202c" in words_mark("قف.")
    assert "\u202b" not in words_mark("Stop L2.")


# ---------------------------------------------------------------- command line


def test_the_command_line_speaks_as_it_is_told(tmp_path: Path) -> None:
    case = sample_images.sample_path("newt.case.json")
    args = ["inspect", str(case), "--out", str(tmp_path / "out"), "--language", "es"]
    run = contextvars.copy_context().run(CliRunner().invoke, commands.app, args)
    assert run.exit_code == 1, run.output
    assert "Alto. Desconecta antes el portapilas." in run.output
    assert "Escrito en" in run.output
    odd = contextvars.copy_context().run(
        CliRunner().invoke, commands.app, ["inspect", str(case), "--language", "xx"]
    )
    assert odd.exit_code == 2
    assert "xx is not spoken here" in odd.output

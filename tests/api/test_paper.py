"""What is printed, opened again: words, sizes, margins, and that nothing lies on anything else."""

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray

import sample_images
from api.afterwards import afterwards
from api.language.languages import speaking
from api.paper.card import card_pdf, cards_pdf
from api.paper.class_sheet import class_pdf
from api.paper.pages import Paper
from api.paper.sheet import sheet_pdf
from api.paper.told import NoPhotoError, Seen, Told
from api.records import KeptSculpture
from api.schemas import Case, LedEntry, LedOut, Report
from api.workshop_schemas import WorkshopEntry

START = datetime(2026, 11, 24, 14, 0)
RULES = [
    {"rule": "lights-lit", "at_least": 2},
    {"rule": "side-by-side"},
    {"rule": "dough-volume", "dough": "plum", "at_most_cm3": 60},
    {"rule": "light-colours", "at_least": 12},
    {"rule": "nothing-to-watch"},
    {"rule": "time-limit", "minutes": 40.5},
]
SIZES = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (612.0, 792.0)}
"""ISO 216: A4 is 210 x 297 mm, A6 half of each side; ANSI/ASME Y14.1: Letter is 8.5 x 11 inches (from
memory). A point is 1/72 inch (ISO 32000-1, 8.3.2.3)."""
SHEET_MARGIN, CARD_MARGIN = 30.0, 20.0
"""Least blank rim [pt]; printers leave 4 to 6 mm, 12 to 17 pt (common practice, no published source)."""
GREY = 128
Box = tuple[float, float, float, float]


@pytest.fixture(autouse=True)
def marks(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """What the marks on photos were asked for; drawn they are elsewhere, which takes its time."""
    asked: list[dict[str, Any]] = []

    def drawn(report: Report, _case: Case, **wishes: Any) -> str:
        asked.append(wishes)
        box = f"0 0 {report.photo.width} {report.photo.height}"
        return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" class="overlay"/>'

    monkeypatch.setattr("api.paper.pictures.overlay_svg", drawn)
    return asked


@cache
def sample(name: str) -> tuple[Case, Report]:
    case = Case.model_validate(json.loads(sample_images.sample_path(f"{name}.case.json").read_text("utf-8")))
    report = sample_images.sample_path(f"{name}.report.json").read_text("utf-8")
    return case, Report.model_validate_json(report)


def grey(_across: int) -> NDArray[np.uint8]:
    return np.full((300, 400, 3), GREY, np.uint8)


def before(name: str, **more: Any) -> Seen:
    return Seen(*sample(name), **{"pixels": grey, **more})


def after(name: str, **more: Any) -> Seen:
    """The sculpture when its first remedy is done."""
    case, report = sample(name)
    then = afterwards(report, case, report.remedies[0])
    mended = then.report.model_copy(update={"findings": [], "notes": [], "remedies": []})
    return Seen(then.case, mended, **{"pixels": grey, **more})


def with_many_lights(seen: Seen, count: int = 60) -> Seen:
    leds = [
        LedEntry(
            id=f"L{i}-LONG-NAME"[:12],
            colour=("warm white", "a colour with a name of forty letters ok")[i % 2],
            long_leg=(600.0, 500.0 + i),
            short_leg=(700.0, 500.0 + i),
            seen=("bright", "dim", "off")[i % 3],
        )
        for i in range(count)
    ]
    lights = [LedOut(id=led.id, current_mA=3, state="off") for led in leds]
    case = seen.case.model_copy(update={"leds": tuple(leds)})
    return Seen(case, seen.report.model_copy(update={"leds": lights}), seen.pixels)


def workshop(rules: list[dict[str, Any]] = RULES, **more: Any) -> WorkshopEntry:
    told = {"name": "Tuesday club", "day": date(2026, 11, 24), "place": "Library, upper floor"}
    return WorkshopEntry.model_validate({**told, "challenge": {"rules": rules}, **more})


def sculpture(**more: Any) -> KeptSculpture:
    told = {"id": "s", "workshop_id": "w", "bench": "7", "title": "Beetle", "maker": "Moth", "learned": ""}
    times = {"started": START, "finished": START + timedelta(minutes=41)}
    return KeptSculpture(
        **{"before_id": None, "after_id": None, "overlay": True, "revision": 1, **told, **times, **more}
    )


WIDEST = {"title": "W" * 60, "maker": "W" * 24, "bench": "W" * 24, "learned": "W" * 600}
LONG = {
    "title": "The long-necked animal that lives by the river and glows all",
    "maker": "Marmalade-and-thunder-99",
    "learned": ("I looked under every lump and behind every wall. " * 13)[:600],
}
RULE_20 = (RULES * 4)[:20]


def told_of(kind: str) -> Told:
    """The cases that are hard to print, by name."""
    makes: dict[str, Callable[[], Told]] = {
        "usual": lambda: Told(sculpture(), workshop(), before("owl"), after("owl")),
        "long": lambda: Told(
            sculpture(**LONG),
            workshop(RULE_20, name="N" * 60, place="P" * 60),
            with_many_lights(before("owl")),
            with_many_lights(after("owl")),
        ),
        "widest": lambda: Told(
            sculpture(**WIDEST),
            workshop(RULE_20, name="W" * 60, place="W" * 60),
            None,
            with_many_lights(after("turtle"), 9),
        ),
        "nothing": lambda: Told(sculpture(title="", maker="", finished=None), workshop([])),
        "begun": lambda: Told(sculpture(finished=None), workshop([]), before("boat")),
        "hostile": lambda: Told(sculpture(**HOSTILE), workshop(name="<script>x</script>"), before("boat")),
        "no photo": lambda: Told(
            sculpture(), workshop(), before("owl", pixels=gone), after("owl", pixels=gone)
        ),
    }
    return makes[kind]()


HOSTILE = {
    "title": "<b>&amp; </para> %s {x} \u202e\x00 end",
    "maker": "<img src=x>'\"",
    "learned": "<font size=90>{n}</font> & ]]> \n\n <br/>",
}
KINDS = ("usual", "long", "widest", "nothing", "begun", "hostile", "no photo")


def gone(_across: int) -> NDArray[np.uint8]:
    raise NoPhotoError


def opened(pdf: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(pdf)


def words(pdf: bytes) -> str:
    """All words, lines joined."""
    document = opened(pdf)
    said = [document[i].get_textpage().get_text_range() for i in range(len(document))]
    return " ".join(" ".join(said).split())


def boxes(page: pypdfium2.PdfPage) -> tuple[list[Box], list[Box]]:
    """Left, bottom, right, top [pt] of runs of text, and of pictures."""
    text = page.get_textpage()
    runs = [text.get_rect(i) for i in range(text.count_rects())]
    pictures = [
        one.get_bounds() for one in page.get_objects() if one.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE
    ]
    return runs, pictures


def laid_on_each_other(all_boxes: list[Box]) -> list[Box]:
    """Boxes that share more than a hairline with another one."""
    box = np.array(all_boxes)
    wide = np.minimum(box[:, None, 2], box[None, :, 2]) - np.maximum(box[:, None, 0], box[None, :, 0])
    high = np.minimum(box[:, None, 3], box[None, :, 3]) - np.maximum(box[:, None, 1], box[None, :, 1])
    shared = (wide > 0.6) & (high > 0.6)
    np.fill_diagonal(shared, False)
    return [all_boxes[i] for i in np.nonzero(shared.any(axis=1))[0]]


def check(pdf: bytes, size: tuple[float, float], margin: float) -> int:
    """Size, margins, nothing on anything else; how many pages."""
    document = opened(pdf)
    for page in document:
        assert page.get_size() == pytest.approx(size, abs=0.01)
        runs, pictures = boxes(page)
        for left, bottom, right, top in [*runs, *pictures]:
            assert margin <= left < right <= size[0] - margin + 0.5
            assert margin <= bottom < top <= size[1] - margin + 0.5
        laid = laid_on_each_other([*runs, *pictures])
        assert not laid, page.get_textpage().get_text_bounded(*laid[0])
    return len(document)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_sheet_has_its_size_and_all_of_it_has_room(kind: str, paper: Paper) -> None:
    told = told_of(kind)
    count = check(sheet_pdf(told, paper), SIZES[paper], SHEET_MARGIN)
    assert (count > 1) == (kind in ("long", "widest"))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_card_has_its_size_and_all_of_it_has_room(kind: str, paper: Paper) -> None:
    wide, high = SIZES[paper]
    assert check(card_pdf(told_of(kind), paper), (wide / 2, high / 2), CARD_MARGIN) == 1


def class_of(count: int) -> list[Told]:
    names = ("owl", "boat", "frog", "newt", "snail", "turtle", "lighthouse", "caterpillar")
    titles = ("Owl", LONG["title"], "W" * 60, "")
    lasts = [after(name) if sample(name)[1].remedies else before(name) for name in names]
    every = []
    for i in range(count):
        name, last = names[i % 8], lasts[i % 8]
        one = sculpture(bench=str(i + 1), title=titles[i % 4], maker=("Moth", "W" * 24, "")[i % 3])
        every.append(Told(one, workshop(RULE_20), before(name) if last.report.remedies == [] else None, last))
    return every


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_sheet_of_a_class_has_every_sculpture(paper: Paper) -> None:
    pdf = class_pdf(workshop(RULE_20, name="N" * 60), class_of(40), paper)
    count = check(pdf, SIZES[paper], SHEET_MARGIN)
    said = words(pdf)
    assert count > 3
    for number in range(1, 41):
        assert f"bench {number} " in said
    for number in range(1, count + 1):
        assert f"{number} of {count}" in said
    assert "40 sculptures" in said
    assert "finished 40 of 40" in said


def test_the_class_together_is_the_sum_of_its_sculptures() -> None:
    every = [
        Told(sculpture(bench="1"), workshop([]), before("owl"), after("owl")),
        Told(sculpture(bench="2", finished=None), workshop([]), None, before("turtle")),
        Told(sculpture(bench="3", finished=None), workshop([]), None, before("owl")),
    ]
    said = words(class_pdf(workshop([]), every, "a4"))
    # Owl has 3 lights, all on in the end, 2 at first; turtle 2 of 3.
    for line in ("finished 1 of 3", "lights that are on 7 of 9", "with a fault mended 1 of 3"):
        assert line in said
    assert "A light is in backwards 2" in said
    assert "A leg or lead misses the dough 1" in said
    assert "No sculpture is kept" in words(class_pdf(workshop([]), [], "a4"))


def test_a_sheet_says_what_was_and_what_is() -> None:
    said = words(sheet_pdf(told_of("usual"), "a4"))
    for line in (
        *("Tuesday club, 24 November 2026, bench 7", "Beetle", "Made by Moth", "Before: L2 is in backwards"),
        *(
            "After: every light is on",
            "L2 red off bright",
            "2 lights lit or more 3 lit",
            "side by side only yes",
        ),
        *(
            "The challenge",
            "not met 60 cm³ of plum dough or less",
            "not met 12 colours",
            "nothing left to watch",
        ),
        *(
            "40.5 minutes or less 41 minutes",
            "What I learned to look for",
            "Its long leg goes to the red side.",
        ),
        *(
            "Then L2 came on.",
            "How I found it 1. I looked at the light that stayed dark.",
            "5. I turned it round.",
        ),
        *("What I will try next", "Thickness taken as 12 mm.", "Unplug the pack after use."),
    ):
        assert line in said, line
    assert " of 1" not in said  # one page needs no number


def test_a_card_says_what_its_maker_learned_in_words_for_their_age() -> None:
    for age, line in (
        ("6-8", "Lights have a long leg. It goes to the red side."),
        ("9-12", "A light lets electricity through one way only."),
        ("13+", "An LED conducts one way only"),
    ):
        told = Told(sculpture(), workshop(age=age), before("owl"), after("owl"))
        said = words(card_pdf(told, "a4"))
        assert line in said
        assert "Beetle made by Moth" in said
        assert "3 of 3 lights are on" in said
    own = Told(sculpture(learned="Mine to say."), workshop(), before("owl"), after("owl"))
    assert "Mine to say." in words(card_pdf(own, "a4"))


def test_a_text_too_long_for_a_card_is_cut_and_a_sheet_has_all_of_it() -> None:
    long = told_of("long")
    assert "…" in words(card_pdf(long, "letter"))
    assert LONG["learned"].strip() in words(sheet_pdf(long, "letter"))


@pytest.mark.parametrize("make", [sheet_pdf, card_pdf])
def test_what_was_typed_is_printed_as_typed(make: Callable[[Told, Paper], bytes]) -> None:
    said = words(make(told_of("hostile"), "a4"))
    for line in ("<b>&amp; </para> %s {x} end", "<img src=x>'\"", "<font size=90>{n}</font> & ]]> <br/>"):
        assert line in said
    assert "<script>x</script>" in said


@pytest.mark.parametrize(
    "make",
    [
        lambda told: sheet_pdf(told, "a4"),
        lambda told: sheet_pdf(Told(sculpture(**LONG), workshop(RULE_20), told.before, told.after), "letter"),
        lambda told: card_pdf(told, "a4"),
        lambda told: cards_pdf([told] * 5, "letter", "Cards"),
        lambda told: class_pdf(told.workshop, [told] * 9, "a4"),
    ],
)
def test_the_file_is_the_same_every_time(make: Callable[[Told], bytes]) -> None:
    assert make(told_of("usual")) == make(told_of("usual"))


def test_cards_stand_four_to_a_page() -> None:
    every = [told_of(kind) for kind in ("usual", "widest", "nothing", "begun", "hostile")]
    pdf = cards_pdf(every, "a4", "Cards")
    assert check(pdf, SIZES["a4"], CARD_MARGIN) == 2
    for page, count in zip(opened(pdf), (4, 1), strict=True):
        assert page.get_textpage().get_text_range().count("What I learned") == count


def test_spanish_letters_are_in_the_file() -> None:
    told = Told(sculpture(title="Ñandú", learned="¿Qué pasó? La pingüina brilló."), workshop(), before("owl"))
    with speaking("es"):
        said = words(sheet_pdf(told, "a4"))
    assert "Ñandú" in said
    assert "¿Qué pasó? La pingüina brilló." in said
    assert "24 de noviembre de 2026" in said
    assert "brillante" in said


def test_what_cannot_be_set_in_type_is_printed_as_a_picture() -> None:
    latin = Told(sculpture(maker=""), workshop(), None, None)
    arabic = Told(sculpture(maker="", title="\u062e\u0646\u0641\u0633\u0627\u0621"), workshop(), None, None)
    count = [len(boxes(opened(sheet_pdf(told, "a4"))[0])[1]) for told in (latin, arabic)]
    assert count[1] == count[0] + 1
    with speaking("ar"):  # its letters are in no face of ours
        assert "What I will try next" in words(sheet_pdf(latin, "a4"))
    moth = Told(sculpture(maker="Moth \U0001f98b"), workshop(), None, None)
    assert "Made by Moth" in words(sheet_pdf(moth, "a4"))


@pytest.mark.parametrize("make", [sheet_pdf, card_pdf])
def test_nothing_outside_the_frame_of_a_photo_is_printed(make: Callable[[Told, Paper], bytes]) -> None:
    def magenta_rim(_across: int) -> NDArray[np.uint8]:
        pixels = np.full((300, 400, 3), (255, 0, 255), np.uint8)
        pixels[100:200, 150:250] = GREY
        return pixels

    framed = after("owl", pixels=magenta_rim, frame=(600.0, 400.0, 1000.0, 800.0))
    told = Told(sculpture(overlay=False), workshop(), None, framed)
    page = opened(make(told, "a4"))[0].render(scale=1.5).to_numpy()[..., :3].astype(int)
    assert not ((page[..., 0] > 180) & (page[..., 2] > 180) & (page[..., 1] < 100)).any()
    whole = Told(sculpture(overlay=False), workshop(), None, after("owl", pixels=magenta_rim))
    page = opened(make(whole, "a4"))[0].render(scale=1.5).to_numpy()[..., :3].astype(int)
    assert ((page[..., 0] > 180) & (page[..., 2] > 180) & (page[..., 1] < 100)).any()


def test_without_its_photo_a_sheet_has_room_to_draw() -> None:
    pdf = sheet_pdf(told_of("no photo"), "a4")
    assert "Before: L2 is in backwards" in words(pdf)  # what was found is known all the same
    assert "Before: draw it here" in words(sheet_pdf(told_of("nothing"), "a4"))

"""The sheet of one sculpture: before and after, lights, challenge, what was learned, room to write."""

from dataclasses import dataclass

from babel.dates import format_date
from reportlab.platypus import CondPageBreak, Flowable

from api.challenge import why_of
from api.language.languages import spoken
from api.language.speech import N_, _, counted, figure, listed, translated
from api.paper.blocks import (
    LONG_TABLE,
    boxed,
    challenge_block,
    lights_block,
    steps_block,
)
from api.paper.faces import FAINT, HEAD, INK, SAY, SMALL, STRONG, Voice, fitting, in_print, said
from api.paper.learned import found_how, learned
from api.paper.pages import GUTTER, Paper, beside, gap, page_count, pages, plain_table, width_of_text
from api.paper.pictures import Filling, Lines, Marks, Picture, Symbol, picture_of, shown
from api.paper.told import ON, Seen, Told
from api.wording import TABLES

PHOTO_HIGH, LOW_PHOTO_HIGH = 190.0, 125.0
"""Lower photos where that saves a page."""
MOST_NAMED = 4
HEADED = 110.0
"""Least room for a heading with what belongs to it."""
TITLES = (Voice(SAY, 27, 30), Voice(SAY, 21, 24), Voice(SAY, 17, 20))
MAKERS = (Voice(SAY, 15, 18, right=True), Voice(SAY, 12, 15, right=True))
CAUTION = N_("Unplug the pack after use.")
UNSEEN = N_("What lies underneath is not in the photo.")


@dataclass(frozen=True)
class _Photos:
    """The two photos, None where there is none, and the room for each [pt]."""

    before: Picture | None
    after: Picture | None
    room: tuple[float, float]


@in_print()
def sheet_pdf(told: Told, paper: Paper) -> bytes:
    """The sheet as a PDF; one page where all of it fits, else as many as it takes."""
    usual = _sheet(told, paper, PHOTO_HIGH)
    if page_count(usual) == 1 or not _few(told):
        return usual
    smaller = _sheet(told, paper, LOW_PHOTO_HIGH)
    return smaller if page_count(smaller) == 1 else usual


def _sheet(told: Told, paper: Paper, high: float) -> bytes:
    """The sheet with photos that are at most so high [pt]."""
    title = told.name or _("Sculpture of bench {bench}", bench=told.sculpture.bench)
    width = width_of_text(paper)
    photos = _photos(told, width, high)
    return pages(
        lambda: _story(told, photos, width),
        paper,
        title=title,
        head=(title, told.sculpture.maker),
        foot=(assumptions(told), translated(CAUTION)),
    )


def _story(told: Told, photos: _Photos, width: float) -> list[Flowable]:
    column = (width - GUTTER) / 2
    box = boxed(_("What I learned to look for"), learned_texts(told), width)
    top = [header(told, width), gap(10), _pictures(told, photos, width), gap(10)]

    def how() -> list[Flowable]:
        return steps_block(_("How I found it"), found_how(told.mended), column)

    few = _few(told)
    if few:
        right = challenge_block(told, column) if told.criteria else how()
        middle: list[Flowable] = [beside(lights_block(told, column), right, width)]
    else:
        middle = [*lights_block(told, width), gap(12)]
        if told.criteria:
            middle += [CondPageBreak(HEADED), *challenge_block(told, width)]
    alone = few and not told.criteria

    def end(count: int) -> Flowable:
        following: list[Flowable] = [said(_("What I will try next"), HEAD), Lines(count)]
        return plain_table([[following]], [width]) if alone else beside(how(), following, width)

    return [*top, *middle, gap(12), box, gap(10), Filling(end, 2, 9)]


def learned_texts(told: Told) -> tuple[str, ...]:
    """What the maker wrote, else what the faults that are mended teach, and which lights came on then."""
    own = told.sculpture.learned.strip()
    if own:
        return (own,)
    taught = learned(told.mended, told.workshop.age)
    return (*taught, *_came_on(told)) if taught else ()


def _came_on(told: Told) -> tuple[str, ...]:
    """The lights that were off at first, for ages that are told names and numbers."""
    if told.before is None or told.after is None or not TABLES[told.workshop.age].numbers:
        return ()
    was = told.before.lights
    leds = [led for led, state in told.after.lights.items() if state in ON and was.get(led) == "off"]
    if not leds:
        return ()
    n = len(leds)
    if n > MOST_NAMED:
        return (counted("Then {n} light came on.", "Then {n} lights came on.", n),)
    return (counted("Then {leds} came on.", "Then {leds} came on.", n, leds=listed(leds)),)


def _few(told: Told) -> bool:
    """Whether lights and challenge are short enough to stand side by side."""
    lights = {name for seen in (told.before, told.after) if seen for name in seen.lights}
    return len(told.workshop.challenge.rules) <= LONG_TABLE and len(lights) <= LONG_TABLE


def header(told: Told, width: float) -> Flowable:
    """Lamp, workshop and day, title, and who made it."""
    mark, maker = 50.0, 0.27 * width
    middle = width - mark - maker - GUTTER
    name = told.name or _("Without a title")
    left: list[Flowable] = [said(occasion(told), FAINT), said(name, fitting(name, middle, 1, TITLES))]
    right: list[Flowable] = []
    if told.sculpture.maker:
        voice = fitting(told.sculpture.maker, maker, 1, MAKERS)
        right = [said(_("Made by"), Voice(SMALL.face, SMALL.size, SMALL.lead, right=True))]
        right.append(said(told.sculpture.maker, voice))
    cells = [[Symbol("mark", 40), left, "", right]]
    return plain_table(
        cells,
        [mark, middle, GUTTER, maker],
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
        ("LINEBELOW", (0, 0), (-1, -1), 2, INK),
    )


def occasion(told: Told) -> str:
    """Workshop, day, bench."""
    day = format_date(told.workshop.day, "long", locale=spoken().locale)
    return _(
        "{workshop}, {day}, bench {bench}", workshop=told.workshop.name, day=day, bench=told.sculpture.bench
    )


def _photos(told: Told, width: float, high: float) -> _Photos:
    room = (width - GUTTER) / 2, high
    after: Marks = "lumps" if told.sculpture.overlay else "none"
    return _Photos(picture_of(told.before, room, "fault"), picture_of(told.after, room, after), room)


def _pictures(told: Told, photos: _Photos, width: float) -> Flowable:
    """Before and after; where only one photo is there it stands beside a place to draw the other."""
    halves: list[list[Flowable]] = []
    for when, seen, photo in (
        (_("Before"), told.before, photos.before),
        (_("After"), told.after, photos.after),
    ):
        if seen is None:
            words = _("{when}: draw it here", when=when)
        else:
            words = _("{when}: {what}", when=when, what=_caption(seen, told))
        halves.append([shown(photo, photos.room), gap(4), said(words, STRONG)])
    return beside(halves[0], halves[1], width)


def _caption(seen: Seen, told: Told) -> str:
    """What is wrong first, else how many lights are on."""
    if seen.report.findings:
        why = why_of(seen.report.findings[0], seen.report, told.workshop.age)
        return (why[:1].lower() + why[1:]).rstrip(".") if why[1:2].islower() else why.rstrip(".")
    if seen.lights and seen.lit == len(seen.lights):
        return _("every light is on")
    return _("{n} of {count} lights are on", n=seen.lit, count=len(seen.lights))


def assumptions(told: Told) -> str:
    """What was taken for granted."""
    seen = told.after or told.before
    if seen is None:
        return ""
    high = seen.case.thickness_mm
    if isinstance(high, str):
        first = _("Thickness guessed from the outline.")
    else:
        first = _("Thickness taken as {mm}\u00a0mm.", mm=figure(high, ".4g"))
    return f"{first} {translated(UNSEEN)}"

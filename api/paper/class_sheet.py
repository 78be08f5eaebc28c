"""The sheet of a class: what it did together, then a row for each sculpture."""

from collections import Counter
from collections.abc import Sequence

from babel.dates import format_date
from reportlab.platypus import Flowable

from api.language.languages import spoken
from api.language.speech import N_, _, counted, translated
from api.paper.faces import FAINT, HEAD, INK, STRONG, Voice, fitting, in_print, said
from api.paper.pages import GUTTER, Paper, Rows, beside, gap, pages, plain_table, ruled_table, width_of_text
from api.paper.pictures import Picture, Symbol, picture_of, shown
from api.paper.sheet import CAUTION, TITLES
from api.paper.told import Told
from api.wording import TABLES
from api.workshop_schemas import WorkshopEntry

Pair = tuple[Told, Picture | None]
THUMB = (98.0, 66.0)
NAME = (Voice(HEAD.face, 14, 16.5), Voice(HEAD.face, 12, 14))
FAULTS = ("stop", "fix")
MOST_KINDS = 8
NO_FAULT = N_("Nothing had to be mended.")


@in_print()
def class_pdf(workshop: WorkshopEntry, every: Sequence[Told], paper: Paper) -> bytes:
    """The sheet as a PDF: `every` sculpture in its order, over as many pages as it takes."""
    day = format_date(workshop.day, "long", locale=spoken().locale)
    photos = [picture_of(one.after or one.before, THUMB, "none") for one in every]
    return pages(
        lambda: _story(workshop, day, list(zip(every, photos, strict=True)), width_of_text(paper)),
        paper,
        title=workshop.name,
        head=(workshop.name, day),
        foot=(_("Titles and nicknames only. Keep this sheet as long as the photos."), translated(CAUTION)),
    )


def _story(workshop: WorkshopEntry, day: str, pairs: Sequence[Pair], width: float) -> list[Flowable]:
    every = [one for one, _photo in pairs]
    told = [_header(workshop, day, len(every), width), gap(10)]
    if not every:
        return [*told, said(_("No sculpture is kept of this workshop."))]
    column = (width - GUTTER) / 2
    told += [beside(_sums(every, column), _kinds(workshop, every, column), width), gap(12)]
    return [*told, _sculptures(workshop, pairs, width)]


def _header(workshop: WorkshopEntry, day: str, count: int, width: float) -> Flowable:
    mark = 50.0
    when = f"{day}, {workshop.place}" if workshop.place else day
    words = [said(when, FAINT), said(workshop.name, fitting(workshop.name, width - mark, 1, TITLES))]
    words.append(said(counted("{n} sculpture", "{n} sculptures", count)))
    return plain_table(
        [[Symbol("mark", 40), words]],
        [mark, width - mark],
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
        ("LINEBELOW", (0, 0), (-1, -1), 2, INK),
    )


def _sums(every: Sequence[Told], width: float) -> list[Flowable]:
    """What all of them did together."""
    last = [one.after or one.before for one in every]
    lights = sum(len(seen.lights) for seen in last if seen)
    ruled = [one for one in every if one.criteria]
    rows: Rows = [
        [
            said(_("finished")),
            said(_of(sum(one.sculpture.finished is not None for one in every), len(every))),
        ],
        [said(_("lights that are on")), said(_of(sum(seen.lit for seen in last if seen), lights))],
        [
            said(_("sculptures with a fault mended")),
            said(_of(sum(bool(one.mended) for one in every), len(every))),
        ],
    ]
    if ruled:
        met = sum(all(each.verdict == "met" for each in one.criteria) for one in ruled)
        rows.append([said(_("challenge met")), said(_of(met, len(ruled)))])
    return [said(_("All together"), HEAD), gap(4), ruled_table(rows, [0.7 * width, 0.3 * width])]


def _of(some: int, whole: int) -> str:
    return _("{some} of {whole}", some=some, whole=whole)


def _kinds(workshop: WorkshopEntry, every: Sequence[Told], width: float) -> list[Flowable]:
    """In how many sculptures each kind of fault was found at first, the most frequent first."""
    first = [one.before or one.after for one in every]
    count = Counter(
        code
        for seen in first
        if seen
        for code in {one.code for one in seen.report.findings if one.level in FAULTS}
    )
    head = [said(_("What was found"), HEAD), gap(4)]
    if not count:
        return [*head, said(_("No fault was found."), FAINT)]
    kinds = sorted(count.items(), key=lambda kind: (-kind[1], kind[0]))
    bar, figure = 60.0, 26.0
    rows: Rows = [
        [said(_kind(workshop, code)), _Bar(bar * n / kinds[0][1]), said(f"{n}", STRONG)]
        for code, n in kinds[:MOST_KINDS]
    ]
    if len(kinds) > MOST_KINDS:
        others = sum(n for _code, n in kinds[MOST_KINDS:])
        rows.append([said(_("other faults")), "", said(f"{others}", STRONG)])
    return [*head, ruled_table(rows, [width - bar - figure - 8, bar + 8, figure])]


def _kind(workshop: WorkshopEntry, code: str) -> str:
    """What is wrong, without the name of a part."""
    return translated(TABLES[workshop.age].why[code][-1]).rstrip(".")


def _sculptures(workshop: WorkshopEntry, pairs: Sequence[Pair], width: float) -> Flowable:
    heads = ["", _("sculpture"), _("lights"), _("challenge"), _("what was mended")]
    thumb = THUMB[0] + 10
    rest = width - thumb
    widths = [thumb, 0.36 * rest, 0.16 * rest, 0.19 * rest, 0.29 * rest]
    rows: Rows = [[said(head, STRONG) if head else "" for head in heads]]
    rows += [_row(workshop, *pair) for pair in pairs]
    return ruled_table(rows, widths, ("VALIGN", (0, 1), (-1, -1), "TOP"), heads=1)


def _row(workshop: WorkshopEntry, one: Told, photo: Picture | None) -> list[object]:
    seen = one.after or one.before
    title = one.name or _("Without a title")
    name = [said(_("bench {bench}", bench=one.sculpture.bench), FAINT)]
    name.append(said(title, fitting(title, 130, 2, NAME)))
    if one.sculpture.maker:
        name.append(said(one.sculpture.maker))
    lights = said(_of(seen.lit, len(seen.lights)) if seen else "-")
    return [shown(photo, THUMB), name, lights, _criteria(one), _mended(workshop, one)]


def _criteria(one: Told) -> list[Flowable]:
    if not one.criteria:
        return [said("-")]
    verdicts = Counter(each.verdict for each in one.criteria)
    told = [said(_("{some} of {whole} met", some=verdicts["met"], whole=len(one.criteria)))]
    if verdicts["cannot-tell"]:
        told.append(said(_("{n} cannot tell", n=verdicts["cannot-tell"]), FAINT))
    return told


def _mended(workshop: WorkshopEntry, one: Told) -> list[Flowable]:
    """What was mended, and what is still to be mended."""
    seen = one.after or one.before
    if seen is None:
        return [said(_("No photo is kept."), FAINT)]
    kinds = dict.fromkeys(_kind(workshop, fault.code) for fault in one.mended)
    told: list[Flowable] = [said(kind) for kind in list(kinds)[:2]]
    left = dict.fromkeys(_kind(workshop, fault.code) for fault in seen.report.findings)
    told += [said(_("Still: {what}", what=kind), FAINT) for kind in list(left)[:1]]
    return told or [said(translated(NO_FAULT), FAINT)]


class _Bar(Flowable):
    """A dark bar: how often, to be compared at a glance."""

    HIGH = 8.0

    def __init__(self, length: float) -> None:
        super().__init__()
        self._length = length

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """As long as it is."""
        return self._length, self.HIGH

    def draw(self) -> None:
        """Ink."""
        self.canv.setFillColor(INK)
        self.canv.rect(0, 0, self._length, self.HIGH, stroke=0, fill=1)

"""Blocks that sheets are made of: lights, challenge, what was learned."""

from collections.abc import Mapping, Sequence
from typing import Any

from reportlab.platypus import Flowable

from api.challenge import VERDICTS, Criterion, Verdict
from api.fields import State
from api.language.speech import _, translated
from api.paper.faces import FAINT, HEAD, LAMP, POOL, READ, SMALL, STRONG, said
from api.paper.pages import GUTTER, Rows, gap, plain_table, ruled_table
from api.paper.pictures import Lines, Symbol
from api.paper.told import Seen, Told

LONG_TABLE = 8
"""More rows than this stand in two columns over the whole width."""
SIGNS: Mapping[Verdict, str] = {"met": "level-good", "not-met": "level-fix", "cannot-tell": "level-watch"}


def lights_block(told: Told, width: float) -> list[Flowable]:
    """Every LED, at first and in the end; `width` is that of the page for many, of a column for few."""
    rows = [
        [said(name, STRONG), said(colour), *_state(before), *_state(after)]
        for name, colour, before, after in _lights(told)
    ]
    head = said(_("The lights"), HEAD)
    if not rows:
        return [head, gap(4), said(_("No light was tapped on the photo."), FAINT)]
    if len(rows) <= LONG_TABLE:
        return [head, gap(4), _light_table([_titles(), *rows], width, 1)]
    half = -(-len(rows) // 2)
    pairs = [
        [*left, "", *(rows[half + i] if half + i < len(rows) else [""] * 6)]
        for i, left in enumerate(rows[:half])
    ]
    return [head, gap(4), _light_table([[*_titles(), "", *_titles()], *pairs], width, 2)]


def _titles() -> list[Any]:
    names = [said(_("LED"), STRONG), said(_("colour"), STRONG)]
    return [*names, said(_("at first"), STRONG), "", said(_("in the end"), STRONG), ""]


def _light_table(rows: Rows, width: float, groups: int) -> Flowable:
    each = (width - (groups - 1) * GUTTER) / groups
    sign = 18.0
    rest = each - 2 * sign
    one = [0.19 * rest, 0.25 * rest, sign, 0.28 * rest, sign, 0.28 * rest]
    widths = one if groups == 1 else [*one, GUTTER, *one]
    spans: list[tuple[Any, ...]] = [("RIGHTPADDING", (0, 0), (-1, -1), 3)]
    for first in range(0, groups * 7, 7):
        spans += [("SPAN", (first + 2, 0), (first + 3, 0)), ("SPAN", (first + 4, 0), (first + 5, 0))]
    return ruled_table(rows, widths, *spans, heads=1)


def _lights(told: Told) -> list[tuple[str, str, State | None, State | None]]:
    """Name, colour, state before and after of each LED, in the order of the last photo."""
    before, after = _lights_of(told.before), _lights_of(told.after)
    names = dict.fromkeys((*after, *before))
    colours = {led.id: led.colour for seen in (told.before, told.after) if seen for led in seen.case.leds}
    return [(name, _colour(colours.get(name, "")), before.get(name), after.get(name)) for name in names]


def _colour(name: str) -> str:
    """A light's colour; that of a dough may be another word."""
    return translated(name, f"colour_{name}")


def _lights_of(seen: Seen | None) -> Mapping[str, State]:
    return seen.lights if seen is not None else {}


def _state(state: State | None) -> list[Any]:
    if state is None:
        return ["", said("-", FAINT)]
    return [Symbol(f"led-{state}", 15), said(translated(state, "word"))]


def challenge_block(told: Told, width: float) -> list[Flowable]:
    """Every rule, whether it is met, and what was found."""
    title = told.workshop.challenge.title
    head: list[Flowable] = [said(_("The challenge"), HEAD), gap(4)]
    if title:
        head += [said(title), gap(3)]
    rows = [_criterion(one) for one in told.criteria]
    narrow = width < 300
    verdict = 48.0 if narrow else 84.0
    rest = width - 20 - verdict
    widths = [20, verdict, 0.5 * rest, 0.5 * rest]
    return [*head, ruled_table(rows, widths)]


def _criterion(one: Criterion) -> list[Any]:
    sign = Symbol(SIGNS[one.verdict], 15)
    return [sign, said(translated(VERDICTS[one.verdict]), STRONG), said(one.wish), said(one.found)]


def boxed(head: str, texts: Sequence[str], width: float) -> Flowable:
    """Words on lit paper with a bar at their left; without words there are lines to write on."""
    inside: list[Flowable] = [said(head, HEAD), gap(3)]
    inside += [said(" ".join(texts), READ)] if texts else [Lines(3)]
    bar = 5.0
    return plain_table(
        [["", inside]],
        [bar, width - bar],
        ("BACKGROUND", (0, 0), (0, 0), LAMP),
        ("BACKGROUND", (1, 0), (1, 0), POOL),
        ("LEFTPADDING", (1, 0), (1, 0), 13),
        ("RIGHTPADDING", (1, 0), (1, 0), 12),
        ("TOPPADDING", (1, 0), (1, 0), 8),
        ("BOTTOMPADDING", (1, 0), (1, 0), 12),
    )


def steps_block(head: str, steps: Sequence[str], width: float) -> list[Flowable]:
    """A numbered list, or lines to write on."""
    if not steps:
        return [said(head, HEAD), Lines(3)]
    rows: Rows = [[said(f"{i}.", SMALL), said(step)] for i, step in enumerate(steps, start=1)]
    return [said(head, HEAD), gap(4), plain_table(rows, [20, width - 20])]

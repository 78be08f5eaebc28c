"""The picture of a remedy: the same photo now and afterwards, the steps in words, and what will light."""

import cv2
import numpy as np
from numpy.typing import NDArray

from api import strip as slip
from api.canvas import frame_of
from api.drawing import cropped, over, photo_part, widened
from api.fonts import drawable, in_letters, render, width_of
from api.hints import When
from api.language.speech import N_, _, translated
from api.marks import LAMP, el, num, use, words
from api.overlay import overlay_svg
from api.placing import Box
from api.plan_marks import number_disc
from api.schemas import Case, RemedyOut, Report
from api.strip import BAR_HEIGHT, HAIR, MARGIN, POOL, SLIP, Block, says_of, wrapped

BESIDE_UNITS, WIDE_UNITS, GUTTER_UNITS = 540.0, 760.0, 12.0
"""Width of one photo in mark units, as it is meant to be seen: two side by side, or one above the other."""
WIDE = 1.3
"""From this width over height on, the two stand one above the other."""
LONGEST_PX, DENSEST = 2000, 2.2
CAPTION_UNITS, ROW_UNITS = 44.0, 44.0
LAYERS = frozenset({"answer", "lumps", "lights", "labels"})
AFTER = {
    "turn": N_("After the turn"),
    "swap-leads": N_("After the swap"),
    "cut": N_("After the cut"),
    "move": N_("After the move"),
    "join": N_("After the join"),
    "press-in": N_("After pressing in"),
    "thicken-wall": N_("With a thicker wall"),
    "take-out": N_("After taking it out"),
    "close": N_("With the switch closed"),
}
WHENS: tuple[When, When] = ("now", "then")
PAPER_RGB = (0xFA, 0xFB, 0xF6)  # as SLIP
YOUNGEST = "6-8"  # an age that is told no numbers
UNPLUG = N_("Unplug the pack first.")
LIVE = ("cut", "swap-leads")
"""Steps before which the pack is unplugged, beside those that move a lead."""


@in_letters()
def remedy_png(pixels: NDArray[np.uint8], report: Report, case: Case, rank: int = 1) -> bytes:
    """A PNG of the sculpture now and after the remedy of this `rank`, with its steps and what will light.

    `pixels` is the upright photo (h, w, 3) uint8 RGB, perhaps smaller than the report says by a whole number.
    Raises `LookupError` when the report has no such remedy.
    """
    remedy = next((one for one in report.remedies if one.rank == rank), None)
    if remedy is None:
        raise LookupError(f"There is no remedy {rank} here: the report has {len(report.remedies)}.")
    frame = widened(frame_of(report, case), report.photo.width, report.photo.height)
    shape = (frame[2] - frame[0]) / (frame[3] - frame[1])
    above = shape > WIDE
    each = WIDE_UNITS if above else BESIDE_UNITS
    units = each if above else 2 * each + GUTTER_UNITS
    drawn = [_marks(report, case, rank, when, frame, each) for when in WHENS]
    bar = unplug_bar(report, remedy, units)
    below = told(report, case, remedy, "".join(drawn), units)
    tall = bar.height + below.height + (CAPTION_UNITS + each / shape) * (2 if above else 1)
    density = min(DENSEST, LONGEST_PX / max(units, tall))
    across = round(each * density)
    shrink = max(1, round(report.photo.width / pixels.shape[1]))
    photo = photo_part(pixels, _scaled(frame, 1 / shrink), across, round(across / shape))
    halves = []
    for title, marks in zip((_("Now"), after_words(remedy)), drawn, strict=True):
        shown = photo.copy()
        over(shown, render(cropped(marks, frame, across, len(shown)), across))
        halves.append(np.vstack([_pixels(caption(title, each), each, across), shown]))
    gutter = np.full((len(halves[0]), round(GUTTER_UNITS * density), 3), PAPER_RGB, np.uint8)
    pair = np.vstack(halves) if above else np.hstack([halves[0], gutter, halves[1]])
    blocks = [_pixels(block, units, pair.shape[1]) for block in (bar, below) if block.height]
    picture = np.vstack([*blocks[:-1], pair, blocks[-1]])
    done, png = cv2.imencode(".png", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR))
    if not done:
        raise ValueError("The picture could not be written as a PNG.")
    return png.tobytes()


def _marks(report: Report, case: Case, rank: int, when: When, frame: Box, units: float) -> str:
    """The marks of one of the two pictures, `units` wide."""
    return overlay_svg(
        report,
        case,
        layers=LAYERS,
        finding=0,
        remedy=rank,
        when=when,
        px_per_mark=(frame[2] - frame[0]) / units,
        frame=frame,
    )


def after_words(remedy: RemedyOut) -> str:
    """The name of the second picture: `After the cut`, or `After all steps`."""
    actions = {step.action for step in remedy.steps}
    if len(remedy.steps) == 1 or actions in ({"cut"}, {"turn"}, {"move"}):
        plural = {"cut": _("After the cuts"), "turn": _("After the turns"), "move": _("After the moves")}
        action = next(iter(actions))
        return plural[action] if len(remedy.steps) > 1 else translated(AFTER.get(action, N_("Afterwards")))
    return _("After both steps") if len(remedy.steps) == 2 else _("After all steps")


def unplugs(report: Report, remedy: RemedyOut) -> bool:
    """Whether the pack is to be unplugged first: something is hot, is cut, or a lead is moved."""
    hot = any(finding.level == "stop" for finding in report.findings)
    return hot or any(
        step.action in LIVE or any(name.startswith("pack") for name in step.parts) for step in remedy.steps
    )


def unplug_bar(report: Report, remedy: RemedyOut, units: float) -> Block:
    """The alarm bar when something gets hot; a quiet one when only the remedy asks for it."""
    bar = slip.alarm_bar(report, units)
    if bar.height or not unplugs(report, remedy):
        return bar
    body = el("rect", width=units, height=BAR_HEIGHT, fill=POOL) + el(
        "rect", y=BAR_HEIGHT - 4, width=units, height=4, fill=LAMP
    )
    return Block(body + words(translated(UNPLUG), MARGIN, BAR_HEIGHT / 2 - 1, 20, "start"), BAR_HEIGHT)


def caption(text: str, units: float) -> Block:
    """The name of one of the two pictures."""
    paper = el("rect", width=units, height=CAPTION_UNITS, fill=SLIP)
    return Block(paper + words(text, MARGIN, CAPTION_UNITS / 2, 20, "start"), CAPTION_UNITS)


def told(report: Report, case: Case, remedy: RemedyOut, overlays: str, units: float) -> Block:
    """Under the pictures: the steps with their numbers, every light now and then, and the key."""
    body: list[str] = []
    y = 18.0
    for block in (
        _steps(remedy, case, units),
        _lights(report, case, remedy, units),
        slip.key(overlays, units),
    ):
        if not block.height:
            continue
        if body:
            d = f"M{num(MARGIN)} {num(y)}H{num(units - MARGIN)}"
            body.append(el("path", d=d, stroke=HAIR, stroke_width=1.5))
            y += 8
        body.append(block.at(0, y))
        y += block.height + 10
    return Block(el("rect", width=units, height=y, fill=SLIP) + "".join(body), y)


def _steps(remedy: RemedyOut, case: Case, units: float) -> Block:
    """What to do in words, a number before each of several steps; no minutes for the youngest."""
    several = len(remedy.steps) > 1
    left = MARGIN + (36 if several else 0)
    body, y = [], 0.0
    said = [step.do for step in remedy.steps] if several else [remedy.do]
    for i, text in enumerate(said if all(map(drawable, said)) else [_("Read on the page what to do.")], 1):
        lines = wrapped(text, 20, 0.93 * (units - left - MARGIN))
        if several:
            body.append(el("g", number_disc(i), transform=f"translate({num(MARGIN + 13)} {num(y + 14)})"))
        body += [words(line, left, y + 14 + 27 * j, 20, "start") for j, line in enumerate(lines)]
        y += 27 * len(lines) + (6 if several else 2)
    if case.age == YOUNGEST:
        return Block("".join(body), y + 4)
    seconds = words(about_time(remedy.seconds), left, y + 12, 16, "start", bold=False)
    return Block("".join(body) + seconds, y + 26)


def about_time(seconds: float) -> str:
    """How long it takes, no finer than it is known."""
    if seconds < 90:
        return _("About {n}\u00a0s.", n=max(5, 5 * round(seconds / 5)))
    return _("About {n}\u00a0min.", n=round(seconds / 60))


def _lights(report: Report, case: Case, remedy: RemedyOut, units: float) -> Block:
    """Every LED, now and then, with its mA but for the youngest; changed ones on lit paper."""
    seen = {led.id: led.seen for led in case.leds}
    across = 2 if len(report.leds) <= 4 or units < 900 else 3
    wide = (units - 2 * MARGIN) / across
    cells = []
    for i, led in enumerate(report.leds):
        now = seen.get(led.id) or led.state
        after = remedy.then.get(led.id, led.state)
        x, cell = 10.0, ""
        if after != now:
            cell += el("rect", width=wide - 8, height=ROW_UNITS - 6, fill=POOL)
            cell += el("rect", y=ROW_UNITS - 10, width=wide - 8, height=4, fill=LAMP)
        middle = (ROW_UNITS - 6) / 2
        name = slip.short_name(led.id, 17, wide / 4)
        cell += words(name, x, middle, 17, "start")
        x += width_of(name, 17) * 1.04 + 22
        cell += use(f"led-{now}", x, middle + 1, 1.25) + use("then", x + 26, middle)
        cell += use(f"led-{after}", x + 52, middle + 1, 1.25)
        says = says_of(now, after, led.state)
        figures = "" if case.age == YOUNGEST else _figures(led.current_mA, remedy.then_mA.get(led.id))
        cell += words(says + figures, x + 78, middle, 16, "start", bold=False)
        cells.append(Block(cell, ROW_UNITS).at(MARGIN + wide * (i % across), ROW_UNITS * (i // across)))
    return Block("".join(cells), ROW_UNITS * -(-len(cells) // across))


def _figures(now_mA: float, then_mA: float | None) -> str:
    if then_mA is None:
        return ""
    if f"{now_mA:.1f}" == f"{then_mA:.1f}":
        return _(", {then:.1f}\u00a0mA", then=then_mA)
    return _(", {now:.1f} to {then:.1f}\u00a0mA", now=now_mA, then=then_mA)


def _scaled(frame: Box, by: float) -> Box:
    left, top, right, bottom = (edge * by for edge in frame)
    return left, top, right, bottom


def _pixels(block: Block, units: float, width: int) -> NDArray[np.uint8]:
    """A block of words as (h, width, 3)."""
    return np.ascontiguousarray(render(slip.page(block, units), width)[..., :3])

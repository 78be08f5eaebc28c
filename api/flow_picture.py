"""The picture of the flow: where most of the electricity goes, with a key below."""

import numpy as np
from numpy.typing import NDArray

from api.canvas import frame_of
from api.drawing import widened, with_key_png
from api.fonts import in_letters
from api.language.speech import _
from api.marks import INK, PAPER, el, num, stroke, use, words
from api.overlay import overlay_svg
from api.schemas import Case, Report
from api.strip import HAIR, SLIP, Block, wrapped

UNITS = 740.0
"""Width of the picture in mark units, as it is meant to be looked at."""
LAYERS = frozenset({"flow", "leads", "legs", "lights", "numbers"})
MARGIN, ROW_UNITS = 16.0, 44.0


@in_letters()
def flow_png(pixels: NDArray[np.uint8], report: Report, case: Case) -> bytes:
    """A PNG of the photo with the lines of the report's flow; `pixels` as in `marked_up_png`."""
    frame = widened(frame_of(report, case), report.photo.width, report.photo.height)
    scale = (frame[2] - frame[0]) / UNITS
    svg = overlay_svg(report, case, layers=LAYERS, finding=None, px_per_mark=scale, frame=frame)
    return with_key_png(pixels, report.photo.width, svg, frame, UNITS, key(report))


def summary(report: Report) -> str:
    """What the picture says, in a line."""
    if report.pack is None or not report.flow:
        return _("No electricity flows here: there is no way from the red lead to the black one.")
    return _(
        "The pack gives {mA:.0f}\u00a0mA. Where lines crowd, most of it goes. "
        "This is what the sums say, estimated.",
        mA=report.pack.current_mA,
    )


def key(report: Report) -> Block:
    """The summary, and what thick, thin and arrows mean."""
    lines = wrapped(summary(report), 17, 0.93 * (UNITS - 2 * MARGIN))
    body = [words(line, MARGIN, 24 + 23 * i, 17, "start") for i, line in enumerate(lines)]
    top = 24.0 + 23 * len(lines)
    body.append(
        el("path", d=f"M{num(MARGIN)} {num(top)}H{num(UNITS - MARGIN)}", stroke=HAIR, stroke_width=1.5)
    )
    samples = ((4.0, _("thick: more")), (1.2, _("thin: less")), (2.2, _("from + to -")))
    wide = (UNITS - 2 * MARGIN) / len(samples)
    for i, (width, word) in enumerate(samples):
        line = stroke("M-28 0H28", PAPER, width + 2.4) + stroke(
            "M-28 0H28", INK, width, stroke_dasharray="6 4"
        )
        head = use("flow-head") if i == len(samples) - 1 else ""
        sample = el("g", line + head, transform=f"translate(40 {num(ROW_UNITS / 2)})")
        cell = sample + words(word, 84, ROW_UNITS / 2, 15, "start", bold=False)
        body.append(Block(cell, ROW_UNITS).at(MARGIN + wide * i, top + 6))
    height = top + 14 + ROW_UNITS
    return Block(el("rect", width=UNITS, height=height, fill=SLIP) + "".join(body), height)

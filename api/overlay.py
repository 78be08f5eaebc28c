"""What is drawn on the photo, as one SVG whose viewBox is in photo pixels; for the page and the PNG alike."""

from api import part_marks, plan_marks
from api.afterwards import afterwards
from api.answer_marks import cuts, steps, thread, walk
from api.canvas import Sheet, frame_of
from api.flow_marks import flow_lines, pack_current
from api.hints import Level, When, layers_of, named
from api.marks import Pen, defs, el
from api.placing import Box, Taken
from api.schemas import Case, Report
from api.sculpture_marks import badges, beside, contacts, entries, lights, lumps, pool
from api.trace_marks import trace_reach, trace_walks


def overlay_svg(
    report: Report,
    case: Case,
    *,
    layers: frozenset[str] | tuple[str, ...] = frozenset({"answer", "lumps"}),
    finding: int | None = 0,
    remedy: int | None = None,
    when: When = "now",
    level: Level = "do",
    px_per_mark: float | None = None,
    frame: Box | None = None,
    led: str | None = None,
    sideways: bool = False,
) -> str:
    """The marks of `layers` (see `LAYERS`; other names are ignored) for one finding, or for none.

    `remedy` is the rank of the plan to draw: what is to be done (`now`), or the sculpture as it will be
    (`then`); without it the first plan is drawn as far as it goes with the finding. `level` says how much
    is given away: on `ask` and `look` no remedy is. `led` is the one whose legs the layer `trace` walks.
    `px_per_mark` is photo pixels per mark unit. Without it the SVG is meant to live in a page: lines keep
    their width on screen, and the page rescales every `g.mark` from its data-x, data-y and data-turn.
    Tags are placed within `frame` (left, top, right, bottom in photo px), by default around the sculpture;
    `sideways`: the page shows the photo a quarter turned, with upright tags that stand across it.
    """
    frame = frame or frame_of(report, case)
    longest = max(frame[2] - frame[0], frame[3] - frame[1])
    pen = Pen(px_per_mark or longest / 500, px_per_mark is None)
    chosen = None if finding is None or finding >= len(report.findings) else report.findings[finding]
    plan = next((one for one in report.remedies if one.rank == remedy and level == "do"), None)
    after = afterwards(report, case, plan) if plan is not None and when == "then" else None
    shown = layers_of(level, frozenset(layers))
    sheet = Sheet(
        after.report if after else report,
        after.case if after else case,
        pen,
        frame,
        shown,
        None if after else chosen,
        finding == 0,
        plan,
        after,
        named(level, report, chosen),
        level,
        led,
        sideways,
    )
    body = "".join(_parts(sheet))
    width, height = report.photo.width, report.photo.height
    return el(
        "svg",
        defs(body),
        body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width} {height}",
        class_="overlay",
    )


def _parts(sheet: Sheet) -> list[str]:
    """All marks from the lowest to the topmost; what stays put is noted first, tags then find their place."""
    taken = Taken(sheet.frame, sheet.dough)
    answer, with_lumps = "answer" in sheet.layers, "lumps" in sheet.layers
    fixed = walk(sheet, taken) + cuts(sheet, taken) + steps(sheet, taken) if answer else ""
    fixed += plan_marks.to_do(sheet, taken) + plan_marks.done(sheet, taken) if answer else ""
    fixed += trace_walks(sheet, taken)
    current = flow_lines(sheet) + trace_reach(sheet)
    touching = contacts(sheet, taken)
    ends = entries(sheet, taken)
    wires, wire_ends = part_marks.lines(sheet, taken), part_marks.ends(sheet, taken)
    areas = lumps(sheet) if with_lumps else ""
    letters = badges(sheet, taken) if with_lumps else ""
    counted = plan_marks.numbers(sheet, taken) if answer else []
    tags = [
        *counted,
        *pack_current(sheet, taken),
        *thread(sheet, taken),
        *beside(sheet, taken),
        *lights(sheet, taken),
    ]
    tags += part_marks.tags(sheet, taken)
    lines, labels = "".join(one.line for one in tags), "".join(one.label for one in tags)
    below = [pool(sheet), areas, current, ends.tails, touching, letters, lines, wires]
    return [*below, fixed, wire_ends, ends.marks, labels]

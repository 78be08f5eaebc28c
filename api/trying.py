"""What-ifs between page and sums: changes in photo pixels to mm, and what comes of them as the answer."""

from collections.abc import Sequence

from api.errors import InputError
from api.fields import Spot
from api.reporting import finding_out, leds_out, pack_out, part_out
from api.schemas import Case, PackOut, PhotoOut
from api.what_if_schemas import (
    CellsEntry,
    ChangeEntry,
    CutEntry,
    LedChangeOut,
    MoveEntry,
    PackChangeOut,
    PullOutEntry,
    TurnEntry,
    WhatIfOut,
)
from circuit.materials import hours_until_flat
from circuit.model import LedResult, Point
from circuit.outcome import led_results, part_results
from circuit.what_if import Cells, Change, CutLine, Move, PullOut, PutBack, Trials, Turn, WhatIf
from vision.model import TableView


def tried(
    case: Case, photo: PhotoOut, trials: Trials, view: TableView, changes: Sequence[ChangeEntry]
) -> WhatIfOut:
    """What comes of these changes to the sculpture of a case.

    Raises one of `api.errors.USER_ERRORS` with one sentence for a change that cannot be made.
    """
    now = trials.now
    then = trials.what_if([_change(change, photo, view) for change in changes])
    kinds = {part.id: part.kind for part in case.parts}
    leds = zip(leds_out(_leds(now)), leds_out(_leds(then)), strict=True)
    return WhatIfOut(
        leds=[LedChangeOut(id=a.id, now=a, then=b, out=a.id in then.out) for a, b in leds],
        parts=[part_out(part, kinds[part.id]) for part in part_results(then.outcome)],
        pack=PackChangeOut(cells=then.sculpture.pack.cells, now=_pack(now), then=_pack(then)),
        out=list(then.out),
        free=[finding_out(one, view, case.age) for one in then.free],
        hazards=[finding_out(one, view, case.age) for one in then.hazards],
    )


def _change(change: ChangeEntry, photo: PhotoOut, view: TableView) -> Change:
    match change:
        case TurnEntry():
            return Turn(change.part)
        case PullOutEntry():
            return (PullOut if change.do == "pull-out" else PutBack)(change.part)
        case MoveEntry():
            return Move(change.entry, _mm(change.to, photo, view))
        case CutEntry():
            return CutLine(tuple(_mm(at, photo, view) for at in change.points))
        case CellsEntry():
            return Cells(change.count)


def _mm(at: Spot, photo: PhotoOut, view: TableView) -> Point:
    if not (0 <= at[0] <= photo.width and 0 <= at[1] <= photo.height):
        raise InputError(
            "The place {x:g}, {y:g} is off the photo, which is {width} x {height} pixels: "
            "choose a place on it.",
            x=at[0],
            y=at[1],
            width=photo.width,
            height=photo.height,
        )
    return view.to_mm(at)


def _leds(found: WhatIf) -> tuple[LedResult, ...]:
    return led_results(found.sculpture, found.outcome.led_A, found.outcome.legs_V)


def _pack(found: WhatIf) -> PackOut:
    outcome = found.outcome
    hours = hours_until_flat(found.sculpture.pack, outcome.pack_A)
    return pack_out(outcome.pack_A, outcome.terminal_V, hours)

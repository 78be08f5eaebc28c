"""What a case says of scale and colours, the printed mat read: the view, and taps for every colour."""

import math
from dataclasses import dataclass

from api.errors import InputError
from api.fields import Spot
from api.schemas import Case, PaletteEntry, Scale
from vision.errors import ScaleError
from vision.mat import Mat, find_mat
from vision.model import Photo, TableView
from vision.table_view import (
    view_from_card,
    view_from_coin,
    view_from_corners,
    view_from_mm_per_px,
    view_from_points,
    view_without_scale,
)

TABLE_TAPS = 6
"""Places of blank paper taken, those nearest to the sculpture: its light counts."""


def view_of(scale: Scale | None, size: tuple[int, int]) -> TableView:
    """The view of a photo of this width and height, as told; a mat counts as not told."""
    if scale is None or scale.mat:
        return view_without_scale(size[0])
    mm = scale.mm or 0.0
    if scale.points is not None:
        return view_from_points(*scale.points, mm)
    if scale.coin is not None:
        return view_from_coin(scale.coin, mm)
    if scale.card is not None:
        return view_from_card(scale.card, size)
    if scale.corners is not None and scale.sides_mm is not None:
        return view_from_corners(scale.corners, scale.sides_mm, size)
    return view_from_mm_per_px(scale.mm_per_px or 0.0)


@dataclass(frozen=True)
class Told:
    """A case with taps for all its colours and the view of its photo, the mat read.

    view    None without a photo: the labels tell its size
    within  corners of the mat's frame [px]; what lies outside is no sculpture
    """

    case: Case
    view: TableView | None
    within: tuple[Spot, ...] = ()


def read_scale(case: Case, picture: Photo | None) -> Told:
    """What the case and its photo tell of scale and colours.

    Raises:
        ScaleError: no mat can be seen though the case names it, or too little of it; or no usable scale.
        InputError: a colour without a tap whose pad is empty.
    """
    if case.scale is None or not case.scale.mat:
        return Told(case, None if picture is None else view_of(case.scale, (picture.width, picture.height)))
    if picture is None:
        raise ScaleError("The scale is on the printed mat, but there is no photo: send the photo too.")
    mat = find_mat(picture)
    if mat is None:
        raise ScaleError(
            "No mat can be seen in the photo: take it again with the whole printed mat in it, or give the "
            "scale by two points and the mm between them."
        )
    return Told(with_taps(case, mat) if case.labels is None else case, mat.view, mat.work_px)


def with_taps(case: Case, mat: Mat) -> Case:
    """The case with taps from the mat for every colour that has none.

    A dough takes the pad that it names; doughs that name none take the filled pads of their role that
    nobody names, in order. The table is the mat's blank paper.
    """
    filled = {pad.number: pad for pad in mat.pads}
    named = {entry.pad for entry in case.palette if entry.pad is not None}
    free = [pad for pad in mat.pads if pad.number not in named]
    palette: list[PaletteEntry] = []
    for entry in case.palette:
        taps = entry.taps
        if not taps and entry.role == "table":
            taps = _paper_taps(case, mat)
        elif not taps and entry.pad is not None:
            if entry.pad not in filled:
                raise InputError(
                    "No dough can be seen on pad {pad}, which {name} names: put a pinch of it there and "
                    "take the photo again, or tap {name} once.",
                    pad=entry.pad,
                    name=entry.name,
                )
            taps = filled[entry.pad].taps
        elif not taps:
            pad = next((pad for pad in free if pad.role == entry.role), None)
            if pad is None:
                raise InputError(
                    "The colour {name} has no tap, and no {role} pad of the mat is left for it: put a "
                    "pinch of it on one and take the photo again, or tap it once.",
                    name=entry.name,
                    role=entry.role,
                )
            free.remove(pad)
            taps = pad.taps
        palette.append(entry.model_copy(update={"taps": taps}))
    if not any(entry.role == "table" for entry in palette):
        palette.append(PaletteEntry(name="paper", role="table", taps=_paper_taps(case, mat)))
    return case.model_copy(update={"palette": tuple(palette)})


def _paper_taps(case: Case, mat: Mat) -> tuple[Spot, ...]:
    """The places of blank paper nearest to the middle of what was tapped; without taps, of the mat."""
    spots = [spot for led in case.leds for spot in (led.long_leg, led.short_leg)]
    if case.pack is not None:
        spots += [case.pack.plus, case.pack.minus]
    spots = spots or list(mat.work_px)
    middle = (sum(x for x, _ in spots) / len(spots), sum(y for _, y in spots) / len(spots))
    return tuple(sorted(mat.table_taps, key=lambda tap: math.dist(tap, middle))[:TABLE_TAPS])

"""The doughs of a workshop on a new photo: proposed, for the helper to accept or to correct."""

from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from api.errors import InputError
from api.fields import Name, Role, Spot, Strict
from api.routes.parts import AnyoneInside, InRow, Needs, Parts, photo_or_404
from vision.known_doughs import LEAST_SIDE_PX, KnownDough, find_known
from vision.mat import find_mat
from vision.model import Photo
from vision.photo import SHRINKS, open_photo, photo_size

router = APIRouter(tags=["palettes"], dependencies=[AnyoneInside, InRow])

Byte = Annotated[int, Field(ge=0, le=255)]
MAT_PX = 2100
"""Long side of the photo in which the mat's markers are looked for, as `vision/mat.py` does."""


class KnownEntry(Strict):
    """A dough as it was on an earlier photo: its colour as sRGB, 0 to 255."""

    name: Name
    role: Role
    rgb: tuple[Byte, Byte, Byte]


class FoundRequest(Strict):
    """A kept photo by its id, and the doughs to look for."""

    photo: Annotated[str, Field(max_length=40)]
    doughs: Annotated[tuple[KnownEntry, ...], Field(min_length=1, max_length=24)]


class FoundOut(BaseModel):
    """A dough with places to tap [px] and how sure that is, 0 to 1; without places it has to be tapped."""

    name: str
    role: Role
    taps: list[Spot]
    sure: float


class FoundAnswer(BaseModel):
    """The doughs in the order in which they were asked for."""

    doughs: list[FoundOut]


class PadOut(BaseModel):
    """A dough on a ring of the printed mat: places on it [px] and its colour as sRGB."""

    pad: int
    role: Role
    taps: list[Spot]
    rgb: tuple[int, int, int]


class MatAnswer(BaseModel):
    """The printed mat in a photo: mm per pixel in its middle, doughs on its rings, places on blank paper."""

    mm_per_px: float
    pads: list[PadOut]
    table: list[Spot]


@router.post("/palettes/found")
def find_palette(has: Needs, body: FoundRequest) -> FoundAnswer:
    """Look for the doughs of the last photo on a new one."""
    twice = [one.name for i, one in enumerate(body.doughs) if one.name in {d.name for d in body.doughs[:i]}]
    if twice:
        raise InputError("Two doughs are named {name}. Give each its own name.", name=twice[0])
    photo = _small(has, body.photo, LEAST_SIDE_PX)
    with has.turn:
        found = find_known(photo, [KnownDough(one.name, one.role, one.rgb) for one in body.doughs])
    doughs = [FoundOut(name=one.name, role=one.role, taps=_spots(one.taps), sure=one.sure) for one in found]
    return FoundAnswer(doughs=doughs)


@router.get("/photos/{photo_id}/mat")
def get_mat(has: Needs, photo_id: str) -> MatAnswer:
    """What the printed mat in this photo tells of the size and of the doughs."""
    photo = _small(has, photo_id, MAT_PX)
    with has.turn:
        mat = find_mat(photo)
    if mat is None:
        raise InputError(
            "No mat can be seen in the photo. Take it again with the whole printed mat in it, or tell the "
            "size in another way."
        )
    pads = [PadOut(pad=p.number, role=p.role, taps=_spots(p.taps), rgb=p.colour) for p in mat.pads]
    return MatAnswer(mm_per_px=round(mat.view.mm_per_px, 5), pads=pads, table=_spots(mat.table_taps))


def _small(has: Parts, photo_id: str, side_px: int) -> Photo:
    """A kept photo, decoded with at least `side_px` on its longer side if it has so many."""
    jpeg = photo_or_404(has, photo_id).jpeg
    side = max(photo_size(jpeg))
    return open_photo(jpeg, next((s for s in SHRINKS if side >= s * side_px), 1))


def _spots(at: tuple[tuple[float, float], ...]) -> list[Spot]:
    return [(round(x, 1), round(y, 1)) for x, y in at]

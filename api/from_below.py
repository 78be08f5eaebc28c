"""A photo of the underside: its doughs found again, laid on the photo from above, and what it adds."""

from collections.abc import Callable
from dataclasses import replace

from api.errors import InputError
from api.fields import Spot
from api.language.speech import _, counted, listed
from api.rasters import label_raster
from api.scaling import Told, view_of
from api.schemas import Underside
from api.second_schemas import BelowJoin, UndersideOut
from vision.errors import PhotoError, ScaleError, VisionError
from vision.mat import find_mat
from vision.model import Colour, Photo, Scene, TableView
from vision.palette import doughs_of
from vision.photo import open_photo, photo_size, shrink_for
from vision.registration import Registration, register
from vision.same_doughs import find_again
from vision.scene import read_scene, scene_from_labels
from vision.underside import Underside as FromBelow
from vision.underside import seen_from_below

ROUGH_MM = 1.5
"""Outlines that lie further apart than this are told as a poor fit (estimated)."""


def with_below(
    told: Told, picture: Photo | None, scene: Scene, data: bytes | None, on_stage: Callable[[str], None]
) -> tuple[Scene, UndersideOut]:
    """The scene of a case with what its underside adds; `data` is that picture, or its label image.

    Raises:
        InputError: the picture is missing, or its palette names a colour that the case does not have.
        VisionError: it does not show the same sculpture, or fits in two ways.
    """
    wish = told.case.underside
    if wish is None or data is None:
        raise InputError("The case names a photo of the underside, which is missing: send it with the case.")
    on_stage("underside")
    palette = [Colour(entry.name, entry.role, entry.taps) for entry in told.case.palette]
    try:
        below, unsure = _seen(wish, palette, picture, scene, data)
        found = register(scene, below, mirrored=True)
        result = seen_from_below(scene, below, found)
    except VisionError as error:
        raise type(error)(f"The underside: {error}") from error
    return result.scene, _told(result, found, unsure)


def _seen(
    wish: Underside, palette: list[Colour], picture: Photo | None, scene: Scene, data: bytes
) -> tuple[Scene, tuple[str, ...]]:
    """The scene from below, colours numbered as from above, and doughs that may be mistaken."""
    if wish.labels is not None:
        raster = label_raster(data)
        return scene_from_labels(raster, palette, [], view_of(wish.scale, raster.shape[::-1])), ()
    size = photo_size(data)
    view = view_of(wish.scale, size)
    photo = open_photo(data, shrink_for(*size, view.mm_per_px if view.true_scale else None))
    within: tuple[Spot, ...] = ()
    if wish.scale is not None and wish.scale.mat:
        view, within = _mat_view(photo)
    unsure: tuple[str, ...] = ()
    if wish.palette:
        there = _tapped(wish, palette)
    elif picture is None:
        raise PhotoError("Without a photo from above the colours of the underside need taps.")
    else:
        again = find_again(picture, scene, palette, photo, view)
        there, unsure = again.palette, again.doubtful
    return renumbered(read_scene(photo, there, [], view, within=within), there, palette), unsure


def _mat_view(photo: Photo) -> tuple[TableView, tuple[Spot, ...]]:
    mat = find_mat(photo)
    if mat is None:
        raise ScaleError("No mat can be seen in the photo; take it again with the whole printed mat in it.")
    return mat.view, mat.work_px


def _tapped(wish: Underside, palette: list[Colour]) -> tuple[Colour, ...]:
    roles = {colour.name: colour.role for colour in palette}
    for entry in wish.palette:
        if entry.name not in roles:
            raise InputError(
                "The underside's palette names {name}, which is no colour of the case: name one of {names}.",
                name=entry.name,
                names=", ".join(roles),
            )
    return tuple(Colour(entry.name, roles[entry.name], entry.taps) for entry in wish.palette)


def renumbered(scene: Scene, there: tuple[Colour, ...], palette: list[Colour]) -> Scene:
    """A scene seen with some colours of a palette, its pieces numbered as the whole palette has it."""
    names = [colour.name for colour in doughs_of(palette)]
    number = {i: names.index(c.name) + 1 for i, c in enumerate(doughs_of(there), start=1)}
    return replace(scene, pieces=tuple(replace(p, colour=number[p.colour]) for p in scene.pieces))


def _told(result: FromBelow, found: Registration, unsure: tuple[str, ...]) -> UndersideOut:
    says = []
    if result.joins:
        told = counted(
            "From below, dough joins lumps in one place. Turn it over and cut there.",
            "From below, dough joins lumps in {n} places. Turn it over and cut there.",
            len(result.joins),
        )
        says.append(told)
    else:
        says.append(_("From below, no dough joins lumps that are apart from above."))
    for i in result.decided:
        touching = result.scene.contacts[i].kind == "touching"
        says.append(
            _("Two pieces were doubtful from above. From below, they touch.")
            if touching
            else _("Two pieces were doubtful from above. From below, they are apart.")
        )
    if found.rim_mm > ROUGH_MM:
        told = _(
            "The two outlines fit poorly, {n:.1f}\u00a0mm apart. Look underneath to be sure.", n=found.rim_mm
        )
        says.append(told)
    if unsure:
        told = _(
            "Colours may be mistaken from below: {names}. Tap them there to be sure.", names=listed(unsure)
        )
        says.append(told)
    joins = [BelowJoin(between=pair, at=_spot(at)) for pair, at in result.joins]
    return UndersideOut(
        rim_mm=round(found.rim_mm, 2),
        overlap=round(found.iou, 3),
        turn_deg=round(found.turn_deg, 1),
        joins=joins,
        told=list(result.decided),
        unsure=list(unsure),
        says=says,
    )


def _spot(at: Spot) -> Spot:
    return round(at[0], 1), round(at[1], 1)

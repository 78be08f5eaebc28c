"""A second photo of the same sculpture: what was told of the first is carried over, and what changed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from api.fields import Spot
from api.from_below import renumbered
from api.language.speech import _, figure
from api.opened import decoded
from api.pipeline import Result, inspect_case
from api.rasters import label_raster
from api.scaling import view_of
from api.schemas import Case, Report, Scale
from api.second_schemas import ChangeOut
from api.second_words import change_words, entry_name
from vision.carry import Carried, carried, carry
from vision.changes import Change, find_changes
from vision.errors import PhotoError, ScaleError
from vision.mat import find_mat
from vision.model import Colour, Point, Scene
from vision.photo import photo_size
from vision.registration import Registration, register, seen_from
from vision.same_doughs import find_again
from vision.scene import read_scene, scene_from_labels


@dataclass(frozen=True)
class Second:
    """The second photo as far as it is known before its case is: scene, colours, and what is doubtful."""

    scene: Scene
    palette: tuple[Colour, ...]
    unsure: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def inspect_again(
    case: Case,
    photo: bytes | None,
    new: bytes,
    *,
    name: str,
    labels: bytes | None = None,
    on_stage: Callable[[str], None] = lambda _: None,
    before: Result | None = None,
) -> Result:
    """The second photo `new` of the sculpture of `case`, inspected; its report tells what changed.

    Where the case has only labels, `new` is a label image. `name` is what the new case calls it. What is
    seen lit, checks and the underside belong to the first photo and are not carried over. `before` is what
    was found in the first photo without its underside, if that is known already.

    Raises:
        VisionError: the two photos do not show the same sculpture.
    """
    if before is None:
        first = case.model_copy(update={"underside": None, "checks": ()})
        before = inspect_case(first, photo, labels, on_stage)
    on_stage("again")
    there = _seen_labels(before, new) if photo is None else _seen_photo(before, photo, new)
    found = register(before.scene, there.scene, mirrored=False)
    spots = carry(_places(before.case), before.scene, there.scene, found)
    told = _case(before, there, found, spots, name, labels_only=photo is None)
    after = inspect_case(told, None if photo is None else new, new if photo is None else None, on_stage)
    palette = [Colour(entry.name, entry.role, entry.taps) for entry in before.case.palette]
    now = renumbered(after.scene, there.palette, palette)
    near = seen_from(found, there.scene.view, now.view)
    confirmed = register(before.scene, now, mirrored=False, near=near)
    spots = carry(_places(before.case), before.scene, now, confirmed)
    changes = _changes(before, after, confirmed)
    lights = _lights(before.report, after.report, told)
    doubts = _doubts(told, spots, there, confirmed)
    if not (changes or lights):
        changes = [ChangeOut(kind="nothing", at=None, says=change_words("nothing", told.age))]
    report = after.report.model_copy(update={"changes": [*changes, *lights, *doubts]})
    return replace(after, report=report)


def _seen_labels(before: Result, data: bytes) -> Second:
    raster = label_raster(data)
    palette = tuple(Colour(entry.name, entry.role, entry.taps) for entry in before.case.palette)
    told = before.scene.view
    view = replace(view_of(None, raster.shape[::-1]), mm_per_px=told.mm_per_px)
    return Second(scene_from_labels(raster, palette, [], view), palette)


def _seen_photo(before: Result, photo: bytes, data: bytes) -> Second:
    """The second photo by its colours alone."""
    picture, old = decoded(data, 1), decoded(photo, 1)
    view = view_of(None, photo_size(data))
    within: tuple[Spot, ...] = ()
    if _on_mat(before.case):
        mat = find_mat(picture)
        if mat is None:
            raise ScaleError("No mat can be seen in the new photo; take it again with the whole mat in it.")
        view, within = mat.view, mat.work_px
    palette = [Colour(entry.name, entry.role, entry.taps) for entry in before.case.palette]
    again = find_again(old, before.scene, palette, picture, view)
    seen = read_scene(picture, again.palette, [], view, within=within)
    if not seen.pieces:
        raise PhotoError("No dough is found again in the new photo; take it again, or make a new case of it.")
    return Second(renumbered(seen, again.palette, palette), again.palette, again.doubtful, again.missing)


def _on_mat(case: Case) -> bool:
    return case.scale is not None and case.scale.mat


def _places(case: Case) -> dict[str, Spot]:
    """All entries by name."""
    out: dict[str, Spot] = {}
    if case.pack is not None:
        out |= {"pack.plus": case.pack.plus, "pack.minus": case.pack.minus}
    for led in case.leds:
        out |= {f"{led.id}.long": led.long_leg, f"{led.id}.short": led.short_leg}
    for part in case.parts:
        out |= {f"{part.id}.a": part.a, f"{part.id}.b": part.b}
    return out


def _case(
    before: Result,
    there: Second,
    found: Registration,
    spots: Mapping[str, Carried],
    name: str,
    labels_only: bool,
) -> Case:
    """The case of the second photo."""
    case = before.case
    at = {entry: _spot(spot.at) for entry, spot in spots.items()}

    def line(points: Sequence[Spot]) -> list[Spot]:
        return [_spot(carried(p, before.scene.view, there.scene.view, found)) for p in points]

    update: dict[str, Any] = case.model_dump(by_alias=True, exclude_unset=True)
    for key in ("checks", "underside", "photo", "labels", "scale"):
        update.pop(key, None)
    update |= {"schema": case.schema_, "labels" if labels_only else "photo": name}
    scale = _scale(before, there, found)
    if scale is not None:
        update["scale"] = scale.model_dump(exclude_unset=True)
    if not labels_only:
        update["palette"] = [
            {"name": c.name, "role": c.role, "taps": [_spot(tap) for tap in c.taps]} for c in there.palette
        ]
        update["materials"] = {k: v for k, v in update.get("materials", {}).items() if k not in there.missing}
    if case.pack is not None:
        update["pack"] |= {"plus": at["pack.plus"], "minus": at["pack.minus"]}
    update["leds"] = [
        {k: v for k, v in led.model_dump(exclude_unset=True).items() if k != "seen"}
        | {"long_leg": at[f"{led.id}.long"], "short_leg": at[f"{led.id}.short"]}
        for led in case.leds
    ]
    update["parts"] = [
        part.model_dump(exclude_unset=True) | {"a": at[f"{part.id}.a"], "b": at[f"{part.id}.b"]}
        for part in case.parts
    ]
    size = there.scene.labels.shape[::-1]
    update["strokes"] = [
        stroke.model_dump(by_alias=True) | {"points": line(stroke.points)}
        for stroke in case.strokes
        if stroke.colour not in there.missing and _on(line(stroke.points), size)
    ]
    for key, lines in (("cuts", case.cuts), ("joins", case.joins)):
        update[key] = [{"points": line(one.points)} for one in lines if _on(line(one.points), size)]
    return Case.model_validate(update)


def _on(points: Sequence[Spot], size: tuple[int, ...]) -> bool:
    return all(0 <= x <= size[0] and 0 <= y <= size[1] for x, y in points)


def _scale(before: Result, there: Second, found: Registration) -> Scale | None:
    """The scale of the second photo: on the mat, or by the size of the sculpture; None without one."""
    if _on_mat(before.case):
        return Scale(mat=True)
    if not before.scene.view.true_scale:
        return None
    return Scale(mm_per_px=round(found.scale * there.scene.view.mm_per_px, 6))


def _changes(before: Result, after: Result, found: Registration) -> list[ChangeOut]:
    """What changed of the dough, in words."""
    lump = {piece: lump.id for lump in after.report.lumps for piece in lump.pieces}
    return [_change(one, lump, after.case) for one in find_changes(before.scene, after.scene, found)]


def _change(one: Change, lump: Mapping[int, str], case: Case) -> ChangeOut:
    letters = list(dict.fromkeys(lump[piece] for piece in one.pieces if piece in lump))
    named = [_("lump {letter}", letter=letter) for letter in letters] + [_("one part"), _("another")]
    size = "" if one.size is None else figure(one.size, ".0f")
    says = change_words(one.kind, case.age, a=named[0], b=named[1], size=size)
    return ChangeOut(
        kind=one.kind,
        at=_spot(one.at),
        parts=letters,
        size=None if one.size is None else round(one.size, 1),
        says=says,
    )


def _lights(before: Report, after: Report, case: Case) -> list[ChangeOut]:
    """Lights whose state the sums have otherwise now."""
    was = {led.id: led.state for led in before.leds}
    at = {led.id: led.long_leg for led in case.leds}
    return [
        ChangeOut(
            kind="light",
            at=at[led.id],
            parts=[led.id],
            says=change_words("light", case.age, part=led.id, was=was[led.id], now=led.state),
        )
        for led in after.leds
        if was.get(led.id, led.state) != led.state
    ]


def _doubts(case: Case, spots: Mapping[str, Carried], there: Second, found: Registration) -> list[ChangeOut]:
    """What was carried over and may be wrong."""
    out = [
        ChangeOut(
            kind="doubtful",
            at=_spot(spot.at),
            parts=[entry],
            says=_about_entry(spot.doubt, entry, case),
        )
        for entry, spot in spots.items()
        if spot.doubt is not None
    ]
    for kind, names in (("colour-missing", there.missing), ("colour", there.unsure)):
        out += [
            ChangeOut(kind="doubtful", at=None, parts=[name], says=change_words(kind, case.age, part=name))
            for name in names
        ]
    if found.ambiguous:
        out.append(ChangeOut(kind="doubtful", at=None, says=change_words("two-ways", case.age)))
    return out


def _about_entry(doubt: str, entry: str, case: Case) -> str:
    said = entry_name(entry)
    inside = doubt == "changed"
    said = change_words(doubt, case.age, part=said[0].lower() + said[1:] if inside else said)
    return said[0].upper() + said[1:]


def _spot(at: Point) -> Spot:
    return round(at[0], 1), round(at[1], 1)

"""A case and its photo in, a report out: the only place that knows both `vision` and `circuit`."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from api.check_schemas import missing_part
from api.enquiring import with_enquiry
from api.errors import InputError
from api.fields import Thickness
from api.from_below import with_below
from api.opened import opened
from api.part_schemas import PartEntry
from api.rasters import label_raster
from api.reporting import seen_report, with_findings, with_flow
from api.scaling import Told, read_scale, view_of
from api.schemas import Case, Report
from circuit import materials
from circuit.enquiry import enquire
from circuit.flow import flow_of
from circuit.inspection import inspect
from circuit.model import (
    Answered,
    Brightness,
    Diode,
    Dough,
    Electrode,
    Enquiry,
    Entry,
    Inspection,
    Joint,
    Led,
    Lump,
    Pack,
    Part,
    Sculpture,
    Wall,
)
from circuit.readings import as_it_looks
from circuit.thickness import estimated_heights
from vision.errors import PhotoError
from vision.model import Colour, Correction, Line, Mark, Photo, Scene, Stroke, TableView
from vision.photo import check_large_enough, photo_size
from vision.quality import judge
from vision.scene import read_scene, scene_from_labels

Stage = Callable[[str], None]

AROUND_MM = 25.0
"""How far round taps and entries the photo is judged (estimated)."""

# Light of an LED as linear RGB, 0 to 1. Estimated.
TINTS: Mapping[str, tuple[float, float, float]] = {
    "red": (1.0, 0.05, 0.03),
    "orange": (1.0, 0.3, 0.03),
    "yellow": (1.0, 0.58, 0.05),
    "green": (0.12, 1.0, 0.2),
    "blue": (0.08, 0.22, 1.0),
    "white": (0.92, 0.95, 1.0),
}


@dataclass(frozen=True)
class Result:
    """A case with its report, label raster (H, W) uint8, the upright photo (h, w, 3) uint8, and the scene.

    `sculpture` and what the sums `found` are None without a pack. `pixels` may be smaller than the photo by
    2, 4 or 8; without a photo it shows the labels on plain paper.
    """

    case: Case
    report: Report
    labels: NDArray[np.uint8]
    pixels: NDArray[np.uint8]
    scene: Scene
    sculpture: Sculpture | None = None
    found: Inspection | None = None


def inspect_case(
    case: Case,
    photo: bytes | None = None,
    labels: bytes | None = None,
    on_stage: Stage = lambda _: None,
    *,
    flow: bool = False,
    below: bytes | None = None,
) -> Result:
    """The report of a case; with `flow` the lines along which current goes, too.

    `below`: the picture that the case names as its underside.

    Raises one of `api.errors.USER_ERRORS` with one sentence when the photo or the case is not usable.
    """
    on_stage("photo")
    picture = None if photo is None else _opened(case, photo)
    told = read_scale(case, picture)
    warnings = _warnings(told, picture) if picture is not None and labels is None else ()
    on_stage("dough")
    scene = _read(told, picture, labels, on_stage)
    underside = None
    if case.underside is not None:
        scene, underside = with_below(told, picture, scene, below, on_stage)
    pixels = picture.pixels if picture is not None else _paper(scene.labels)
    report, sculpture, found = seen_report(case, scene, warnings), None, None
    report = report.model_copy(update={"underside": underside})
    if case.pack is not None:
        sculpture = build_sculpture(case, scene)
        found = inspect(sculpture, on_stage, answered_of(case))
        _check_lumps(case, found.lumps)
        report = with_findings(report, found, scene.view, case.parts, case.age)
        if flow:
            report = with_flow(report, flow_of(sculpture).lines, scene.view)
    return Result(told.case, report, scene.labels, pixels, scene, sculpture, found)


def answer_checks(case: Case, report: Report, sculpture: Sculpture, view: TableView) -> Report:
    """The report of this sculpture with the enquiry as the checks of `case` leave it; the rest as it was.

    Raises one of `api.errors.USER_ERRORS` for a check that this sculpture does not have.
    """
    return with_enquiry(report, _enquiry(case, sculpture), view, case.age)


def _enquiry(case: Case, sculpture: Sculpture) -> Enquiry | None:
    """As `inspect` finds it, without findings and remedies where these do not matter."""
    if not case.checks or not case.leds:
        return inspect(sculpture).enquiry
    reading = as_it_looks(sculpture)
    _check_lumps(case, reading.board.lumps)
    return enquire(reading.worlds, answered_of(case))


def answered_of(case: Case) -> tuple[Answered, ...]:
    """The checks of a case as the sums take them."""
    return tuple(Answered(check.action, check.parts, check.answer) for check in case.checks)


def _check_lumps(case: Case, lumps: Sequence[Lump]) -> None:
    """Raises InputError for a check of a lump that is not there."""
    for check in case.checks:
        told = missing_part(check, [led.id for led in case.leds], [lump.id for lump in lumps])
        if told is not None:
            raise told


def read_sculpture(
    case: Case, photo: bytes | None = None, labels: bytes | None = None, below: bytes | None = None
) -> Sculpture:
    """Only the seeing half: the sculpture of a case, for the netlist and other tools."""
    picture = None if photo is None else _opened(case, photo)
    if case.pack is None:
        raise InputError("The case has no pack: tap where the red and the black lead go in.")
    told = read_scale(case, picture)
    if picture is not None and labels is None:
        _warnings(told, picture)
    scene = _read(told, picture, labels, _quiet)
    if case.underside is not None:
        scene, _ = with_below(told, picture, scene, below, _quiet)
    return build_sculpture(case, scene)


def _quiet(_stage: str) -> None:
    """Tell nobody."""


def _opened(case: Case, data: bytes) -> Photo:
    """The photo, decoded at the scale that is needed."""
    view = view_of(case.scale, photo_size(data))
    return opened(data, view.mm_per_px if view.true_scale else None)


def _warnings(told: Told, picture: Photo) -> tuple[str, ...]:
    """What is poor about the photo round the sculpture; raises PhotoError when nothing can be seen on it."""
    check_large_enough(picture.width, picture.height)
    case, view = told.case, told.view or view_of(told.case.scale, (picture.width, picture.height))
    taps = [tap for entry in case.palette if entry.role != "table" for tap in entry.taps]
    at = np.array(taps + [mark.at for mark in _marks(case)])
    margin = AROUND_MM / view.mm_per_px
    (left, top), (right, bottom) = at.min(axis=0) - margin, at.max(axis=0) + margin
    mm_per_px = view.mm_per_px if view.true_scale else None
    quality = judge(picture, (left, top, right, bottom), mm_per_px)
    if quality.grade == "hopeless":
        raise PhotoError(quality.advice)
    return quality.warnings


def _read(told: Told, picture: Photo | None, labels: bytes | None, on_stage: Stage) -> Scene:
    case, view = told.case, told.view
    palette = [Colour(entry.name, entry.role, entry.taps) for entry in case.palette]
    marks = _marks(case)
    corrections = _corrections(case)
    if labels is not None:
        raster = label_raster(labels)
        if picture is not None and raster.shape != (picture.height, picture.width):
            raise InputError(
                "The label image is {wide} x {high} pixels, the photo {width} x {height}: make "
                "both the same size.",
                wide=raster.shape[1],
                high=raster.shape[0],
                width=picture.width,
                height=picture.height,
            )
        view = view or view_of(case.scale, (raster.shape[1], raster.shape[0]))
        return scene_from_labels(raster, palette, marks, view, on_stage, corrections)
    if picture is None or view is None:
        raise PhotoError("The case comes without its photo: send the photo with it.")
    return read_scene(picture, palette, marks, view, on_stage, corrections, told.within)


def _marks(case: Case) -> list[Mark]:
    marks = []
    if case.pack is not None:
        marks += [Mark("pack.plus", "lead", case.pack.plus), Mark("pack.minus", "lead", case.pack.minus)]
    for led in case.leds:
        lit, tint = led.seen in ("bright", "dim"), TINTS.get(led.colour.lower())
        marks.append(Mark(f"{led.id}.long", "leg", led.long_leg, led.short_leg, lit, tint))
        marks.append(Mark(f"{led.id}.short", "leg", led.short_leg, led.long_leg, lit, tint))
    for part in case.parts:
        # Without a partner: nothing is known to lie astride between the ends of a wire.
        marks += [Mark(f"{part.id}.a", "leg", part.a), Mark(f"{part.id}.b", "leg", part.b)]
    return marks


def _corrections(case: Case) -> list[Correction]:
    return [
        *(Stroke(stroke.colour, stroke.points, stroke.width_mm) for stroke in case.strokes),
        *(Line("join", line.points) for line in case.joins),
        *(Line("cut", line.points) for line in case.cuts),
    ]


def _paper(labels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Labels in plain tints (H, W, 3), for a case without a photo."""
    hue = (labels.astype(np.uint16) * 47 % 180).astype(np.uint8)
    dough = (labels > 0) & (labels < 255)
    sat = np.where(dough, 110, 0).astype(np.uint8)
    value = np.where(labels == 255, 120, 235).astype(np.uint8)
    return np.asarray(cv2.cvtColor(np.dstack([hue, sat, value]), cv2.COLOR_HSV2RGB), np.uint8)


def build_sculpture(case: Case, scene: Scene) -> Sculpture:
    """What the sums need of a scene: the hand-over from `vision` to `circuit`."""
    if case.pack is None:
        raise InputError("The case has no pack: tap where the red and the black lead go in.")
    doughs = tuple(_dough(case, entry.name, entry.role) for entry in case.palette if entry.role != "table")
    to_mm = scene.view.to_mm
    sculpture = Sculpture(
        grid=scene.grid,
        cell_mm=scene.cell_mm,
        dough_of={piece.id: piece.colour - 1 for piece in scene.pieces},
        doughs=doughs,
        joints=tuple(
            Joint(c.between, c.kind, c.gap_mm, c.length_mm, to_mm(c.at), c.likely, c.confidence)
            for c in scene.contacts
        ),
        entries={
            name: Entry(name, to_mm(e.at), e.piece, e.near, e.off_mm) for name, e in scene.entries.items()
        },
        leds=tuple(_led(case, i) for i in range(len(case.leds))),
        pack=_pack(case),
        electrode=_electrode(case),
        brightness=_brightness(case),
        parts=tuple(_part(entry) for entry in case.parts),
        walls=tuple(
            Wall(wall.piece, wall.between, wall.thinnest_mm, to_mm(wall.thinnest_at)) for wall in scene.walls
        ),
    )
    return _with_heights(case, sculpture)


def _dough(case: Case, name: str, role: str) -> Dough:
    measured = case.materials.get(name)
    default = materials.conductive_dough(name) if role == "conductive" else materials.insulating_dough(name)
    resistivity = (measured and measured.resistivity_ohm_m) or default.resistivity_ohm_m
    told = _thickness(case, name)
    return Dough(
        name, default.conductive, resistivity, default.thickness_mm if isinstance(told, str) else told
    )


def _thickness(case: Case, name: str) -> Thickness:
    """What the case says of the height of this dough: mm, or `shape`."""
    measured = case.materials.get(name)
    return (measured and measured.thickness_mm) or case.thickness_mm


def _with_heights(case: Case, sculpture: Sculpture) -> Sculpture:
    """The sculpture with heights estimated from its outline for those doughs that ask for it."""
    by_shape = [i for i, dough in enumerate(sculpture.doughs) if _thickness(case, dough.name) == "shape"]
    if not by_shape:
        return sculpture
    pieces = [piece for piece, dough in sculpture.dough_of.items() if dough in by_shape]
    height = np.where(np.isin(sculpture.grid, pieces), estimated_heights(sculpture), np.nan)
    return replace(sculpture, height_mm=height.astype(np.float32))


def _led(case: Case, index: int) -> Led:
    entry = case.leds[index]
    row = materials.led_by_colour(entry.colour)
    diode = row.diode if entry.model is None else Diode(entry.model.is_A, entry.model.n, entry.model.rs_ohm)
    return Led(entry.id, entry.colour, diode, row.safe_A, entry.seen, row.safe_W)


def _part(entry: PartEntry) -> Part:
    """The part with what the case says of it in place of the usual values."""
    usual = materials.part_by_kind(entry.kind, entry.id)
    return replace(
        usual,
        ohm=usual.ohm if entry.ohm is None else entry.ohm,
        works_A=usual.works_A if entry.works_mA is None else entry.works_mA * 1e-3,
        closed=entry.closed is not False,
    )


def _pack(case: Case) -> Pack:
    if case.pack is None:
        raise InputError("The case has no pack: tap where the red and the black lead go in.")
    block = case.pack.kind == "block"
    default = materials.block_pack() if block else materials.default_pack(case.pack.cells)
    emf = default.emf_V if case.pack.emf_V is None else case.pack.emf_V
    internal = default.internal_ohm if case.pack.internal_ohm is None else case.pack.internal_ohm
    return replace(default, emf_V=emf, internal_ohm=internal)


def _electrode(case: Case) -> Electrode:
    default, given = materials.DEFAULT_ELECTRODE, case.electrode
    if given is None:
        return default
    return Electrode(
        leg_ohm=default.leg_ohm if given.leg_ohm is None else given.leg_ohm,
        lead_ohm=default.lead_ohm if given.lead_ohm is None else given.lead_ohm,
        drop_n=default.drop_n if given.drop_n is None else given.drop_n,
        # null means 'no drop', so only a field that is not there at all takes the default.
        drop_i0_A=given.drop_i0_A if "drop_i0_A" in given.model_fields_set else default.drop_i0_A,
    )


def _brightness(case: Case) -> Brightness:
    given = case.brightness_mA
    return Brightness(given.dim * 1e-3, given.bright * 1e-3) if given else materials.DEFAULT_BRIGHTNESS

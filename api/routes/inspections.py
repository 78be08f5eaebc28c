"""Inspections: what was found in a case, and its pictures."""

from collections.abc import Callable
from typing import Annotated

from anyio import from_thread
from fastapi import APIRouter, HTTPException, Path, Query, Request, Response
from pydantic import BaseModel, ValidationError

from api.errors import InputError, sentence
from api.fields import Strict
from api.hints import Level, When
from api.language.speech import _
from api.records import KeptPhoto, underside_gone, without_underside
from api.routes.limits import check_cases
from api.routes.parts import (
    AnyoneInside,
    InRow,
    InRowLater,
    Needs,
    Parts,
    below_of,
    inspection_or_404,
    may_see_photo,
    photo_or_404,
    pixels_of,
    put_beside,
    tell_of_photo,
    with_flow,
)
from api.schemas import Case, LineEntry, PaletteEntry, Report, Scale, StrokeEntry

router = APIRouter(tags=["inspections"], dependencies=[AnyoneInside])

_TOKEN = r"^[A-Za-z0-9_-]+$"
Token = Annotated[str | None, Query(max_length=40, pattern=_TOKEN)]


_FRAME = r"^-?\d{1,6}(\.\d{1,3})?(,-?\d{1,6}(\.\d{1,3})?){3}$"


class PreviewRequest(Strict):
    """A photo by its id, the colours tapped so far, the scale if there is one, and what was corrected."""

    photo: str
    palette: tuple[PaletteEntry, ...]
    scale: Scale | None = None
    strokes: tuple[StrokeEntry, ...] = ()
    cuts: tuple[LineEntry, ...] = ()
    joins: tuple[LineEntry, ...] = ()


class AgainRequest(Strict):
    """A kept photo of the same sculpture, by its id."""

    photo: str


class InspectionAnswer(BaseModel):
    """A kept inspection."""

    id: str
    case: Case
    report: Report


class StageAnswer(BaseModel):
    """What is being done."""

    stage: str


@router.post("/preview", dependencies=[InRowLater])
def preview(has: Needs, request: Request, body: PreviewRequest) -> Report:
    """Pieces and contacts only, for the outlines while colours are being tapped; nothing is kept."""
    wish = {"schema": "doughsight-case/1", **body.model_dump(by_alias=True)}
    try:
        case = Case.model_validate(wish)
    except ValidationError as error:
        raise InputError(sentence(error)) from error
    photo = photo_or_404(has, body.photo)
    with has.turn.later:
        _check_that_somebody_waits(request)
        return _look(has, case, photo, None)


@router.post("/inspections", status_code=201, dependencies=[InRow])
def add_inspection(has: Needs, request: Request, case: Case, token: Token = None) -> InspectionAnswer:
    """Look at a case whose `photo` is the id of a kept photo. `token` lets the page ask for the stage."""
    if case.photo is None:
        raise InputError("The case names no photo. Send the photo first and give its id as photo.")
    if case.labels is not None:
        raise InputError("The case names labels, which the page does not take. Leave labels out.")
    photo, lost = photo_or_404(has, case.photo), _underside_lost(has, case)
    check_cases(has, photo.id)
    if lost:
        case = without_underside(case)
    with has.turn:
        _check_that_somebody_waits(request)
        report = _look(has, case, photo, token)
    report = underside_gone(report) if lost else report
    kept = has.records.add_inspection(photo.id, case, report)
    if case.underside is not None and case.underside.photo is not None:
        put_beside(has, case.underside.photo, photo.id)
    tell_of_photo(has, photo.id)
    return InspectionAnswer(id=kept.id, case=case, report=report)


@router.post("/inspections/{case_id}/again", status_code=201, dependencies=[InRow])
def add_again(has: Needs, case_id: str, body: AgainRequest, token: Token = None) -> InspectionAnswer:
    """Look at a second photo of the same sculpture: entries are carried over, `changes` says what changed."""
    old = inspection_or_404(has, case_id)
    photo, new = photo_or_404(has, old.photo_id), photo_or_404(has, body.photo)
    check_cases(has, new.id)
    with has.turn:
        found = has.tools.again(old.case, photo.jpeg, new.jpeg, name=new.id, on_stage=_teller(has, token))
    kept = has.records.add_inspection(new.id, found.case, found.report)
    put_beside(has, new.id, photo.id)
    tell_of_photo(has, new.id)
    return InspectionAnswer(id=kept.id, case=found.case, report=found.report)


@router.get("/stages/{token}")
def get_stage(has: Needs, token: Annotated[str, Path(max_length=40, pattern=_TOKEN)]) -> StageAnswer:
    """How far the inspection with this token is; the stage is empty before it begins."""
    return StageAnswer(stage=has.stages.of(token) or "")


@router.get("/inspections/{case_id}")
def get_inspection(has: Needs, case_id: str) -> InspectionAnswer:
    """A kept inspection."""
    kept = inspection_or_404(has, case_id)
    return InspectionAnswer(id=kept.id, case=kept.case, report=kept.report)


@router.get("/inspections/{case_id}/overlay.svg", response_class=Response)
def get_overlay(
    has: Needs,
    case_id: str,
    finding: Annotated[int | None, Query(ge=0)] = None,
    layers: Annotated[str | None, Query(max_length=200)] = None,
    px_per_mark: Annotated[float | None, Query(gt=0, le=100, allow_inf_nan=False)] = None,
    frame: Annotated[str | None, Query(max_length=80, pattern=_FRAME)] = None,
    remedy: Annotated[int | None, Query(ge=1)] = None,
    when: When = "now",
    level: Level = "do",
    led: Annotated[str | None, Query(max_length=40)] = None,
    sideways: bool = False,
) -> Response:
    """What is drawn on the photo, as SVG in photo pixels.

    `remedy` is the rank of the remedy to draw: what is to be done, or with `when=then` the sculpture as it
    will be. `level` says how much is given away; on `ask` and `look` no remedy is.

    `layers` is a list with commas; `px_per_mark` is photo pixels per CSS pixel; `frame` is the part of the
    photo that is seen, left,top,right,bottom in photo pixels, within which tags are placed. The layer `flow`
    is reckoned when it is asked for; `trace` walks the legs of `led`. `sideways` tells that the photo is seen
    a quarter turned.
    """
    kept = inspection_or_404(has, case_id)
    if finding is not None and finding >= len(kept.report.findings):
        count = len(kept.report.findings)
        raise HTTPException(
            404,
            _(
                "There is no finding {n} here: the report has {count}, counted from 0.",
                n=finding,
                count=count,
            ),
        )
    wishes: dict[str, object] = {"finding": finding, "level": level, "led": led, "sideways": sideways}
    report = kept.report
    if remedy is not None:
        _check_rank(kept.report, remedy)
        wishes |= {"remedy": remedy, "when": when}
    if layers is not None:
        names = tuple(name for name in layers.split(",") if name)
        wishes["layers"] = names
        if "flow" in names and level == "do":
            report = with_flow(has, kept)
    if px_per_mark is not None:
        wishes["px_per_mark"] = px_per_mark
    if frame is not None:
        left, top, right, bottom = map(float, frame.split(","))
        if left >= right or top >= bottom:
            raise InputError("The frame {frame} is empty. Give it as left,top,right,bottom.", frame=frame)
        wishes["frame"] = (left, top, right, bottom)
    svg = has.tools.overlay(report, kept.case, **wishes)
    return Response(svg, media_type="image/svg+xml")


@router.get("/inspections/{case_id}/picture.png", response_class=Response, dependencies=[InRowLater])
def get_picture(has: Needs, case_id: str, level: Level = "do") -> Response:
    """The photo with the report drawn on it; `level` says how much is given away."""
    kept = inspection_or_404(has, case_id)
    with has.turn.later:
        png = has.tools.picture(pixels_of(has, kept), kept.report, kept.case, level=level)
    return png_answer(png, "doughsight.png")


@router.get("/inspections/{case_id}/remedy.png", response_class=Response, dependencies=[InRowLater])
def get_remedy(has: Needs, case_id: str, rank: Annotated[int, Query(ge=1)] = 1) -> Response:
    """The sculpture now and after the remedy of this rank, with its steps and what will light."""
    kept = inspection_or_404(has, case_id)
    _check_rank(kept.report, rank)
    with has.turn.later:
        png = has.tools.remedy(pixels_of(has, kept), kept.report, kept.case, rank)
    return png_answer(png, f"doughsight-remedy-{rank}.png")


@router.get("/inspections/{case_id}/seeing.png", response_class=Response, dependencies=[InRowLater])
def get_seeing(
    has: Needs,
    case_id: str,
    width: Annotated[float, Query(ge=320, le=1600, allow_inf_nan=False)] = 740,
) -> Response:
    """What was taken for what, and how sure that is; `width` is how wide in CSS px it will be shown."""
    kept = inspection_or_404(has, case_id)
    with has.turn.later:
        png = has.tools.seeing(kept.case, photo_or_404(has, kept.photo_id).jpeg, width)
    return png_answer(png, "doughsight-seeing.png")


@router.delete("/inspections/{case_id}", status_code=204)
def delete_inspection(has: Needs, case_id: str) -> None:
    """Delete the inspection; its photo stays."""
    kept = inspection_or_404(has, case_id)
    has.records.delete_inspection(case_id)
    tell_of_photo(has, kept.photo_id)


def _check_rank(report: Report, rank: int) -> None:
    """404 for a remedy that the report does not have."""
    if rank not in {remedy.rank for remedy in report.remedies}:
        count = len(report.remedies)
        raise HTTPException(
            404, _("There is no remedy {n} here: the report has {count}.", n=rank, count=count)
        )


def png_answer(png: bytes, name: str) -> Response:
    """A picture to keep."""
    headers = {"content-disposition": f'inline; filename="{name}"'}
    return Response(png, media_type="image/png", headers=headers)


def _underside_lost(has: Parts, case: Case) -> bool:
    """Whether the case names a photo of its underside that is not here, or not for the asker."""
    name = case.underside.photo if case.underside is not None else None
    return name is not None and not may_see_photo(has, name)


def _look(has: Parts, case: Case, photo: KeptPhoto, token: str | None) -> Report:
    """Run the pipeline; it must be our turn."""
    below = below_of(has, case)
    return has.tools.inspect(case, photo.jpeg, on_stage=_teller(has, token), **below).report


def _check_that_somebody_waits(request: Request) -> None:
    """Each tap asks for outlines anew and hangs up on those before: with thirty benches most that waits."""
    if from_thread.run(request.is_disconnected):
        raise HTTPException(409, "Nobody waits for this any more. Ask again.")


def _teller(has: Parts, token: str | None) -> Callable[[str], None]:
    """What notes the stage under the token that the page chose."""

    def on_stage(stage: str) -> None:
        if token is not None:
            has.stages.tell(token, stage)

    return on_stage

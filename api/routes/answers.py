"""What is asked of an answer afterwards: words for another age, and where the electricity goes."""

from fastapi import APIRouter, HTTPException, Response

from api.fields import Strict
from api.language.languages import spoken
from api.routes.inspections import InspectionAnswer, png_answer
from api.routes.parts import (
    AnyoneInside,
    InRow,
    InRowLater,
    Needs,
    below_of,
    inspection_or_404,
    photo_or_404,
    pixels_of,
    tell_of_photo,
    with_flow,
)
from api.wording.sentences import Age

router = APIRouter(tags=["answers"], dependencies=[AnyoneInside])


class AgeEntry(Strict):
    """Whom the words are for."""

    age: Age


@router.put("/inspections/{case_id}/age", dependencies=[InRow])
def put_age(has: Needs, case_id: str, body: AgeEntry) -> InspectionAnswer:
    """Say all of a kept inspection in the words for another age, in the language of this request.

    Nothing is seen or solved again.
    """
    kept = inspection_or_404(has, case_id)
    if (kept.case.age, kept.report.language) == (body.age, spoken().code):
        return InspectionAnswer(id=kept.id, case=kept.case, report=kept.report)
    case = kept.case.model_copy(update={"age": body.age})
    photo = lambda: photo_or_404(has, kept.photo_id).jpeg  # noqa: E731
    report = has.tools.reword(case, kept.report, photo, has.turn, **below_of(has, case))
    if not has.records.replace_inspection(kept, case, report):
        raise HTTPException(409, "Another phone has changed this sculpture. Look at it as it is now.")
    tell_of_photo(has, kept.photo_id)
    return InspectionAnswer(id=kept.id, case=case, report=report)


@router.get("/inspections/{case_id}/flow.png", response_class=Response, dependencies=[InRowLater])
def get_flow(has: Needs, case_id: str) -> Response:
    """The photo with the lines along which current goes, and a key."""
    kept = inspection_or_404(has, case_id)
    report = with_flow(has, kept)
    with has.turn.later:
        png = has.tools.flow_picture(pixels_of(has, kept), report, kept.case)
    return png_answer(png, "doughsight-flow.png")

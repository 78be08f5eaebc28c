"""Checks with bare hands: one answer more, or the last one taken back. All of it is kept with the case."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Query
from pydantic import ValidationError

from api.check_schemas import CheckEntry
from api.errors import InputError, sentence
from api.language.speech import N_
from api.records import KeptInspection
from api.routes.inspections import InspectionAnswer
from api.routes.parts import (
    AnyoneInside,
    InRow,
    Needs,
    Parts,
    below_of,
    inspection_or_404,
    photo_or_404,
    tell_of_photo,
)
from api.schemas import Case

router = APIRouter(tags=["checks"], dependencies=[AnyoneInside, InRow])

After = Annotated[int, Query(ge=0, le=1000)]
"""How many checks the sender knows of: two phones must not answer over each other."""

ELSEWHERE = N_("Another phone has answered a check of this sculpture. Look at it as it is now, then answer.")


@router.post("/inspections/{case_id}/checks", status_code=201)
def add_check(has: Needs, case_id: str, check: CheckEntry, after: After) -> InspectionAnswer:
    """Add what was seen when a check was done; `after` is how many checks the sender knows of.

    Sent again after a lost answer it changes nothing more.
    """
    kept = inspection_or_404(has, case_id)
    checks = kept.case.checks
    if len(checks) == after + 1 and checks[-1] == check:
        return InspectionAnswer(id=kept.id, case=kept.case, report=kept.report)
    return _with_checks(has, kept, after, (*checks, check))


@router.delete("/inspections/{case_id}/checks/last")
def undo_check(has: Needs, case_id: str, after: After) -> InspectionAnswer:
    """Take the last check back; `after` is how many checks the sender knows of."""
    kept = inspection_or_404(has, case_id)
    if not kept.case.checks:
        raise HTTPException(404, "No check of this sculpture has been answered yet. Answer one first.")
    return _with_checks(has, kept, after, kept.case.checks[:-1])


def _with_checks(
    has: Parts, kept: KeptInspection, after: int, checks: tuple[CheckEntry, ...]
) -> InspectionAnswer:
    """The inspection with these checks, kept if nobody else has changed it meanwhile."""
    if len(kept.case.checks) != after:
        raise HTTPException(409, ELSEWHERE)
    try:
        case = Case.model_validate(
            {**kept.case.model_dump(by_alias=True, exclude_unset=True), "checks": checks}
        )
    except ValidationError as error:
        raise InputError(sentence(error)) from error
    with has.turn:
        photo = lambda: photo_or_404(has, kept.photo_id).jpeg  # noqa: E731
        report = has.tools.answer(case, kept.report, photo, **below_of(has, case))
    if not has.records.replace_inspection(kept, case, report):
        raise HTTPException(409, ELSEWHERE)
    tell_of_photo(has, kept.photo_id)
    return InspectionAnswer(id=kept.id, case=case, report=report)

"""What if: changes tried on a kept inspection. Nothing of it is kept."""

from fastapi import APIRouter

from api.routes.parts import AnyoneInside, InRow, Needs, below_of, inspection_or_404, photo_or_404
from api.what_if_schemas import WhatIfEntry, WhatIfOut

router = APIRouter(tags=["what-if"], dependencies=[AnyoneInside, InRow])


@router.post("/inspections/{case_id}/what-if")
def try_changes(has: Needs, case_id: str, body: WhatIfEntry) -> WhatIfOut:
    """What the lights would do with these changes, made in their order. Places are photo pixels."""
    kept = inspection_or_404(has, case_id)
    photo = lambda: photo_or_404(has, kept.photo_id).jpeg  # noqa: E731
    # It takes no turn: only where the photo must be seen again it waits for others.
    return has.tools.what_if(
        kept.case, kept.report, body.changes, photo, has.turn, **below_of(has, kept.case)
    )

"""Workshops: made, changed, copied, ended, deleted."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Response
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field

from api.errors import InputError
from api.fields import MOST_REVISION, KeptTime, Strict
from api.language.speech import N_, translated
from api.records import KeptWorkshop
from api.retention import deleted_on
from api.routes.parts import AnyoneInside, HelperOrOwner, Needs, OwnerOnly, Parts
from api.workshop_schemas import Day, DoughOfDay, WorkshopEntry

router = APIRouter(tags=["workshops"], dependencies=[AnyoneInside])

GONE = N_("This workshop is not kept here, or it was deleted. Go back to the list of workshops.")
OVER = N_("This workshop is over. Let it go on, or begin another one.")
QUICKER = N_("Another page was quicker. Look at what is kept now, and change that.")

After = Annotated[int, Query(ge=0, le=MOST_REVISION)]
"""The revision that the sender knows."""


class WorkshopAnswer(BaseModel):
    """A workshop. Times are UTC; on `deleted_on` everything of it is deleted, null: until somebody does."""

    id: str
    entry: WorkshopEntry
    created: KeptTime
    ended: KeptTime | None
    revision: int
    deleted_on: date | None


class DoughsAnswer(BaseModel):
    """The doughs of the day, and the revision of the workshop that they are part of."""

    doughs: tuple[DoughOfDay, ...]
    revision: int


class DoughsEntry(Strict):
    """The doughs of the day as a phone knows them now."""

    doughs: Annotated[tuple[DoughOfDay, ...], Field(max_length=24)]


class CopyEntry(Strict):
    """On which day it is done again."""

    day: Day


@router.post("/workshops", status_code=201, dependencies=[OwnerOnly])
def add_workshop(has: Needs, body: WorkshopEntry) -> WorkshopAnswer:
    """Keep a new workshop. The owner only."""
    return answer(has.records.workshops.add(body))


@router.get("/workshops", dependencies=[HelperOrOwner])
def get_workshops(has: Needs) -> list[WorkshopAnswer]:
    """All workshops that the asker may enter, the latest day first."""
    return [answer(one) for one in has.records.workshops.all() if has.who.may_enter(one.id)]


@router.get("/workshops/{workshop_id}", dependencies=[HelperOrOwner])
def get_workshop(has: Needs, workshop_id: str) -> WorkshopAnswer:
    """One workshop. The owner and its helpers."""
    return answer(workshop_or_404(has, workshop_id))


@router.put(
    "/workshops/{workshop_id}", response_model=WorkshopAnswer, responses={409: {}}, dependencies=[OwnerOnly]
)
def put_workshop(
    has: Needs, workshop_id: str, body: WorkshopEntry, after: After
) -> WorkshopAnswer | Response:
    """Change it. 409 with the current `workshop` if it was changed since `after`. The owner only."""
    before = workshop_or_404(has, workshop_id)
    end = deleted_on(body, before.created)
    if end is not None and end <= date.today() and end != deleted_on(before.entry, before.created):
        raise InputError(
            "All of this workshop would be deleted at once, because its days were over on {day}. "
            "Keep it for more days, or delete it now.",
            day=end.isoformat(),
        )
    return _changed(has, workshop_id, has.records.workshops.change(workshop_id, after, body))


@router.get("/workshops/{workshop_id}/doughs")
def get_doughs(has: Needs, workshop_id: str) -> DoughsAnswer:
    """The doughs of the day, for every phone of the workshop."""
    kept = workshop_or_404(has, workshop_id)
    return DoughsAnswer(doughs=kept.entry.doughs, revision=kept.revision)


@router.put(
    "/workshops/{workshop_id}/doughs",
    response_model=WorkshopAnswer,
    responses={409: {}},
    dependencies=[HelperOrOwner],
)
def put_doughs(has: Needs, workshop_id: str, body: DoughsEntry, after: After) -> WorkshopAnswer | Response:
    """Set the doughs of the day. 409 with the current `workshop` as above. The owner and its helpers."""
    workshop_or_404(has, workshop_id)
    return _changed(has, workshop_id, has.records.workshops.set_doughs(workshop_id, after, body.doughs))


@router.delete("/workshops/{workshop_id}", status_code=204, dependencies=[OwnerOnly])
def delete_workshop(has: Needs, workshop_id: str) -> None:
    """Delete it now with every sculpture, photo and phone of it. The owner only."""
    workshop_or_404(has, workshop_id)
    has.records.delete_workshop(workshop_id)
    has.live.tell(workshop_id)


@router.post("/workshops/{workshop_id}/copy", status_code=201, dependencies=[OwnerOnly])
def copy_workshop(has: Needs, workshop_id: str, body: CopyEntry) -> WorkshopAnswer:
    """A new workshop with the same kit, doughs, challenge and words, without anybody's work."""
    entry = workshop_or_404(has, workshop_id).entry
    return answer(has.records.workshops.add(entry.model_copy(update={"day": body.day})))


@router.post("/workshops/{workshop_id}/end", dependencies=[OwnerOnly])
def end_workshop(has: Needs, workshop_id: str) -> WorkshopAnswer:
    """It is over: its codes end, and its phones are out. What was made stays. The owner only."""
    workshop_or_404(has, workshop_id)
    has.records.workshops.end(workshop_id)
    for way in has.records.joins.of_workshop(workshop_id):
        has.records.joins.revoke(way.id)
    has.records.calls.let_go(workshop_id)
    has.live.tell(workshop_id)
    return answer(workshop_or_404(has, workshop_id))


@router.post("/workshops/{workshop_id}/reopen", dependencies=[OwnerOnly])
def reopen_workshop(has: Needs, workshop_id: str) -> WorkshopAnswer:
    """It goes on after all. The owner only."""
    workshop_or_404(has, workshop_id)
    has.records.workshops.reopen(workshop_id)
    has.live.tell(workshop_id)
    return answer(workshop_or_404(has, workshop_id))


def answer(kept: KeptWorkshop) -> WorkshopAnswer:
    """The workshop as it is told."""
    return WorkshopAnswer(
        id=kept.id,
        entry=kept.entry,
        created=kept.created,
        ended=kept.ended,
        revision=kept.revision,
        deleted_on=deleted_on(kept.entry, kept.created),
    )


def _changed(has: Parts, workshop_id: str, kept: KeptWorkshop | None) -> WorkshopAnswer | Response:
    if kept is not None:
        has.live.tell(workshop_id)
        return answer(kept)
    now = answer(workshop_or_404(has, workshop_id))
    told = {"error": translated(QUICKER), "workshop": now.model_dump(mode="json")}
    return JSONResponse(told, status_code=409)


def workshop_or_404(has: Parts, workshop_id: str) -> KeptWorkshop:
    """The workshop with this id, if the asker may enter it."""
    kept = has.records.workshops.get(workshop_id) if has.who.may_enter(workshop_id) else None
    if kept is None:
        raise HTTPException(404, GONE)
    return kept

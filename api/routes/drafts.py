"""Drafts: what was told so far, kept on the server, so that two phones may work on one sculpture."""

import json
from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Response
from fastapi.responses import JSONResponse

from api.draft_schemas import DraftAnswer, DraftEntry, DraftPhoto, NewDraftEntry
from api.errors import InputError
from api.fields import MOST_REVISION
from api.language.speech import N_, translated
from api.records import KeptDraft, job_text
from api.routes.limits import check_drafts
from api.routes.parts import (
    AnyoneInside,
    Needs,
    Parts,
    inspection_or_404,
    may_see_photo,
    photo_or_404,
    tell_of_photo,
)

router = APIRouter(tags=["drafts"], dependencies=[AnyoneInside])

MOST_JOB_CHARS = 1_000_000
"""Largest job kept [characters]; 60 strokes of 500 points have about 0.5 million (estimated)."""

Revision = Annotated[int, Query(ge=0, le=MOST_REVISION)]
"""The newest revision that the sender knows of."""

GONE = N_("This sculpture is not kept here any more: its photo was deleted. Take a new photo.")
QUICKER = N_("Another phone was quicker. Put both together, and send it again after the revision given here.")


@router.post("/drafts", status_code=201)
def add_draft(has: Needs, body: NewDraftEntry) -> DraftAnswer:
    """Keep the first of what is told of a kept photo."""
    photo_or_404(has, body.photo)
    _check(has, body.photo, body)
    check_drafts(has, body.photo)
    kept = has.records.add_draft(body.photo, body.job, body.inspection)
    tell_of_photo(has, body.photo)
    return _answer(has, kept)


@router.get("/drafts/{draft_id}", response_model=DraftAnswer, responses={204: {}})
def get_draft(has: Needs, draft_id: str, after: Revision = 0) -> DraftAnswer | Response:
    """The draft; 204 with no body if nothing is newer than `after`."""
    head = has.records.draft_head(draft_id)
    if head is not None and head[1] <= after and may_see_photo(has, head[0]):
        return Response(status_code=204)
    return _answer(has, _draft_or_404(has, draft_id))


@router.put("/drafts/{draft_id}", response_model=DraftAnswer, responses={409: {}})
def put_draft(has: Needs, draft_id: str, body: DraftEntry, after: Revision) -> DraftAnswer | Response:
    """Keep a newer job. 409 with the current `draft` if somebody else has changed it since `after`."""
    before = _draft_or_404(has, draft_id)
    _check(has, before.photo_id, body)
    kept = has.records.replace_draft(draft_id, after, body.job, body.inspection)
    if kept is not None:
        return _answer(has, kept)
    now = _answer(has, _draft_or_404(has, draft_id))
    return JSONResponse({"error": translated(QUICKER), "draft": now.model_dump()}, status_code=409)


def _draft_or_404(has: Parts, draft_id: str) -> KeptDraft:
    kept = has.records.draft(draft_id)
    if kept is None or not may_see_photo(has, kept.photo_id):
        raise HTTPException(404, GONE)
    return kept


def _check(has: Parts, photo_id: str, body: DraftEntry) -> None:
    """Refuse a job that is too long, and an inspection of another photo."""
    count = len(job_text(body.job))
    if count > MOST_JOB_CHARS:
        raise InputError(
            "This draft has {count} characters, over {most}. Take some strokes out.",
            count=count,
            most=MOST_JOB_CHARS,
        )
    if body.inspection is not None and inspection_or_404(has, body.inspection).photo_id != photo_id:
        raise InputError("The inspection is of another photo. Name one of the photo of this draft.")


def _answer(has: Parts, kept: KeptDraft) -> DraftAnswer:
    size = has.records.photo_size(kept.photo_id)
    if size is None:
        raise HTTPException(404, GONE)
    return DraftAnswer(
        id=kept.id,
        photo=DraftPhoto(id=kept.photo_id, width=size[0], height=size[1]),
        job=json.loads(kept.job),
        revision=kept.revision,
        inspection=kept.inspection_id,
    )

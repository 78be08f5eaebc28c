"""The help queue: who waits, who goes there, what it was; live on all phones."""

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse
from sse_starlette import EventSourceResponse

from api.errors import InputError
from api.fields import MOST_REVISION
from api.language.speech import N_, translated
from api.queue_schemas import (
    CallAnswer,
    CallEntry,
    PlaceAnswer,
    QueueAnswer,
    SolvedEntry,
    call_answer,
    queue_answer,
)
from api.queue_stream import stream
from api.records import KeptCall, KeptWorkshop, Outcome
from api.routes.parts import AnyoneInside, HelperOrOwner, Needs, Parts
from api.routes.room import room_page
from api.routes.workshops import GONE as NO_WORKSHOP
from api.routes.workshops import OVER, workshop_or_404

router = APIRouter(tags=["queue"])

NO_CALL = N_("Nobody asks for help here any more. Look at the queue again.")
QUICKER = N_("Somebody else was quicker. Look at what is kept now.")
NO_BENCH = N_("Nobody has said which bench this is. Say it first.")

After = Annotated[int, Query(ge=0, le=MOST_REVISION)]
"""The revision of the call that the sender knows."""


@router.get("/workshops/{workshop_id}/queue", dependencies=[AnyoneInside])
async def get_queue(has: Needs, workshop_id: str) -> QueueAnswer | PlaceAnswer:
    """Who waits for help, and what went wrong so far; a bench is told of its own call only."""
    found = await has.boards.seen(has.records, has.live, workshop_id, has.who)
    if found is None:
        raise HTTPException(404, NO_WORKSHOP)
    return queue_answer(*found)


@router.get(
    "/workshops/{workshop_id}/events", dependencies=[AnyoneInside], response_class=EventSourceResponse
)
async def get_events(has: Needs, workshop_id: str) -> Response:
    """The same as server-sent events: `queue` with all of it whenever it has changed, `still` in between.

    The last event is `out`, when the workshop is not open to this device any more.
    """
    if await has.boards.seen(has.records, has.live, workshop_id, has.who) is None:
        raise HTTPException(404, NO_WORKSHOP)
    return stream(has, workshop_id)


@router.post(
    "/workshops/{workshop_id}/calls", status_code=201, dependencies=[AnyoneInside], responses={409: {}}
)
def add_call(has: Needs, workshop_id: str, body: CallEntry) -> CallAnswer:
    """A bench asks for help: the one that is named, or for a bench itself. It has one open call at a time."""
    workshop = workshop_or_404(has, workshop_id)
    sculpture_id = _asking(has, workshop, body)
    call = has.records.calls.ask(workshop_id, sculpture_id)
    has.live.tell(workshop_id)
    return call_answer(call, has.who)


@router.post(
    "/calls/{call_id}/take", response_model=CallAnswer, responses={409: {}}, dependencies=[HelperOrOwner]
)
def take_call(has: Needs, call_id: str, after: After) -> CallAnswer | Response:
    """Go there. 409 with the current `call` if somebody else was quicker."""
    _call_or_404(has, call_id)
    return _told(has, has.records.calls.take(call_id, after, has.who.device, has.who.name))


@router.post(
    "/calls/{call_id}/solve", response_model=CallAnswer, responses={409: {}}, dependencies=[HelperOrOwner]
)
def solve_call(has: Needs, call_id: str, after: After, body: SolvedEntry) -> CallAnswer | Response:
    """It works again, and it was this. 409 with the current `call` as above."""
    _call_or_404(has, call_id)
    return _told(has, has.records.calls.solve(call_id, after, body.kind))


@router.post(
    "/calls/{call_id}/back", response_model=CallAnswer, responses={409: {}}, dependencies=[HelperOrOwner]
)
def put_call_back(has: Needs, call_id: str, after: After) -> CallAnswer | Response:
    """Let somebody else go; it keeps its place. 409 with the current `call` as above."""
    _call_or_404(has, call_id)
    return _told(has, has.records.calls.put_back(call_id, after))


@router.post(
    "/calls/{call_id}/withdraw", response_model=CallAnswer, responses={409: {}}, dependencies=[AnyoneInside]
)
def withdraw_call(has: Needs, call_id: str, after: After) -> CallAnswer | Response:
    """The bench needs nobody any more. 409 with the current `call` as above."""
    _call_or_404(has, call_id)
    return _told(has, has.records.calls.withdraw(call_id, after))


@router.get("/rooms/queue", response_class=HTMLResponse, dependencies=[AnyoneInside])
def queue_room(has: Needs, request: Request, workshop: str | None = None) -> Response:
    """The queue for helpers; a bench is led to the page where it asks for help."""
    if has.who.role == "bench":
        return RedirectResponse("help", status_code=303)
    return room_page(request, "queue", _about(has, workshop), sheets=("queue",))


@router.get("/rooms/help", response_class=HTMLResponse, dependencies=[AnyoneInside])
def help_room(has: Needs, request: Request, workshop: str | None = None) -> HTMLResponse:
    """One big button, for a tablet that children use."""
    return room_page(request, "help", _about(has, workshop), sheets=("queue",))


def _about(has: Parts, workshop_id: str | None) -> dict[str, Any]:
    """What both rooms are told: which workshop, and who looks."""
    own = workshop_id or has.who.workshop
    running = has.records.workshops.running() if own is None else None
    found = running.id if running is not None else own
    workshop = None if found is None else workshop_or_404(has, found)
    sculpture = None if has.who.sculpture is None else has.records.sculptures.get(has.who.sculpture)
    return {
        "workshop": None if workshop is None else {"id": workshop.id, "name": workshop.entry.name},
        "role": has.who.role,
        "bench": None if sculpture is None else sculpture.bench,
    }


def _call_or_404(has: Parts, call_id: str) -> None:
    """404 where there is no such call, or none that the asker may know of."""
    call = has.records.calls.get(call_id)
    bench = has.who.role == "bench"
    if (
        call is None
        or not has.who.may_enter(call.workshop_id)
        or (bench and call.sculpture_id != has.who.sculpture)
    ):
        raise HTTPException(404, NO_CALL)


def _asking(has: Parts, workshop: KeptWorkshop, body: CallEntry) -> str:
    """The sculpture of the bench that asks."""
    if workshop.ended is not None:
        raise HTTPException(409, OVER)
    if has.who.role == "bench":
        if body.bench is not None:
            raise InputError("A bench asks for itself. Leave the field bench out.")
        if has.who.sculpture is None:
            raise HTTPException(409, NO_BENCH)
        return has.who.sculpture
    if body.bench is None:
        raise InputError("The field bench is missing. Give the number or nickname of the bench that asks.")
    return has.records.sculptures.at_bench(workshop.id, body.bench).id


def _told(has: Parts, came: Outcome | None) -> CallAnswer | Response:
    if came is None:
        raise HTTPException(404, NO_CALL)
    if came.done:
        has.live.tell(came.call.workshop_id)
        return call_answer(came.call, has.who)
    return _lost(has, came.call)


def _lost(has: Parts, call: KeptCall) -> Response:
    now = call_answer(call, has.who)
    return JSONResponse({"error": translated(QUICKER), "call": now.model_dump()}, status_code=409)

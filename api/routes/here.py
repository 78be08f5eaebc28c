"""Who asks: told, changed, and gone."""

from fastapi import APIRouter, HTTPException, Request, Response
from fastapi.responses import HTMLResponse
from sqlalchemy.exc import IntegrityError

from api.access import COOKIE
from api.join_schemas import AtBenchOut, HereOut, WorkshopOut
from api.language.speech import N_
from api.records.sculptures import bench_key
from api.routes.parts import AnyoneInside, Needs, OpenToAll
from api.routes.room import room_page
from api.sculpture_schemas import BenchEntry

router = APIRouter(tags=["here"])

NO_BENCH = N_("Only a tablet at a bench says which bench it is. Join with the code for benches.")
MOST_SCULPTURES = 300
"""Of one workshop: thirty benches many times over, but not all that can be typed for fun (estimated)."""


@router.get("/rooms/join", response_class=HTMLResponse, dependencies=[OpenToAll])
def join_room(request: Request) -> HTMLResponse:
    """The page on which a phone tells its code."""
    return room_page(request, "join", {}, sheets=("join",))


@router.get("/here", dependencies=[AnyoneInside])
def get_here(has: Needs) -> HereOut:
    """Who asks, and where it is."""
    who = has.who
    workshop = has.records.workshops.get(who.workshop) if who.workshop is not None else None
    sculpture = has.records.sculptures.get(who.sculpture) if who.sculpture is not None else None
    return HereOut(
        role="owner" if who.role == "stranger" else who.role,
        name=who.name,
        workshop=None if workshop is None else WorkshopOut(id=workshop.id, name=workshop.entry.name),
        sculpture=None if sculpture is None else AtBenchOut(id=sculpture.id, bench=sculpture.bench),
    )


@router.put("/here/bench", dependencies=[AnyoneInside])
def put_bench(has: Needs, body: BenchEntry) -> AtBenchOut:
    """Say which bench this is; its sculpture is begun if there is none yet."""
    who = has.who
    if who.role != "bench" or who.workshop is None or who.device is None:
        raise HTTPException(403, NO_BENCH)
    begun = {bench_key(one.bench) for one in has.records.sculptures.of_workshop(who.workshop)}
    if len(begun) >= MOST_SCULPTURES and bench_key(body.bench) not in begun:
        raise HTTPException(409, "This workshop has too many benches already. Ask a helper.")
    try:
        sculpture = has.records.sculptures.at_bench(who.workshop, body.bench)
    except IntegrityError as error:
        raise HTTPException(404, "This workshop was deleted. Ask the helper.") from error
    if not has.records.joins.set_sculpture(who.device, sculpture.id):
        raise HTTPException(409, "Another tablet is at this bench already. Tell another one.")
    has.live.tell(who.workshop)
    return AtBenchOut(id=sculpture.id, bench=sculpture.bench)


@router.delete("/here", status_code=204, dependencies=[AnyoneInside])
def delete_here(has: Needs, response: Response) -> None:
    """Leave: the cookie goes, and so does what was kept of the device."""
    if has.who.device is not None and has.who.workshop is not None:
        has.records.joins.leave(has.who.device)
        has.records.calls.let_go(has.who.workshop)
        has.live.tell(has.who.workshop)
    response.delete_cookie(COOKIE, path="/", httponly=True, samesite="lax")

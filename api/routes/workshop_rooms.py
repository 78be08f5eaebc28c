"""The pages on which workshops are made and run: the list, and one workshop."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from api.routes.parts import Needs, OwnerOnly
from api.routes.room import room_page
from api.routes.workshops import answer, get_workshops, workshop_or_404
from circuit.materials import LEDS

router = APIRouter(tags=["page"])


@router.get(
    "/rooms/workshops", response_class=HTMLResponse, include_in_schema=False, dependencies=[OwnerOnly]
)
def workshops_room(has: Needs, request: Request) -> HTMLResponse:
    """All workshops. The owner only."""
    told = {"workshops": [one.model_dump(mode="json") for one in get_workshops(has)]}
    return room_page(request, "workshops", told, sheets=("workshop",))


@router.get("/rooms/workshop", response_class=HTMLResponse, include_in_schema=False, dependencies=[OwnerOnly])
def workshop_room(has: Needs, request: Request, id: str) -> HTMLResponse:
    """One workshop, to be changed and run. The owner only."""
    kept = answer(workshop_or_404(has, id))
    told = {
        "id": kept.id,
        "workshop": kept.model_dump(mode="json"),
        "leds": list(LEDS),
        "network": has.door.network,
    }
    return room_page(request, "workshop", told, sheets=("workshop",))

"""The pages on which workshops are made and run: the list, and one workshop."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from api.routes.parts import Needs
from api.routes.room import room_page
from api.routes.workshops import owner_only, workshop_or_404
from circuit.materials import LEDS

router = APIRouter(tags=["page"])


@router.get("/rooms/workshops", response_class=HTMLResponse)
def workshops_room(has: Needs, request: Request) -> HTMLResponse:
    """All workshops. The owner only."""
    owner_only(has)
    return room_page(request, "workshops", {}, sheets=("workshop",))


@router.get("/rooms/workshop", response_class=HTMLResponse)
def workshop_room(has: Needs, request: Request, id: str) -> HTMLResponse:
    """One workshop, to be changed and run. The owner only."""
    owner_only(has)
    kept = workshop_or_404(has, id)
    return room_page(request, "workshop", {"id": kept.id, "leds": list(LEDS)}, sheets=("workshop",))

"""Whether the server is well: one word for everybody, figures for the owner."""

from typing import Literal

from fastapi import APIRouter, Response
from pydantic import BaseModel

from api.health import Health
from api.routes.parts import Needs, OpenToAll, OwnerOnly

router = APIRouter(tags=["health"])


class HealthAnswer(BaseModel):
    """Whether the server can do its work."""

    status: Literal["ok", "not well"]


@router.get("/health", dependencies=[OpenToAll], responses={503: {"model": HealthAnswer}})
def health(has: Needs, response: Response) -> HealthAnswer:
    """`ok`; 503 with `not well` where nothing can be kept, which `/health/details` tells the owner."""
    if has.doctor.health().well:
        return HealthAnswer(status="ok")
    response.status_code = 503
    return HealthAnswer(status="not well")


@router.get("/health/details", dependencies=[OwnerOnly])
def details(has: Needs) -> Health:
    """What was looked at, at most some seconds ago."""
    return has.doctor.health()

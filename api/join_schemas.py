"""Ways in and who is in, in the public formats."""

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.fields import KeptTime, Plain, Strict
from api.records.joins import JoinRole
from api.workshop_schemas import Nickname

HOURS = 12.0
"""A workshop with its preparation fits into half a day (estimated)."""
MOST_HOURS = 24.0 * 7


class JoinEntry(Strict):
    """A way in to be opened: for whom, and for how long [h]."""

    role: JoinRole
    hours: Annotated[float, Field(gt=0, le=MOST_HOURS, allow_inf_nan=False)] = HOURS


class DeviceOut(BaseModel):
    """A phone or tablet that is in; `bench` is where it stands, if it said so."""

    id: str
    name: str
    joined: KeptTime
    bench: str | None


class JoinOut(BaseModel):
    """A way in; times are UTC. `link` is what the QR code holds."""

    id: str
    role: JoinRole
    code: str
    link: str
    created: KeptTime
    expires: KeptTime
    devices: list[DeviceOut]


class CodeEntry(Strict):
    """What a phone tells to be let in: the six digits, or the token of the link; how it is to be called."""

    code: Annotated[str | None, Field(max_length=40)] = None
    token: Annotated[str | None, Field(max_length=100)] = None
    name: Annotated[Nickname | None, Plain] = None


class WelcomeOut(BaseModel):
    """What a phone may do from now on, and which page to open."""

    role: Literal["owner", "helper", "bench"]
    name: str
    go: str


class WorkshopOut(BaseModel):
    """The workshop that a device is in."""

    id: str
    name: str


class AtBenchOut(BaseModel):
    """The sculpture that a bench works on."""

    id: str
    bench: str


class HereOut(BaseModel):
    """Who asks: the owner is in all workshops, so it has none of its own."""

    role: Literal["owner", "helper", "bench"]
    name: str
    workshop: WorkshopOut | None
    sculpture: AtBenchOut | None

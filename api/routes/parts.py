"""What the routes share: the records, the engines, and the look-ups that answer 404."""

from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field, replace
from threading import Lock
from typing import Annotated, Any, Protocol

import numpy as np
from fastapi import Depends, HTTPException, Request
from numpy.typing import NDArray

from api.access import Pass
from api.door import Door
from api.errors import InputError
from api.health import Doctor
from api.live import Live
from api.queue_board import Boards
from api.records import KeptInspection, KeptPhoto, Place, Records
from api.schemas import Case, Report
from api.settings import Settings
from api.tries import Tries
from api.turns import Turns
from api.what_if_schemas import WhatIfOut
from api.who import STRANGER, Who
from vision.photo import open_photo, shrink_for

OnStage = Callable[[str], None]


class Found(Protocol):
    """What an inspection hands back."""

    @property
    def report(self) -> Report:
        """All that was found."""


def _as_it_is(_case: Case, report: Report, *_told: Any, **_wishes: Any) -> Report:
    """Stands in where no sculptures are remembered."""
    return report


def _no_flow(*_told: Any) -> bytes:
    """Stands in where no flow is drawn."""
    raise InputError("The flow cannot be drawn here. Look at the lights instead.")


def _what_if(*told: Any, **wishes: Any) -> WhatIfOut:
    """The what-ifs of sculptures that nobody remembers."""
    from api.recent import RecentSculptures

    return RecentSculptures().what_if(*told, **wishes)


def _again(*told: Any, **wishes: Any) -> "FoundAgain":
    """`api.again.inspect_again`, imported late, because the engines take a second to load."""
    from api.again import inspect_again

    return inspect_again(*told, **wishes)


class FoundAgain(Found, Protocol):
    """What a second photo hands back."""

    @property
    def case(self) -> Case:
        """The case of the second photo."""


@dataclass(frozen=True)
class Tools:
    """The engines behind the routes, so that tests can put others in their place."""

    inspect: Callable[..., Found]
    """`api.recent.RecentSculptures.inspect`: a case, the photo's bytes, and `on_stage` by keyword."""
    overlay: Callable[..., str]
    """`api.drawing.overlay_svg`."""
    picture: Callable[..., bytes]
    """`api.drawing.marked_up_png`."""
    seeing: Callable[[Case, bytes, float], bytes]
    """`api.seeing.look_again`: a case, the photo's bytes, and how wide in CSS px it will be shown."""
    remedy: Callable[[NDArray[np.uint8], Report, Case, int], bytes]
    """`api.remedy_picture.remedy_png`: the photo, report, case, and the rank of the remedy."""
    answer: Callable[..., Report]
    """`api.recent.RecentSculptures.answer`: a case with its checks, its report so far, and its photo."""
    again: Callable[..., FoundAgain] = _again
    """`api.recent.RecentSculptures.again`: a case, its photo and a new one as bytes, the new one's `name`."""
    what_if: Callable[..., WhatIfOut] = _what_if
    """`api.recent.RecentSculptures.what_if`: a case, its report, changes, its photo, whose turn it is."""
    reword: Callable[..., Report] = _as_it_is
    """`api.recent.RecentSculptures.reword`: a case, its report so far, its photo, whose turn it is."""
    flow: Callable[..., Report] = _as_it_is
    """`api.recent.RecentSculptures.flow`: told the same."""
    flow_picture: Callable[[NDArray[np.uint8], Report, Case], bytes] = _no_flow
    """`api.flow_picture.flow_png`: the photo, a report with flow, and the case."""
    forget: Callable[[str], None] = lambda _photo_id: None
    """`api.recent.RecentSculptures.forget`: what is remembered of a photo is to be gone."""


@dataclass
class Stages:
    """How far the running inspections are, by the token that the page chose; the last 200 are known."""

    _by_token: dict[str, str] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def tell(self, token: str, stage: str) -> None:
        """Note the stage."""
        with self._lock:
            self._by_token.pop(token, None)
            self._by_token[token] = stage
            while len(self._by_token) > 200:
                self._by_token.pop(next(iter(self._by_token)))

    def of(self, token: str) -> str | None:
        """The stage last noted."""
        return self._by_token.get(token)


@dataclass(frozen=True)
class Parts:
    """What one running app consists of, and who asks."""

    settings: Settings
    records: Records
    tools: Tools
    stages: Stages
    turn: Turns
    live: Live
    door: Door
    ticket: Pass
    tries: Tries
    doctor: Doctor
    who: Who = STRANGER
    boards: Boards = field(default_factory=Boards)


async def parts(request: Request) -> Parts:
    """The parts of the app that answers this request, and who asks (`api/access.py`)."""
    found: Parts = request.app.state.parts
    return replace(found, who=request.scope.get("who", STRANGER))


Needs = Annotated[Parts, Depends(parts)]


async def owner_only(has: Needs) -> None:
    """Refuse whoever is not the laptop that serves."""
    if has.who.role != "owner":
        raise HTTPException(403, "Only the laptop may do this. Do it there.")


async def helper_or_owner(has: Needs) -> None:
    """Refuse benches."""
    if has.who.role not in ("owner", "helper"):
        raise HTTPException(403, "Only helpers may do this. Ask one of them.")


async def anyone_inside(has: Needs) -> None:
    """Refuse whoever has not joined."""
    if has.who.role == "stranger":
        raise HTTPException(403, "This needs a code. Ask the laptop for it.")


async def open_to_all() -> None:
    """Said of the few routes that a phone needs before it has joined (`api/access.py`)."""


OwnerOnly = Depends(owner_only)
HelperOrOwner = Depends(helper_or_owner)
AnyoneInside = Depends(anyone_inside)
OpenToAll = Depends(open_to_all)
"""Each route says with one of these who may ask it: `dependencies=[OwnerOnly]`. None takes a thread."""


async def in_row(has: Needs) -> AsyncIterator[None]:
    """Wait before a thread is taken."""
    async with has.turn.row:
        yield


async def in_row_later(has: Needs) -> AsyncIterator[None]:
    """The same for what can wait."""
    async with has.turn.later.row:
        yield


# Until the answer is made, not until it has gone over: who reads slowly keeps nobody waiting.
InRow = Depends(in_row, scope="function")
InRowLater = Depends(in_row_later, scope="function")
"""Each route that looks at a photo or draws says with one of these that it may have to wait for its turn."""


def _may_see(has: Parts, place: Place | None) -> bool:
    return place is not None and has.who.may_see(place.workshop, place.sculpture, place.device)


def may_see_photo(has: Parts, photo_id: str) -> bool:
    """Whether the photo is there and the asker may see it."""
    return _may_see(has, has.records.place(photo_id))


def photo_or_404(has: Parts, photo_id: str) -> KeptPhoto:
    """The photo with this id, if the asker may see it."""
    kept = has.records.photo(photo_id)
    if kept is None or not _may_see(has, kept.place):
        raise HTTPException(404, "This photo is not kept here, or it was deleted. Send it again.")
    return kept


def inspection_or_404(has: Parts, case_id: str) -> KeptInspection:
    """The inspection with this id, if the asker may see its photo."""
    kept = has.records.inspection(case_id)
    if kept is None or not may_see_photo(has, kept.photo_id):
        raise HTTPException(404, "This inspection is not kept here, or it was deleted. Look again.")
    return kept


def place_for(has: Parts, sculpture_id: str | None) -> Place:
    """Where a new photo belongs; that of a bench to the sculpture that it works on, whatever it says."""
    who = has.who
    if who.role == "bench":
        if who.sculpture is None:
            raise HTTPException(409, "Nobody has said which bench this is. Say it first.")
        return Place(who.workshop, who.sculpture, who.device)
    if sculpture_id is None:
        return Place(who.workshop, None, who.device)
    sculpture = has.records.sculptures.get(sculpture_id)
    if sculpture is None or not who.may_enter(sculpture.workshop_id):
        raise HTTPException(404, "This sculpture is not kept here, or it was deleted. Choose another.")
    return Place(sculpture.workshop_id, sculpture.id, who.device)


def put_beside(has: Parts, photo_id: str, other_id: str) -> None:
    """A photo that belongs to no sculpture yet belongs to that of another photo from now on."""
    here, there = has.records.place(photo_id), has.records.place(other_id)
    if here is None or there is None or there.sculpture is None or here.sculpture is not None:
        return
    sculpture = has.records.sculptures.get(there.sculpture)
    if sculpture is not None:
        has.records.sculptures.take_in(sculpture, photo_id)


def tell_of_photo(has: Parts, photo_id: str) -> None:
    """The phones of the photo's workshop are to look again."""
    place = has.records.place(photo_id)
    has.live.tell(None if place is None else place.workshop)


def below_of(has: Parts, case: Case) -> dict[str, bytes]:
    """The picture of the underside that a case names, as the argument `below` of the engines."""
    if case.underside is None:
        return {}
    if case.underside.photo is None:
        raise InputError("The underside names labels, which the page does not take. Name a kept photo.")
    kept = has.records.photo(case.underside.photo)
    if kept is None or not _may_see(has, kept.place):
        raise InputError("The photo of the underside was deleted. Take it again, or leave the underside out.")
    return {"below": kept.jpeg}


def with_flow(has: Parts, kept: KeptInspection) -> Report:
    """The report of an inspection with the lines along which current goes, if there is a pack."""
    if kept.case.pack is None:
        return kept.report
    photo = lambda: photo_or_404(has, kept.photo_id).jpeg  # noqa: E731
    return has.tools.flow(kept.case, kept.report, photo, has.turn, **below_of(has, kept.case))


def pixels_of(has: Parts, kept: KeptInspection) -> NDArray[np.uint8]:
    """The photo of an inspection, no larger than its pictures need it."""
    about = kept.report.photo
    shrink = shrink_for(about.width, about.height, about.mm_per_px if about.true_scale else None)
    return open_photo(photo_or_404(has, kept.photo_id).jpeg, shrink).pixels

"""What the routes share: the records, the engines, and the look-ups that answer 404."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from threading import BoundedSemaphore, Lock
from typing import Annotated, Any, Protocol

import numpy as np
from fastapi import Depends, HTTPException, Request
from numpy.typing import NDArray

from api.errors import InputError
from api.live import Live
from api.records import KeptInspection, KeptPhoto, Records
from api.schemas import Case, Report
from api.settings import Settings
from api.what_if_schemas import WhatIfOut
from api.who import OWNER, Who
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
    turn: BoundedSemaphore
    live: Live
    who: Who = OWNER


def parts(request: Request) -> Parts:
    """The parts of the app that answers this request, and who asks (`api/access.py`)."""
    found: Parts = request.app.state.parts
    return replace(found, who=request.scope.get("who", OWNER))


Needs = Annotated[Parts, Depends(parts)]


def photo_or_404(has: Parts, photo_id: str) -> KeptPhoto:
    """The photo with this id."""
    kept = has.records.photo(photo_id)
    if kept is None:
        raise HTTPException(404, "This photo is not kept here, or it was deleted. Send it again.")
    return kept


def inspection_or_404(has: Parts, case_id: str) -> KeptInspection:
    """The inspection with this id."""
    kept = has.records.inspection(case_id)
    if kept is None:
        raise HTTPException(404, "This inspection is not kept here, or it was deleted. Look again.")
    return kept


def below_of(has: Parts, case: Case) -> dict[str, bytes]:
    """The picture of the underside that a case names, as the argument `below` of the engines."""
    if case.underside is None:
        return {}
    if case.underside.photo is None:
        raise InputError("The underside names labels, which the page does not take. Name a kept photo.")
    kept = has.records.photo(case.underside.photo)
    if kept is None:
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

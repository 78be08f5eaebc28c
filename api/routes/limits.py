"""How much a phone may have kept, so that one tablet in play does not fill the disk for all."""

from collections.abc import Callable
from dataclasses import dataclass

from fastapi import HTTPException

from api.language.speech import N_, _
from api.records import Place
from api.routes.parts import Parts


@dataclass(frozen=True)
class Limit:
    """The most that a bench may have, and what it is told at that."""

    most: int
    sentence: str


OF_SCULPTURE = Limit(60, N_("This sculpture has {most} photos, which is all there is room for: delete one."))
"""One every two minutes for two hours (estimated)."""
OF_DEVICE = Limit(300, N_("This phone has sent {most} photos, which is all there is room for: delete one."))
"""A tablet that five benches share; with 0.5 MB each, 150 MB (estimated)."""
DRAFTS = Limit(20, N_("There are {most} drafts of this photo, which is all there is room for: open one."))
"""One for each phone that opens it before it has heard of the others (estimated)."""
CASES = Limit(
    60, N_("This photo was looked at {most} times, which is all there is room for: take a new one.")
)
"""One every half minute for half an hour (estimated)."""
HELPERS = 10
"""A helper goes round to some ten benches, and may have so much more. The owner may fill the disk."""


def check_photos(has: Parts, place: Place) -> None:
    """409 where there is no room for one more photo at this place."""
    _check(has, OF_SCULPTURE, lambda: has.records.counts.photos_of_sculpture(place))
    _check(has, OF_DEVICE, lambda: has.records.counts.photos_of_device(place))


def check_drafts(has: Parts, photo_id: str) -> None:
    """409 where there is no room for one more draft of this photo."""
    _check(has, DRAFTS, lambda: has.records.counts.drafts(photo_id))


def check_cases(has: Parts, photo_id: str) -> None:
    """409 where there is no room for one more case of this photo."""
    _check(has, CASES, lambda: has.records.counts.cases(photo_id))


def _check(has: Parts, limit: Limit, count: Callable[[], int]) -> None:
    if has.who.role == "owner":
        return
    most = limit.most * (HELPERS if has.who.role == "helper" else 1)
    if count() >= most:
        raise HTTPException(409, _(limit.sentence, most=most))

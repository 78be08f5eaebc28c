"""What is printed, as PDF: the sheet of a sculpture, a maker's card, the sheet of a class, all its cards."""

import json
from collections.abc import Callable
from typing import Annotated

import numpy as np
from fastapi import APIRouter, Query, Response
from numpy.typing import NDArray

from api.file_names import file_name
from api.finished import Look, shown_of
from api.language.speech import _
from api.paper.card import card_pdf, cards_pdf
from api.paper.class_sheet import class_pdf
from api.paper.faces import forget_lines
from api.paper.pages import Paper
from api.paper.sheet import sheet_pdf
from api.paper.told import NoPhotoError, Seen, Told
from api.records import KeptSculpture
from api.routes.parts import AnyoneInside, HelperOrOwner, InRowLater, Needs, Parts
from api.routes.sculptures import looks_of, sculpture_or_404
from api.routes.workshops import workshop_or_404
from api.schemas import Case, Report
from api.workshop_schemas import WorkshopEntry
from vision.photo import SHRINKS, open_photo

router = APIRouter(tags=["paper"])

Size = Annotated[Paper, Query()]


@router.get(
    "/sculptures/{sculpture_id}/sheet.pdf", dependencies=[AnyoneInside, InRowLater], response_class=Response
)
def get_sheet(has: Needs, sculpture_id: str, paper: Size = "a4") -> Response:
    """The sheet of a sculpture."""
    told = told_or_404(has, sculpture_id)
    with has.turn.later:
        pdf = sheet_pdf(told, paper)
    return _answer(pdf, "sheet", _name(told.sculpture))


@router.get(
    "/sculptures/{sculpture_id}/card.pdf", dependencies=[AnyoneInside, InRowLater], response_class=Response
)
def get_card(has: Needs, sculpture_id: str, paper: Size = "a4") -> Response:
    """The card of its maker, A6 or a quarter of Letter."""
    told = told_or_404(has, sculpture_id)
    with has.turn.later:
        pdf = card_pdf(told, paper)
    return _answer(pdf, "card", _name(told.sculpture))


@router.get(
    "/workshops/{workshop_id}/class.pdf", dependencies=[HelperOrOwner, InRowLater], response_class=Response
)
def get_class(has: Needs, workshop_id: str, paper: Size = "a4") -> Response:
    """The sheet of a class, with all its sculptures."""
    entry = workshop_or_404(has, workshop_id).entry
    every = _every(has, workshop_id, entry)
    with has.turn.later:
        pdf = class_pdf(entry, every, paper)
    return _answer(pdf, "class", entry.name)


@router.get(
    "/workshops/{workshop_id}/cards.pdf", dependencies=[HelperOrOwner, InRowLater], response_class=Response
)
def get_cards(has: Needs, workshop_id: str, paper: Size = "a4") -> Response:
    """The cards of all makers, four to a page."""
    entry = workshop_or_404(has, workshop_id).entry
    every = _every(has, workshop_id, entry)
    with has.turn.later:
        pdf = cards_pdf(every, paper, entry.name)
    return _answer(pdf, "cards", entry.name)


def told_or_404(has: Parts, sculpture_id: str) -> Told:
    """What is known of a sculpture when it is printed, if the asker may see it."""
    one = sculpture_or_404(has, sculpture_id)
    return _told(has, one, workshop_or_404(has, one.workshop_id).entry)


def _every(has: Parts, workshop_id: str, entry: WorkshopEntry) -> list[Told]:
    return [_told(has, one, entry) for one in has.records.sculptures.of_workshop(workshop_id)]


def _told(has: Parts, one: KeptSculpture, entry: WorkshopEntry) -> Told:
    """The sculpture as it is shown to the asker; photos are opened when they are drawn."""
    shown = shown_of(one, looks_of(has, one))
    return Told(one, entry, _seen(has, shown.before), _seen(has, shown.after))


def _seen(has: Parts, look: Look | None) -> Seen | None:
    if look is None:
        return None
    kept = look.kept
    report, case = Report.model_validate_json(kept.report), Case.model_validate(json.loads(kept.case))
    return Seen(case, report, _opener(has, kept.photo_id, kept.width), look.frame)


def _opener(has: Parts, photo_id: str, width: int) -> Callable[[int], NDArray[np.uint8]]:
    """Opens a photo no larger than its picture needs it."""

    def opened(across: int) -> NDArray[np.uint8]:
        shrink = next((one for one in SHRINKS if width // one >= across), 1)
        kept = has.records.photo(photo_id)
        if kept is None:
            raise NoPhotoError
        return open_photo(kept.jpeg, shrink).pixels

    return opened


def _name(one: KeptSculpture) -> str:
    return one.title or _("bench {bench}", bench=one.bench)


def _answer(pdf: bytes, kind: str, name: str) -> Response:
    """To be looked at, printed, kept nowhere else; the file has letters that every system takes."""
    forget_lines()
    headers = {
        "content-disposition": f'inline; filename="{file_name(name, kind, kind="pdf")}"',
        "cache-control": "private, no-store",
    }
    return Response(pdf, media_type="application/pdf", headers=headers)

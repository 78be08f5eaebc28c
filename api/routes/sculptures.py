"""Sculptures: begun at a bench, named, shown before and after, finished, deleted."""

from fastapi import APIRouter, HTTPException, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse
from sqlalchemy.exc import IntegrityError

from api.errors import InputError
from api.finished import Look, criteria_of, look_of, shown_of, words_of
from api.language.speech import N_, translated
from api.records import KeptSculpture, Place, SculptureTold
from api.routes.parts import (
    AnyoneInside,
    HelperOrOwner,
    Needs,
    Parts,
    inspection_or_404,
    may_see_photo,
    photo_or_404,
)
from api.routes.room import room_page
from api.routes.workshops import GONE as NO_WORKSHOP
from api.routes.workshops import QUICKER, After, workshop_or_404
from api.sculpture_schemas import (
    BenchEntry,
    LookAnswer,
    RecordAnswer,
    SculptureAnswer,
    SculptureEntry,
    SlideAnswer,
    WhereAnswer,
    criterion_answer,
    look_answer,
    sculpture_answer,
)

router = APIRouter(tags=["sculptures"], dependencies=[AnyoneInside])

GONE = N_("This sculpture is not kept here, or it was deleted. Go back to the list of sculptures.")


@router.get("/workshops/{workshop_id}/sculptures")
def get_sculptures(has: Needs, workshop_id: str) -> list[SculptureAnswer]:
    """All sculptures of the workshop that the asker may see, by bench."""
    workshop_or_404(has, workshop_id)
    every = has.records.sculptures.of_workshop(workshop_id)
    return [sculpture_answer(one) for one in every if _may_see(has, one)]


@router.post("/workshops/{workshop_id}/sculptures", status_code=201, dependencies=[HelperOrOwner])
def add_sculpture(has: Needs, workshop_id: str, body: BenchEntry) -> SculptureAnswer:
    """The sculpture at this bench, begun if there is none yet. The owner and helpers."""
    workshop_or_404(has, workshop_id)
    try:
        kept = has.records.sculptures.at_bench(workshop_id, body.bench)
    except IntegrityError as error:
        raise HTTPException(404, NO_WORKSHOP) from error
    if kept.revision == 1:
        has.live.tell(workshop_id)
    return sculpture_answer(kept)


@router.get("/sculptures/{sculpture_id}")
def get_sculpture(has: Needs, sculpture_id: str) -> SculptureAnswer:
    """One sculpture."""
    return sculpture_answer(sculpture_or_404(has, sculpture_id))


@router.put("/sculptures/{sculpture_id}", response_model=SculptureAnswer, responses={409: {}})
def put_sculpture(
    has: Needs, sculpture_id: str, body: SculptureEntry, after: After
) -> SculptureAnswer | Response:
    """Change what is told of it. 409 with the current `sculpture` if it was changed since `after`."""
    one = sculpture_or_404(has, sculpture_id)
    ids = {look.id for look in has.records.sculptures.looks(one.id)}
    if {body.before_id, body.after_id} - {None} - ids:
        raise InputError("This inspection is of another sculpture. Choose one of this sculpture.")
    kept = has.records.sculptures.change(one.id, after, SculptureTold(**body.model_dump()))
    if kept is not None:
        has.live.tell(kept.workshop_id)
        return sculpture_answer(kept)
    now = sculpture_answer(sculpture_or_404(has, sculpture_id))
    told = {"error": translated(QUICKER), "sculpture": now.model_dump(mode="json")}
    return JSONResponse(told, status_code=409)


@router.delete("/sculptures/{sculpture_id}", status_code=204, dependencies=[HelperOrOwner])
def delete_sculpture(has: Needs, sculpture_id: str) -> None:
    """Delete it now with every photo and inspection of it. The owner and helpers."""
    one = sculpture_or_404(has, sculpture_id)
    has.records.delete_sculpture(one.id)
    has.live.tell(one.workshop_id)


@router.put("/sculptures/{sculpture_id}/photos/{photo_id}", status_code=204)
def put_photo(has: Needs, sculpture_id: str, photo_id: str) -> None:
    """A kept photo is one of this sculpture from now on."""
    one = sculpture_or_404(has, sculpture_id)
    photo = photo_or_404(has, photo_id)
    for each in (photo.id, *has.records.sculptures.undersides(photo.id)):
        has.records.sculptures.take_in(one, each)
    has.live.tell(one.workshop_id)


@router.get("/sculptures/{sculpture_id}/inspections")
def get_inspections(has: Needs, sculpture_id: str) -> list[LookAnswer]:
    """The inspections of its photos, the first one first: what may be shown as before and after."""
    return [look_answer(look) for look in looks_of(has, sculpture_or_404(has, sculpture_id))]


@router.get("/sculptures/{sculpture_id}/record")
def get_record(has: Needs, sculpture_id: str) -> RecordAnswer:
    """The sculpture as it is shown."""
    one = sculpture_or_404(has, sculpture_id)
    workshop = workshop_or_404(has, one.workshop_id).entry
    shown = shown_of(one, looks_of(has, one))
    return RecordAnswer(
        sculpture=sculpture_answer(one),
        before=shown.before and look_answer(shown.before),
        after=shown.after and look_answer(shown.after),
        challenge=workshop.challenge.title,
        criteria=[criterion_answer(each) for each in criteria_of(one, workshop.challenge, shown.after)],
        words=words_of(shown, workshop.age),
    )


@router.get("/inspections/{case_id}/place")
def get_place(has: Needs, case_id: str) -> WhereAnswer:
    """Which sculpture an inspection is of."""
    kept = inspection_or_404(has, case_id)
    place = has.records.place(kept.photo_id) or Place()
    return WhereAnswer(photo=kept.photo_id, workshop=place.workshop, sculpture=place.sculpture)


@router.get("/workshops/{workshop_id}/gallery", dependencies=[HelperOrOwner])
def get_gallery(has: Needs, workshop_id: str) -> list[SlideAnswer]:
    """What is finished, by bench, with what is shown of each. The owner and helpers."""
    workshop_or_404(has, workshop_id)
    slides = []
    for one in has.records.sculptures.of_workshop(workshop_id):
        shown = shown_of(one, looks_of(has, one)) if one.finished else None
        if shown is not None and shown.after is not None:
            before = shown.before and look_answer(shown.before)
            after = look_answer(shown.after)
            told = {"id": one.id, "title": one.title, "maker": one.maker, "overlay": one.overlay}
            slides.append(SlideAnswer(**told, before=before, after=after))
    return slides


@router.get("/rooms/finish", response_class=HTMLResponse, include_in_schema=False)
def get_finish_room(request: Request) -> HTMLResponse:
    """The page on which a sculpture is put on record."""
    return room_page(request, "finish", {}, sheets=("finished",))


@router.get("/rooms/gallery", response_class=HTMLResponse, include_in_schema=False)
def get_gallery_room(request: Request) -> HTMLResponse:
    """The gallery of a workshop, for the projector and the phone."""
    return room_page(request, "gallery", {}, sheets=("finished",))


def sculpture_or_404(has: Parts, sculpture_id: str) -> KeptSculpture:
    """The sculpture with this id, if the asker may see it."""
    kept = has.records.sculptures.get(sculpture_id)
    if kept is None or not _may_see(has, kept):
        raise HTTPException(404, GONE)
    return kept


def looks_of(has: Parts, one: KeptSculpture) -> list[Look]:
    """All its inspections that the asker may see, the first one first."""
    every = has.records.sculptures.looks(one.id)
    bench = has.who.role == "bench"
    return [look_of(kept) for kept in every if not bench or may_see_photo(has, kept.photo_id)]


def _may_see(has: Parts, one: KeptSculpture) -> bool:
    """A bench sees the sculpture that it works on now, nobody sees those of another workshop."""
    return has.who.may_enter(one.workshop_id) and (has.who.role != "bench" or has.who.sculpture == one.id)

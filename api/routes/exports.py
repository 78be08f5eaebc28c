"""Records taken elsewhere: a table of the workshop, and a sculpture with all its files for the parents."""

from fastapi import APIRouter, HTTPException, Response

from api.file_names import file_name
from api.finished import criteria_of, shown_of
from api.language.speech import _
from api.paper.card import card_pdf
from api.paper.faces import forget_lines
from api.paper.sheet import sheet_pdf
from api.parents_export import TakenHome, parents_zip
from api.record_export import Line, records_csv, records_json
from api.records import KeptWorkshop
from api.retention import deleted_on
from api.routes.paper import told_or_404
from api.routes.parts import HelperOrOwner, InRowLater, Needs, Parts
from api.routes.sculptures import GONE, looks_of
from api.routes.workshops import workshop_or_404

router = APIRouter(tags=["exports"])


@router.get("/workshops/{workshop_id}/records.csv", dependencies=[HelperOrOwner], response_class=Response)
def get_csv(has: Needs, workshop_id: str) -> Response:
    """All sculptures of the workshop as a table."""
    kept = workshop_or_404(has, workshop_id)
    table = records_csv(kept.entry.challenge, _lines(has, kept))
    return _file(table, "text/csv; charset=utf-8", file_name(kept.entry.name, "records", kind="csv"))


@router.get("/workshops/{workshop_id}/records.json", dependencies=[HelperOrOwner], response_class=Response)
def get_json(has: Needs, workshop_id: str) -> Response:
    """The same as data."""
    kept = workshop_or_404(has, workshop_id)
    told = records_json(kept, _lines(has, kept))
    return _file(told, "application/json", file_name(kept.entry.name, "records", kind="json"))


@router.get(
    "/sculptures/{sculpture_id}/parents.zip",
    dependencies=[HelperOrOwner, InRowLater],
    response_class=Response,
)
def get_parents(has: Needs, sculpture_id: str) -> Response:
    """A sculpture with its photos, its sheet, and all that is stored about it."""
    told = told_or_404(has, sculpture_id)
    one = told.sculpture
    workshop, stored = workshop_or_404(has, one.workshop_id), has.records.sculptures.stored(one.id)
    if stored is None:
        raise HTTPException(404, GONE)
    kept = [has.records.photo(photo["id"]) for photo in stored.photos]
    with has.turn.later:
        prints = {"sheet.pdf": sheet_pdf(told, "a4"), "card.pdf": card_pdf(told, "a4")}
        forget_lines()
    home = TakenHome(
        sculpture=one,
        workshop=workshop.entry,
        deleted_on=deleted_on(workshop.entry, workshop.created),
        photos=[(photo.id, photo.jpeg) for photo in kept if photo is not None],
        prints=prints,
        stored=stored,
    )
    name = one.title or _("bench {bench}", bench=one.bench)
    return _file(parents_zip(home), "application/zip", file_name(name, "for-parents", kind="zip"))


def _lines(has: Parts, workshop: KeptWorkshop) -> list[Line]:
    lines = []
    for one in has.records.sculptures.of_workshop(workshop.id):
        shown = shown_of(one, looks_of(has, one))
        lines.append(Line(one, shown, criteria_of(one, workshop.entry.challenge, shown.after)))
    return lines


def _file(data: bytes, media: str, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "private, no-store"}
    return Response(data, media_type=media, headers=headers)

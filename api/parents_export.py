"""What parents may take home: photos, sheet, card, all that is stored, and a letter about it."""

import io
import json
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from babel.dates import format_date

from api.language.languages import spoken
from api.language.speech import _
from api.records import KeptSculpture, Stored
from api.workshop_schemas import WorkshopEntry


@dataclass(frozen=True)
class TakenHome:
    """A sculpture with its workshop; `photos` are pairs of id and JPEG, `prints` PDFs by name of file."""

    sculpture: KeptSculpture
    workshop: WorkshopEntry
    deleted_on: date | None
    photos: Sequence[tuple[str, bytes]]
    prints: Mapping[str, bytes]
    stored: Stored


def parents_zip(home: TakenHome) -> bytes:
    """The archive. Names of its files are ours, whatever was typed."""
    names = {photo_id: f"photos/{n}.jpg" for n, (photo_id, _jpeg) in enumerate(home.photos, 1)}
    record = {"schema": "doughsight-sculpture/1", **vars(home.stored)}
    record["photos"] = [{**one, "file": names.get(one["id"])} for one in home.stored.photos]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("letter.html", letter(home, list(names.values())))
        for photo_id, jpeg in home.photos:
            archive.writestr(names[photo_id], jpeg, zipfile.ZIP_STORED)
        for name, pdf in home.prints.items():
            archive.writestr(name, pdf)
        archive.writestr("record.json", json.dumps(record, ensure_ascii=False, indent=1))
    return out.getvalue()


def letter(home: TakenHome, photos: Sequence[str]) -> str:
    """A page without style or script, in the language that is spoken."""
    language = spoken()
    one, workshop = home.sculpture, home.workshop
    name = one.title or _("Sculpture of bench {bench}", bench=one.bench)
    said = [
        _("This was made at {workshop} on {day}.", workshop=workshop.name, day=_day(workshop.day)),
        _("Made by {maker}.", maker=one.maker) if one.maker else "",
    ]
    body = [
        f"<h1>{escape(name)}</h1>",
        *(_paragraph(text) for text in said if text),
        *(f'<p><img src="{file}" alt="" width="320"></p>' for file in photos),
        _part(_("What is in here"), _contents(home)),
        _part(_("What is kept at the workshop"), _kept(home.deleted_on)),
    ]
    head = [
        "<!doctype html>",
        f'<html lang="{language.code}" dir="{language.direction}">',
        '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width">',
        f"<title>{escape(name)}</title>",
    ]
    return "\n".join([*head, *body, "</html>", ""])


def _contents(home: TakenHome) -> list[str]:
    prints = ", ".join(home.prints)
    return [
        _("photos: the photos as they are kept. What was covered on them is gone for good."),
        _("{files}: the sheet and the card, to be printed.", files=prints),
        _("record.json: all that is stored about this sculpture, as data that programs can read."),
    ]


def _kept(deleted_on: date | None) -> list[str]:
    when = (
        _("It is kept on the laptop of the workshop until somebody deletes it there.")
        if deleted_on is None
        else _("All of it is deleted from the laptop of the workshop on {day}.", day=_day(deleted_on))
    )
    return [
        _("Kept is what record.json holds, and the photos. Doughsight sends nothing of it anywhere."),
        _("No full name was asked for. Where a photo was taken and with which camera is not kept."),
        when,
        _("If somebody has made a backup of that laptop, it may hold a copy for longer."),
        _("It can be deleted at any time: ask whoever leads the workshop. The copies in here stay yours."),
    ]


def _part(title: str, lines: Sequence[str]) -> str:
    rows = "\n".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<h2>{escape(title)}</h2>\n<ul>\n{rows}\n</ul>"


def _paragraph(text: str) -> str:
    return f"<p>{escape(text)}</p>"


def _day(day: date) -> str:
    return format_date(day, "long", locale=spoken().code)

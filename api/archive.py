"""A workshop as an archive: a zip with `workshop.json`, its photos, and each case with its report.

The same workshop always gives the same bytes. No id, code or device is in it, nor the
name that a helper gave to a phone.
"""

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any, BinaryIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from api.archive_schemas import (
    MOST_CALLS,
    MOST_CASES,
    MOST_PHOTOS,
    MOST_SCULPTURES,
    SCHEMA,
    Archive,
    ArchivedCall,
    ArchivedCase,
    ArchivedPhoto,
    ArchivedSculpture,
    case_file,
    photo_file,
    photo_seen_from_case,
    report_file,
)
from api.errors import InputError
from api.language.speech import N_
from api.records.kept import case_from, case_text, underside_gone, without_underside
from api.records.tables import CallRow, CaseRow, PhotoRow, SculptureRow
from api.records.wholes import Whole
from api.records.workshops import kept_workshop
from api.schemas import Report

NO_TIME = (1980, 1, 1, 0, 0, 0)
"""The earliest that a zip can tell: when the archive was made is nobody's business."""
CHUNK = 1 << 16
TOO_MANY = {
    "photos": (
        MOST_PHOTOS,
        N_("This workshop has {count} photos, and an archive takes {most}: delete some of them first."),
    ),
    "cases": (
        MOST_CASES,
        N_("This workshop has {count} inspections, and an archive takes {most}: delete some photos first."),
    ),
    "sculptures": (
        MOST_SCULPTURES,
        N_("This workshop has {count} sculptures, and an archive takes {most}: delete some of them first."),
    ),
    "calls": (
        MOST_CALLS,
        N_("This workshop has {count} calls, and an archive takes {most}: delete some sculptures first."),
    ),
}
"""What of a workshop may be how many in an archive (`api/archive_schemas.py`), and what is said of more."""

Numbers = dict[str, int]


def write_archive(whole: Whole, picture: Callable[[str], bytes | None], out: BinaryIO) -> None:
    """Write the archive of a workshop; `picture` reads a photo's file by its name.

    Raises InputError where there is too much for an archive, or a photo was deleted meanwhile.
    """
    _check_fits(whole)
    photos = _numbers([one.id for one in whole.photos])
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        _put(
            archive,
            "workshop.json",
            _described(whole, photos).model_dump_json(by_alias=True, indent=1).encode(),
        )
        for photo in whole.photos:
            jpeg = picture(photo.sha256)
            if jpeg is None:
                raise InputError("A photo of this workshop was deleted meanwhile. Ask for the archive again.")
            _put(archive, photo_file(photos[photo.id]), jpeg, ZIP_STORED)
        for number, row in enumerate(whole.cases, 1):
            case, report = _case_in_archive(row, photos)
            _put(archive, case_file(number), case.encode())
            _put(archive, report_file(number), report.encode())


def _check_fits(whole: Whole) -> None:
    for name, (most, sentence) in TOO_MANY.items():
        count = len(getattr(whole, name))
        if count > most:
            raise InputError(sentence, count=count, most=most)


def chunks(file: BinaryIO) -> Iterator[bytes]:
    """A file from its beginning, piece by piece; it is closed at the end."""
    with file:
        file.seek(0)
        while piece := file.read(CHUNK):
            yield piece


def _put(archive: ZipFile, name: str, data: bytes, how: int = ZIP_DEFLATED) -> None:
    about = ZipInfo(name, NO_TIME)
    about.compress_type = how
    about.create_system = 3  # Unix, whatever machine this is
    about.external_attr = 0o100644 << 16  # a file that its owner may change
    archive.writestr(about, data)


def _numbers(ids: list[str]) -> Numbers:
    return {one: number for number, one in enumerate(ids, 1)}


def _described(whole: Whole, photos: Numbers) -> Archive:
    sculptures = _numbers([one.id for one in whole.sculptures])
    cases = _numbers([one.id for one in whole.cases])
    return Archive(
        schema_=SCHEMA,
        workshop=kept_workshop(whole.workshop).entry,
        ended=_aware(whole.workshop.ended),
        sculptures=tuple(_sculpture(one, cases) for one in whole.sculptures),
        photos=tuple(_photo(one, sculptures) for one in whole.photos),
        cases=tuple(
            ArchivedCase(photo=photos[one.photo_id], made=_aware(one.created)) for one in whole.cases
        ),
        calls=tuple(_call(one, sculptures) for one in whole.calls),
    )


def _sculpture(row: SculptureRow, cases: Numbers) -> ArchivedSculpture:
    return ArchivedSculpture(
        bench=row.bench,
        title=row.title,
        maker=row.maker,
        learned=row.learned,
        before=cases.get(row.before_id or ""),
        after=cases.get(row.after_id or ""),
        overlay=row.overlay,
        started=_aware(row.started),
        finished=_aware(row.finished),
    )


def _photo(row: PhotoRow, sculptures: Numbers) -> ArchivedPhoto:
    return ArchivedPhoto(
        width=row.width,
        height=row.height,
        sent=_aware(row.created),
        sculpture=sculptures.get(row.sculpture_id or ""),
        frame=None if row.frame is None else tuple(json.loads(row.frame)),
    )


def _call(row: CallRow, sculptures: Numbers) -> ArchivedCall:
    return ArchivedCall(
        sculpture=sculptures[row.sculpture_id],
        state=row.state,
        asked=_aware(row.asked),
        changed=_aware(row.changed),
        helper="",
        kind=row.kind,
    )


def _case_in_archive(row: CaseRow, photos: Numbers) -> tuple[str, str]:
    """A case and its report as JSON; its photos are named by where they lie in the archive."""
    case, report = case_from(row.case), Report.model_validate_json(row.report)
    below = case.underside
    if below is not None and below.photo is not None and below.photo not in photos:
        # it is of no sculpture of this workshop
        case, report = without_underside(case), underside_gone(report)
    elif below is not None and below.photo is not None:
        there = below.model_copy(update={"photo": photo_seen_from_case(photos[below.photo])})
        case = case.model_copy(update={"underside": there})
    case = case.model_copy(update={"photo": photo_seen_from_case(photos[row.photo_id])})
    return case_text(case), report.to_json()


def _aware(time: datetime | None) -> Any:
    """A kept time, which is UTC without saying so."""
    return None if time is None else time.replace(tzinfo=UTC)

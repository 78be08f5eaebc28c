"""A workshop of another installation, put in with new ids: all of it, or nothing."""

import json
import secrets
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from typing import BinaryIO

from api.archive_in import Incoming
from api.archive_schemas import Archive, ArchivedPhoto
from api.errors import InputError
from api.records import Records
from api.records.calls import OPEN
from api.records.clock import now
from api.records.kept import case_columns
from api.records.photo_files import Half
from api.records.sculptures import bench_key
from api.records.tables import CallRow, CaseRow, PhotoRow, SculptureRow, WorkshopRow
from api.records.wholes import Whole
from api.records.workshops import entry_columns
from vision.errors import VisionError

CleanPhoto = Callable[[bytes], tuple[bytes, int, int]]
"""The bytes of a photo as JPEG without metadata, upright, with its width and height [px]."""


def bring_in(
    file: BinaryIO, records: Records, clean: CleanPhoto, most_bytes: int, most_photo_bytes: int
) -> str:
    """Keep the workshop that is archived in an open file; its new id.

    Raises InputError for what is no archive of ours, and then nothing of it is kept.
    `most_bytes`: of everything in it, unpacked. `most_photo_bytes`: of one photo.
    """
    incoming = Incoming(file, most_bytes, most_photo_bytes)
    told = incoming.told
    _check_told(told)
    workshop = WorkshopRow(
        id=_fresh(), created=now(), ended=_naive(told.ended), revision=1, **entry_columns(told.workshop)
    )
    sculptures = _sculptures(told, workshop.id)
    halves: list[Half] = []
    try:
        photos: list[PhotoRow] = []
        for number, about in enumerate(told.photos, 1):
            jpeg = _cleaned(incoming, number, about, clean)
            halves.append(records.wholes.put_aside(jpeg))
            photos.append(_photo(about, halves[-1], workshop.id, sculptures))
        cases = _cases(incoming, photos)
        for one, row in zip(told.sculptures, sculptures, strict=True):
            row.before_id = None if one.before is None else cases[one.before - 1].id
            row.after_id = None if one.after is None else cases[one.after - 1].id
        calls = _calls(told, workshop.id, sculptures)
        records.wholes.add(Whole(workshop, sculptures, photos, cases, calls), halves)
        return str(workshop.id)
    finally:
        for half in halves:
            half.drop()


def _check_told(told: Archive) -> None:
    """What the database would not take: refused in a sentence before that."""
    if _twice([bench_key(one.bench) for one in told.sculptures]):
        raise InputError("Two sculptures of the archive have the same bench. Export it anew.")
    if _twice([str(one.sculpture) for one in told.calls if one.state in OPEN]):
        raise InputError("A bench of the archive waits for help twice. Export it anew.")
    for number, one in enumerate(told.sculptures, 1):
        for case in (one.before, one.after):
            if case is not None and told.photos[told.cases[case - 1].photo - 1].sculpture != number:
                raise InputError("A sculpture of the archive shows the photo of another. Export it anew.")


def _cleaned(incoming: Incoming, number: int, about: ArchivedPhoto, clean: CleanPhoto) -> bytes:
    data = incoming.photo(number)
    try:
        jpeg, width, height = clean(data)
    except VisionError as error:
        raise InputError("Photo {n} of the archive cannot be used. Export it anew.", n=number) from error
    if (width, height) != (about.width, about.height):
        raise InputError(
            "Photo {n} of the archive has {told} pixels and would have {kept} here. "
            "Set DOUGHSIGHT_MAX_PHOTO_SIDE_PX as it was there, or export it anew.",
            n=number,
            told=f"{about.width} x {about.height}",
            kept=f"{width} x {height}",
        )
    return jpeg


def _sculptures(told: Archive, workshop: str) -> list[SculptureRow]:
    return [
        SculptureRow(
            id=_fresh(),
            workshop_id=workshop,
            bench=one.bench,
            bench_key=bench_key(one.bench),
            title=one.title,
            maker=one.maker,
            learned=one.learned,
            overlay=one.overlay,
            started=_naive(one.started),
            finished=_naive(one.finished),
            revision=1,
        )
        for one in told.sculptures
    ]


def _photo(about: ArchivedPhoto, half: Half, workshop: str, sculptures: list[SculptureRow]) -> PhotoRow:
    return PhotoRow(
        id=_fresh(),
        sha256=half.name,
        width=about.width,
        height=about.height,
        created=_naive(about.sent),
        workshop_id=workshop,
        sculpture_id=None if about.sculpture is None else sculptures[about.sculpture - 1].id,
        frame=None if about.frame is None else json.dumps(about.frame),
    )


def _cases(incoming: Incoming, photos: list[PhotoRow]) -> list[CaseRow]:
    rows = []
    for number, about in enumerate(incoming.told.cases, 1):
        checked = incoming.case(number)
        case = checked.case.model_copy(update={"photo": photos[checked.photo - 1].id})
        if case.underside is not None and checked.below is not None:
            below = case.underside.model_copy(update={"photo": photos[checked.below - 1].id})
            case = case.model_copy(update={"underside": below})
        rows.append(
            CaseRow(
                id=_fresh(),
                photo_id=photos[checked.photo - 1].id,
                created=_naive(about.made),
                **case_columns(case, checked.report),
            )
        )
    return rows


def _calls(told: Archive, workshop: str, sculptures: list[SculptureRow]) -> list[CallRow]:
    return [
        CallRow(
            id=_fresh(),
            workshop_id=workshop,
            sculpture_id=sculptures[one.sculpture - 1].id,
            state=one.state,
            asked=_naive(one.asked),
            changed=_naive(one.changed),
            helper=one.helper,
            kind=one.kind,
            revision=1,
        )
        for one in told.calls
    ]


def _fresh() -> str:
    return secrets.token_urlsafe(16)


def _twice(names: list[str]) -> bool:
    return any(count > 1 for count in Counter(names).values())


def _naive(time: datetime | None) -> datetime | None:
    """As it is kept: UTC, without saying so."""
    return None if time is None else time.astimezone(UTC).replace(tzinfo=None)

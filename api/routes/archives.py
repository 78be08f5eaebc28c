"""Archives of workshops: out of this installation, and into it."""

from functools import partial
from tempfile import TemporaryFile
from typing import BinaryIO, cast

from anyio import to_thread
from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import StreamingResponse
from starlette.requests import ClientDisconnect

from api.archive import chunks, write_archive
from api.bringing_in import bring_in
from api.routes.parts import Needs, OwnerOnly, Parts
from api.routes.photos import clean_photo
from api.routes.workshops import GONE, WorkshopAnswer, answer, workshop_or_404

router = APIRouter(tags=["workshops"], dependencies=[OwnerOnly])

IMPORT = "/workshops/import"
_ZIP = {"content": {"application/zip": {"schema": {"type": "string", "format": "binary"}}}}


@router.get("/workshops/{workshop_id}/archive.zip", response_class=StreamingResponse, responses={200: _ZIP})
def get_archive(has: Needs, workshop_id: str) -> StreamingResponse:
    """The workshop with all its pictures, cases and reports as a zip. The owner only."""
    workshop_or_404(has, workshop_id)
    whole = has.records.wholes.get(workshop_id)
    if whole is None:
        raise HTTPException(404, GONE)
    file = _unnamed(has)
    try:
        write_archive(whole, has.records.wholes.picture, file)
        size = file.tell()
    except BaseException:
        file.close()
        raise
    headers = {
        # No name of the workshop in it: files are shown to others.
        "content-disposition": f'attachment; filename="workshop-{whole.workshop.day.isoformat()}.zip"',
        "content-length": str(size),
        "cache-control": "private, no-store",
    }
    return StreamingResponse(chunks(file), media_type="application/zip", headers=headers)


@router.post(IMPORT, status_code=201, openapi_extra={"requestBody": {"required": True, **_ZIP}})
async def import_workshop(has: Needs, request: Request) -> WorkshopAnswer:
    """Keep a workshop that another installation has archived; the body is the zip. The owner only."""
    with _unnamed(has) as file:
        try:
            async for piece in request.stream():
                await to_thread.run_sync(file.write, piece)
        except ClientDisconnect as error:
            raise HTTPException(400) from error
        return await to_thread.run_sync(_brought_in, has, file)


def _brought_in(has: Parts, file: BinaryIO) -> WorkshopAnswer:
    settings = has.settings
    new = bring_in(
        file,
        has.records,
        partial(clean_photo, most_px=settings.max_photo_side_px),
        most_bytes=settings.max_archive_bytes,
        most_photo_bytes=settings.max_upload_bytes,
    )
    return answer(workshop_or_404(has, new))


def _unnamed(has: Parts) -> BinaryIO:
    """A file in the data folder, without a name where the system can: it is gone however the process ends."""
    return cast(BinaryIO, TemporaryFile(dir=has.settings.data_dir))

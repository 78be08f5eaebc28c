"""Files that come in by a form, read into memory only, for what is in them beside the picture."""

import sys
from collections.abc import AsyncIterator, Callable
from threading import Lock
from typing import Any

from fastapi import HTTPException, Request
from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import ClientDisconnect

from api.errors import InputError
from api.language.speech import N_

MOST_FIELDS = 20
"""Fields beside the file: no form of ours has any, tools may add a few (estimated)."""

MOST_COMING_BYTES = 200_000_000
"""Of all files that are on their way at the same time: they lie in memory, and twenty-five photos as large as
they come may (estimated)."""
TOO_MANY = N_("Too many photos are on their way to the laptop. Wait a moment, then send it again.")


class _Coming:
    """Bytes of files that are on their way, of all requests of this process together."""

    def __init__(self) -> None:
        self._lock, self.bytes = Lock(), 0

    def more(self, count: int) -> None:
        with self._lock:
            self.bytes += count


_coming = _Coming()


class _InMemory(MultiPartParser):
    """Starlette's reader of forms, which would move a file to the disk from 1 MB on, GPS and all."""

    spool_max_size = sys.maxsize

    def close(self) -> None:
        """Let go of all files, those without an end included, which the form does not know of."""
        for file in self._files_to_close_on_error:
            file.close()


def uploaded(field: str, missing: str) -> Callable[[Request], AsyncIterator[bytes]]:
    """A dependency: the bytes of the one file of the form, sent as `field`. `api/guard.py` bounds its size.

    It raises InputError with the sentence `missing` where there is no such file, and answers 503 where too
    many are on their way.
    """

    async def read(request: Request) -> AsyncIterator[bytes]:
        kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
        if kind != "multipart/form-data":
            raise InputError(missing)
        held = 0

        async def counted() -> AsyncIterator[bytes]:
            nonlocal held
            async for piece in request.stream():
                held += len(piece)
                _coming.more(len(piece))
                if _coming.bytes > MOST_COMING_BYTES:
                    raise HTTPException(503, TOO_MANY)
                yield piece

        try:
            yield await _file_of(request, counted(), field, missing)
        finally:
            _coming.more(-held)

    return read


async def _file_of(request: Request, pieces: AsyncIterator[bytes], field: str, missing: str) -> bytes:
    reader = _InMemory(request.headers, pieces, max_files=1, max_fields=MOST_FIELDS)  # type: ignore[arg-type]
    try:
        sent = (await reader.parse()).get(field)
        if not isinstance(sent, UploadFile):
            raise InputError(missing)
        return await sent.read()
    except (MultiPartException, ClientDisconnect) as error:
        raise HTTPException(400) from error
    finally:
        reader.close()


def form_with(field: str) -> dict[str, Any]:
    """The same form for the API's description, as `openapi_extra` of the route."""
    file = {"type": "string", "format": "binary"}
    schema = {"type": "object", "properties": {field: file}, "required": [field]}
    return {"requestBody": {"required": True, "content": {"multipart/form-data": {"schema": schema}}}}

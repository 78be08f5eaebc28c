"""Files that come in by a form, read into memory only, for what is in them beside the picture."""

import sys
from collections.abc import Awaitable, Callable
from typing import Any

from fastapi import HTTPException, Request
from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import ClientDisconnect

from api.errors import InputError

MOST_FIELDS = 20
"""Fields beside the file: no form of ours has any, tools may add a few (estimated)."""


class _InMemory(MultiPartParser):
    """Starlette's reader of forms, which would move a file to the disk from 1 MB on, GPS and all."""

    spool_max_size = sys.maxsize

    def close(self) -> None:
        """Let go of all files, those without an end included, which the form does not know of."""
        for file in self._files_to_close_on_error:
            file.close()


def uploaded(field: str, missing: str) -> Callable[[Request], Awaitable[bytes]]:
    """A dependency: the bytes of the one file of the form, sent as `field`. `api/guard.py` bounds its size.

    It raises InputError with the sentence `missing` where there is no such file.
    """

    async def read(request: Request) -> bytes:
        kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
        if kind != "multipart/form-data":
            raise InputError(missing)
        reader = _InMemory(request.headers, request.stream(), max_files=1, max_fields=MOST_FIELDS)
        try:
            sent = (await reader.parse()).get(field)
            if not isinstance(sent, UploadFile):
                raise InputError(missing)
            return await sent.read()
        except (MultiPartException, ClientDisconnect) as error:
            raise HTTPException(400) from error
        finally:
            reader.close()

    return read


def form_with(field: str) -> dict[str, Any]:
    """The same form for the API's description, as `openapi_extra` of the route."""
    file = {"type": "string", "format": "binary"}
    schema = {"type": "object", "properties": {field: file}, "required": [field]}
    return {"requestBody": {"required": True, "content": {"multipart/form-data": {"schema": schema}}}}

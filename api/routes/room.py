"""What the pages beside the bench page share (`api/static/js/rooms/`)."""

from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates

from api.language.languages import languages, spoken
from api.language.page_words import ALL, page_words

TEMPLATES = Jinja2Templates(Path(__file__).parents[1] / "templates")


def room_page(
    request: Request, room: str, told: dict[str, Any], sheets: tuple[str, ...] = ()
) -> HTMLResponse:
    """The page whose module is `js/rooms/ROOM.js`, in the language of the request.

    `told` is what the module finds in `told` of `room.js`; `sheets` are style sheets of its own.
    """
    language = spoken()
    depth = request.url.path.strip("/").count("/")
    root = "../" * depth
    return TEMPLATES.TemplateResponse(
        request,
        "room.html",
        {
            "language": language.code,
            "direction": language.direction,
            "words": page_words(language.code, ALL),
            "languages": {one.code: one.name for one in languages().values()},
            "root": root,
            "room": room,
            "sheets": sheets,
            "told": {**told, "root": root},
        },
    )

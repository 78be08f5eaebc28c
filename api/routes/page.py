"""The page itself."""

from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, HTMLResponse

from api.language.languages import languages, spoken
from api.language.page_words import page_words
from api.routes.parts import AnyoneInside, OpenToAll
from api.routes.room import TEMPLATES

router = APIRouter(tags=["page"])

_WORKER = Path(__file__).parents[1] / "static" / "js" / "sw.js"


@router.get("/", response_class=HTMLResponse, dependencies=[AnyoneInside])
def page(request: Request) -> HTMLResponse:
    """The one page, with its words in it, in the language of the request."""
    language = spoken()
    told = {
        "language": language.code,
        "direction": language.direction,
        "words": page_words(language.code),
        "languages": {one.code: one.name for one in languages().values()},
    }
    return TEMPLATES.TemplateResponse(request, "page.html", told)


@router.get("/sw.js", response_class=FileResponse, dependencies=[OpenToAll])
def worker() -> FileResponse:
    """What opens the page without a network; it may serve the page only if it lies beside it."""
    return FileResponse(_WORKER, media_type="text/javascript")

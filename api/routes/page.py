"""The page itself, and whether the server is well."""

from pathlib import Path

from fastapi import APIRouter
from fastapi.responses import FileResponse
from pydantic import BaseModel

router = APIRouter(tags=["page"])

_PAGE = Path(__file__).parents[1] / "templates" / "page.html"


class HealthAnswer(BaseModel):
    """The server answers."""

    status: str


@router.get("/", response_class=FileResponse)
def page() -> FileResponse:
    """The one page."""
    return FileResponse(_PAGE, media_type="text/html; charset=utf-8")


@router.get("/health")
def health() -> HealthAnswer:
    """Says `ok` as soon as the server can answer."""
    return HealthAnswer(status="ok")

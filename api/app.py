"""The web app: wiring only."""

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import cast

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import ValidationError
from sqlalchemy.exc import DataError, IntegrityError, OperationalError
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from api.access import Access, Pass
from api.door import Door
from api.errors import REFUSALS, USER_ERRORS, sentence, told
from api.guard import MOST_OF_STRANGERS, Guard, error_response
from api.health import Doctor
from api.language.choosing import InLanguage
from api.language.speech import N_, translated
from api.live import Live
from api.logs import Logged, tell
from api.own_files import OwnFiles
from api.queue_board import Boards
from api.records import Records
from api.retention import sweeping
from api.routes import (
    answers,
    archives,
    checks,
    covering,
    drafts,
    exports,
    health,
    here,
    inspections,
    joins,
    page,
    palettes,
    paper,
    photos,
    queue,
    samples,
    sculptures,
    thumbs,
    what_if,
    workshop_rooms,
    workshops,
)
from api.routes.parts import Parts, Stages, Tools
from api.settings import Settings
from api.tries import Tries
from api.turns import Turns

LEAST_BYTES = 1000
"""What is shorter goes over in one packet anyhow (1500 bytes, common practice), so it is not made smaller."""
_STATIC = Path(__file__).parent / "static"
MOST_JSON_BYTES = 2_000_000
"""Of what is told; a draft may have half of it. 36 MB of brackets stood in everybody's way for 14 s, and took
0.9 GB (measured)."""
OWN_WORDS = (403, 404, 409, 429, 503)
"""Errors whose sentences are told by those who raise them."""
_UNREADABLE = N_("The request could not be read. Send it again.")
_SENTENCES = {
    404: N_("There is nothing at this address. Go back to the first page."),
    405: N_("This address does not take that kind of request. Go back to the first page."),
}


def create_app(
    settings: Settings | None = None, tools: Tools | None = None, door: Door | None = None
) -> FastAPI:
    """The app over one data folder; `tools` replaces the engines, for tests; `door` is told by `serve`."""
    settings = settings or Settings()
    door = door or Door(hosts=settings.host_names)
    records = Records(settings.data_dir, settings.database_address)
    live, ticket = Live(), Pass(records.key)
    turn = Turns(settings.inspections_at_once)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        async with sweeping(records, live, settings.keep_days):
            yield
            live.close()
        records.close()

    app = FastAPI(title="Doughsight", docs_url=None, redoc_url=None, lifespan=lifespan, responses=REFUSALS)
    tools = tools or _engines()
    boards = Boards()
    records.when_erased(tools.forget, boards.forget)
    app.state.parts = Parts(
        settings=settings,
        records=records,
        tools=tools,
        stages=Stages(),
        turn=turn,
        live=live,
        door=door,
        ticket=ticket,
        tries=Tries(),
        boards=boards,
        doctor=Doctor(records, turn, settings.data_dir),
    )
    for routes in (
        page,
        photos,
        covering,
        palettes,
        drafts,
        health,
        here,
        inspections,
        joins,
        answers,
        checks,
        what_if,
        samples,
        sculptures,
        exports,
        paper,
        queue,
        thumbs,
        workshops,
        workshop_rooms,
        archives,
    ):
        app.include_router(routes.router)
    app.mount("/static", OwnFiles(directory=_STATIC), name="static")
    _stand_before(app, settings, door, ticket, records)
    _answer_errors(app)
    return app


def _stand_before(app: FastAPI, settings: Settings, door: Door, ticket: Pass, records: Records) -> None:
    """What every request passes before a route is asked."""
    app.add_middleware(GZipMiddleware, minimum_size=LEAST_BYTES, compresslevel=6)
    app.add_middleware(Access, door=door, ticket=ticket, devices=records.joins)
    app.add_middleware(
        Guard,
        max_bytes=min(MOST_JSON_BYTES, settings.max_upload_bytes),
        of_paths={
            "/photos": settings.max_upload_bytes,
            archives.IMPORT: settings.max_archive_bytes,
            "/join": MOST_OF_STRANGERS,
        },
    )
    app.add_middleware(InLanguage)
    app.add_middleware(Logged)  # the last one added is the outermost


def _answer_errors(app: FastAPI) -> None:
    """One sentence for each kind of error."""
    for kind in USER_ERRORS:
        app.add_exception_handler(kind, _user_error)
    app.add_exception_handler(IntegrityError, _gone_meanwhile)
    for trouble in (OperationalError, OSError):
        app.add_exception_handler(trouble, _not_kept)
    for nonsense in (UnicodeEncodeError, DataError):
        app.add_exception_handler(nonsense, _unkeepable)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http_error)


def _engines() -> Tools:
    """The real engines; imported late, because they take a second to load."""
    from api.drawing import marked_up_png, overlay_svg
    from api.flow_picture import flow_png
    from api.recent import RecentSculptures
    from api.remedy_picture import remedy_png
    from api.seeing import look_again

    recent = RecentSculptures()
    return Tools(
        inspect=recent.inspect,
        answer=recent.answer,
        again=recent.again,
        what_if=recent.what_if,
        reword=recent.reword,
        flow=recent.flow,
        flow_picture=flow_png,
        forget=recent.forget,
        overlay=overlay_svg,
        picture=marked_up_png,
        seeing=look_again,
        remedy=remedy_png,
    )


def _gone_meanwhile(_request: Request, error: Exception) -> JSONResponse:
    """A photo, sculpture or workshop was deleted while something about it was on its way to be kept."""
    tell("not kept", error=type(error).__name__)
    text = N_("This belongs to something that was deleted meanwhile. Go back, and choose anew.")
    return error_response(404, translated(text))


def _not_kept(_request: Request, error: Exception) -> JSONResponse:
    """The disk is full, or the database has gone away."""
    tell("not kept", logging.ERROR, error=type(error).__name__)
    text = N_("This could not be kept or read just now: look whether the disk is full. Then send it again.")
    return error_response(503, translated(text))


def _unkeepable(_request: Request, _error: Exception) -> JSONResponse:
    """Text that no database takes: half a letter, or on PostgreSQL a zero byte."""
    return error_response(422, translated(_UNREADABLE))


def _user_error(_request: Request, error: Exception) -> JSONResponse:
    return error_response(422, told(error))


def _http_error(_request: Request, error: Exception) -> JSONResponse:
    status = error.status_code if isinstance(error, HTTPException) else 400
    detail = str(error.detail) if isinstance(error, HTTPException) else str(error)
    own = status in OWN_WORDS and detail != "Not Found"
    text = detail if own else _SENTENCES.get(status, _UNREADABLE)
    answer = error_response(status, translated(text))
    answer.headers.update(getattr(error, "headers", None) or {})
    return answer


class _WithoutPlace:
    """A request's validation errors as those of the case itself: `body.palette` becomes `palette`."""

    def __init__(self, error: RequestValidationError) -> None:
        self._errors = error.errors()

    def errors(self) -> list[dict[str, object]]:
        return [{**error, "loc": _inside(error["loc"])} for error in self._errors]


def _inside(loc: tuple[int | str, ...]) -> tuple[int | str, ...]:
    return loc[1:] if loc and loc[0] in ("body", "query", "path") else loc


def _invalid(_request: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, RequestValidationError):
        raise error
    return error_response(422, sentence(cast(ValidationError, _WithoutPlace(error))))

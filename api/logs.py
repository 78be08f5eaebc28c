"""What the server says of itself, a line for each event, and nothing of anybody.

A line has the time, the level, what happened, and plain facts: the template of the route instead of the path,
a status, milliseconds, a random number for the request. No address, id, name, code, token or text that came
from outside. Of an exception its type and its places in the code are told, never its words; of a line that
another library writes only where that library wrote it.
"""

import json
import logging
import secrets
import sys
import threading
import time
from collections.abc import Iterator
from contextvars import ContextVar
from datetime import UTC, datetime
from traceback import walk_tb
from types import TracebackType
from typing import Any, Literal

from starlette.types import ASGIApp, Message, Receive, Scope, Send

Level = Literal["debug", "info", "warning", "error"]
Form = Literal["auto", "json", "plain"]

OWN = ("api", "vision", "circuit")
"""The packages whose words are known to be plain."""
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
MOST_PLACES = 8
_log = logging.getLogger(__name__)
_request: ContextVar[str] = ContextVar("request", default="")


def tell(event: str, level: int = logging.INFO, **facts: str | float | None) -> None:
    """Write a line. `event` and the facts are words of the code or figures, nothing from outside."""
    _log.log(level, event, extra={"facts": facts})


def configure(level: Level, form: Form) -> None:
    """Send all that is logged in this process to stderr; `auto` is plain on a terminal, else JSON."""
    plain = form == "plain" or (form == "auto" and sys.stderr.isatty())
    writer = logging.StreamHandler()
    writer.setFormatter(_Plain() if plain else _Json())
    root = logging.getLogger()
    root.handlers[:] = [writer]
    root.setLevel(logging.WARNING)
    for name in OWN:
        logging.getLogger(name).setLevel(level.upper())
    logging.captureWarnings(True)
    sys.excepthook = _crashed
    threading.excepthook = lambda told: _crashed(told.exc_type, told.exc_value, told.exc_traceback)
    sys.unraisablehook = lambda told: _crashed(told.exc_type, told.exc_value, told.exc_traceback)


def _crashed(kind: type[BaseException], error: BaseException | None, trace: TracebackType | None) -> None:
    """Instead of Python's own report, which has the error's words in it."""
    if error is None or issubclass(kind, KeyboardInterrupt):
        return
    _log.critical("ended by an error", exc_info=(kind, error, trace))


class _Json(logging.Formatter):
    """A line as JSON."""

    def format(self, record: logging.LogRecord) -> str:
        return json.dumps(_facts(record))


class _Plain(logging.Formatter):
    """A line for people."""

    def format(self, record: logging.LogRecord) -> str:
        facts = _facts(record)
        head = f"{facts.pop('time')[11:19]} {facts.pop('level'):<8} {facts.pop('event')}"
        return "  ".join((head, *(f"{name}={value}" for name, value in facts.items())))


def _facts(record: logging.LogRecord) -> dict[str, Any]:
    own = record.name.split(".")[0] in OWN
    facts: dict[str, Any] = {
        "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
        "level": record.levelname.lower(),
        # The template alone: what would be put into it is not known to be plain.
        "event": str(record.msg) if own else f"{record.name} line {record.lineno}",
    }
    if request := _request.get():
        facts["request"] = request
    facts |= getattr(record, "facts", {})
    if record.exc_info and record.exc_info[1] is not None:
        facts |= what_broke(record.exc_info[1])
    return facts


def what_broke(error: BaseException) -> dict[str, Any]:
    """The type of an error and of those before it, and where in the code it was; nothing of what it says."""
    kinds = " from ".join(type(one).__name__ for one in _chain(error))
    places = [
        f"{frame.f_globals.get('__name__', '?')}:{line}" for frame, line in walk_tb(error.__traceback__)
    ]
    return {"error": kinds, "at": places[-MOST_PLACES:]}


def _chain(error: BaseException) -> Iterator[BaseException]:
    one: BaseException | None = error
    for _ in range(MOST_PLACES):
        if one is None:
            return
        yield one
        one = one.__cause__ or one.__context__


class Logged:
    """ASGI middleware: a line for each request. Reads that went well are told on level debug only."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, and note what came of it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        _request.set(secrets.token_hex(4))
        began, status = time.perf_counter(), None

        async def noted(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, noted)
        finally:
            method = scope["method"] if scope["method"] in METHODS else "other"
            ms = round((time.perf_counter() - began) * 1000, 1)
            level = _level(method, status)
            tell("request", level, route=route_of(scope), method=method, status=status, duration_ms=ms)


def _level(method: str, status: int | None) -> int:
    if status is None or status >= 500:
        return logging.ERROR if status is not None else logging.INFO
    return logging.DEBUG if method in ("GET", "HEAD") and status < 400 else logging.INFO


def route_of(scope: Scope) -> str:
    """The template of the route that was taken, such as `/photos/{photo_id}`; `-` where there was none."""
    path = getattr(scope.get("route"), "path", None)
    return path if isinstance(path, str) else "-"

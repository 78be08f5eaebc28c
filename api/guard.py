"""What stands before every request: size, origin, headers, and no answer 500."""

import logging
from collections.abc import Collection, Mapping
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.door import LOOPBACK_NAMES, name_of
from api.language.speech import _

_log = logging.getLogger(__name__)

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
"""No inline style, no inline script, nothing from elsewhere; `blob:` shows a photo before it is sent."""

HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=()",
}

OF_DOCUMENTS = (
    "content-security-policy",
    "referrer-policy",
    "cross-origin-opener-policy",
    "permissions-policy",
)
"""What browsers heed of documents only: left out of scripts and styles, of which the page has seventy."""
_PARTS = ("text/javascript", "text/css")
OF_SAFE_ORIGINS = ("cross-origin-opener-policy",)
"""What browsers heed only over https or from the machine itself (HTML standard, "obtain a cross-origin opener
policy"; W3C Secure Contexts, section 3.1); elsewhere they complain of it on every page."""

MOST_OF_STRANGERS = 4096
"""Bytes that are read of somebody who has not joined: a code or a link, and a nickname."""
_READS = ("GET", "HEAD", "OPTIONS")


def error_response(status: int, text: str) -> JSONResponse:
    """The one shape of every error."""
    return JSONResponse({"error": text}, status_code=status)


class Guard:
    """ASGI middleware. Refuses bodies over `max_bytes` and changes asked from other sites.

    `of_paths` names paths that take more or less, with how many bytes.
    """

    def __init__(self, app: ASGIApp, max_bytes: int, of_paths: Mapping[str, int] | None = None) -> None:
        self._app = app
        self._max_bytes = max_bytes
        self._of_paths = of_paths or {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check, pass on, add the headers."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        most = self._of_paths.get(scope["path"], self._max_bytes)
        body = _Body(receive, most)
        headers = Headers(scope=scope)
        answer = _Answer(send, body, _public(scope["path"]), _left_out(scope, headers))
        refusal = self._refusal(scope["method"], headers, most)
        if refusal is not None:
            await refusal(scope, receive, answer.send)
            return
        try:
            await self._app(scope, body.receive, answer.send)
        except Exception:
            if not body.too_large:
                _log.exception("unexpected error")
            if answer.started:
                raise
        if not answer.started:
            late = _too_large(most) if body.too_large else _unexpected()
            body.too_large = False
            await late(scope, receive, answer.send)

    def _refusal(self, method: str, headers: Headers, most: int) -> JSONResponse | None:
        if method not in _READS and not _same_origin(headers):
            return error_response(
                403, _("This was asked from another site. Open the page itself and try again.")
            )
        length = headers.get("content-length", "0")
        if not length.isdecimal():
            return error_response(
                400,
                _("The header Content-Length is {told!r}, which is no number of bytes.", told=length[:20]),
            )
        return _too_large(most) if int(length) > most else None


class _Body:
    """Counts what comes in, and ends the body when it is too large."""

    def __init__(self, receive: Receive, max_bytes: int) -> None:
        self._receive = receive
        self._left = max_bytes
        self.too_large = False

    async def receive(self) -> Message:
        if self.too_large:
            return {"type": "http.disconnect"}
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.too_large = True
            return {"type": "http.disconnect"}
        return message


class _Answer:
    """Adds the headers; swallows what the app says about a body that was cut off."""

    def __init__(self, send: Send, body: _Body, public: bool, left_out: Collection[str]) -> None:
        self._send = send
        self._body = body
        self._public = public
        self._left_out = left_out
        self.started = False

    async def send(self, message: Message) -> None:
        if self._body.too_large and not self.started:
            return
        if message["type"] == "http.response.start":
            self.started = True
            headers = MutableHeaders(scope=message)
            of_page = headers.get("content-type", "").startswith(_PARTS)
            for name, value in HEADERS.items():
                if name not in self._left_out and not (of_page and name in OF_DOCUMENTS):
                    headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-cache" if self._public else "private, no-store")
        await self._send(message)


def _public(path: str) -> bool:
    """What nobody wrote or photographed, a browser may keep; all else leaves nothing on a borrowed tablet."""
    return path in ("/", "/sw.js") or path.startswith("/static/")


def _left_out(scope: Scope, headers: Headers) -> Collection[str]:
    """Headers that the browser would not heed here."""
    safe = scope.get("scheme") == "https" or name_of(headers.get("host")) in LOOPBACK_NAMES
    return () if safe else OF_SAFE_ORIGINS


def _same_origin(headers: Headers) -> bool:
    """By Sec-Fetch-Site where the browser sends it, else by Origin; tools send neither."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc == headers.get("host")


def _too_large(max_bytes: int) -> JSONResponse:
    if max_bytes <= MOST_OF_STRANGERS:
        return error_response(413, _("This is too long for a code. Send its six digits."))
    text = _("This is larger than {most:g} MB. Send a smaller file.", most=max_bytes / 1_000_000)
    return error_response(413, text)


def _unexpected() -> JSONResponse:
    text = _(
        "This could not be worked out here, and the fault is not yours. Try again, or take another photo."
    )
    return error_response(503, text)

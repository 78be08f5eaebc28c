"""Who asks: found out before anything else is done with a request. Strangers get no further than the door.

The laptop that serves is the owner: its requests come from the loopback address, to a loopback name, and
nobody passed them on. Behind a proxy on the same machine everybody would look so, unless the proxy says whom
it speaks for (`FORWARDED`); Doughsight is not made to stand behind one.
"""

import hashlib
from collections.abc import Callable
from functools import partial
from typing import Protocol, TypeVar

from anyio import CapacityLimiter, to_thread
from itsdangerous import BadSignature, Signer
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from api.door import LOOPBACK_NAMES, Door, is_loopback, name_of
from api.guard import error_response
from api.language.speech import _
from api.who import OWNER, STRANGER, Who

Found = TypeVar("Found")

COOKIE = "doughsight-here"
"""Names a device; signed. It is not the cookie of the language."""
FORWARDED = ("forwarded", "via", "x-real-ip")
"""What proxies add (RFC 7239, RFC 9110); beside them all that begin with x-forwarded-."""
OPEN = {
    "/rooms/join": ("GET", "HEAD"),
    "/join": ("POST",),
    "/health": ("GET", "HEAD"),
    "/sw.js": ("GET", "HEAD"),
}
"""What a phone needs before it has joined, beside the app's own files."""
OF_OWNER = "owner."
"""How the cookie of an owner's browser begins; ids of devices have no dot."""
AT_ONCE = 4
"""Look-ups of devices at the same time: they do not wait for those who look at photos (estimated)."""


class Devices(Protocol):
    """Who has joined (`api/records/joins.py`)."""

    def who(self, device_id: str) -> Who | None:
        """Who this device is now; None if it is out."""

    def over(self, device_id: str) -> bool:
        """Whether the workshop of this device has ended."""


class Pass:
    """Signs and reads the cookie that names a device."""

    def __init__(self, key: bytes) -> None:
        self._signer = Signer(
            key, salt="doughsight device", key_derivation="hmac", digest_method=hashlib.sha256
        )

    def signed(self, name: str) -> str:
        """The cookie's value for a device's id or an owner's mark."""
        return self._signer.sign(name.encode()).decode()

    def read(self, cookies: str) -> str | None:
        """The name in a Cookie header, or None if there is none that we signed."""
        value = cookie_parser(cookies).get(COOKIE)
        if value is None or len(value) > 200:
            return None
        try:
            return self._signer.unsign(value.encode("latin-1", "replace")).decode()
        except (BadSignature, UnicodeDecodeError):
            return None


class Access:
    """ASGI middleware: puts `who` into the scope, and refuses strangers and strange names."""

    def __init__(self, app: ASGIApp, door: Door, ticket: Pass, devices: Devices) -> None:
        self._app, self._door, self._ticket, self._devices = app, door, ticket, devices
        self._turns: CapacityLimiter | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Find out who asks, and pass on what it may ask for."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if not self._door.answers_to(headers.get("host"), (scope.get("server") or (None,))[0]):
            text = _(
                "Doughsight does not know itself by this name. Open it at the address that it printed when "
                "it was started, or tell it the name as DOUGHSIGHT_HOSTS."
            )
            await error_response(400, text)(scope, receive, send)
            return
        open_to_all = _open(scope)
        own_file = open_to_all and scope["path"] not in OPEN
        scope["who"] = STRANGER if own_file else await self._who(scope, headers)
        if scope["who"] is STRANGER and not open_to_all:
            await _sent_away(scope, headers, await self._over(headers))(scope, receive, send)
            return
        await self._app(scope, receive, send)

    async def _who(self, scope: Scope, headers: Headers) -> Who:
        if _is_the_laptop(scope, headers):
            return OWNER
        name = self._ticket.read(headers.get("cookie", ""))
        if name is None:
            return STRANGER
        if name.startswith(OF_OWNER):
            return OWNER if self._door.is_owner(name.removeprefix(OF_OWNER)) else STRANGER
        return await self._looked_up(self._devices.who, name) or STRANGER

    async def _over(self, headers: Headers) -> bool:
        """Told only to whoever holds the cookie of a device that was there."""
        name = self._ticket.read(headers.get("cookie", ""))
        return bool(name) and await self._looked_up(self._devices.over, name or "")

    async def _looked_up(self, look: Callable[[str], Found], name: str) -> Found:
        self._turns = self._turns or CapacityLimiter(AT_ONCE)
        return await to_thread.run_sync(partial(look, name), limiter=self._turns)


def _is_the_laptop(scope: Scope, headers: Headers) -> bool:
    peer = (scope.get("client") or (None,))[0]
    passed_on = any(name in FORWARDED or name.startswith("x-forwarded-") for name in headers)
    return is_loopback(peer) and not passed_on and name_of(headers.get("host")) in LOOPBACK_NAMES


def _open(scope: Scope) -> bool:
    path = scope["path"]
    if path.startswith("/static/"):
        return True
    return scope.get("method") in OPEN.get(path, ())


def _sent_away(scope: Scope, headers: Headers, over: bool) -> Response:
    """Browsers that open a page are led to where the code is told; all else is told in one sentence."""
    if scope.get("method") == "GET" and "text/html" in headers.get("accept", ""):
        up = "../" * scope["path"].strip("/").count("/")
        return RedirectResponse(f"{up}rooms/join", status_code=303)
    if over:
        return error_response(401, _("The workshop is over. For another one, ask the helper for a code."))
    return error_response(401, _("This needs a code. Ask the helper for it, and type it in."))

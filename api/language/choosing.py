"""The language of a request: what was chosen on the page, else what the browser asks for."""

from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from api.language.languages import speaking, suited

COOKIE = "doughsight-language"


class InLanguage:
    """ASGI middleware, outermost, so that whatever is refused is refused in words of that language."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on within the language."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        code = suited(_chosen(headers.get("cookie", "")), headers.get("accept-language", ""))
        with speaking(code):
            await self._app(scope, receive, send)


def _chosen(cookies: str) -> str | None:
    try:
        told = SimpleCookie(cookies).get(COOKIE)
    except CookieError:
        return None
    return told.value if told else None

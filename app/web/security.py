"""What keeps the local server local: who may ask, who may post, and what a page may do.

- The Host header must name this machine, so that no foreign name can be made to resolve here (DNS rebinding).
- What changes something is refused when the browser says that another site sent it (Fetch Metadata, else Origin).
- A content security policy without inline script or style: https://www.w3.org/TR/CSP3/
"""

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOCAL_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})
FOREIGN = "This came from another site, so nothing was changed."
READING_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; "
        "font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class LocalOnly:
    """ASGI middleware."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = refusal_of(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await PlainTextResponse(refusal, status_code=403, headers=HEADERS)(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self.app(scope, receive, send_with_headers)


def refusal_of(method: str, headers: Headers) -> str | None:
    """Why a request is refused, or None if it may pass."""
    host = headers.get("host", "")
    if _name(f"//{host}") not in LOCAL_NAMES:
        return "Dialback answers only to this computer's own names, such as 127.0.0.1."
    if method in READING_METHODS:
        return None
    site = headers.get("sec-fetch-site")
    if site is not None:
        return None if site in ("same-origin", "none") else FOREIGN
    origin = headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != host:
        return FOREIGN
    return None


def _name(address: str) -> str:
    try:
        return urlsplit(address).hostname or ""
    except ValueError:
        return ""

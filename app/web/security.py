"""What keeps the local server local: who may ask, who may post, and what a page may do.

- The Host header must name this machine, so that no foreign name can be made to resolve here (DNS rebinding).
- What changes something is refused when the browser says that another site sent it (Fetch Metadata, else Origin).
- A Referer or Origin that is no address is refused: no browser sends one.
- Over the local network (only where that was asked for) nothing is served but to paired devices, and to whoever pairs
  while a code is open. The Host header must be the very address that was connected to.
- A content security policy without inline script or style: https://www.w3.org/TR/CSP3/
"""

import re
from dataclasses import dataclass
from ipaddress import ip_address
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.desk.phones.devices import PairedDevices, PairingCodes

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


NOTHING_HERE = "Nothing is served here."
PAIRING_PATHS = ("/pair",)
DESK_ONLY = re.compile(r"/(devices|folders|backups)(/|$)|/projects/[^/]+/(printing|folders)(/|$)")
"""Who may come in, which of this computer's folders are read and where it is copied to, is said at the desk."""
COOKIE = "device"


@dataclass(frozen=True)
class Network:
    """Who may come in from the local network: paired devices, and whoever pairs while a code is open."""

    devices: PairedDevices
    codes: PairingCodes


class LocalOnly:
    """ASGI middleware. `network` is None unless the local network is served as well."""

    def __init__(self, app: ASGIApp, network: Network | None = None) -> None:
        self.app = app
        self.network = network

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal_of(scope, headers)
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

    def _refusal_of(self, scope: Scope, headers: Headers) -> str | None:
        if not all(_is_address(headers.get(name, "")) for name in ("origin", "referer")):
            return FOREIGN
        if _is_loopback(scope):
            return refusal_of(scope["method"], headers)
        if self.network is None:
            return NOTHING_HERE
        host = headers.get("host", "")
        if _name(f"//{host}") != (scope.get("server") or ("",))[0]:
            return NOTHING_HERE  # a foreign name that was made to resolve here
        path = scope["path"]
        if _is_under(path, PAIRING_PATHS):
            return _foreign(scope["method"], headers) if self.network.codes.is_open() else NOTHING_HERE
        device_id = self.network.devices.find(cookie_parser(headers.get("cookie", "")).get(COOKIE, ""))
        if device_id is None or DESK_ONLY.match(path):
            return NOTHING_HERE
        scope.setdefault("state", {})["device_id"] = device_id
        return _foreign(scope["method"], headers)


def _is_loopback(scope: Scope) -> bool:
    """Whether a request came from this computer itself: from a loopback address."""
    host = (scope.get("client") or ("",))[0]
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


def _is_under(path: str, places: tuple[str, ...]) -> bool:
    return any(path == place or path.startswith(f"{place}/") for place in places)


def refusal_of(method: str, headers: Headers) -> str | None:
    """Why a request is refused, or None if it may pass."""
    host = headers.get("host", "")
    if _name(f"//{host}") not in LOCAL_NAMES:
        return "Dialback answers only to this computer's own names, such as 127.0.0.1."
    return _foreign(method, headers)


def _foreign(method: str, headers: Headers) -> str | None:
    """Why a request that changes something is refused: because another site sent it."""
    if method in READING_METHODS:
        return None
    host = headers.get("host", "")
    site = headers.get("sec-fetch-site")
    if site is not None:
        return None if site in ("same-origin", "none") else FOREIGN
    origin = headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != host:
        return FOREIGN
    return None


def _is_address(value: str) -> bool:
    try:
        urlsplit(value)
    except ValueError:
        return False
    return True


def _name(address: str) -> str:
    try:
        return urlsplit(address).hostname or ""
    except ValueError:
        return ""

"""Pairing a phone, the paired devices, and the stream of what changes."""

from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import ClassVar

import ifaddr
import segno
from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response, StreamingResponse
from markupsafe import Markup, escape

from app.desk.phones.devices import CODE_LIFE_S, DeviceLine
from app.desk.refusals import NotThere, Refusal
from app.web.board import Board
from app.web.context import RowId
from app.web.forms import SentForm, words
from app.web.pages import NOT_KEPT, NOTHING, Page, go_to, show
from app.web.security import COOKIE, Network

router = APIRouter()

A_YEAR_S = 365 * 24 * 3600


@dataclass(frozen=True)
class Ticket:
    """An open pairing code with the addresses that it works at, each as a picture to scan."""

    short: str
    addresses: tuple[tuple[str, Markup], ...]
    minutes: int


@dataclass(frozen=True)
class DevicesPage(Page):
    template: ClassVar[str] = "phones/devices.html"
    section: ClassVar[str] = ""

    is_on: bool
    devices: list[DeviceLine]
    ticket: Ticket | None
    errors: Mapping[str, str]


@router.get("/devices")
def show_devices(request: Request) -> Response:
    return show(request, _page(request, None))


@router.post("/devices/pair")
def open_a_code(request: Request) -> Response:
    network = _network(request)
    if network is None:
        raise Refusal({"": "Only this computer is served. Start Dialback with --lan to let a phone in."})
    code = network.codes.open()
    port = request.url.port or 80
    addresses = tuple(
        (f"http://{address}:{port}/pair", _picture(f"http://{address}:{port}/pair/{code.long}"))
        for address in own_addresses()
    )
    short = f"{code.short[:4]} {code.short[4:]}"
    return show(request, _page(request, Ticket(short, addresses, round(CODE_LIFE_S / 60))))


@router.post("/devices/{device_id}/name")
def rename(request: Request, form: SentForm, device_id: RowId) -> Response:
    try:
        _served(request).devices.rename(device_id, words(form, f"name-{device_id}"))
    except Refusal as refusal:
        return show(request, _page(request, None, refusal.sentences), status_code=422)
    return go_to("/devices")


@router.post("/devices/{device_id}/revoke")
def revoke(request: Request, device_id: RowId) -> Response:
    _served(request).devices.revoke(device_id)
    return go_to("/devices")


@router.get("/pair")
def ask_for_the_code() -> Response:
    return _pairing_page("", "")


@router.get("/pair/{code}")
def ask_to_pair(request: Request, code: str) -> Response:
    network = _network(request)
    if network is None or not network.codes.knows(code):
        return _pairing_page("", "This code is not good any more. Ask for a new one at the desk.")
    return _pairing_page(code, "")


@router.post("/pair")
def pair(request: Request, form: SentForm) -> Response:
    network = _network(request)
    if network is None or not network.codes.redeem(words(form, "code")):
        return _pairing_page("", "This code is not good. Look at it again, or ask for a new one at the desk.")
    paired = go_to("/next")
    paired.set_cookie(
        COOKIE,
        network.devices.pair(words(form, "name")),
        max_age=A_YEAR_S,
        httponly=True,
        samesite="strict",
    )
    return paired


@router.get("/events")
async def events(request: Request) -> Response:
    board: Board = request.app.state.board
    network = _network(request)
    device_id: int | None = getattr(request.state, "device_id", None)

    def may_go_on() -> bool:
        return device_id is None or (network is not None and network.devices.is_paired(device_id))

    return StreamingResponse(
        board.listen(may_go_on),
        media_type="text/event-stream",
        headers={**NOT_KEPT, "X-Accel-Buffering": "no"},
    )


def own_addresses() -> list[str]:
    """This computer's addresses in local networks (IPv4, loopback left out)."""
    return [
        str(ip.ip)
        for adapter in ifaddr.get_adapters()
        for ip in adapter.ips
        if ip.is_IPv4 and not str(ip.ip).startswith(("127.", "169.254."))
    ]


def _network(request: Request) -> Network | None:
    network: Network | None = request.app.state.network
    return network


def _served(request: Request) -> Network:
    """Raises NotThere while only this computer is served: then no device is."""
    network = _network(request)
    if network is None:
        raise NotThere("device")
    return network


def _page(request: Request, ticket: Ticket | None, errors: Mapping[str, str] = NOTHING) -> DevicesPage:
    network = _network(request)
    return DevicesPage(network is not None, [] if network is None else network.devices.list(), ticket, errors)


def _picture(address: str) -> Markup:
    drawn = BytesIO()
    segno.make(address, error="m").save(
        drawn,
        kind="svg",
        scale=6,
        border=4,
        xmldecl=False,
        svgns=True,
        dark="#000",
        light="#fff",
        svgclass="code",
    )
    return Markup(drawn.getvalue().decode())


def _pairing_page(code: str, sentence: str) -> HTMLResponse:
    """Served before a device is known, so it carries nothing with it: no style, no script, no word of the library."""
    field = (
        f'<input type="hidden" name="code" value="{escape(code)}">'
        if code
        else '<p><label>Code from the desk <input name="code" autocomplete="off" autocapitalize="characters" '
        "required></label></p>"
    )
    page = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1"><title>Pair this phone</title></head>'
        f"<body><main><h1>Pair this phone</h1>{f'<p role=alert>{escape(sentence)}</p>' if sentence else ''}"
        f'<form action="/pair" method="post">{field}'
        '<p><label>Call it <input name="name" value="phone" maxlength="100"></label></p>'
        "<p><button>Pair</button></p></form></main></body></html>"
    )
    return HTMLResponse(page, status_code=403 if sentence else 200, headers=NOT_KEPT)

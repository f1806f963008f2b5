"""Pins in a photo."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.photos import pins as desk
from app.desk.photos.pins import PinEntry, PinSheet
from app.desk.refusals import Refusal
from app.web.context import LibraryDep, RowId, SnapshotDep
from app.web.forms import SentForm, entry_from
from app.web.pages import NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class PinsPage(Page):
    template: ClassVar[str] = "photos/pins.html"

    sheet: PinSheet
    entry: PinEntry
    errors: Mapping[str, str]


@router.get("/photos/{photo_id}/pins")
def show_pins(request: Request, library: SnapshotDep, photo_id: RowId) -> Response:
    return show(request, PinsPage(desk.read_pins(library, photo_id), PinEntry(), NOTHING))


@router.post("/photos/{photo_id}/pins")
def put_pin(request: Request, library: LibraryDep, form: SentForm, photo_id: RowId) -> Response:
    entry = entry_from(form, PinEntry)
    try:
        desk.put_pin(library, photo_id, entry)
    except Refusal as refusal:
        page = PinsPage(desk.read_pins(library, photo_id), entry, refusal.sentences)
        return show(request, page, status_code=422)
    return go_to(f"/photos/{photo_id}/pins")


@router.post("/pins/{pin_id}/delete")
def take_out(library: LibraryDep, pin_id: RowId) -> Response:
    return go_to(f"/photos/{desk.take_pin_out(library, pin_id)}/pins")

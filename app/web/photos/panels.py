"""Photos in which a panel is marked, and what photos of a pass say of its settings when they are read against them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.passes import crops, drafts
from app.desk.passes.drafts import DraftGone
from app.desk.photos import panel_photos, panel_readings
from app.desk.photos.panel_photos import CORNERS, LOOKS, MarkEntry, PanelEntry, PanelSheet
from app.desk.photos.panel_readings import DraftReadings
from app.desk.refusals import Refusal
from app.web.context import LibraryDep, ReaderDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, entry_from, key_of, words
from app.web.pages import FOR_GOOD, NOTHING, Page, go_to, show
from app.web.photos.photos import jpeg

router = APIRouter()

READING = "reading-"


@dataclass(frozen=True)
class PanelPage(Page):
    template: ClassVar[str] = "photos/panel.html"
    section: ClassVar[str] = "Gear"

    sheet: PanelSheet
    entry: PanelEntry
    errors: Mapping[str, str]
    looks: tuple[tuple[str, str], ...] = LOOKS
    corners: tuple[str, ...] = CORNERS


@dataclass(frozen=True)
class ReadingsPage(Page):
    template: ClassVar[str] = "photos/readings.html"

    readings: DraftReadings
    errors: Mapping[str, str]


@router.get("/photos/{photo_id}/panel")
def show_panel(request: Request, library: SnapshotDep, photo_id: RowId) -> Response:
    sheet = panel_photos.read_panel(library, photo_id)
    return show(request, PanelPage(sheet, sheet.entry, NOTHING))


@router.post("/photos/{photo_id}/panel")
def mark_panel(
    request: Request, library: LibraryDep, reader: ReaderDep, form: SentForm, photo_id: RowId
) -> Response:
    sheet = panel_photos.read_panel(library, photo_id)
    entry = PanelEntry(
        tuple(words(form, f"corner-{at}-{axis}") for at in range(4) for axis in "xy"),
        {
            control.control_id: entry_from(form, MarkEntry, f"mark-{control.control_id}-")
            for control in sheet.controls
        },
    )
    try:
        gear_id = panel_photos.mark_panel(library, photo_id, entry)
    except Refusal as refusal:
        return show(request, PanelPage(sheet, entry, refusal.sentences), status_code=422)
    panel_readings.have_prepared(library, photo_id)
    reader.wake()
    return go_to(f"/gear/{gear_id}#photos")


@router.post("/photos/{photo_id}/panel/delete")
def unmark_panel(library: LibraryDep, photo_id: RowId) -> Response:
    return go_to(f"/gear/{panel_photos.unmark_panel(library, photo_id)}#photos")


@router.post("/passes/{pass_id}/readings")
def read_pass_photos(library: LibraryDep, reader: ReaderDep, unit: UnitDep, pass_id: RowId) -> Response:
    """Photos of a logged pass are read into a correction of it."""
    draft = drafts.open_edit(library, pass_id, unit=unit)
    if panel_readings.have_read(library, draft.draft_id):
        reader.wake()
    return go_to(f"/drafts/{draft.draft_id}/readings")


@router.get("/drafts/{draft_id}/readings")
def show_readings(request: Request, library: SnapshotDep, draft_id: RowId) -> Response:
    return show(request, ReadingsPage(panel_readings.read_readings(library, draft_id), NOTHING))


@router.post("/drafts/{draft_id}/readings")
def take_readings(
    request: Request, library: LibraryDep, reader: ReaderDep, form: SentForm, draft_id: RowId
) -> Response:
    """Somebody else may have saved the pass meanwhile: then that is shown. `do` is "unread", "sure", or the field of one reading, whose text stands beside it and may have been put right."""
    do = words(form, "do")
    if do == "unread":
        panel_readings.have_read(library, draft_id)
        reader.wake()
        return go_to(f"/drafts/{draft_id}/readings")
    try:
        readings = panel_readings.read_readings(library, draft_id)
    except DraftGone as gone:
        if gone.pass_id is None:
            raise
        return go_to(f"/passes/{gone.pass_id}")
    wanted = readings.all_sure if do == "sure" else {do: ""}
    texts = {name: words(form, f"{READING}{name}") or text for name, text in wanted.items()}
    try:
        panel_readings.take(library, draft_id, texts, key_of(form))
    except Refusal as refusal:
        return show(request, ReadingsPage(readings, refusal.sentences), status_code=422)
    if do == "sure":
        return go_to(
            f"/sources/{readings.source_id}/passes/new#photo-readings"
            if readings.pass_id is None
            else f"/passes/{readings.pass_id}/edit#photo-readings"
        )
    return go_to(f"/drafts/{draft_id}/readings")


@router.get("/crops/{crop_id}.jpg")
def kept_crop(library: SnapshotDep, crop_id: RowId) -> Response:
    return jpeg(library, crops.picture_of(library, crop_id))


@router.get("/panel-readings/{examination_id}/{key}.jpg")
def crop(library: SnapshotDep, examination_id: RowId, key: str) -> Response:
    return Response(
        panel_readings.crop_of(library, examination_id, key), media_type="image/jpeg", headers=FOR_GOOD
    )

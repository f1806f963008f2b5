"""The shelf and its gear; and what the controls need to know while they are being turned."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from app.desk.passes import drafts
from app.desk.passes.drafts import DraftGone
from app.desk.passes.pass_sheets import PhotoSheet, read_gear_photos
from app.desk.passes.passes import all_readings
from app.desk.photos.panel_photos import marked_photos
from app.desk.refusals import EditedMeanwhile, Refusal
from app.desk.shelf import gear as desk
from app.desk.shelf.control_entries import ControlEntry, read_so_far
from app.desk.shelf.gear import GearEntry, GearSheet, GearUse, ShelfLine
from app.library import Readable
from app.trade.readings import UnknownReading, detents, read
from app.trade.readings import show as show_position
from app.trade.scales import ControlSpec
from app.trade.starting_layouts import STARTING_LAYOUTS, StartingLayout
from app.trade.travel import angle_deg
from app.web.confirm import ConfirmPage
from app.web.context import LibraryDep, RowId, SnapshotDep
from app.web.forms import SentForm, changed_rows, entry_from, numbered, whole_number, words
from app.web.pages import NOT_KEPT, NOTHING, Page, go_to, show

router = APIRouter()

COLUMN = "column"


@dataclass(frozen=True)
class OnTheWay:
    """The draft of a pass in whose chain the new gear is wanted. `at` says whether its column of the ledger was open, or
    its form."""

    draft_id: int
    at: str

    @property
    def query(self) -> str:
        return f"&into={self.draft_id}&at={self.at}"

    def back(self, library: Readable) -> str:
        """Where one came from. Raises DraftGone."""
        draft = drafts.read_draft(library, self.draft_id)
        if draft.pass_id is not None:
            return f"/passes/{draft.pass_id}/edit"
        return f"/sources/{draft.source_id}" + ("?column=open" if self.at == COLUMN else "/passes/new")


@dataclass(frozen=True)
class ShelfPage(Page):
    template: ClassVar[str] = "shelf/shelf.html"
    section: ClassVar[str] = "Gear"

    shelf: list[ShelfLine]
    uses: dict[int, GearUse]


@dataclass(frozen=True)
class StartPage(Page):
    """Which layout to start from."""

    template: ClassVar[str] = "shelf/start.html"
    section: ClassVar[str] = "Gear"

    layouts: tuple[StartingLayout, ...]
    way: "OnTheWay | None"


@dataclass(frozen=True)
class GearPage(Page):
    template: ClassVar[str] = "shelf/gear.html"
    section: ClassVar[str] = "Gear"

    gear: GearSheet
    photos: tuple[PhotoSheet, ...]
    marked: frozenset[int]
    errors: Mapping[str, str]
    typed: Mapping[str, str]


@dataclass(frozen=True)
class GearFormPage(Page):
    """`drawn` are the controls of `entry` that can be drawn as typed; `saved` is what somebody else saved meanwhile, shown
    beside one's own."""

    template: ClassVar[str] = "shelf/gear_form.html"
    section: ClassVar[str] = "Gear"

    heading: str
    entry: GearEntry
    drawn: tuple[ControlSpec, ...]
    errors: Mapping[str, str]
    action: str
    back: str
    saved: GearSheet | None = None
    way: OnTheWay | None = None


@router.get("/gear")
def show_shelf(request: Request, library: SnapshotDep) -> Response:
    return show(request, ShelfPage(desk.list_gear(library), desk.uses_of_gear(library)))


@router.get("/gear/new")
def new_gear(
    request: Request, library: SnapshotDep, start: str = "", into: RowId | None = None, at: str = ""
) -> Response:
    way = _way(into, at)
    if not start:
        return show(request, StartPage(STARTING_LAYOUTS, way))
    back = "/gear" if way is None else way.back(library)
    return show(request, _new_page(desk.starting_entry(start), NOTHING, way, back))


@router.post("/gear")
def add_gear(request: Request, library: LibraryDep, form: SentForm) -> Response:
    entry = _entry(form)
    way = _way(whole_number(form, "into"), words(form, "at"))
    changed = _changed(entry, words(form, "do"))
    if changed is not None:
        return show(request, _new_page(changed, NOTHING, way))
    try:
        gear_id = desk.add_gear(library, entry)
    except Refusal as refusal:
        return show(request, _new_page(entry, refusal.sentences, way), status_code=422)
    if way is None:
        return go_to(f"/gear/{gear_id}")
    try:
        back = way.back(library)
        drafts.add_gear(library, way.draft_id, "", gear_id)
    except DraftGone:  # it was saved meanwhile; the gear is on the shelf all the same
        return go_to(f"/gear/{gear_id}")
    return go_to(back)


@router.get("/gear/{gear_id}")
def show_gear(request: Request, library: SnapshotDep, gear_id: RowId) -> Response:
    return show(request, gear_page(library, gear_id))


@router.get("/gear/{gear_id}/edit")
def edit_gear(request: Request, library: SnapshotDep, gear_id: RowId) -> Response:
    return show(request, _edit_page(gear_id, desk.gear_entry(library, gear_id), NOTHING))


@router.post("/gear/{gear_id}/edit")
def save_gear(request: Request, library: LibraryDep, form: SentForm, gear_id: RowId) -> Response:
    entry = _entry(form)
    changed = _changed(entry, words(form, "do"))
    if changed is not None:
        return show(request, _edit_page(gear_id, changed, NOTHING))
    try:
        desk.edit_gear(library, gear_id, entry)
    except EditedMeanwhile as refusal:
        page = _edit_page(gear_id, replace(entry, seen=str(refusal.saved)), refusal.sentences)
        return show(request, replace(page, saved=desk.read_gear(library, gear_id)), status_code=409)
    except Refusal as refusal:
        return show(request, _edit_page(gear_id, entry, refusal.sentences), status_code=422)
    return go_to(f"/gear/{gear_id}")


@router.post("/gear/{gear_id}/retire")
def retire_gear(library: LibraryDep, form: SentForm, gear_id: RowId) -> Response:
    desk.retire_gear(library, gear_id, retired=words(form, "retired") == "yes")
    return go_to(f"/gear/{gear_id}")


@router.get("/gear/{gear_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, gear_id: RowId) -> Response:
    gear = desk.read_gear(library, gear_id)
    page = ConfirmPage(
        f"Delete {gear.name}?",
        "No pass has used it. Its control layout, notes and photos leave the shelf for good.",
        "Delete the gear",
        f"/gear/{gear_id}/delete",
        f"/gear/{gear_id}",
    )
    return show(request, page)


@router.post("/gear/{gear_id}/delete")
def delete_gear(library: LibraryDep, gear_id: RowId) -> Response:
    desk.delete_gear(library, gear_id)
    return go_to("/gear")


@router.get("/layouts/{layout_id}/detents")
def show_detents(library: SnapshotDep, layout_id: RowId) -> Response:
    """Every place each control of a layout steps through, and how it reads there."""
    steps = {
        str(control.control_id): [_reading(control.spec, position) for position in detents(control.spec)]
        for control in desk.read_layout(library, layout_id)
    }
    return JSONResponse(steps, headers=NOT_KEPT)  # a layout that no pass has used yet may still change


@router.get("/controls/{control_id}/read")
def read_typed(library: SnapshotDep, control_id: RowId, text: str = "") -> Response:
    """What a typed reading means on this control, or a sentence that says why it means nothing."""
    spec = desk.read_control(library, control_id)
    try:
        reading = read(spec, text)
    except UnknownReading as error:
        return JSONResponse({"sentence": str(error)})
    if reading.position is None:
        return JSONResponse({"position": None, "reading": reading.text, "all": "", "angle_deg": None})
    return JSONResponse(_reading(spec, reading.position))


def gear_page(
    library: Readable, gear_id: int, errors: Mapping[str, str] = NOTHING, typed: Mapping[str, str] = NOTHING
) -> GearPage:
    return GearPage(
        desk.read_gear(library, gear_id),
        read_gear_photos(library, gear_id),
        marked_photos(library, gear_id),
        errors,
        typed,
    )


def _reading(spec: ControlSpec, position: float) -> dict[str, float | str | None]:
    return {
        "position": position,
        "reading": show_position(spec, position),
        "all": all_readings(spec, position),
        "angle_deg": angle_deg(spec.travel, position),
    }


def _entry(form: SentForm) -> GearEntry:
    return replace(entry_from(form, GearEntry), controls=numbered(form, ControlEntry, "controls"))


def _changed(entry: GearEntry, do: str) -> GearEntry | None:
    """The entry after one of the form's row buttons; None where "save" was pressed."""
    rows = changed_rows(entry.controls, do, ControlEntry())
    return None if rows is None else replace(entry, controls=rows)


def _way(into: int | None, at: str) -> OnTheWay | None:
    return None if into is None else OnTheWay(into, COLUMN if at == COLUMN else "form")


def _new_page(
    entry: GearEntry, errors: Mapping[str, str], way: OnTheWay | None = None, back: str = "/gear"
) -> GearFormPage:
    return GearFormPage("New gear", entry, read_so_far(entry.controls), errors, "/gear", back, way=way)


def _edit_page(gear_id: int, entry: GearEntry, errors: Mapping[str, str]) -> GearFormPage:
    drawn = read_so_far(entry.controls)
    return GearFormPage("Edit gear", entry, drawn, errors, f"/gear/{gear_id}/edit", f"/gear/{gear_id}")

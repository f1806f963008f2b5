"""Logging a pass, and its page."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk import passes as desk
from app.desk.gear import ShelfLine, list_gear
from app.desk.pass_drawings import PassDrawings, draw_pass
from app.desk.pass_sheets import PassSheet, read_pass
from app.desk.passes import PassEntry, StepEntry, StepForm
from app.desk.placements import PlacementEntry
from app.desk.refusals import EditedMeanwhile, Refusal
from app.desk.sources import SourceSheet, read_source
from app.library import Library
from app.trade.distances import LengthUnit
from app.web.confirm import ConfirmPage
from app.web.context import LibraryDep, RowId, UnitDep
from app.web.forms import SentForm, entry_from, number_in, whole_number, words
from app.web.pages import NOTHING, PHONE_WIDTH, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class PassPage(Page):
    """`typed` is what stood in a form of the page that was refused, by field."""

    template: ClassVar[str] = "passes/pass.html"

    sheet: PassSheet
    drawings: PassDrawings
    narrow: PassDrawings
    errors: Mapping[str, str]
    typed: Mapping[str, str]


@dataclass(frozen=True)
class PrintsPart(Page):
    """The prints of a pass, asked for again by the page while one is being measured."""

    template: ClassVar[str] = "passes/prints.html"

    sheet: PassSheet
    drawings: PassDrawings
    narrow: PassDrawings


@dataclass(frozen=True)
class PassFormPage(Page):
    """`saved` is the version somebody else saved meanwhile, shown beside one's own."""

    template: ClassVar[str] = "passes/form.html"

    heading: str
    source: SourceSheet
    entry: PassEntry
    steps: tuple[StepForm, ...]
    shelf: tuple[ShelfLine, ...]
    errors: Mapping[str, str]
    action: str
    back: str
    saved: PassSheet | None = None


@router.get("/sources/{source_id}/passes/new")
def next_pass(
    request: Request, library: LibraryDep, unit: UnitDep, source_id: RowId, like: RowId | None = None
) -> Response:
    entry = desk.entry_for_next(library, source_id, like, unit=unit)
    return show(request, _new_page(library, source_id, entry, NOTHING))


@router.post("/sources/{source_id}/passes")
def log_pass(
    request: Request, library: LibraryDep, form: SentForm, unit: UnitDep, source_id: RowId
) -> Response:
    entry = _entry(form)
    try:
        changed = _changed_chain(library, entry, form)
        if changed is not None:
            return show(request, _new_page(library, source_id, changed, NOTHING))
        pass_id = desk.log_pass(library, source_id, entry, unit=unit)
    except Refusal as refusal:
        return show(request, _new_page(library, source_id, entry, refusal.sentences), status_code=422)
    return go_to(f"/passes/{pass_id}")


@router.get("/passes/{pass_id}")
def show_pass(request: Request, library: LibraryDep, unit: UnitDep, pass_id: RowId) -> Response:
    return show(request, pass_page(library, pass_id, unit))


@router.get("/passes/{pass_id}/prints")
def show_prints(request: Request, library: LibraryDep, unit: UnitDep, pass_id: RowId) -> Response:
    sheet = read_pass(library, pass_id)
    return show(request, PrintsPart(sheet, *_drawings(sheet, unit)))


@router.get("/passes/{pass_id}/edit")
def edit_pass(request: Request, library: LibraryDep, unit: UnitDep, pass_id: RowId) -> Response:
    entry = desk.entry_of(library, pass_id, unit=unit)
    return show(request, _edit_page(library, read_pass(library, pass_id), entry, NOTHING))


@router.post("/passes/{pass_id}/edit")
def save_pass(
    request: Request, library: LibraryDep, form: SentForm, unit: UnitDep, pass_id: RowId
) -> Response:
    entry = _entry(form)
    sheet = read_pass(library, pass_id)
    try:
        changed = _changed_chain(library, entry, form)
        if changed is not None:
            return show(request, _edit_page(library, sheet, changed, NOTHING))
        desk.edit_pass(library, pass_id, entry, unit=unit)
    except EditedMeanwhile as refusal:
        page = _edit_page(library, sheet, replace(entry, revision=int(refusal.saved)), refusal.sentences)
        return show(request, replace(page, saved=read_pass(library, pass_id)), status_code=409)
    except Refusal as refusal:
        return show(request, _edit_page(library, sheet, entry, refusal.sentences), status_code=422)
    return go_to(f"/passes/{pass_id}")


@router.get("/passes/{pass_id}/delete")
def ask_to_delete(request: Request, library: LibraryDep, pass_id: RowId) -> Response:
    sheet = read_pass(library, pass_id)
    page = ConfirmPage(
        f"Delete pass {sheet.number} of {sheet.source_name}?",
        "Its settings, notes, photos and prints leave the log. This cannot be undone here; a backup would still "
        "have them.",
        "Delete the pass",
        f"/passes/{pass_id}/delete",
        f"/passes/{pass_id}",
    )
    return show(request, page)


@router.post("/passes/{pass_id}/delete")
def delete_pass(library: LibraryDep, pass_id: RowId) -> Response:
    return go_to(f"/sources/{desk.delete_pass(library, pass_id)}")


def pass_page(
    library: Library,
    pass_id: int,
    unit: LengthUnit,
    errors: Mapping[str, str] = NOTHING,
    typed: Mapping[str, str] = NOTHING,
) -> PassPage:
    sheet = read_pass(library, pass_id)
    return PassPage(sheet, *_drawings(sheet, unit), errors, typed)


def _drawings(sheet: PassSheet, unit: LengthUnit) -> tuple[PassDrawings, PassDrawings]:
    """For the half of a desk's page, and for a phone."""
    return draw_pass(sheet, unit=unit, width=520), draw_pass(sheet, unit=unit, width=PHONE_WIDTH)


def _entry(form: SentForm) -> PassEntry:
    """The pass form as sent: its steps are numbered, and each control's reading is named by the control's id."""
    readings_of: dict[str, dict[int, str]] = {}
    for key in form:
        step, _, control = key.rpartition("-control-")
        control_id = number_in(control)
        if step and control_id is not None:
            readings_of.setdefault(step, {})[control_id] = words(form, key)
    steps = []
    for index in range(desk.STEPS_LIMIT + 1):
        gear_id = whole_number(form, f"steps-{index}-gear")
        layout_id = whole_number(form, f"steps-{index}-layout")
        if gear_id is None or layout_id is None:
            break
        placement = None
        if f"steps-{index}-distance" in form:
            placement = entry_from(form, PlacementEntry, f"steps-{index}-")
        branch = words(form, f"steps-{index}-branch")
        readings = readings_of.get(f"steps-{index}", {})
        steps.append(StepEntry(gear_id, layout_id, branch, readings, placement))
    return PassEntry(
        words(form, "title"),
        words(form, "notes"),
        words(form, "hook_up"),
        words(form, "levels"),
        tuple(steps),
        whole_number(form, "revision") or 0,
        whole_number(form, "like") or 0,
    )


def _changed_chain(library: Library, entry: PassEntry, form: SentForm) -> PassEntry | None:
    """The entry after one of the chain's buttons; None where "save" was pressed."""
    action, _, number = words(form, "do").partition("-")
    index = number_in(number)
    if action == "add":
        gear_id = whole_number(form, "add_gear")
        if gear_id is None:
            raise Refusal({"add_gear": "Choose a piece of gear from the list first."})
        return desk.with_gear(library, entry, gear_id)
    if index is None:
        return None
    if action == "remove":
        return desk.without_step(entry, index)
    if action in ("up", "down"):
        return desk.with_step_moved(entry, index, -1 if action == "up" else 1)
    return None


def _new_page(library: Library, source_id: int, entry: PassEntry, errors: Mapping[str, str]) -> PassFormPage:
    source = read_source(library, source_id)
    return PassFormPage(
        "Next pass",
        source,
        entry,
        desk.step_forms(library, entry),
        _shelf(library, entry),
        errors,
        f"/sources/{source_id}/passes",
        f"/sources/{source_id}",
    )


def _edit_page(
    library: Library, sheet: PassSheet, entry: PassEntry, errors: Mapping[str, str]
) -> PassFormPage:
    return PassFormPage(
        f"Edit pass {sheet.number}",
        read_source(library, sheet.source_id),
        entry,
        desk.step_forms(library, entry),
        _shelf(library, entry),
        errors,
        f"/passes/{sheet.pass_id}/edit",
        f"/passes/{sheet.pass_id}",
    )


def _shelf(library: Library, entry: PassEntry) -> tuple[ShelfLine, ...]:
    """What could still be added to the chain."""
    in_chain = {step.gear_id for step in entry.steps}
    return tuple(line for line in list_gear(library) if not line.is_retired and line.gear_id not in in_chain)

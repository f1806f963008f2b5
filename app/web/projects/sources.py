"""A source track: its page holds the settings ledger of all its passes."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.listening.blind import BlindSheet, TestSheet, read_blind_choices, read_tests
from app.desk.passes.drafts import DraftLine, list_drafts
from app.desk.passes.pass_sheets import read_passes_of_source
from app.desk.projects import sources as desk
from app.desk.projects.ears import EarsLine, ears_today
from app.desk.projects.projects import read_project
from app.desk.projects.sources import SourceEntry, SourceSheet
from app.desk.refusals import Refusal
from app.drawings.strip import strip
from app.drawings.svg import Drawing
from app.drawings.waveform import waveform
from app.library import Readable
from app.web.confirm import ConfirmPage, way_back
from app.web.context import LibraryDep, MeasuringDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, entry_from, files
from app.web.pages import NOTHING, PHONE_WIDTH, Page, counted, go_to, show
from app.web.passes.ledger import LedgerSheet, ViewDep, draft_at_hand, read_ledger

router = APIRouter()


@dataclass(frozen=True)
class SourcePage(Page):
    template: ClassVar[str] = "projects/source.html"

    source: SourceSheet
    overview: Drawing | None
    overview_narrow: Drawing | None
    strip: Drawing | None
    sheet: LedgerSheet
    unsaved: list[DraftLine]
    ears_line: EarsLine | None
    blind_choices: list[BlindSheet]
    tests: list[TestSheet]


@dataclass(frozen=True)
class SourceMeasuresPart(Page):
    """What is measured of the source, asked for again by the page until it is there."""

    template: ClassVar[str] = "projects/source_measures_part.html"

    source: SourceSheet
    overview: Drawing | None
    overview_narrow: Drawing | None
    strip: Drawing | None


@dataclass(frozen=True)
class SourceFormPage(Page):
    template: ClassVar[str] = "projects/source_form.html"

    heading: str
    entry: SourceEntry
    errors: Mapping[str, str]
    file_name: str
    action: str
    back: str


@router.get("/projects/{project_id}/sources/new")
def new_source(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    read_project(library, project_id)
    return show(request, _new_page(project_id, SourceEntry(), NOTHING))


@router.post("/projects/{project_id}/sources")
def create_source(
    request: Request, library: LibraryDep, measuring: MeasuringDep, form: SentForm, project_id: RowId
) -> Response:
    entry = entry_from(form, SourceEntry)
    try:
        source_id = desk.create_source(library, project_id, entry, next(iter(files(form, "file")), None))
    except Refusal as refusal:
        return show(request, _new_page(project_id, entry, refusal.sentences), status_code=422)
    measuring.wake()
    return go_to(f"/sources/{source_id}")


@router.get("/sources/{source_id}")
def show_source(
    request: Request,
    library: LibraryDep,
    unit: UnitDep,
    view: ViewDep,
    like: RowId | None = None,
) -> Response:
    draft = draft_at_hand(library, view, like=like, unit=unit)
    with library.snapshot() as snapshot:
        source = desk.read_source(snapshot, view.source_id)
        page = SourcePage(
            source,
            *_overviews(source),
            _strip(source),
            read_ledger(snapshot, source, view, draft, unit=unit),
            [
                line
                for line in list_drafts(snapshot, [view.source_id])
                if line.pass_id is not None or not draft
            ],
            ears_today(snapshot, source.project_id),
            *_heard_blind(snapshot, view.source_id),
        )
    return show(request, page)


@router.get("/sources/{source_id}/measures")
def show_measures(request: Request, library: SnapshotDep, source_id: RowId) -> Response:
    source = desk.read_source(library, source_id)
    return show(request, SourceMeasuresPart(source, *_overviews(source), _strip(source)))


def _strip(source: SourceSheet) -> Drawing | None:
    figures = source.measured.figures
    return None if figures is None else strip(figures.overview.columns, height=28)


@router.get("/sources/{source_id}/edit")
def edit_source(request: Request, library: SnapshotDep, source_id: RowId) -> Response:
    source = desk.read_source(library, source_id)
    return show(request, _edit_page(source, source.entry, NOTHING))


@router.post("/sources/{source_id}/edit")
def save_source(
    request: Request, library: LibraryDep, measuring: MeasuringDep, form: SentForm, source_id: RowId
) -> Response:
    entry = entry_from(form, SourceEntry)
    try:
        desk.edit_source(library, source_id, entry, next(iter(files(form, "file")), None))
    except Refusal as refusal:
        source = desk.read_source(library, source_id)
        return show(request, _edit_page(source, entry, refusal.sentences), status_code=422)
    measuring.wake()
    return go_to(f"/sources/{source_id}")


@router.post("/sources/{source_id}/measure-again")
def measure_again(library: LibraryDep, measuring: MeasuringDep, source_id: RowId) -> Response:
    desk.measure_source_again(library, source_id)
    measuring.wake()
    return go_to(f"/sources/{source_id}")


@router.get("/sources/{source_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, source_id: RowId) -> Response:
    source = desk.read_source(library, source_id)
    passes = len(read_passes_of_source(library, source_id))
    page = ConfirmPage(
        f"Delete {source.name}?",
        f"{counted(passes, 'pass', 'passes')} with settings, notes and prints leave the log with it. "
        + way_back(library.folder),
        "Delete the source track",
        f"/sources/{source_id}/delete",
        f"/sources/{source_id}",
    )
    return show(request, page)


@router.post("/sources/{source_id}/delete")
def delete_source(library: LibraryDep, measuring: MeasuringDep, source_id: RowId) -> Response:
    project_id = desk.delete_source(library, source_id)
    measuring.wake()  # a pass of it may have been what all measuring waited for
    return go_to(f"/projects/{project_id}")


def _heard_blind(library: Readable, source_id: int) -> tuple[list[BlindSheet], list[TestSheet]]:
    return read_blind_choices(library, [source_id]), read_tests(library, [source_id])


def _overviews(source: SourceSheet) -> tuple[Drawing | None, Drawing | None]:
    """For the half of a desk's page, and for a phone."""
    figures = source.measured.figures
    if figures is None:
        return None, None
    columns, duration_s = figures.overview.columns, figures.file.duration_s
    return waveform(columns, duration_s, width=520), waveform(columns, duration_s, width=PHONE_WIDTH)


def _new_page(project_id: int, entry: SourceEntry, errors: Mapping[str, str]) -> SourceFormPage:
    here = f"/projects/{project_id}"
    return SourceFormPage("Bring in a source track", entry, errors, "", f"{here}/sources", here)


def _edit_page(source: SourceSheet, entry: SourceEntry, errors: Mapping[str, str]) -> SourceFormPage:
    here = f"/sources/{source.source_id}"
    return SourceFormPage("Edit source track", entry, errors, source.file_name, f"{here}/edit", here)

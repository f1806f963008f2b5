"""Reference signals: made for a project, printed through a pass's chain and through recalls of it, and what they tell."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from app.desk.files.stored_files import FileAway, path_of
from app.desk.projects.projects import ProjectSheet, read_project
from app.desk.recall import references as desk
from app.desk.recall.reference_drawings import ReferenceDrawings, draw_references
from app.desk.recall.references import ReferenceEntry, ReferencesSheet, SignalSheet
from app.desk.recall.runs import pass_of
from app.desk.refusals import NotThere, Refusal
from app.library import Library, Readable
from app.trade.cautions import Caution, Piece, Spot, cautions_for
from app.web.confirm import ConfirmPage
from app.web.context import LibraryDep, MeasuringDep, RowId, SnapshotDep
from app.web.forms import SentForm, entry_from, files, whole_number
from app.web.pages import NOTHING, PHONE_WIDTH, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class SignalsPage(Page):
    template: ClassVar[str] = "recall/signals.html"

    project: ProjectSheet
    signals: tuple[SignalSheet, ...]
    entry: ReferenceEntry
    cautions: tuple[Caution, ...]
    errors: Mapping[str, str]


@dataclass(frozen=True)
class ReferencesPage(Page):
    """Of a pass, or of a recall of it."""

    template: ClassVar[str] = "recall/references.html"

    references: ReferencesSheet
    drawn: ReferenceDrawings | None
    drawn_narrow: ReferenceDrawings | None
    cautions: tuple[Caution, ...]
    errors: Mapping[str, str]


@dataclass(frozen=True)
class FoundPart(Page):
    """What the prints told, asked for again by the page while one is being measured."""

    template: ClassVar[str] = "recall/reference_found.html"

    references: ReferencesSheet
    drawn: ReferenceDrawings | None
    drawn_narrow: ReferenceDrawings | None


@router.get("/projects/{project_id}/reference")
def show_signals(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    return show(request, _signals_page(library, project_id, ReferenceEntry()))


@router.post("/projects/{project_id}/reference")
def make_signal(request: Request, library: LibraryDep, form: SentForm, project_id: RowId) -> Response:
    entry = entry_from(form, ReferenceEntry)
    try:
        desk.make_reference(library, project_id, entry)
    except Refusal as refusal:
        page = _signals_page(library, project_id, entry, refusal.sentences)
        return show(request, page, status_code=422)
    return go_to(f"/projects/{project_id}/reference#made")


@router.get("/references/{reference_id}.wav")
def download(library: SnapshotDep, reference_id: RowId) -> Response:
    signal = desk.read_signal(library, reference_id)
    try:
        path = path_of(library, signal.sha256)
    except FileAway as away:
        raise NotThere("reference signal's file", str(away)) from None
    return FileResponse(path, media_type="audio/wav", filename=signal.file_name)


@router.get("/references/{reference_id}/delete")
def ask_to_delete_signal(request: Request, library: SnapshotDep, reference_id: RowId) -> Response:
    signal = desk.read_signal(library, reference_id)
    page = ConfirmPage(
        "Delete this reference signal?",
        "What came back of it through passes and recalls, and what was measured of that, leave the log with it.",
        "Delete the signal",
        f"/references/{reference_id}/delete",
        f"/projects/{signal.project_id}/reference",
    )
    return show(request, page)


@router.post("/references/{reference_id}/delete")
def delete_signal(library: LibraryDep, reference_id: RowId) -> Response:
    return go_to(f"/projects/{desk.delete_signal(library, reference_id)}/reference")


@router.get("/passes/{pass_id}/reference")
def show_pass_references(request: Request, library: SnapshotDep, pass_id: RowId) -> Response:
    return show(request, _references_page(library, pass_id))


@router.get("/recalls/{recall_id}/reference")
def show_recall_references(request: Request, library: SnapshotDep, recall_id: RowId) -> Response:
    return show(request, _references_page(library, pass_of(library, recall_id), recall_id))


@router.get("/passes/{pass_id}/reference/found")
def found_of_pass(request: Request, library: SnapshotDep, pass_id: RowId) -> Response:
    return show(request, _found(library, pass_id))


@router.get("/recalls/{recall_id}/reference/found")
def found_of_recall(request: Request, library: SnapshotDep, recall_id: RowId) -> Response:
    return show(request, _found(library, pass_of(library, recall_id), recall_id))


@router.post("/passes/{pass_id}/reference")
def attach_to_pass(
    request: Request, library: LibraryDep, measuring: MeasuringDep, form: SentForm, pass_id: RowId
) -> Response:
    return _attach(request, library, measuring, form, pass_id)


@router.post("/recalls/{recall_id}/reference")
def attach_to_recall(
    request: Request, library: LibraryDep, measuring: MeasuringDep, form: SentForm, recall_id: RowId
) -> Response:
    return _attach(request, library, measuring, form, pass_of(library, recall_id), recall_id)


@router.post("/reference-prints/{print_id}/delete")
def delete_print(library: LibraryDep, print_id: RowId) -> Response:
    pass_id, recall_id = desk.delete_reference_print(library, print_id)
    return go_to(_address(pass_id, recall_id))


@router.get("/reference-prints/{print_id}/delete")
def ask_to_delete_print(request: Request, library: SnapshotDep, print_id: RowId) -> Response:
    row = desk.read_reference_print(library, print_id)
    page = ConfirmPage(
        f"Remove {row.file_name}?",
        "What it told of the chain leaves the log.",
        "Remove it",
        f"/reference-prints/{print_id}/delete",
        _address(row.pass_id, row.recall_id),
    )
    return show(request, page)


def _attach(
    request: Request,
    library: Library,
    measuring: MeasuringDep,
    form: SentForm,
    pass_id: int,
    recall_id: int | None = None,
) -> Response:
    chosen = files(form, "file")
    try:
        if not chosen:
            raise Refusal({"file": "Choose the file that came back first."})
        for name, stream in chosen:
            reference_id = whole_number(form, "reference")
            desk.attach_reference(library, pass_id, reference_id, name, stream, recall_id=recall_id)
    except Refusal as refusal:
        page = _references_page(library, pass_id, recall_id, refusal.sentences)
        return show(request, page, status_code=422)
    measuring.wake()
    return go_to(_address(pass_id, recall_id))


def _address(pass_id: int, recall_id: int | None) -> str:
    return f"/passes/{pass_id}/reference" if recall_id is None else f"/recalls/{recall_id}/reference"


def _signals_page(
    library: Readable, project_id: int, entry: ReferenceEntry, errors: Mapping[str, str] = NOTHING
) -> SignalsPage:
    return SignalsPage(
        read_project(library, project_id),
        desk.list_signals(library, project_id),
        entry,
        _cautions(),
        errors,
    )


def _references_page(
    library: Readable, pass_id: int, recall_id: int | None = None, errors: Mapping[str, str] = NOTHING
) -> ReferencesPage:
    found = _found(library, pass_id, recall_id)
    return ReferencesPage(found.references, found.drawn, found.drawn_narrow, _cautions(), errors)


def _found(library: Readable, pass_id: int, recall_id: int | None = None) -> FoundPart:
    sheet = desk.read_references(library, pass_id, recall_id)
    return FoundPart(sheet, draw_references(sheet, width=1080), draw_references(sheet, width=PHONE_WIDTH))


def _cautions() -> tuple[Caution, ...]:
    """A sweep goes through whatever amp and speaker there are."""
    spots: tuple[Spot, ...] = ("reference_signal",)
    return cautions_for([Piece("amp"), Piece("cabinet")], spots)

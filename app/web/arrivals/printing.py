"""How prints come in: the folders that the DAW records into, the names of its tracks, and a pass that waits."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.arrivals import printing as desk
from app.desk.arrivals import watched_folders
from app.desk.arrivals.printing import PrintingEntry
from app.desk.arrivals.track_names import WORDS
from app.desk.arrivals.watched_folders import FolderEntry, FolderLine
from app.desk.projects.projects import read_project
from app.desk.refusals import Refusal
from app.library import Readable
from app.web.confirm import ConfirmPage
from app.web.context import FoldersDep, LibraryDep, MeasuringDep, RowId, SnapshotDep
from app.web.forms import SentForm, entry_from
from app.web.pages import NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class PrintingPage(Page):
    """`words` can stand in the pattern of the names."""

    template: ClassVar[str] = "arrivals/printing.html"

    project_id: int
    project_title: str
    folders: list[FolderLine]
    folder: FolderEntry
    entry: PrintingEntry
    errors: Mapping[str, str]
    words: tuple[str, ...] = WORDS


@router.get("/projects/{project_id}/printing")
def show_printing(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    return show(request, _page(library, project_id))


@router.post("/projects/{project_id}/printing")
def save_printing(
    request: Request, library: LibraryDep, measuring: MeasuringDep, form: SentForm, project_id: RowId
) -> Response:
    entry = entry_from(form, PrintingEntry)
    try:
        desk.set_printing(library, project_id, entry)
    except Refusal as refusal:
        page = _page(library, project_id, entry=entry, errors=refusal.sentences)
        return show(request, page, status_code=422)
    measuring.wake()
    return go_to(f"/projects/{project_id}/printing")


@router.post("/projects/{project_id}/folders")
def add_folder(
    request: Request, library: LibraryDep, folders: FoldersDep, form: SentForm, project_id: RowId
) -> Response:
    folder = entry_from(form, FolderEntry)
    try:
        watched_folders.add_folder(library, project_id, folder)
    except Refusal as refusal:
        page = _page(library, project_id, folder=folder, errors=refusal.sentences)
        return show(request, page, status_code=422)
    folders.look_soon()
    return go_to(f"/projects/{project_id}/printing")


@router.get("/folders/{folder_id}/delete")
def ask_to_remove(request: Request, library: SnapshotDep, folder_id: RowId) -> Response:
    folder = watched_folders.read_folder(library, folder_id)
    page = ConfirmPage(
        "Watch this folder no more?",
        f"{folder.path} stays as it is, and so does everything that was filed from it. What still stands on the "
        "inbox from there leaves it.",
        "Watch it no more",
        f"/folders/{folder_id}/delete",
        f"/projects/{folder.project_id}/printing",
    )
    return show(request, page)


@router.post("/folders/{folder_id}/delete")
def remove_folder(library: LibraryDep, folders: FoldersDep, folder_id: RowId) -> Response:
    project_id = watched_folders.remove_folder(library, folder_id)
    folders.look_soon()
    return go_to(f"/projects/{project_id}/printing")


@router.post("/passes/{pass_id}/wait")
def wait_for_print(library: LibraryDep, folders: FoldersDep, pass_id: RowId) -> Response:
    desk.wait_for_print(library, pass_id)
    folders.look_soon()
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/passes/{pass_id}/call-off")
def call_off(library: LibraryDep, measuring: MeasuringDep, pass_id: RowId) -> Response:
    desk.call_off(library, pass_id)
    measuring.wake()
    return go_to(f"/passes/{pass_id}#prints")


def _page(
    library: Readable,
    project_id: int,
    *,
    folder: FolderEntry | None = None,
    entry: PrintingEntry | None = None,
    errors: Mapping[str, str] = NOTHING,
) -> PrintingPage:
    return PrintingPage(
        project_id,
        read_project(library, project_id).title,
        watched_folders.list_folders(library, project_id),
        folder or FolderEntry(),
        entry or desk.printing_entry(library, project_id),
        errors,
    )

"""Projects: the first page, and one page for each."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.arrivals.inbox import count_open
from app.desk.passes.drafts import DraftLine, list_drafts
from app.desk.projects import projects as desk
from app.desk.projects.ears import EarsLine, ears_today
from app.desk.projects.projects import SAMPLE_RATES, ProjectEntry, ProjectLine, ProjectSheet
from app.desk.projects.sources import begin_session
from app.desk.recall.runs import OpenRecall, list_open_recalls
from app.desk.refusals import Refusal
from app.desk.safekeeping.full_copies import LastCopy, last_copy
from app.web.confirm import ConfirmPage, way_back
from app.web.context import FoldersDep, LibraryDep, MeasuringDep, RowId, SnapshotDep
from app.web.forms import SentForm, entry_from, files
from app.web.pages import NOTHING, Page, counted, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class ProjectsPage(Page):
    """`last` is the last full copy of the library elsewhere, None where none is known."""

    template: ClassVar[str] = "projects/list.html"

    projects: list[ProjectLine]
    last: LastCopy | None
    errors: Mapping[str, str]


@dataclass(frozen=True)
class ProjectPage(Page):
    """`arrived` counts the files on its inbox, None where no folder is watched."""

    template: ClassVar[str] = "projects/project.html"

    project: ProjectSheet
    unsaved: list[DraftLine]
    open_recalls: list[OpenRecall]
    ears_line: EarsLine | None
    arrived: int | None


@dataclass(frozen=True)
class ProjectFormPage(Page):
    template: ClassVar[str] = "projects/form.html"

    heading: str
    entry: ProjectEntry
    errors: Mapping[str, str]
    action: str
    back: str
    sample_rates: tuple[int, ...] = SAMPLE_RATES


@router.get("/")
@router.get("/projects")
def list_projects(request: Request, library: SnapshotDep) -> Response:
    return show(request, ProjectsPage(desk.list_projects(library), last_copy(library.folder), NOTHING))


@router.post("/begin")
def begin(request: Request, library: LibraryDep, measuring: MeasuringDep, form: SentForm) -> Response:
    """A session from its source tracks alone: one is at the first one's ledger at once."""
    try:
        source_id = begin_session(library, files(form, "file"))
    except Refusal as refusal:
        page = ProjectsPage(desk.list_projects(library), last_copy(library.folder), refusal.sentences)
        return show(request, page, status_code=422)
    measuring.wake()
    return go_to(f"/sources/{source_id}?column=open")


@router.get("/projects/new")
def new_project(request: Request) -> Response:
    return show(request, ProjectFormPage("New project", ProjectEntry(), NOTHING, "/projects", "/projects"))


@router.post("/projects")
def create_project(request: Request, library: LibraryDep, form: SentForm) -> Response:
    entry = entry_from(form, ProjectEntry)
    try:
        project_id = desk.create_project(library, entry)
    except Refusal as refusal:
        page = ProjectFormPage("New project", entry, refusal.sentences, "/projects", "/projects")
        return show(request, page, status_code=422)
    return go_to(f"/projects/{project_id}")


@router.get("/projects/{project_id}")
def show_project(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    project = desk.read_project(library, project_id)
    return show(
        request,
        ProjectPage(
            project,
            list_drafts(library, [source.source_id for source in project.sources]),
            list_open_recalls(library, project_id),
            ears_today(library, project_id),
            count_open(library, project_id),
        ),
    )


@router.get("/projects/{project_id}/edit")
def edit_project(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    here = f"/projects/{project_id}"
    entry = desk.project_entry(library, project_id)
    return show(request, ProjectFormPage("Edit project", entry, NOTHING, f"{here}/edit", here))


@router.post("/projects/{project_id}/edit")
def save_project(request: Request, library: LibraryDep, form: SentForm, project_id: RowId) -> Response:
    here = f"/projects/{project_id}"
    entry = entry_from(form, ProjectEntry)
    try:
        desk.edit_project(library, project_id, entry)
    except Refusal as refusal:
        page = ProjectFormPage("Edit project", entry, refusal.sentences, f"{here}/edit", here)
        return show(request, page, status_code=422)
    return go_to(here)


@router.get("/projects/{project_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    project = desk.read_project(library, project_id)
    sources = len(project.sources)
    passes = sum(source.passes for source in project.sources)
    page = ConfirmPage(
        f"Delete {project.title}?",
        f"{counted(sources, 'source track')} and {counted(passes, 'pass', 'passes')} with their settings and notes "
        "leave the log with it. " + way_back(library.folder),
        "Delete the project",
        f"/projects/{project_id}/delete",
        f"/projects/{project_id}",
    )
    return show(request, page)


@router.post("/projects/{project_id}/delete")
def delete_project(
    library: LibraryDep, measuring: MeasuringDep, folders: FoldersDep, project_id: RowId
) -> Response:
    desk.delete_project(library, project_id)
    measuring.wake()  # a pass of it may have been what all measuring waited for
    folders.look_soon()
    return go_to("/projects")

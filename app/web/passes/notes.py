"""Notes, ratings and tags, the name of a chain, and the time line on which all that happened stands."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.passes import kept_chains
from app.desk.passes import notes as desk
from app.desk.passes.notes import NoteEntry, RatingEntry
from app.desk.refusals import Refusal
from app.desk.sheets.time_line import TimeLine, read_time_line
from app.library import Readable
from app.web.context import LibraryDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, entry_from, words
from app.web.pages import NOTHING, Page, go_to, show
from app.web.passes.passes import pass_page

router = APIRouter()


@dataclass(frozen=True)
class TimeLinePage(Page):
    """`typed` is what stood in a note's form that was refused."""

    template: ClassVar[str] = "projects/time_line.html"

    line: TimeLine
    errors: Mapping[str, str]
    typed: Mapping[str, str]


@router.get("/projects/{project_id}/timeline")
def show_time_line(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    return show(request, _page(library, project_id))


@router.post("/projects/{project_id}/notes")
def note_project(request: Request, library: LibraryDep, form: SentForm, project_id: RowId) -> Response:
    entry = entry_from(form, NoteEntry)
    try:
        desk.note_project(library, project_id, entry)
    except Refusal as refusal:
        return show(request, _page(library, project_id, refusal.sentences, asdict(entry)), status_code=422)
    return go_to(f"/projects/{project_id}/timeline")


@router.post("/passes/{pass_id}/notes")
def note_pass(
    request: Request, library: LibraryDep, unit: UnitDep, form: SentForm, pass_id: RowId
) -> Response:
    entry = entry_from(form, NoteEntry)
    try:
        desk.note_pass(library, pass_id, entry)
    except Refusal as refusal:
        page = pass_page(library, pass_id, unit, refusal.sentences, asdict(entry))
        return show(request, page, status_code=422)
    return go_to(f"/passes/{pass_id}#notes")


@router.post("/notes/{note_id}/delete")
def delete_note(library: LibraryDep, note_id: RowId) -> Response:
    project_id, pass_id = desk.delete_note(library, note_id)
    return go_to(f"/projects/{project_id}/timeline" if pass_id is None else f"/passes/{pass_id}#notes")


@router.post("/passes/{pass_id}/rating")
def rate_pass(
    request: Request, library: LibraryDep, unit: UnitDep, form: SentForm, pass_id: RowId
) -> Response:
    entry = entry_from(form, RatingEntry)
    try:
        desk.rate_pass(library, pass_id, entry)
    except Refusal as refusal:
        page = pass_page(library, pass_id, unit, refusal.sentences, asdict(entry))
        return show(request, page, status_code=422)
    return go_to(f"/passes/{pass_id}#rating")


@router.post("/passes/{pass_id}/chain")
def keep_chain(
    request: Request, library: LibraryDep, unit: UnitDep, form: SentForm, pass_id: RowId
) -> Response:
    name = words(form, "chain_name")
    try:
        kept_chains.keep_chain(library, pass_id, name)
    except Refusal as refusal:
        page = pass_page(library, pass_id, unit, refusal.sentences, {"chain_name": name})
        return show(request, page, status_code=422)
    return go_to(f"/passes/{pass_id}")


def _page(
    library: Readable,
    project_id: int,
    errors: Mapping[str, str] = NOTHING,
    typed: Mapping[str, str] = NOTHING,
) -> TimeLinePage:
    return TimeLinePage(read_time_line(library, project_id), errors, typed)

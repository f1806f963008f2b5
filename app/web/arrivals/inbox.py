"""The inbox of a project: files that arrived from its DAW, each with one button for what it is."""

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.arrivals import filing, photo_filing
from app.desk.arrivals import inbox as desk
from app.desk.arrivals.inbox import ArrivalLine, InboxSheet, Offer, SourceChoice
from app.desk.passes.drafts import read_draft
from app.desk.photos.panel_readings import have_read
from app.desk.projects.projects import read_project
from app.desk.recall.tries import take_arrival
from app.desk.wording import number_in
from app.web.context import FoldersDep, LibraryDep, MeasuringDep, ReaderDep, RowId, SnapshotDep
from app.web.forms import SentForm, whole_number
from app.web.pages import NOT_KEPT, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class InboxPage(Page):
    template: ClassVar[str] = "arrivals/inbox.html"

    sheet: InboxSheet


@dataclass(frozen=True)
class InboxPart(Page):
    """What stands on the inbox, asked for again by the page."""

    template: ClassVar[str] = "arrivals/list.html"

    sheet: InboxSheet


@dataclass(frozen=True)
class OfferPage(Page):
    """Every place an arrival could go."""

    template: ClassVar[str] = "arrivals/offer.html"

    project_id: int
    project_title: str
    offer: Offer
    sources: tuple[SourceChoice, ...]


@dataclass(frozen=True)
class LeftPage(Page):
    """The files that were left alone. `shown` of `count` stand on the page."""

    template: ClassVar[str] = "arrivals/left.html"

    project_id: int
    project_title: str
    shown: tuple[ArrivalLine, ...]
    count: int


@router.get("/projects/{project_id}/inbox")
def show_inbox(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    return show(request, InboxPage(desk.read_inbox(library, project_id)))


@router.get("/projects/{project_id}/inbox/list")
def show_list(request: Request, library: SnapshotDep, project_id: RowId, seen: str = "") -> Response:
    """Nothing, where the page shows all there is: what a person is about to press stays where it stands."""
    sheet = desk.read_inbox(library, project_id)
    return Response(status_code=204) if seen == sheet.token else show(request, InboxPart(sheet))


@router.get("/projects/{project_id}/inbox/left")
def show_left(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    shown, count = desk.read_left(library, project_id)
    return show(request, LeftPage(project_id, read_project(library, project_id).title, shown, count))


@router.post("/projects/{project_id}/inbox/bring-in")
def bring_in(library: LibraryDep, folders: FoldersDep, form: SentForm, project_id: RowId) -> Response:
    chosen = [number_in(value) for value in form.getlist("arrival") if isinstance(value, str)]
    filing.bring_in(library, project_id, [number for number in chosen if number is not None])
    folders.look_soon()
    return go_to(f"/projects/{project_id}/inbox")


@router.post("/projects/{project_id}/inbox/leave-all")
def leave_all(library: LibraryDep, project_id: RowId) -> Response:
    desk.leave_all(library, project_id)
    return go_to(f"/projects/{project_id}/inbox")


@router.get("/arrivals/{arrival_id}")
def show_offer(request: Request, library: SnapshotDep, arrival_id: RowId) -> Response:
    project_id, offer, sources = desk.read_offer(library, arrival_id)
    title = read_project(library, project_id).title
    return show(request, OfferPage(project_id, title, offer, sources))


@router.post("/arrivals/{arrival_id}/file")
def file_arrival(library: LibraryDep, measuring: MeasuringDep, form: SentForm, arrival_id: RowId) -> Response:
    """A try of the recall that the form names, or a print of the pass, or of a new pass like the source's last; "of-12"
    names the gear that arrival 12 came back from."""
    gear_of = {
        number: whole_number(form, name)
        for name in form
        if (number := number_in(name.removeprefix("of-"))) is not None
    }
    pass_id, source_id = whole_number(form, "pass_id"), whole_number(form, "source_id")
    recall_id = whole_number(form, "recall_id")
    if recall_id is not None:
        take_arrival(library, recall_id, arrival_id)
        measuring.wake()
        return go_to(f"/recalls/{recall_id}?stage=check#tries")
    if pass_id is not None:
        filing.file_under(library, arrival_id, pass_id, gear_of)
    else:
        pass_id = desk.file_as_new_pass(library, arrival_id, source_id or 0, gear_of)
    measuring.wake()
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/arrivals/{arrival_id}/photo")
def file_picture(library: LibraryDep, reader: ReaderDep, form: SentForm, arrival_id: RowId) -> Response:
    """A picture becomes a photo of the pass that the form names, or of the next pass of the source."""
    pass_id = whole_number(form, "pass_id")
    if pass_id is not None:
        photo_filing.give_to_pass(library, arrival_id, pass_id)
        return go_to(f"/passes/{pass_id}#photos")
    source_id = whole_number(form, "source_id") or 0
    draft_id = photo_filing.give_to_next(library, arrival_id, source_id)
    if have_read(library, draft_id):
        reader.wake()
    return go_to(f"/sources/{source_id}/passes/new#draft-photos")


@router.get("/arrivals/{arrival_id}/thumbnail.jpg")
def thumbnail(library: SnapshotDep, arrival_id: RowId) -> Response:
    picture = photo_filing.thumbnail_of(library, arrival_id)
    return Response(picture, media_type="image/jpeg", headers=NOT_KEPT)


@router.post("/draft-photos/{photo_id}/take-off")
def take_off(library: LibraryDep, photo_id: RowId) -> Response:
    """Here, for it may stand on the inbox again."""
    sheet = read_draft(library, photo_filing.take_off(library, photo_id))
    return go_to(f"{sheet.address}#draft-photos")


@router.post("/arrivals/{arrival_id}/leave")
def leave(library: LibraryDep, arrival_id: RowId) -> Response:
    return go_to(f"/projects/{filing.leave(library, arrival_id)}/inbox")


@router.post("/arrivals/{arrival_id}/part")
def part(library: LibraryDep, arrival_id: RowId) -> Response:
    return go_to(f"/projects/{filing.part(library, arrival_id)}/inbox")

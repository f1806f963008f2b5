"""The tries of a recall: brought in, compared, judged, drawn."""

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.recall import tries as desk
from app.desk.recall.knobs import explained_by
from app.desk.recall.stages import CHECK
from app.desk.recall.tries import TriesSheet
from app.desk.recall.try_drawings import TryDrawings, draw_tries
from app.desk.refusals import Refusal
from app.library import Readable
from app.web.confirm import ConfirmPage
from app.web.context import LibraryDep, MeasuringDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, files, gather, whole_number, words
from app.web.pages import PHONE_WIDTH, Page, go_to, show
from app.web.recall.runs import recall_page, shown

router = APIRouter()


@dataclass(frozen=True)
class TriesPart(Page):
    """The verdict and its evidence, asked for again by the page while a try is being compared."""

    template: ClassVar[str] = "recall/tries_part.html"

    tries: TriesSheet
    drawn: TryDrawings | None
    drawn_narrow: TryDrawings | None
    by_control: str


@router.get("/recalls/{recall_id}/tries")
def show_tries(request: Request, library: SnapshotDep, recall_id: RowId) -> Response:
    return show(request, tries_part(library, recall_id))


@router.post("/recalls/{recall_id}/tries")
def add_tries(
    request: Request,
    library: LibraryDep,
    measuring: MeasuringDep,
    form: SentForm,
    unit: UnitDep,
    recall_id: RowId,
) -> Response:
    """One or several files, or what arrived in the folder that the DAW records into."""
    refused: dict[str, list[str]] = {}
    original, note = whole_number(form, "original"), words(form, "try-note")
    arrival_id = whole_number(form, "arrival")
    chosen, only = files(form, "file"), shown(words(form, "only"))
    if not chosen and arrival_id is None:
        refused["file"] = ["Choose the file of the seconds that you printed first."]
    for name, stream in chosen:
        try:
            desk.add_try(library, recall_id, name, stream, original_print_id=original, note=note)
        except Refusal as refusal:
            gather(refused, refusal)
    if arrival_id is not None:
        try:
            desk.take_arrival(library, recall_id, arrival_id, original_print_id=original, note=note)
        except Refusal as refusal:
            gather(refused, refusal)
    measuring.wake()
    if refused:
        errors = {field: " ".join(sentences) for field, sentences in refused.items()}
        page = recall_page(library, recall_id, unit, only, CHECK, errors, {"try-note": note})
        return show(request, page, status_code=422)
    return go_to(f"/recalls/{recall_id}?only={only}&stage={CHECK}#tries")


@router.post("/tries/{try_id}/examine-again")
def examine_again(library: LibraryDep, measuring: MeasuringDep, try_id: RowId) -> Response:
    recall_id = desk.examine_again(library, try_id)
    measuring.wake()
    return go_to(f"/recalls/{recall_id}?stage={CHECK}#tries")


@router.get("/tries/{try_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, try_id: RowId) -> Response:
    row = desk.read_try(library, try_id)
    page = ConfirmPage(
        f"Remove {row.file_name} from this recall?",
        "The try and what was found of it leave the log.",
        "Remove the try",
        f"/tries/{try_id}/delete",
        f"/recalls/{row.recall_id}",
    )
    return show(request, page)


@router.post("/tries/{try_id}/delete")
def delete_try(library: LibraryDep, try_id: RowId) -> Response:
    return go_to(f"/recalls/{desk.delete_try(library, try_id)}?stage={CHECK}#tries")


def tries_part(library: Readable, recall_id: int) -> TriesPart:
    tries = desk.read_tries(library, recall_id)
    return TriesPart(
        tries,
        draw_tries(tries, width=1080),
        draw_tries(tries, width=PHONE_WIDTH),
        explained_by(library, tries),
    )

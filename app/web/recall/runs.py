"""Recalls of a pass: their list, and the page from which one is worked through at the amp."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from app.desk.arrivals.inbox import ArrivalLine, open_arrivals
from app.desk.passes.pass_sheets import PassSheet, read_pass
from app.desk.planning.pass_drawings import PassDrawings, draw_pass
from app.desk.recall import runs as desk
from app.desk.recall.knobs import explained_by
from app.desk.recall.runs import RecallLine, RecallSheet
from app.desk.recall.stages import CHECK, Shown, Stage, key_of_gear, stage_at, stages_of
from app.desk.recall.tries import TriesSheet, last_verdicts, tries_of
from app.desk.recall.try_drawings import TryDrawings, draw_tries
from app.desk.refusals import Refusal
from app.desk.wording import number_in
from app.library import Readable
from app.trade.distances import LengthUnit
from app.web.confirm import ConfirmPage
from app.web.context import LibraryDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, whole_number, words
from app.web.pages import NOTHING, PHONE_WIDTH, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class RecallsPage(Page):
    template: ClassVar[str] = "recall/list.html"

    sheet: PassSheet
    recalls: tuple[RecallLine, ...]
    verdicts: Mapping[int, str]
    to_touch: str


@dataclass(frozen=True)
class RecallPage(Page):
    """`typed` is what stood in the form that was refused, by field."""

    template: ClassVar[str] = "recall/recall.html"

    recall: RecallSheet
    showing: Shown
    stages: tuple[Stage, ...]
    stage: str
    drawings: PassDrawings
    narrow: PassDrawings
    tries: TriesSheet
    arrived: tuple[ArrivalLine, ...]
    drawn: TryDrawings | None
    drawn_narrow: TryDrawings | None
    by_control: str
    errors: Mapping[str, str]
    typed: Mapping[str, str]


@router.get("/passes/{pass_id}/recalls")
def list_recalls(request: Request, library: SnapshotDep, unit: UnitDep, pass_id: RowId) -> Response:
    recalls = tuple(desk.list_recalls(library, pass_id))
    sheet = read_pass(library, pass_id)
    to_touch = desk.summary_of(desk.read_gear_to_set(library, sheet, unit=unit))
    return show(request, RecallsPage(sheet, recalls, last_verdicts(library, sheet), to_touch))


@router.post("/passes/{pass_id}/recalls")
def begin(library: LibraryDep, pass_id: RowId) -> Response:
    return go_to(f"/recalls/{desk.begin(library, pass_id)}")


@router.get("/recalls/{recall_id}")
def show_recall(
    request: Request,
    library: SnapshotDep,
    unit: UnitDep,
    recall_id: RowId,
    only: Shown | None = None,
    stage: str = "",
) -> Response:
    return show(request, recall_page(library, recall_id, unit, only, stage))


@router.post("/recalls/{recall_id}/items")
def mark(request: Request, library: LibraryDep, form: SentForm, unit: UnitDep, recall_id: RowId) -> Response:
    """The whole list is one form, so that whatever was noted is kept whichever button is pressed. A page with script
    sends one thing at a time, by its queue, and is told whether it was taken."""
    deviations = {
        key.removeprefix("deviation-"): words(form, key) for key in form if key.startswith("deviation-")
    }
    action, _, what = words(form, "do").partition("-")
    at = words(form, "stage")
    only = shown(words(form, "only"))
    is_told = "application/json" in request.headers.get("accept", "")
    try:
        done = _done_by(library, recall_id, action, what, only)
        desk.mark(library, recall_id, done, deviations, key=words(form, "key"))
        if action == "substitute" and (step_id := number_in(what)) is not None:
            at = key_of_gear(step_id)
            desk.substitute(library, recall_id, step_id, whole_number(form, f"substitute-{step_id}"))
    except Refusal as refusal:
        if is_told:
            return JSONResponse({"refused": refusal.sentences}, status_code=422)
        typed = {key: words(form, key) for key in form}
        at = _stage_of_fields(library, recall_id, only, refusal.sentences) or at
        page = recall_page(library, recall_id, unit, only, at, refusal.sentences, typed)
        return show(request, page, status_code=422)
    if is_told:
        return JSONResponse({})
    if action in ("done", "all") and _is_done(library, recall_id, only, at):
        at = ""
    return go_to(
        f"/recalls/{recall_id}?{urlencode({'only': only, 'stage': at} if at else {'only': only})}#stage"
    )


def _done_by(library: Readable, recall_id: int, action: str, what: str, only: Shown) -> dict[str, bool]:
    """What a button of the list says is done, or is not any more."""
    if action in ("done", "undo"):
        return {what: action == "done"}
    if action == "all":
        stages = stages_of(desk.read_recall(library, recall_id), only)
        return {item.key: True for stage in stages if stage.key == what for item in stage.items}
    return {}


def _is_done(library: Readable, recall_id: int, only: Shown, at: str) -> bool:
    stages = stages_of(desk.read_recall(library, recall_id), only)
    return any(stage.key == at and stage.is_done for stage in stages)


def _stage_of_fields(library: Readable, recall_id: int, only: Shown, refused: Mapping[str, str]) -> str:
    """The stage in which a field was refused: it is the one to show."""
    recall = desk.read_recall(library, recall_id)
    for stage in stages_of(recall, only):
        keys = {stage.key, *(item.key for item in stage.items)}
        if any(field.removeprefix("deviation-") in keys for field in refused):
            return stage.key
    return ""


def shown(said: str) -> Shown:
    return said if said in ("open", "all") else "differences"  # type: ignore[return-value]


@router.post("/recalls/{recall_id}/finish")
def finish(
    request: Request, library: LibraryDep, form: SentForm, unit: UnitDep, recall_id: RowId
) -> Response:
    if words(form, "do") == "open":
        desk.open_again(library, recall_id)
        return go_to(f"/recalls/{recall_id}")
    try:
        desk.finish(library, recall_id, words(form, "note"))
    except Refusal as refusal:
        typed = {"note": words(form, "note")}
        page = recall_page(library, recall_id, unit, "differences", CHECK, refusal.sentences, typed)
        return show(request, page, status_code=422)
    return go_to(f"/recalls/{recall_id}?stage={CHECK}#finish")


@router.get("/recalls/{recall_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, recall_id: RowId) -> Response:
    sheet = read_pass(library, desk.pass_of(library, recall_id))
    page = ConfirmPage(
        f"Delete this recall of pass {sheet.number}?",
        "What was checked off, what was noted and its tries leave the log; the pass and its prints stay.",
        "Delete the recall",
        f"/recalls/{recall_id}/delete",
        f"/recalls/{recall_id}",
    )
    return show(request, page)


@router.post("/recalls/{recall_id}/delete")
def delete_recall(library: LibraryDep, recall_id: RowId) -> Response:
    return go_to(f"/passes/{desk.delete_recall(library, recall_id)}/recalls")


def recall_page(
    library: Readable,
    recall_id: int,
    unit: LengthUnit,
    only: Shown | None = None,
    stage: str = "",
    errors: Mapping[str, str] = NOTHING,
    typed: Mapping[str, str] = NOTHING,
) -> RecallPage:
    """Unless something else is asked for, what differs from how the gear was logged last; all of it where nothing does, for
    somebody may have turned it since."""
    recall = desk.read_recall(library, recall_id, unit=unit)
    if only is None:
        only = "differences" if desk.now_of(recall.gear) else "all"
    stages = stages_of(recall, only)
    tries = tries_of(library, recall_id, recall.sheet)
    return RecallPage(
        recall,
        only,
        stages,
        stage_at(stages, stage or (CHECK if recall.is_finished else "")),
        draw_pass(recall.sheet, unit=unit, width=1080),
        draw_pass(recall.sheet, unit=unit, width=PHONE_WIDTH),
        tries,
        open_arrivals(library, recall.sheet.project_id),
        draw_tries(tries, width=1080),
        draw_tries(tries, width=PHONE_WIDTH),
        explained_by(library, tries),
        errors,
        typed,
    )

"""Attaching prints to a pass and marking keepers."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.arrivals import moving
from app.desk.arrivals.moving import PrintPlaces
from app.desk.passes import keepers
from app.desk.passes.pass_sheets import PassSheet, read_pass
from app.desk.prints import delays, microphones, prints, referred_files, repeats
from app.desk.refusals import Refusal
from app.desk.wording import number_in
from app.library import Readable
from app.web.confirm import ConfirmPage
from app.web.context import LibraryDep, MeasuringDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, files, whole_number, words
from app.web.pages import Page, go_to, show
from app.web.passes.passes import pass_page

router = APIRouter()


@router.post("/passes/{pass_id}/prints")
def attach_prints(
    request: Request,
    library: LibraryDep,
    measuring: MeasuringDep,
    unit: UnitDep,
    form: SentForm,
    pass_id: RowId,
) -> Response:
    """One or several files at once; those that are refused are named, the others are kept."""
    chosen = files(form, "file")
    refused = {"file": ["Choose the audio file of this print first."]}
    if chosen:
        refused = microphones.attach_prints(
            library, pass_id, chosen, step_id=whole_number(form, "step_id"), label=words(form, "label")
        )
    measuring.wake()
    if refused:
        errors = {field: " ".join(sentences) for field, sentences in refused.items()}
        page = pass_page(library, pass_id, unit, errors, {"label": words(form, "label")})
        return show(request, page, status_code=422)
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/prints/{print_id}/edit")
def edit_print(library: LibraryDep, form: SentForm, print_id: RowId) -> Response:
    pass_id = prints.edit_print(
        library, print_id, label=words(form, "label"), step_id=whole_number(form, "step_id")
    )
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/prints/{print_id}/delay")
def say_delay(
    request: Request, library: LibraryDep, unit: UnitDep, form: SentForm, print_id: RowId
) -> Response:
    """Where the print lies against its source, by hand; with an empty field as it was measured."""
    typed = words(form, f"delay-{print_id}")
    try:
        pass_id = delays.say_delay(library, print_id, typed)
    except Refusal as refusal:
        pass_id = prints.read_print(library, print_id).pass_id
        page = pass_page(library, pass_id, unit, refusal.sentences, {f"delay-{print_id}": typed})
        return show(request, page, status_code=422)
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/passes/{pass_id}/microphones")
def say_microphones(
    library: LibraryDep, form: SentForm, pass_id: RowId, at: Literal["pass", "inbox"] = "pass"
) -> Response:
    """Which microphone or return prints of a pass are of: "of-12" names the step of print 12."""
    said = {
        print_id: whole_number(form, name)
        for name in form
        if (print_id := number_in(name.removeprefix("of-"))) is not None
    }
    microphones.say_microphones(library, pass_id, said)
    if at == "inbox":
        return go_to(f"/projects/{read_pass(library, pass_id).project_id}/inbox")
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/prints/{print_id}/measure-again")
def measure_again(library: LibraryDep, measuring: MeasuringDep, print_id: RowId) -> Response:
    pass_id = prints.measure_print_again(library, print_id)
    measuring.wake()
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/prints/{print_id}/look-again")
def look_again(library: LibraryDep, print_id: RowId) -> Response:
    return go_to(f"/passes/{referred_files.look_again(library, print_id)}#prints")


@router.post("/prints/{print_id}/bring-in")
def bring_in(library: LibraryDep, measuring: MeasuringDep, print_id: RowId) -> Response:
    pass_id = referred_files.bring_in(library, print_id)
    measuring.wake()
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/prints/{print_id}/again")
def mark_again(
    request: Request,
    library: LibraryDep,
    measuring: MeasuringDep,
    unit: UnitDep,
    form: SentForm,
    print_id: RowId,
) -> Response:
    """The same settings printed again: of the print that the form names, or of none."""
    try:
        pass_id = repeats.mark_repeat(library, print_id, whole_number(form, "first"))
    except Refusal as refusal:
        pass_id = prints.read_print(library, print_id).pass_id
        return show(request, pass_page(library, pass_id, unit, refusal.sentences), status_code=422)
    measuring.wake()
    return go_to(f"/passes/{pass_id}#prints")


@dataclass(frozen=True)
class MovePage(Page):
    """Every place that a print could go."""

    template: ClassVar[str] = "prints/move.html"

    sheet: PassSheet
    print_id: int
    file_name: str
    places: PrintPlaces
    error: str = ""


@router.get("/prints/{print_id}/move")
def choose_place(request: Request, library: SnapshotDep, print_id: RowId) -> Response:
    return show(request, _move_page(library, print_id))


def _move_page(library: Readable, print_id: int, error: str = "") -> MovePage:
    item = prints.read_print(library, print_id)
    sheet = read_pass(library, item.pass_id)
    return MovePage(sheet, print_id, item.file_name, moving.read_places(library, print_id), error)


@router.post("/prints/{print_id}/move")
def move(
    request: Request,
    library: LibraryDep,
    measuring: MeasuringDep,
    form: SentForm,
    print_id: RowId,
) -> Response:
    """To the pass that the form names ("pass-12"), to a new pass of a source ("source-3"), or back to the inbox."""
    kind, _, number = words(form, "to").partition("-")
    row_id = number_in(number)
    try:
        if kind == "inbox":
            project_id = moving.move_to_inbox(library, print_id)
            measuring.wake()
            return go_to(f"/projects/{project_id}/inbox")
        if row_id is None or kind not in ("pass", "source"):
            raise Refusal({"": "Choose where this print belongs first."})
        if kind == "pass":
            moving.move_to_pass(library, print_id, row_id)
        else:
            row_id = moving.move_to_new_pass(library, print_id, row_id)
    except Refusal as refusal:
        page = _move_page(library, print_id, " ".join(refusal.sentences.values()))
        return show(request, page, status_code=422)
    measuring.wake()
    return go_to(f"/passes/{row_id}#prints")


@router.get("/prints/{print_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, print_id: RowId) -> Response:
    item = prints.read_print(library, print_id)
    page = ConfirmPage(
        f"Remove {item.file_name} from this pass?",
        "The print and what was measured of it leave the log; the settings stay.",
        "Remove the print",
        f"/prints/{print_id}/delete",
        f"/passes/{item.pass_id}",
    )
    return show(request, page)


@router.post("/prints/{print_id}/delete")
def delete_print(library: LibraryDep, measuring: MeasuringDep, print_id: RowId) -> Response:
    pass_id = prints.delete_print(library, print_id)
    measuring.wake()
    return go_to(f"/passes/{pass_id}#prints")


@router.post("/passes/{pass_id}/keeper")
def mark_keeper(
    request: Request, library: LibraryDep, unit: UnitDep, form: SentForm, pass_id: RowId
) -> Response:
    typed = {"part": words(form, "part"), "reason": words(form, "reason")}
    try:
        keepers.mark_keeper(library, pass_id, **typed)
    except Refusal as refusal:
        return show(request, pass_page(library, pass_id, unit, refusal.sentences, typed), status_code=422)
    return go_to(f"/passes/{pass_id}#keeper")


@router.post("/keepers/{keeper_id}/delete")
def unmark_keeper(library: LibraryDep, keeper_id: RowId) -> Response:
    return go_to(f"/passes/{keepers.unmark_keeper(library, keeper_id)}#keeper")

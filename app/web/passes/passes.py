"""Logging a pass, and its page."""

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar
from urllib.parse import urlsplit

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from app.desk.arrivals.moving import Belonging, read_belonging
from app.desk.arrivals.printing import PassPrinting, read_pass_printing, wait_for_print
from app.desk.arrivals.track_names import TrackName, names_of_next
from app.desk.passes import drafts
from app.desk.passes import passes as desk
from app.desk.passes.chain_lines import take_chain, understand_chain
from app.desk.passes.draft_fields import with_fields
from app.desk.passes.drafts import DraftGone, DraftSheet, Jotted
from app.desk.passes.field_names import PlacementField, parse
from app.desk.passes.jot_lines import (
    JotSheet,
    SettingLine,
    keep_as_words,
    take_line,
    take_notes,
    understand,
    understand_notes,
)
from app.desk.passes.kept_chains import ChainOffer, offered_chains
from app.desk.passes.ledger import Turned, build_ledger
from app.desk.passes.notes import NoteEntry, NoteLine, note_project, read_notes_of_pass, tags_in_use
from app.desk.passes.pass_sheets import PassSheet, read_pass, read_pass_before
from app.desk.passes.passes import BegunAs, PassEntry, StepEntry, StepForm
from app.desk.passes.placements import PlacementEntry
from app.desk.planning.pass_drawings import PassDrawings, draw_pass
from app.desk.prints.delays import LikelyDelay, likely_delay
from app.desk.prints.microphones import AskedPrint, asked_of
from app.desk.projects.projects import SourceLine, read_project
from app.desk.projects.sources import SourceSheet, current_source, read_source
from app.desk.refusals import EditedMeanwhile, Refusal
from app.desk.shelf.gear import ShelfLine, list_gear
from app.desk.wording import number_in
from app.library import Library, Readable
from app.trade.chain_line import Piece
from app.trade.distances import LengthUnit
from app.web.confirm import ConfirmPage, way_back
from app.web.context import LibraryDep, MeasuringDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, whole_number, words
from app.web.pages import NOTHING, PHONE_WIDTH, Page, go_to, show
from app.web.passes.ledger import turned_of

router = APIRouter()

NO_LINE = JotSheet("")
OF_A_SOURCE = re.compile(r"/sources/(\d{1,14})(?:/|$)", re.ASCII)
OF_A_PASS = re.compile(r"/passes/(\d{1,14})(?:/|$)", re.ASCII)
OF_A_PROJECT = re.compile(r"/projects/(\d{1,14})(?:/|$)", re.ASCII)


@dataclass(frozen=True)
class PassPage(Page):
    """`typed` is what stood in a form of the page that was refused, by field. `others` are the project's other sources,
    on which the same chain can be tried; `before` is the pass before it, `turned` what changed since."""

    template: ClassVar[str] = "passes/pass.html"

    sheet: PassSheet
    before: PassSheet | None
    turned: tuple[Turned, ...]
    drawings: PassDrawings
    narrow: PassDrawings
    printing: PassPrinting
    belonging: Belonging
    asked: tuple[AskedPrint, ...]
    likely_delay: LikelyDelay | None
    token: str
    errors: Mapping[str, str]
    typed: Mapping[str, str]
    notes: list[NoteLine]
    tags: tuple[str, ...]
    others: tuple[SourceLine, ...]


@dataclass(frozen=True)
class PrintsPart(Page):
    """The prints of a pass and what its head offers, asked for again by the page while one is being measured or waited for. `token` is another
    as soon as anything of them is."""

    template: ClassVar[str] = "passes/prints_part.html"

    sheet: PassSheet
    drawings: PassDrawings
    narrow: PassDrawings
    printing: PassPrinting
    belonging: Belonging
    asked: tuple[AskedPrint, ...]
    likely_delay: LikelyDelay | None
    token: str
    others: tuple[SourceLine, ...]
    errors: Mapping[str, str]
    typed: Mapping[str, str]


@dataclass(frozen=True)
class JotLinePart(Page):
    """What a jot line is understood as, under the line."""

    template: ClassVar[str] = "passes/jot_line.html"

    jot: JotSheet


@dataclass(frozen=True)
class PassFormPage(Page):
    """`saved` is the version somebody else saved meanwhile, shown beside one's own. `instead` is the pass that the
    person asked to begin like, where another draft stood here already. `noted` is what the notes say and nothing is
    set at yet, `begun_as` the pass of another source that the chain is from,
    `turned` what differs from the pass before, `chains` what an empty chain could begin as."""

    template: ClassVar[str] = "passes/form.html"

    heading: str
    source: SourceSheet
    draft: DraftSheet
    entry: PassEntry
    steps: tuple[StepForm, ...]
    names: tuple[TrackName, ...]
    shelf: tuple[ShelfLine, ...]
    errors: Mapping[str, str]
    action: str
    back: str
    noted: tuple[SettingLine, ...]
    begun_as: BegunAs | None
    turned: tuple[Turned, ...]
    chains: tuple[ChainOffer, ...]
    jot: JotSheet = NO_LINE
    saved: PassSheet | None = None
    instead: PassSheet | None = None


@router.get("/next")
def next_of_current(request: Request, library: SnapshotDep, at: str = "") -> Response:
    """The next pass of the current source: that of the page one comes from, else the one worked on last. At the desk it
    is a column of the ledger."""
    path = urlsplit(request.headers.get("referer", "")).path
    source_id, pass_id, project_id = (
        None if (found := pattern.match(path)) is None else int(found[1])
        for pattern in (OF_A_SOURCE, OF_A_PASS, OF_A_PROJECT)
    )
    current = current_source(library, source_id=source_id, pass_id=pass_id, project_id=project_id)
    if current is None:
        return go_to("/projects")
    return go_to(f"/sources/{current}" + ("?column=open" if at == "desk" else "/passes/new"))


@router.get("/drafts/{draft_id}/line")
def read_jot_line(
    request: Request, library: SnapshotDep, unit: UnitDep, draft_id: RowId, line: str = ""
) -> Response:
    """What the jot line would set, while it is typed; nothing where the pass was saved meanwhile."""
    try:
        return show(request, JotLinePart(understand(library, draft_id, line, unit=unit)))
    except DraftGone as gone:
        if gone.pass_id is None:
            raise
        return Response(status_code=204)


@dataclass(frozen=True)
class ChainLinePart(Page):
    """What a chain typed on one line is understood as, under the line."""

    template: ClassVar[str] = "passes/chain_said.html"

    pieces: tuple[Piece, ...]
    sentence: str


@router.get("/chain")
def read_chain_line(request: Request, library: SnapshotDep, unit: UnitDep, chain: str = "") -> Response:
    try:
        part = ChainLinePart(understand_chain(library, chain, unit=unit), "")
    except Refusal as refusal:
        part = ChainLinePart((), refusal.sentences["chain"])
    return show(request, part)


@router.get("/sources/{source_id}/passes/new")
def next_pass(
    request: Request, library: LibraryDep, unit: UnitDep, source_id: RowId, like: RowId | None = None
) -> Response:
    draft = drafts.open_draft(library, source_id, like=like, unit=unit)
    with library.snapshot() as snapshot:
        page = _form_page(snapshot, draft, unit)
        if like is not None and draft.is_changed and draft.entry.like != like:
            page = replace(page, instead=read_pass(snapshot, like))
    return show(request, page)


@router.post("/sources/{source_id}/passes")
def log_pass(
    request: Request, library: LibraryDep, form: SentForm, unit: UnitDep, source_id: RowId
) -> Response:
    return _answer_form(
        request, library, form, unit, lambda: drafts.open_draft(library, source_id, unit=unit)
    )


@router.get("/passes/{pass_id}")
def show_pass(request: Request, library: SnapshotDep, unit: UnitDep, pass_id: RowId) -> Response:
    return show(request, pass_page(library, pass_id, unit))


@router.get("/passes/{pass_id}/prints")
def show_prints(
    request: Request, library: SnapshotDep, unit: UnitDep, pass_id: RowId, seen: str = ""
) -> Response:
    """Nothing, where the page shows all there is: what plays there goes on."""
    sheet = read_pass(library, pass_id)
    printing = read_pass_printing(library, pass_id)
    belonging = read_belonging(library, sheet)
    token = _token(sheet, printing, belonging)
    if seen == token:
        return Response(status_code=204)
    drawn, others = _drawings(sheet, unit), _others(library, sheet)
    likely = likely_delay(library, sheet)
    asked = asked_of(sheet)
    page = PrintsPart(sheet, *drawn, printing, belonging, asked, likely, token, others, NOTHING, NOTHING)
    return show(request, page)


@router.get("/passes/{pass_id}/edit")
def edit_pass(request: Request, library: LibraryDep, unit: UnitDep, pass_id: RowId) -> Response:
    draft = drafts.open_edit(library, pass_id, unit=unit)
    with library.snapshot() as snapshot:
        page = _form_page(snapshot, draft, unit)
    return show(request, page)


@router.post("/passes/{pass_id}/edit")
def save_pass(
    request: Request, library: LibraryDep, form: SentForm, unit: UnitDep, pass_id: RowId
) -> Response:
    return _answer_form(request, library, form, unit, lambda: drafts.open_edit(library, pass_id, unit=unit))


@router.get("/passes/{pass_id}/delete")
def ask_to_delete(request: Request, library: SnapshotDep, pass_id: RowId) -> Response:
    sheet = read_pass(library, pass_id)
    page = ConfirmPage(
        f"Delete pass {sheet.number} of {sheet.source_name}?",
        "Its settings, notes, photos and prints leave the log"
        + (f", and the chain kept as “{sheet.chain_name}” with them" if sheet.chain_name else "")
        + f". {way_back(library.folder)}",
        "Delete the pass",
        f"/passes/{pass_id}/delete",
        f"/passes/{pass_id}",
    )
    return show(request, page)


@router.post("/passes/{pass_id}/delete")
def delete_pass(library: LibraryDep, measuring: MeasuringDep, pass_id: RowId) -> Response:
    source_id = desk.delete_pass(library, pass_id)
    measuring.wake()  # it may have been what all measuring waited for
    return go_to(f"/sources/{source_id}")


def pass_page(
    library: Readable,
    pass_id: int,
    unit: LengthUnit,
    errors: Mapping[str, str] = NOTHING,
    typed: Mapping[str, str] = NOTHING,
) -> PassPage:
    sheet = read_pass(library, pass_id)
    printing = read_pass_printing(library, pass_id)
    belonging = read_belonging(library, sheet)
    before = read_pass_before(library, sheet)
    turned = () if before is None else build_ledger([before, sheet], unit=unit).changes(1)
    return PassPage(
        sheet,
        before,
        turned,
        *_drawings(sheet, unit),
        printing,
        belonging,
        asked_of(sheet),
        likely_delay(library, sheet),
        _token(sheet, printing, belonging),
        errors,
        typed,
        read_notes_of_pass(library, pass_id),
        tags_in_use(library, sheet.project_id),
        _others(library, sheet),
    )


def _others(library: Readable, sheet: PassSheet) -> tuple[SourceLine, ...]:
    sources = read_project(library, sheet.project_id).sources
    return tuple(source for source in sources if source.source_id != sheet.source_id)


def _token(sheet: PassSheet, printing: PassPrinting, belonging: Belonging) -> str:
    prints = [
        (item.print_id, item.measured.state, item.measured.reason, item.problem) for item in sheet.prints
    ]
    of = [(print_id, source.source_id) for print_id, source in belonging.of.items()]
    return hashlib.sha256(repr((prints, printing, of)).encode()).hexdigest()[:16]


def _drawings(sheet: PassSheet, unit: LengthUnit) -> tuple[PassDrawings, PassDrawings]:
    """For a desk's page, and for a phone."""
    return draw_pass(sheet, unit=unit, width=600, beside=440), draw_pass(sheet, unit=unit, width=PHONE_WIDTH)


def _answer_form(
    request: Request,
    library: Library,
    form: SentForm,
    unit: LengthUnit,
    open_anew: Callable[[], DraftSheet],
) -> Response:
    """The pass form as sent, whichever of its buttons was pressed: it is taken over into its draft first, so that
    nothing typed is lost whatever becomes of it."""
    typed = _entry(form)
    try:
        draft = drafts.merge(
            library, whole_number(form, "draft") or 0, whole_number(form, "seen") or 0, typed, unit=unit
        )
    except DraftGone as gone:
        if gone.pass_id is not None and desk.is_saved_as(library, gone.pass_id, typed, unit=unit):
            return go_to(f"/passes/{gone.pass_id}")  # the button was pressed twice
        return _answer_late_form(request, library, typed, gone.pass_id, open_anew(), unit)
    except Refusal as refusal:
        page = replace(_form_page(library, open_anew(), unit), errors=refusal.sentences, entry=typed)
        return show(request, replace(page, steps=desk.step_forms(library, typed)), status_code=422)
    line = words(form, "line")
    try:
        button = words(form, "do")
        if button in ("gear", "gear-column"):
            at = "&at=column" if button == "gear-column" else ""
            return go_to(f"/gear/new?into={draft.draft_id}{at}")
        if button not in ("", "save", "save-waiting"):
            press_button(library, draft.draft_id, "", button, form, unit)
            page = _form_page(library, drafts.read_draft(library, draft.draft_id), unit)
            jot = understand(library, draft.draft_id, line, unit=unit)
            taken = {"jot": jot.left_over, "words": ""}.get(button, line)
            left = understand(library, draft.draft_id, taken, unit=unit)
            return show(request, replace(page, jot=left))
        if words(form, "chain").strip():
            take_chain(library, draft.draft_id, "", words(form, "chain"), unit=unit)
        if line.strip():
            _, line = take_line(library, draft.draft_id, "", line, unit=unit)
            if line:
                raise Refusal(
                    {"line": f"“{line}” in the jot line is not understood; see there, or keep it as words."}
                )
        pass_id = drafts.save(library, draft.draft_id, revision=typed.revision, unit=unit)
        if button == "save-waiting":
            wait_for_print(library, pass_id)
        return go_to(f"/passes/{pass_id}")
    except EditedMeanwhile as refusal:
        seen = replace(draft.entry, revision=int(refusal.saved))
        page = replace(_form_page(library, draft, unit), entry=seen, errors=refusal.sentences)
        return show(request, replace(page, saved=read_pass(library, draft.pass_id or 0)), status_code=409)
    except Refusal as refusal:
        page = _form_page(library, drafts.read_draft(library, draft.draft_id), unit)
        jot = understand(library, draft.draft_id, line, unit=unit)
        return show(request, replace(page, errors=refusal.sentences, jot=jot), status_code=422)


def _answer_late_form(
    request: Request,
    library: Library,
    typed: PassEntry,
    saved_as: int | None,
    anew: DraftSheet,
    unit: LengthUnit,
) -> Response:
    """A form whose draft is gone: what it holds stands in a new one, and the person is told what became of the old."""
    if anew.pass_id is not None:
        edited = read_pass(library, anew.pass_id)
        draft = drafts.adopt(library, anew.draft_id, replace(typed, revision=edited.revision))
        told = EditedMeanwhile("pass", edited.revision)
        page = replace(_form_page(library, draft, unit), errors=told.sentences, saved=edited)
        return show(request, page, status_code=409)
    draft = drafts.adopt(library, anew.draft_id, typed)
    saved = None if saved_as is None else read_pass(library, saved_as)
    became = "saved or begun anew" if saved is None else f"saved as pass {saved.number}"
    told_at = {
        "": f"The pass that this form was for was {became} meanwhile, in another tab or on another device. What you "
        "typed stands here; save it to log it as a pass of its own."
    }
    return show(
        request, replace(_form_page(library, draft, unit), errors=told_at, saved=saved), status_code=409
    )


def press_button(
    library: Library, draft_id: int, key: str, button: str, form: FormData, unit: LengthUnit
) -> Jotted | None:
    """Do what one of the form's buttons is for ("up-12" moves gear 12); None where there is no such button. Raises
    Refusal."""
    action, _, number = button.partition("-")
    number, _, for_number = number.partition("-")
    row_id = number_in(number)
    match action:
        case "undo":
            return drafts.undo(library, draft_id, key, unit=unit)
        case "redo":
            return drafts.redo(library, draft_id, key, unit=unit)
        case "discard":
            return drafts.discard(library, draft_id, key, unit=unit)
        case "jot":
            return take_line(library, draft_id, key, words(form, "line"), unit=unit)[0]
        case "empty":
            return drafts.begin_empty(library, draft_id, key, unit=unit)
        case "words":
            return keep_as_words(library, draft_id, key, words(form, "line"), unit=unit)
        case "settings":
            return take_notes(library, draft_id, key, unit=unit)
        case "chain":
            return take_chain(library, draft_id, key, words(form, "chain"), unit=unit)
        case "add":
            gear_id = whole_number(form, "add_gear")
            if gear_id is None:
                raise Refusal({"add_gear": "Choose a piece of gear from the list first."})
            return drafts.add_gear(library, draft_id, key, gear_id, unit=unit)
        case "remove" if row_id is not None:
            return drafts.take_out_gear(library, draft_id, key, row_id, unit=unit)
        case "up" | "down" if row_id is not None:
            by = -1 if action == "up" else 1
            return drafts.move_gear(library, draft_id, key, row_id, by, unit=unit)
        case "at" if row_id is not None and (for_id := number_in(for_number)) is not None:
            return drafts.put_at(library, draft_id, key, row_id, for_id, unit=unit)
        case "swap" if row_id is not None and (for_id := number_in(for_number)) is not None:
            return drafts.swap_gear(library, draft_id, key, row_id, for_id, unit=unit)
        case "note":
            source = read_source(library, drafts.read_draft(library, draft_id).source_id)
            note = NoteEntry(words(form, "note-words"), words(form, "note-private"))
            try:
                note_project(library, source.project_id, note)
            except Refusal as refusal:
                raise Refusal({"note-words": refusal.sentences["words"]}) from None
            return drafts.jot(library, draft_id, "", {}, unit=unit)
        case "take":
            chain_of = whole_number(form, "chain_of")
            if chain_of is None:
                raise Refusal({"chain": "Choose a chain from the list first."})
            return drafts.set_like(library, draft_id, key, chain_of, unit=unit)
        case "like" if row_id is not None:
            return drafts.set_like(library, draft_id, key, row_id, unit=unit)
    return None


def _entry(form: SentForm) -> PassEntry:
    """The pass form as sent: its steps are numbered, all else is named by the gear (see field_names)."""
    steps = []
    for index in range(desk.STEPS_LIMIT + 1):
        gear_id = whole_number(form, f"steps-{index}-gear")
        layout_id = whole_number(form, f"steps-{index}-layout")
        if gear_id is None or layout_id is None:
            break
        is_placed = str(PlacementField(gear_id, "distance")) in form
        steps.append(StepEntry(gear_id, layout_id, placement=PlacementEntry() if is_placed else None))
    entry = PassEntry(
        steps=tuple(steps),
        revision=whole_number(form, "revision") or 0,
        like=whole_number(form, "like") or 0,
    )
    return with_fields(entry, fields_sent(form))


def fields_sent(form: SentForm) -> dict[str, str]:
    """What a form says of a pass, field by field."""
    return {name: words(form, name) for name in form if parse(name) is not None}


def _form_page(library: Readable, draft: DraftSheet, unit: LengthUnit) -> PassFormPage:
    """The form of a draft: of the next pass of its source, or of a logged pass being corrected."""
    source = read_source(library, draft.source_id)
    if draft.pass_id is None:
        heading, action, back = (
            "Next pass",
            f"/sources/{draft.source_id}/passes",
            f"/sources/{draft.source_id}",
        )
    else:
        number = read_pass(library, draft.pass_id).number
        back = f"/passes/{draft.pass_id}"
        heading, action = f"Edit pass {number}", f"{back}/edit"
    steps = desk.step_forms(library, draft.entry)
    return PassFormPage(
        heading,
        source,
        draft,
        draft.entry,
        steps,
        names_of_next(library, source.source_id, steps, draft.entry.title) if draft.pass_id is None else (),
        _shelf(library, draft.entry),
        NOTHING,
        action,
        back,
        understand_notes(library, draft.entry, unit=unit),
        desk.begun_as(library, source.source_id, draft.entry),
        turned_of(library, source, draft, unit) if draft.pass_id is None else (),
        () if draft.entry.steps else offered_chains(library, source.source_id),
    )


def _shelf(library: Readable, entry: PassEntry) -> tuple[ShelfLine, ...]:
    """What could still be added to the chain."""
    in_chain = {step.gear_id for step in entry.steps}
    return tuple(line for line in list_gear(library) if not line.is_retired and line.gear_id not in in_chain)

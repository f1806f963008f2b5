"""Jottings as the pages send them while one types: the draft of a pass, by desk and phone alike.

A jotting is a form with a `key` that the page made up; sent again with the same key, it is answered as before. The
answers are JSON. A draft that is gone (saved, or begun anew) answers 410, with the pass it became where that is known.
"""

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, JSONResponse, Response

from app.desk.arrivals.printing import wait_for_print
from app.desk.passes import drafts as desk
from app.desk.passes.chain_lines import take_chain
from app.desk.passes.draft_fields import fields_of
from app.desk.passes.drafts import DraftGone, Jotted
from app.desk.passes.jot_lines import take_line, understand
from app.desk.photos.panel_readings import have_read
from app.desk.photos.photos import add_to_draft, draft_thumbnail
from app.desk.refusals import EditedMeanwhile, NotThere, Refusal
from app.library import Readable
from app.web.context import LibraryDep, ReaderDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, files, key_of, words
from app.web.pages import NOT_KEPT, clock, go_to
from app.web.passes.passes import fields_sent, press_button

router = APIRouter()

FIELDS_ONCE_LIMIT = 500
KEPT_AS_WORDS = "Kept as words in the notes: no gear stands in the chain."


@router.get("/drafts/{draft_id}")
def show_draft(library: SnapshotDep, unit: UnitDep, draft_id: RowId) -> Response:
    """All that stands in it, for the other device; that it became a pass is an answer like any other."""
    try:
        return JSONResponse(_whole(library, draft_id), headers=NOT_KEPT)
    except DraftGone as gone:
        if gone.pass_id is None:
            raise
        return JSONResponse({"gone": str(gone), "pass_id": gone.pass_id}, headers=NOT_KEPT)


@router.post("/drafts/{draft_id}/changes")
def jot(library: LibraryDep, form: SentForm, unit: UnitDep, draft_id: RowId) -> Response:
    """Fields to change (see field_names), or `do` with one of the pass form's buttons."""
    changes = fields_sent(form)
    button = words(form, "do")

    def take() -> dict[str, Any]:
        if len(changes) > FIELDS_ONCE_LIMIT:
            raise Refusal({"": f"A jotting changes at most {FIELDS_ONCE_LIMIT} fields."})
        if not button:
            return _said(desk.jot(library, draft_id, key_of(form), changes, unit=unit))
        jotted = press_button(library, draft_id, key_of(form), button, form, unit)
        if jotted is None:
            raise Refusal({"": "The pass form has no such button."})
        said = _said(jotted) | _whole(library, draft_id)
        if button == "jot":
            left = understand(library, draft_id, words(form, "line"), unit=unit)
            said |= {"line": left.left_over, "puzzling": [part.sentence for part in left.puzzling]}
        return said

    return _answer(take)


@router.post("/drafts/{draft_id}/undo")
def undo(library: LibraryDep, form: SentForm, unit: UnitDep, draft_id: RowId) -> Response:
    return _answer(
        lambda: _said(desk.undo(library, draft_id, key_of(form), unit=unit)) | _whole(library, draft_id)
    )


@router.post("/drafts/{draft_id}/redo")
def redo(library: LibraryDep, form: SentForm, unit: UnitDep, draft_id: RowId) -> Response:
    return _answer(
        lambda: _said(desk.redo(library, draft_id, key_of(form), unit=unit)) | _whole(library, draft_id)
    )


@router.post("/drafts/{draft_id}/discard")
def discard(library: LibraryDep, form: SentForm, unit: UnitDep, draft_id: RowId) -> Response:
    return _answer(
        lambda: _said(desk.discard(library, draft_id, key_of(form), unit=unit)) | _whole(library, draft_id)
    )


@router.post("/drafts/{draft_id}/save")
def save(library: LibraryDep, form: SentForm, unit: UnitDep, draft_id: RowId) -> Response:
    """What still stands in the chain's line and the jot line is taken over first; `wait` has the pass wait for its
    print. `said` is what the person should know of what became of the line."""

    def take() -> dict[str, Any]:
        said = ""
        if words(form, "chain").strip():
            take_chain(library, draft_id, "", words(form, "chain"), unit=unit)
        if words(form, "line").strip():
            if understand(library, draft_id, words(form, "line"), unit=unit).is_words:
                said = KEPT_AS_WORDS
            _, left = take_line(library, draft_id, "", words(form, "line"), unit=unit)
            if left:
                raise Refusal(
                    {"line": f"“{left}” in the jot line is not understood; see there, or keep it as words."}
                )
        pass_id = desk.save(library, draft_id, key_of(form), unit=unit)
        if words(form, "wait"):
            wait_for_print(library, pass_id)
        return {"pass_id": pass_id, "address": f"/passes/{pass_id}", "said": said}

    return _answer(take)


@router.post("/drafts/{draft_id}/photos")
def add_photos(
    request: Request, library: LibraryDep, reader: ReaderDep, form: SentForm, draft_id: RowId
) -> Response:
    """Photos of a pass that is still being jotted. A page's queue asks for JSON; a form goes back to its page."""
    chosen = [*files(form, "photo"), *files(form, "camera")]

    def take() -> dict[str, Any]:
        if not chosen:
            raise Refusal({"photo": "Choose a photo first."})
        for name, stream in chosen:
            add_to_draft(library, draft_id, name, stream, caption=words(form, "caption"), key=key_of(form))
        if have_read(library, draft_id):
            reader.wake()
        return {}

    if "json" in request.headers.get("accept", ""):
        return _answer(take)
    take()
    sheet = desk.read_draft(library, draft_id)
    return go_to(f"{sheet.address}#draft-photos")


@router.get("/draft-photos/{photo_id}/thumbnail.jpg")
def thumbnail(library: SnapshotDep, photo_id: RowId) -> Response:
    path = library.files.path(draft_thumbnail(library, photo_id))
    if not path.exists():
        raise NotThere("photo's file")
    return FileResponse(path, media_type="image/jpeg", headers=NOT_KEPT)


def _answer(take: Callable[[], dict[str, Any]]) -> Response:
    try:
        return JSONResponse(take(), headers=NOT_KEPT)
    except DraftGone as gone:
        return JSONResponse({"gone": str(gone), "pass_id": gone.pass_id}, 410, headers=NOT_KEPT)
    except EditedMeanwhile as refusal:
        return JSONResponse({"refused": refusal.sentences, "saved": refusal.saved}, 409, headers=NOT_KEPT)
    except Refusal as refusal:
        return JSONResponse({"refused": refusal.sentences}, 422, headers=NOT_KEPT)


def _said(jotted: Jotted) -> dict[str, Any]:
    return {
        "revision": jotted.revision,
        "seen": jotted.seen,
        "kept": clock(jotted.edited_at),
        "undo": jotted.can_undo,
        "redo": jotted.can_redo,
        "refused": jotted.refused,
    }


def _whole(library: Readable, draft_id: int) -> dict[str, Any]:
    sheet = desk.read_draft(library, draft_id)
    return {
        "draft_id": sheet.draft_id,
        "source_id": sheet.source_id,
        "pass_id": sheet.pass_id,
        "changed": sheet.is_changed,
        "revision": sheet.revision,
        "seen": sheet.seen,
        "kept": clock(sheet.edited_at),
        "undo": sheet.undoes is not None,
        "redo": sheet.redoes is not None,
        "chain": [[step.gear_id, step.layout_id] for step in sheet.entry.steps],
        "values": fields_of(sheet.entry),
    }

"""Gear put right where the next pass is jotted: a control renamed, rescaled, added or removed, the gear renamed. The layout
gets a new version where passes used it, and the draft stands at that."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.passes import drafts
from app.desk.refusals import Refusal
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.web.context import LibraryDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, entry_from, words
from app.web.pages import NOTHING, Page, show

router = APIRouter()


@dataclass(frozen=True)
class ControlForm(Page):
    """`at` is what its fields are named behind, for several of them may stand on one page."""

    template: ClassVar[str] = "passes/control_form.html"

    draft_id: int
    gear_id: int
    at: str
    control: ControlEntry
    errors: Mapping[str, str]


@router.get("/drafts/{draft_id}/gear/{gear_id}/control")
def show_control(
    request: Request, library: SnapshotDep, draft_id: RowId, gear_id: RowId, key: str = ""
) -> Response:
    """The form of a control, as it stands on the shelf now; of a new one without its key."""
    drafts.read_draft(library, draft_id)
    known = gear.gear_entry(library, gear_id).controls
    control = next((each for each in known if each.key == key and key), ControlEntry())
    at = f"of-{gear_id}-{control.key or 'new'}-"
    return show(request, ControlForm(draft_id, gear_id, at, control, NOTHING))


@router.post("/drafts/{draft_id}/gear/{gear_id}/control")
def put_right(
    request: Request, library: LibraryDep, form: SentForm, unit: UnitDep, draft_id: RowId, gear_id: RowId
) -> Response:
    drafts.read_draft(library, draft_id)
    at = words(form, "at")
    entry = entry_from(form, ControlEntry, at)
    try:
        if words(form, "do") == "remove":
            gear.remove_control(library, gear_id, entry.key)
        else:
            gear.correct_control(library, gear_id, entry)
    except Refusal as refusal:
        errors = {at + field if field else "": sentence for field, sentence in refusal.sentences.items()}
        page = ControlForm(draft_id, gear_id, at, entry, errors)
        return show(request, page, status_code=422)
    drafts.stand_at_newest(library, draft_id, "", gear_id, unit=unit)
    return Response(status_code=204)


@router.post("/drafts/{draft_id}/gear/{gear_id}/name")
def rename(library: LibraryDep, form: SentForm, unit: UnitDep, draft_id: RowId, gear_id: RowId) -> Response:
    drafts.read_draft(library, draft_id)
    gear.rename_gear(library, gear_id, words(form, "name"))
    drafts.stand_at_newest(library, draft_id, "", gear_id, unit=unit)
    return Response(status_code=204)

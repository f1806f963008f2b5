"""Ears: sound level and time, and the day's dose."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.projects import ears as desk
from app.desk.projects.ears import EarsSheet, LevelEntry
from app.desk.refusals import Refusal
from app.trade.cautions import CAUTIONS, Caution
from app.trade.hearing import OSHA_ACTION_DOSE_PERCENT, show_hours
from app.web.context import LibraryDep, RowId, SnapshotDep
from app.web.forms import SentForm, entry_from
from app.web.pages import NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class EarsPage(Page):
    """`times` holds each dose's allowed and remaining time at the level logged last, in words, by criterion."""

    template: ClassVar[str] = "projects/ears.html"

    ears: EarsSheet
    entry: LevelEntry
    errors: Mapping[str, str]
    times: Mapping[str, tuple[str, str]]
    cautions: tuple[Caution, ...]
    action_percent: float = OSHA_ACTION_DOSE_PERCENT


@router.get("/projects/{project_id}/ears")
def show_ears(request: Request, library: SnapshotDep, project_id: RowId) -> Response:
    return show(request, _page(desk.read_ears(library, project_id), LevelEntry(), NOTHING))


@router.post("/projects/{project_id}/ears")
def log_level(request: Request, library: LibraryDep, form: SentForm, project_id: RowId) -> Response:
    entry = entry_from(form, LevelEntry)
    try:
        desk.log_level(library, project_id, entry)
    except Refusal as refusal:
        page = _page(desk.read_ears(library, project_id), entry, refusal.sentences)
        return show(request, page, status_code=422)
    return go_to(f"/projects/{project_id}/ears")


@router.post("/sound-levels/{level_id}/delete")
def delete_level(library: LibraryDep, level_id: RowId) -> Response:
    return go_to(f"/projects/{desk.delete_level(library, level_id)}/ears")


def _page(ears: EarsSheet, entry: LevelEntry, errors: Mapping[str, str]) -> EarsPage:
    times = {
        dose.criterion.key: (show_hours(dose.allowed_hours), show_hours(dose.remaining_hours))
        for dose in ears.doses
    }
    listening = tuple(caution for caution in CAUTIONS if "listening" in caution.spots)
    return EarsPage(ears, entry, errors, times, listening)

"""Calibrating an interface: its levels at 0 dBFS from the manual, a voltmeter or a loop."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.refusals import Refusal
from app.desk.shelf import calibration as desk
from app.desk.shelf.calibration import TONE_LEVELS_DBFS, CalibrationEntry, CalibrationSheet, Doubt
from app.web.context import LibraryDep, RowId, SnapshotDep
from app.web.downloads import attachment
from app.web.forms import SentForm, entry_from
from app.web.pages import NOTHING, Page, go_to, show

router = APIRouter()


@dataclass(frozen=True)
class CalibrationPage(Page):
    """`accept` is the level that `doubt` asks about, as the form sends it back."""

    template: ClassVar[str] = "shelf/calibration.html"
    section: ClassVar[str] = "Gear"

    sheet: CalibrationSheet
    entry: CalibrationEntry
    errors: Mapping[str, str]
    doubt: Doubt | None = None
    accept: str = ""
    tone_levels: tuple[float, ...] = TONE_LEVELS_DBFS


@router.get("/gear/{gear_id}/calibrate")
def show_calibration(request: Request, library: SnapshotDep, gear_id: RowId) -> Response:
    page = CalibrationPage(desk.read_calibration(library, gear_id), CalibrationEntry(), NOTHING)
    return show(request, page)


@router.post("/gear/{gear_id}/calibrate")
def calibrate(request: Request, library: LibraryDep, form: SentForm, gear_id: RowId) -> Response:
    entry = entry_from(form, CalibrationEntry)
    try:
        doubt = desk.calibrate(library, gear_id, entry)
    except Refusal as refusal:
        page = CalibrationPage(desk.read_calibration(library, gear_id), entry, refusal.sentences)
        return show(request, page, status_code=422)
    if doubt is not None:
        sheet = desk.read_calibration(library, gear_id)
        accept = desk.accepted(doubt.measured_dbu)
        return show(request, CalibrationPage(sheet, entry, NOTHING, doubt, accept), status_code=422)
    return go_to(f"/gear/{gear_id}/calibrate")


@router.get("/gear/{gear_id}/calibrate/tone.wav")
def tone(library: SnapshotDep, gear_id: RowId, level: float = -18.0) -> Response:
    """The calibration tone, named by its level."""
    desk.read_calibration(library, gear_id)
    try:
        made = desk.tone_wav(level)
    except ValueError as error:
        raise Refusal({"level": str(error)}) from None
    name = f"1 kHz at {level:g} dBFS, 48 kHz.wav".replace("-", "−")
    return attachment(made, "audio/wav", name)

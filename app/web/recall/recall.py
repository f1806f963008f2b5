"""The recall sheet: one printable page to set a pass up again, and the same as PDF."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.passes.pass_sheets import PassSheet, read_pass
from app.desk.photos.pins import PinLine, pins_of_pass
from app.desk.planning.pass_drawings import PassDrawings, draw_pass
from app.desk.recall.plan import RecallPlan, cautions_of, read_recall_plan
from app.desk.recall.runs import now_of, read_gear_to_set, summary_of
from app.desk.sheets.sheets import recall_pdf
from app.trade.cautions import Caution
from app.web.context import RowId, SnapshotDep, UnitDep
from app.web.downloads import attachment
from app.web.pages import PHONE_WIDTH, Page, show

router = APIRouter()


@dataclass(frozen=True)
class RecallSheetPage(Page):
    """`now` says where what differs was logged last, by the item's key."""

    template: ClassVar[str] = "recall/sheet.html"

    sheet: PassSheet
    drawings: PassDrawings
    narrow: PassDrawings
    cautions: tuple[Caution, ...]
    plan: RecallPlan | None
    to_touch: str
    now: Mapping[str, str]
    pins: Mapping[int, tuple[PinLine, ...]]


@router.get("/passes/{pass_id}/recall")
def recall_sheet(request: Request, library: SnapshotDep, unit: UnitDep, pass_id: RowId) -> Response:
    sheet = read_pass(library, pass_id)
    gear = read_gear_to_set(library, sheet, unit=unit)
    return show(
        request,
        RecallSheetPage(
            sheet,
            draw_pass(sheet, unit=unit, width=1080),
            draw_pass(sheet, unit=unit, width=PHONE_WIDTH),
            cautions_of(sheet),
            read_recall_plan(library, sheet),
            summary_of(gear),
            now_of(gear),
            pins_of_pass(library, sheet),
        ),
    )


@router.get("/passes/{pass_id}/recall.pdf")
def recall_sheet_pdf(library: SnapshotDep, unit: UnitDep, pass_id: RowId) -> Response:
    sheet = read_pass(library, pass_id)
    name = f"Recall sheet, {sheet.source_name}, pass {sheet.number}.pdf"
    plan = read_recall_plan(library, sheet)
    gear = read_gear_to_set(library, sheet, unit=unit)
    pdf = recall_pdf(
        library,
        sheet,
        plan,
        to_touch=summary_of(gear),
        now=now_of(gear),
        pins=pins_of_pass(library, sheet),
        unit=unit,
    )
    return attachment(pdf, "application/pdf", name)

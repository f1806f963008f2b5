"""Judging a pass where it stands in the ledger: the menu at the head of its column."""

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.passes.pass_sheets import PassSheet, read_pass
from app.desk.prints.microphones import AskedPrint, asked_of
from app.web.context import RowId, SnapshotDep
from app.web.pages import Page, show

router = APIRouter()


@dataclass(frozen=True)
class JudgePart(Page):
    template: ClassVar[str] = "passes/judge.html"

    sheet: PassSheet
    asked: tuple[AskedPrint, ...]


@router.get("/passes/{pass_id}/judge")
def judge(request: Request, library: SnapshotDep, pass_id: RowId) -> Response:
    sheet = read_pass(library, pass_id)
    return show(request, JudgePart(sheet, asked_of(sheet)))

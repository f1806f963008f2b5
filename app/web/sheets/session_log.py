"""The session log of a project: page, PDF and CSV of all its passes."""

from dataclasses import dataclass
from typing import ClassVar

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.desk.passes.ledger import Ledger, build_ledger
from app.desk.sheets.session_log import SessionLog, read_session_log
from app.desk.sheets.sheets import session_log_csv, session_log_pdf
from app.web.context import RowId, SnapshotDep, UnitDep
from app.web.downloads import attachment
from app.web.pages import Page, show

router = APIRouter()


@dataclass(frozen=True)
class SessionLogPage(Page):
    """`ledgers` is by source id."""

    template: ClassVar[str] = "sheets/session_log.html"

    log: SessionLog
    ledgers: dict[int, Ledger]


@router.get("/projects/{project_id}/log")
def session_log(request: Request, library: SnapshotDep, unit: UnitDep, project_id: RowId) -> Response:
    log = read_session_log(library, project_id)
    ledgers = {source.source_id: build_ledger(source.passes, unit=unit) for source in log.sources}
    return show(request, SessionLogPage(log, ledgers))


@router.get("/projects/{project_id}/log.pdf")
def as_pdf(library: SnapshotDep, unit: UnitDep, project_id: RowId) -> Response:
    log = read_session_log(library, project_id)
    name = f"Session log, {log.project.title}.pdf"
    return attachment(session_log_pdf(log, unit=unit), "application/pdf", name)


@router.get("/projects/{project_id}/log.csv")
def as_csv(library: SnapshotDep, unit: UnitDep, project_id: RowId) -> Response:
    log = read_session_log(library, project_id)
    name = f"Session log, {log.project.title}.csv"
    return attachment(session_log_csv(log, unit=unit).encode("utf-8-sig"), "text/csv; charset=utf-8", name)

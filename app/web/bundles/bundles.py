"""Handing a session on as a bundle, and bringing one in."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import ClassVar
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse

from app.config import ROOT
from app.desk.bundles.merge import Preview
from app.desk.bundles.shelf import count_private_notes, merge_kept, preview_kept, put_aside
from app.desk.bundles.writing import BundleOptions, Contents, Lane, plan_bundle, write_bundle
from app.desk.passes.ledger import Ledger, build_ledger
from app.desk.planning.pass_drawings import PassDrawings, draw_pass
from app.desk.refusals import Refusal
from app.desk.sheets.session_log import SessionLog
from app.library import Readable
from app.trade.distances import LengthUnit
from app.web.context import LibraryDep, MeasuringDep, RowId, SnapshotDep, UnitDep
from app.web.forms import SentForm, files, words
from app.web.pages import NOTHING, Page, go_to, render, show

router = APIRouter()

STYLESHEETS = ("tokens", "base", "forms", "ledger", "passes", "listening", "drawings", "print")
FONTS = (
    "atkinson-hyperlegible-next-latin-wght-normal.woff2",
    "atkinson-hyperlegible-next-latin-ext-wght-normal.woff2",
    "OFL-1.1.txt",
)
NOUNS = (
    ("project", "project"),
    ("source_track", "sources"),
    ("gear", "gear"),
    ("control_layout", "control layouts"),
    ("pass", "passes"),
    ("print", "prints"),
    ("keeper_mark", "keepers"),
    ("photo", "photos"),
    ("note", "notes"),
)
STATES = ("new", "same", "changed there", "changed here", "changed on both sides", "deleted here")


@dataclass(frozen=True)
class Counts:
    sources: int
    passes: int
    prints: int
    gear: int
    audio: int
    bytes: int
    photos: int
    notes: int
    private: int


@dataclass(frozen=True)
class HandOnPage(Page):
    template: ClassVar[str] = "bundles/hand_on.html"

    log: SessionLog
    options: BundleOptions
    counts: Counts
    missing: tuple[str, ...]
    errors: Mapping[str, str]


@dataclass(frozen=True)
class OfflinePage(Page):
    """The page within a bundle; `lanes` and `ledgers` are by source id, `drawings` by pass, `photos` by photo, `controls` by the
    file of what a photo showed of one."""

    template: ClassVar[str] = "bundles/offline.html"

    log: SessionLog
    made_at: datetime
    ledgers: Mapping[int, Ledger]
    lanes: Mapping[int, tuple[Lane, ...]]
    drawings: Mapping[int, PassDrawings]
    photos: Mapping[int, str]
    controls: Mapping[int, str]


@dataclass(frozen=True)
class BringInPage(Page):
    template: ClassVar[str] = "bundles/bring_in.html"

    errors: Mapping[str, str]


@dataclass(frozen=True)
class PreviewPage(Page):
    template: ClassVar[str] = "bundles/preview.html"

    key: str
    preview: Preview
    errors: Mapping[str, str]
    nouns: tuple[tuple[str, str], ...] = NOUNS
    states: tuple[str, ...] = STATES


@router.get("/projects/{project_id}/hand-on")
def choose(
    request: Request,
    library: SnapshotDep,
    project_id: RowId,
    audio: str = "original",
    passes: str = "all",
    photos: str = "yes",
) -> Response:
    return show(request, _hand_on(library, project_id, _options(audio, passes, photos), NOTHING))


@router.post("/projects/{project_id}/hand-on")
def hand_on(
    request: Request, library: LibraryDep, unit: UnitDep, form: SentForm, project_id: RowId
) -> Response:
    options = _options(
        words(form, "audio"), words(form, "passes"), words(form, "photos"), bool(words(form, "leave_out"))
    )
    contents = plan_bundle(library, project_id, options, with_overviews=True)
    try:
        chunks = write_bundle(library, contents, _pages(request, contents, unit), unit=unit)
    except Refusal as refusal:
        return show(request, _hand_on(library, project_id, options, refusal.sentences), status_code=422)
    disposition = f"attachment; filename=\"session.zip\"; filename*=UTF-8''{quote(contents.name, safe='')}"
    return StreamingResponse(
        chunks, media_type="application/zip", headers={"Content-Disposition": disposition}
    )


@router.get("/bring-in")
def ask_for_a_bundle(request: Request) -> Response:
    return show(request, BringInPage(NOTHING))


@router.post("/bring-in")
def look_into(request: Request, library: LibraryDep, form: SentForm) -> Response:
    chosen = files(form, "bundle")
    try:
        if not chosen:
            raise Refusal({"bundle": "Choose the zip that you were sent."})
        key = put_aside(library, chosen[0][1], request.app.state.max_upload_bytes)
    except Refusal as refusal:
        return show(request, BringInPage(refusal.sentences), status_code=422)
    return go_to(f"/bring-in/{key}")


@router.get("/bring-in/{key}")
def preview(request: Request, library: SnapshotDep, key: str) -> Response:
    try:
        found = preview_kept(library, key, request.app.state.max_upload_bytes)
    except Refusal as refusal:
        return show(request, BringInPage(refusal.sentences), status_code=422)
    return show(request, PreviewPage(key, found, NOTHING))


@router.post("/bring-in/{key}")
def bring_in(
    request: Request, library: LibraryDep, measuring: MeasuringDep, form: SentForm, key: str
) -> Response:
    theirs = {name.removeprefix("theirs-") for name in form if name.startswith("theirs-")}
    most_bytes = request.app.state.max_upload_bytes
    try:
        project_id = merge_kept(library, key, theirs, most_bytes, deleted_too=bool(words(form, "deleted")))
    except Refusal as refusal:
        return show(request, BringInPage(refusal.sentences), status_code=422)
    measuring.wake()
    return go_to(f"/projects/{project_id}")


def _options(audio: str, passes: str, photos: str, leave_out_damaged: bool = False) -> BundleOptions:
    return BundleOptions(
        audio="aligned" if audio == "aligned" else "none" if audio == "none" else "original",
        photos=photos != "no",
        keepers_only=passes == "keepers",
        leave_out_damaged=leave_out_damaged,
    )


def _hand_on(
    library: Readable, project_id: int, options: BundleOptions, errors: Mapping[str, str]
) -> HandOnPage:
    contents = plan_bundle(library, project_id, options)
    document = contents.document
    counts = Counts(
        len(document.sources),
        len(document.passes),
        len(document.prints),
        len(document.gear),
        len(document.audio),
        contents.audio_bytes,
        sum(bool(row.path) for row in document.photos),
        len(document.notes),
        count_private_notes(library, project_id),
    )
    return HandOnPage(contents.log, options, counts, contents.missing, errors)


def _pages(request: Request, contents: Contents, unit: LengthUnit) -> dict[str, bytes]:
    log = contents.log
    page = OfflinePage(
        log,
        contents.document.made_at,
        {source.source_id: build_ledger(source.passes, unit=unit) for source in log.sources},
        contents.lanes,
        {
            sheet.pass_id: draw_pass(sheet, unit=unit, width=520)
            for source in log.sources
            for sheet in source.passes
        },
        contents.photos,
        contents.controls,
    )
    return {"index.html": render(request, page).encode(), **_offline_files()}


@cache
def _offline_files() -> Mapping[str, bytes]:
    static = ROOT / "static"
    styles = b"\n".join((static / f"{name}.css").read_bytes() for name in STYLESHEETS)
    fonts = {f"fonts/{name}": (static / "fonts" / name).read_bytes() for name in FONTS}
    return {"style.css": styles, "player.js": (static / "bundle_player.js").read_bytes(), **fonts}

"""The web app: a library in, an ASGI app out."""

import gc
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from app.config import ROOT, Settings
from app.desk.arrivals.folder_watch import FolderWatch
from app.desk.measuring.measurements import MeasuringProcess
from app.desk.phones.devices import PairedDevices, PairingCodes
from app.desk.photos.panel_reader import PanelReader
from app.desk.safekeeping.by_itself import BackupsByThemselves
from app.library import Library
from app.web import errors, files, keys, preferences
from app.web.arrivals import inbox, printing
from app.web.board import Board, TellsTheBoard
from app.web.bundles import bundles
from app.web.finding import find
from app.web.listening import blend, copies, listening
from app.web.passes import compare, corrections, drafts, judging, ledger, notes, passes
from app.web.phones import devices
from app.web.photos import panels, photos, pins
from app.web.planning import hook_up, levels, mic_times
from app.web.prints import prints
from app.web.projects import ears, projects, sources
from app.web.recall import camera as recall_camera
from app.web.recall import knobs, recall, references, runs, tries
from app.web.safekeeping import backups as backup_pages
from app.web.security import LocalOnly, Network
from app.web.sheets import session_log
from app.web.shelf import calibration, gear, ports

ROUTERS = (
    projects,
    sources,
    gear,
    ports,
    calibration,
    passes,
    drafts,
    ledger,
    corrections,
    judging,
    notes,
    hook_up,
    levels,
    mic_times,
    prints,
    printing,
    inbox,
    photos,
    panels,
    pins,
    files,
    compare,
    listening,
    blend,
    copies,
    recall,
    knobs,
    tries,
    recall_camera,
    runs,
    references,
    session_log,
    bundles,
    ears,
    find,
    keys,
    preferences,
    devices,
    backup_pages,
)


def create_app(library: Library, settings: Settings, *, lan: bool = False) -> FastAPI:
    """`lan` lets paired devices of the local network in."""
    board = Board()
    measuring = MeasuringProcess(library, lambda noun: board.tell(f"/finished/{noun}"))
    reader = PanelReader(library, lambda noun: board.tell(f"/finished/{noun}"))

    def read_photo_of(draft_id: int) -> None:
        board.tell(f"/drafts/{draft_id}/photos")
        reader.wake()

    folders = FolderWatch(library, measuring.wake, lambda: board.tell("/finished/arrival"), read_photo_of)
    backups = BackupsByThemselves(library)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        library.files.empty_incoming()
        measuring.start()
        reader.start()
        folders.start()
        backups.start()
        gc.collect()
        gc.freeze()  # what was loaded stays: a full collection must not go through it in the middle of a page
        yield
        backups.stop()
        folders.stop()
        reader.stop()
        measuring.stop()

    app = FastAPI(lifespan=lifespan, openapi_url=None, docs_url=None, redoc_url=None)
    app.state.library = library
    app.state.measuring = measuring
    app.state.reader = reader
    app.state.folders = folders
    app.state.backups = backups
    app.state.max_upload_bytes = settings.max_upload_bytes
    network = Network(PairedDevices(library), PairingCodes()) if lan else None
    app.state.board = board
    app.state.network = network
    app.add_middleware(TellsTheBoard, board=board)
    app.add_middleware(LocalOnly, network=network)
    app.mount("/static", StaticFiles(directory=ROOT / "static"), name="static")
    for module in ROUTERS:
        app.include_router(module.router)
    errors.install(app)
    return app

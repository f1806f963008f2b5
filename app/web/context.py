"""What a route needs of the running app."""

from collections.abc import Iterator
from typing import Annotated

from fastapi import Depends, Query, Request
from pydantic import Field

from app.desk.arrivals.folder_watch import FolderWatch
from app.desk.measuring.measurements import MeasuringProcess
from app.desk.photos.panel_reader import PanelReader
from app.library import Library, Snapshot
from app.trade.distances import LengthUnit
from app.web.pages import unit_of


def _library(request: Request) -> Library:
    library: Library = request.app.state.library
    return library


def _snapshot(library: Annotated[Library, Depends(_library)]) -> Iterator[Snapshot]:
    with library.snapshot() as snapshot:
        yield snapshot


def _measuring(request: Request) -> MeasuringProcess:
    measuring: MeasuringProcess = request.app.state.measuring
    return measuring


def _reader(request: Request) -> PanelReader:
    reader: PanelReader = request.app.state.reader
    return reader


def _folders(request: Request) -> FolderWatch:
    folders: FolderWatch = request.app.state.folders
    return folders


RowId = Annotated[int, Field(ge=1, lt=2**63)]
"""An id in an address. SQLite counts no further."""

Seconds = Annotated[float, Query(ge=0.0, le=1e6, allow_inf_nan=False)]
"""A time in a recording that an address names."""

PassIds = Annotated[list[RowId], Query(alias="pass", default_factory=list)]
"""The passes that an address names, as in ?pass=3&pass=5."""

LibraryDep = Annotated[Library, Depends(_library)]
SnapshotDep = Annotated[Snapshot, Depends(_snapshot, scope="function")]
"""The library as it stands when a page is asked for. It is let go before the answer is sent: what is sent bit by bit
takes the library itself."""
MeasuringDep = Annotated[MeasuringProcess, Depends(_measuring)]
ReaderDep = Annotated[PanelReader, Depends(_reader)]
FoldersDep = Annotated[FolderWatch, Depends(_folders)]
UnitDep = Annotated[LengthUnit, Depends(unit_of)]

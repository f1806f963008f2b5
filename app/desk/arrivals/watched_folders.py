"""The folders that a project's DAW records into, or that a phone's pictures are synced to."""

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.arrivals.folder_sweep import MOST_FILES, Stamp, TooManyFiles, sweep
from app.desk.arrivals.what_arrives import kind_of
from app.desk.files.pictures import is_picture
from app.desk.projects.projects import find_project
from app.desk.refusals import Refusal
from app.desk.rows import row_of
from app.library import Library, Readable
from app.records import Arrival, WatchedFolder
from app.records.base import now

KEEPS = ("copy", "refer")
OLD = "There before the folder was watched."
OLD_PICTURE = "Written before the folder was watched."
STILL_BEING_WRITTEN_S = 10
"""A file that was written this shortly before its folder is watched is no old one."""
TOO_MANY = (
    f"This folder holds more than {MOST_FILES:,} files. Name the folder that this project's DAW records into, "
    "not one above it."
)


@dataclass(frozen=True)
class FolderEntry:
    """A folder's form as typed."""

    path: str = ""
    keeps: str = "copy"


@dataclass(frozen=True)
class FolderLine:
    folder_id: int
    project_id: int
    path: str
    keeps: str
    problem: str
    created_at: datetime
    left: int


def list_folders(library: Readable, project_id: int) -> list[FolderLine]:
    with library.reading() as session:
        find_project(session, project_id)
        left = (
            select(func.count())
            .select_from(Arrival)
            .where(
                col(Arrival.folder_id) == col(WatchedFolder.id),
                col(Arrival.state) == "left",
                col(Arrival.missing_since).is_(None),
            )
            .correlate(WatchedFolder)
            .scalar_subquery()
        )
        rows = session.execute(
            select(WatchedFolder, left)
            .where(col(WatchedFolder.project_id) == project_id)
            .order_by(col(WatchedFolder.id))
        )
        return [
            FolderLine(row.id, project_id, row.path, row.keeps, row.problem, row.created_at, count)
            for row, count in rows
        ]


def add_folder(library: Library, project_id: int, entry: FolderEntry) -> int:
    """Watch a folder from now on. The audio and the pictures that lie in it are listed as left. Returns the folder's id."""
    folder = _folder_named(library, entry.path)
    keeps = entry.keeps if entry.keeps in KEEPS else "copy"
    try:
        files = sweep(folder)
    except TooManyFiles:
        raise Refusal({"path": TOO_MANY}) from None
    except OSError as error:
        raise Refusal({"path": f"This folder cannot be read: {error.strerror}."}) from None
    newest = now().timestamp() - STILL_BEING_WRITTEN_S
    old = {
        path: stamp
        for path, stamp in files.items()
        if stamp.modified_ns < newest * 1e9 and _arrives(folder / path)
    }
    with library.writing() as session:
        find_project(session, project_id)
        _refuse_if_watched(session, folder)
        row = WatchedFolder(project_id=project_id, path=str(folder), keeps=keeps)
        session.add(row)
        session.flush()
        session.add_all(left(row.id, path, stamp, OLD) for path, stamp in sorted(old.items()))
        return row.id


def remove_folder(library: Library, folder_id: int) -> int:
    """Watch it no more. What came in from it stays where it was filed. Returns the project."""
    with library.writing() as session:
        row = find_folder(session, folder_id)
        session.delete(row)
        return row.project_id


def read_folder(library: Readable, folder_id: int) -> WatchedFolder:
    with library.reading() as session:
        return find_folder(session, folder_id)


def find_folder(session: Session, folder_id: int) -> WatchedFolder:
    return row_of(session, WatchedFolder, folder_id, "recording folder")


def is_old_picture(folder: WatchedFolder, path: str, stamp: Stamp) -> bool:
    """Whether a file is a picture that was written before its folder was watched."""
    if stamp.modified_ns / 1e9 >= folder.created_at.timestamp() - STILL_BEING_WRITTEN_S:
        return False
    try:
        return is_picture(Path(folder.path, path))
    except OSError:
        return False


def left(folder_id: int, path: str, stamp: Stamp, reason: str) -> Arrival:
    return Arrival(
        folder_id=folder_id,
        path=path,
        bytes=stamp.bytes,
        modified_ns=stamp.modified_ns,
        state="left",
        reason=reason,
    )


def _arrives(path: Path) -> bool:
    try:
        return kind_of(path) is not None
    except OSError:
        return False


def _folder_named(library: Library, typed: str) -> Path:
    if not typed.strip():
        raise Refusal(
            {"path": "The folder is empty. Copy its path from the DAW's settings or the file manager."}
        )
    if "\0" in typed or len(typed) > 4096:
        raise Refusal({"path": "This cannot be the path of a folder."})
    folder = Path(os.path.expanduser(typed.strip().strip('"')))  # noqa: PTH111  Path's own fails at a name nobody has
    if not folder.is_absolute():
        raise Refusal(
            {
                "path": "Write the whole path, from the top: it begins with / (or a drive's letter such as C:\\)."
            }
        )
    try:
        folder = folder.resolve(strict=True)
        is_folder = folder.is_dir()
    except OSError as error:
        raise Refusal(
            {"path": f"There is no such folder on this computer, or it cannot be reached ({error.strerror})."}
        ) from None
    if not is_folder:
        raise Refusal({"path": "This is a file. Name the folder that it lies in."})
    own = library.folder.resolve()
    if own == folder or own in folder.parents or folder in own.parents:
        raise Refusal(
            {"path": "This folder holds the library itself, or is part of it. Name the DAW's own folder."}
        )
    if not os.access(folder, os.R_OK | os.X_OK):
        raise Refusal({"path": "This folder cannot be read. Give yourself the right to read it."})
    return folder


def _refuse_if_watched(session: Session, folder: Path) -> None:
    """One file must not arrive twice."""
    for row in session.scalars(select(WatchedFolder)):
        other = Path(row.path)
        if other == folder or other in folder.parents or folder in other.parents:
            project = find_project(session, row.project_id)
            what = "This folder is" if other == folder else f"{row.path}, which shares files with it, is"
            raise Refusal({"path": f"{what} watched already, for {project.title}."})

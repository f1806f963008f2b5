"""Backups that nobody asks for: after a day's first changes, and when Dialback stops.

They stand in a thinning row and never take the last room of a disk. Whether anything changed is told by when the
database was last written: a library that is only looked at is not backed up again and again.
"""

import contextlib
import logging
import shutil
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from app import database_file
from app.desk.child_processes import ChildFailed, ChildRefused
from app.desk.processes.backing_up import back_up_apart
from app.desk.safekeeping.backups import BY_ITSELF, made_at, newest_by_itself
from app.desk.safekeeping.thinning import kept
from app.library import REVISION, Library
from app.library_errors import LibraryError

LOOKS_EVERY_S = 60.0
LEFT_FREE_BYTES = 1_000_000_000
"""What a backup leaves of the disk's room to everything else, recordings first of all."""

log = logging.getLogger(__name__)


def back_up_by_itself(
    folder: Path, make: Callable[[Path, Path], object] = database_file.back_up
) -> Path | None:
    """A backup, if anything changed since the last one. Raises LibraryError where there is no room, or it cannot be
    made; what was there before is there still."""
    database = folder / database_file.NAME
    if not _changed_since(database, newest_by_itself(folder)):
        return None
    _refuse_without_room(folder, database)
    target = database_file.backup_path(folder, REVISION, BY_ITSELF)
    make(database, target)
    thin_out(folder / "backups")
    return target


def thin_out(backups: Path) -> None:
    """Those that a person asked for, or that a migration made, are never removed."""
    row = {path: made_at(path) for path in backups.glob(f"*{BY_ITSELF}*.db")}
    for path in row.keys() - kept(row):
        path.unlink(missing_ok=True)


def _changed_since(database: Path, newest: Path | None) -> bool:
    if newest is None:
        return True
    since = made_at(newest).timestamp()
    written = [database, database.with_name(f"{database.name}-wal")]
    return any(path.stat().st_mtime >= since for path in written if path.exists() and path.stat().st_size)


def _refuse_without_room(folder: Path, database: Path) -> None:
    wanted, free = database.stat().st_size, shutil.disk_usage(folder).free
    if free - wanted < LEFT_FREE_BYTES:
        raise LibraryError(
            f"No backup was made by itself: the disk has {free / 1e9:.2f} GB left, and {LEFT_FREE_BYTES / 1e9:.0f} GB stay "
            "free for recordings. Make room on it, or copy everything elsewhere with “dialback backup --to FOLDER”."
        )


class BackupsByThemselves:
    """The thread of the server that makes them. `trouble` says why the last one could not be made."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="backups", daemon=True)
        self.trouble = ""

    def start(self) -> None:
        for left in (self._library.folder / "backups").glob("*.part"):
            with contextlib.suppress(OSError):
                left.unlink()
        self._thread.start()

    def stop(self) -> None:
        self._over.set()

    def _run(self) -> None:
        while not self._over.wait(LOOKS_EVERY_S):
            self.look(datetime.now().astimezone())

    def look(self, now: datetime) -> None:
        """Make one if there is none of today yet."""
        newest = newest_by_itself(self._library.folder)
        if self._library.trouble or (newest is not None and made_at(newest).date() == now.date()):
            return
        try:
            back_up_by_itself(self._library.folder, back_up_apart)
            self.trouble = ""
        except (LibraryError, ChildRefused, ChildFailed, OSError) as error:
            if str(error) != self.trouble:
                log.warning("%s", error)
            self.trouble = str(error)

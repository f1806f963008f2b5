"""A full copy of a library in a second folder: its database and every file, verified by their hashes.

The folder looks as a library does, but for the database in use: `files/` by their SHA-256 and `backups/`. A file is
copied once; whatever interrupts a copy, the next one goes on with it. The database has its name only when all its files
are there.
"""

import contextlib
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from app import database_file
from app.desk.safekeeping.backups import BY_ITSELF
from app.desk.safekeeping.by_itself import thin_out
from app.library import REVISION, FileStore, sha256_of
from app.library_errors import LibraryError

NOTE = "copied.json"
"""In the library's folder: where the last full copy went, and when."""
WAITING = ".waiting"
OLD_AFTER_DAYS = 7


@dataclass(frozen=True)
class LastCopy:
    """`damaged` counts files that did not fit their names any more and so were not copied."""

    to: str
    finished_at: datetime
    files: int
    bytes: int
    damaged: int

    @property
    def age_days(self) -> int:
        return (datetime.now(UTC) - self.finished_at).days

    @property
    def is_old(self) -> bool:
        return datetime.now(UTC).timestamp() - self.finished_at.timestamp() > OLD_AFTER_DAYS * 86_400


@dataclass(frozen=True)
class Copied:
    """`damaged` are files of the library that do not fit their names any more; `missing` counts those that its database
    knows and it lacks, `elsewhere` those that were left where they are and so are in no copy."""

    database: Path
    last: LastCopy
    new: int
    damaged: tuple[str, ...]
    missing: int
    elsewhere: int


def copy_everything(folder: Path, to: Path, *, verify: bool = False) -> Copied:
    """Also while the library is served. `verify` reads again what was copied before. Raises LibraryError; what was
    copied until then stays, and the next time goes on from there."""
    _refuse_unless_apart(folder, to)
    try:
        with _alone_in(to):
            database = to / "backups" / f"{database_file.backup_path(to, REVISION, BY_ITSELF).name}"
            waiting = database.with_name(database.name + WAITING)
            database_file.back_up(folder / database_file.NAME, waiting)
            ours, theirs = FileStore(folder / "files", folder / "incoming"), _store(to)
            new, damaged = _copy_files(ours, theirs, verify=verify)
            missing, elsewhere = _not_there(waiting, theirs)
            waiting.rename(database)
            database_file.flush_folder(database.parent)
            thin_out(to / "backups")
            names = theirs.names()
            last = LastCopy(
                str(to.resolve()),
                datetime.now(UTC),
                len(names),
                sum(theirs.path(name).stat().st_size for name in names),
                len(damaged),
            )
            _note(folder, last)
            return Copied(database, last, new, damaged, missing, elsewhere)
    except OSError as error:
        raise LibraryError(
            f"The copy to {to} is not complete ({error.strerror}: {error.filename or to}). What was copied stays; the same command goes on "
            "from there."
        ) from error


def last_copy(folder: Path) -> LastCopy | None:
    """The last full copy of the library that came to its end, None where none is known."""
    try:
        said = json.loads((folder / NOTE).read_text(encoding="utf-8"))
        finished_at = datetime.fromisoformat(said["finished_at"]).astimezone(UTC)
        return LastCopy(
            str(said["to"]), finished_at, int(said["files"]), int(said["bytes"]), int(said["damaged"])
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _refuse_unless_apart(folder: Path, to: Path) -> None:
    ours, theirs = folder.resolve(), to.resolve()
    if theirs == ours or ours in theirs.parents or theirs in ours.parents:
        raise LibraryError(
            f"{to} and the library lie within each other. Name a folder elsewhere, best on another disk."
        )
    if (to / database_file.NAME).exists():
        raise LibraryError(f"{to} is a library itself, so nothing is copied into it. Name another folder.")
    if to.exists() and not to.is_dir():
        raise LibraryError(
            f"{to} is a file. Name a folder, or a name that ends with .db for the database alone."
        )


@contextlib.contextmanager
def _alone_in(to: Path) -> Iterator[None]:
    for name in ("files", "backups", "incoming"):
        (to / name).mkdir(parents=True, exist_ok=True)
    lock = FileLock(to / "copying.lock", timeout=0)
    try:
        lock.acquire()
    except Timeout:
        raise LibraryError(f"Another Dialback is copying to {to} just now.") from None
    try:
        _store(to).empty_incoming()
        for left in (to / "backups").glob("*.db.*"):  # of a copy that was cut off
            left.unlink()
        yield
    finally:
        lock.release()


def _store(to: Path) -> FileStore:
    return FileStore(to / "files", to / "incoming")


def _copy_files(ours: FileStore, theirs: FileStore, *, verify: bool) -> tuple[int, tuple[str, ...]]:
    new, damaged = 0, []
    for name in sorted(ours.names()):
        source, target = ours.path(name), theirs.path(name)
        if target.exists() and target.stat().st_size == source.stat().st_size:
            if not verify or sha256_of(target) == name:
                continue
            if sha256_of(source) == name:
                target.unlink()
        with source.open("rb") as stream:
            taken = theirs.take_in(stream)
        if taken.sha256 != name:
            theirs.remove(taken.sha256)
            damaged.append(name)
            continue
        _let_go(target)
        if sha256_of(target) != name:
            target.unlink()
            raise LibraryError(
                f"{target} reads otherwise than it was written: that disk cannot be relied on."
            )
        new += 1
    return new, tuple(damaged)


def _let_go(path: Path) -> None:
    """What was written is read again from the disk, not from memory, where the system lets one ask for it."""
    if hasattr(os, "posix_fadvise"):
        with path.open("rb") as file:
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _not_there(database: Path, theirs: FileStore) -> tuple[int, int]:
    with database_file.read_only(database) as connection:
        known = connection.execute(
            "SELECT sha256, id IN (SELECT file_id FROM referred_file) FROM stored_file"
        ).fetchall()
    absent = [is_elsewhere for name, is_elsewhere in known if not theirs.path(name).exists()]
    return absent.count(0), absent.count(1)


def _note(folder: Path, last: LastCopy) -> None:
    said = {
        "to": last.to,
        "finished_at": last.finished_at.isoformat(),
        "files": last.files,
        "bytes": last.bytes,
        "damaged": last.damaged,
    }
    written = folder / f"{NOTE}.part"
    written.write_text(json.dumps(said), encoding="utf-8")
    database_file.flush_file(written)
    written.replace(folder / NOTE)

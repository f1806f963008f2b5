"""The lookout over the watched folders: notices files, waits until they are whole, takes each in once.

One look goes through all folders; between two looks of a file that stayed the same it was not written to. Nothing in
a watched folder is ever opened for writing.
"""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.arrivals import filing, photo_filing
from app.desk.arrivals.filing import Whole
from app.desk.arrivals.folder_sweep import Stamp, TooManyFiles, sweep
from app.desk.arrivals.watched_folders import OLD_PICTURE, TOO_MANY, is_old_picture, left
from app.desk.arrivals.what_arrives import kind_of
from app.desk.files import audio_heads, channel_pairs, stored_files
from app.desk.files.pictures import UnusablePicture, is_picture
from app.desk.photos.panel_readings import have_read
from app.library import Library, TakenIn, sha256_of
from app.records import Arrival, ReferredFile, WatchedFolder
from app.records.base import now

STILL_S = 2.0
PATIENCE_S = 60.0
"""How long a file that nobody writes to may have a header that says it is not finished, or refuse to be opened."""
FRESH_S = 60.0
"""A file that is not taken in is looked at again this long after its date: coarse clocks may hide that it was written to."""

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Looked:
    """What one look found: the folders, whether something in them is still on its way, so that the next look is due
    soon, how many files were taken in, whether anything was noted that a page shows, and the drafts that got a photo."""

    folders: tuple[str, ...]
    on_its_way: bool
    settled: int
    is_news: bool
    photographed: tuple[int, ...] = ()


@dataclass(frozen=True)
class _Seen:
    """`was_refused` is whether a decoder found no whole picture in it: it may still be on its way, and is tried once more."""

    stamp: Stamp
    since_s: float
    was_refused: bool = False


class Lookout:
    """`clock` counts seconds; `is_over` says, between two files, that the server stops."""

    def __init__(
        self,
        library: Library,
        *,
        clock: Callable[[], float] = time.monotonic,
        is_over: Callable[[], bool] = lambda: False,
    ) -> None:
        self._library = library
        self._clock = clock
        self._is_over = is_over
        self._last: dict[int, dict[str, Stamp]] = {}
        self._seen: dict[tuple[int, str], _Seen] = {}
        self._dull: dict[tuple[int, str], Stamp] = {}
        self._settled = 0
        self._is_news = False
        self._photographed: list[int] = []

    def look(self) -> Looked:
        """Look through every folder once."""
        with self._library.reading() as session:
            folders = session.scalars(select(WatchedFolder)).all()
        self._settled, self._is_news = 0, False
        self._photographed.clear()
        on_its_way = [self._look_into(folder) for folder in folders]
        paths = tuple(folder.path for folder in folders)
        return Looked(paths, any(on_its_way), self._settled, self._is_news, tuple(self._photographed))

    def _look_into(self, folder: WatchedFolder) -> bool:
        try:
            files = sweep(Path(folder.path))
        except TooManyFiles:
            self._say(folder, TOO_MANY)
            return False
        except OSError as error:
            self._say(folder, f"This folder cannot be reached just now ({error.strerror}).")
            return False
        self._say(folder, "")
        if files != self._last.get(folder.id):
            self._take_note(folder, files)
            self._last[folder.id] = files
        return self._settle_what_is_whole(folder, files)

    def _say(self, folder: WatchedFolder, problem: str) -> None:
        if problem != folder.problem:
            self._is_news = True
            with self._library.writing() as session:
                row = session.get(WatchedFolder, folder.id)
                if row is not None:
                    row.problem = problem

    def _take_note(self, folder: WatchedFolder, files: dict[str, Stamp]) -> None:
        """Bring the rows of a folder to what lies in it."""
        with self._library.reading() as session:
            known = _newest_rows(session, folder.id)
        new = {
            path for path, stamp in files.items() if path not in known and self._arrives(folder, path, stamp)
        }
        changed = {
            path
            for path, row in known.items()
            if path in files and files[path] != Stamp(row.bytes, row.modified_ns)
        }
        gone = {path for path, row in known.items() if path not in files and row.missing_since is None}
        back = {path for path, row in known.items() if path in files and row.missing_since is not None}
        if not new | changed | gone | back:
            return
        self._is_news = True
        with self._library.writing() as session:
            if session.get(WatchedFolder, folder.id) is None:
                return
            rows = _newest_rows(session, folder.id)
            moved = {
                Stamp(row.bytes, row.modified_ns): row
                for path, row in rows.items()
                if path not in files and row.state == "left"
            }
            for path in sorted(new - rows.keys()):
                _note_new(session, folder, path, files[path], moved)
            for path in sorted(changed & rows.keys()):
                _note_changed(session, rows[path], files[path])
            for path in gone & rows.keys():
                if rows[path].state == "growing":
                    session.delete(rows[path])
                elif rows[path].path == path:  # else it was renamed meanwhile
                    rows[path].missing_since = now()
            for path in back & rows.keys():
                rows[path].missing_since = None
            _note_referred(session, Path(folder.path), changed | gone | back)

    def _arrives(self, folder: WatchedFolder, path: str, stamp: Stamp) -> bool:
        """Whether a file is of a kind that is taken in."""
        key = (folder.id, path)
        is_fresh = time.time() - stamp.modified_ns / 1e9 < FRESH_S
        if self._dull.get(key) == stamp and not is_fresh:
            return False
        try:
            if kind_of(_at(folder, path)) is not None:
                self._dull.pop(key, None)
                return True
        except OSError:  # locked while it is written, or just gone: the next look tells
            return False
        self._dull[key] = stamp
        return False

    def _settle_what_is_whole(self, folder: WatchedFolder, files: dict[str, Stamp]) -> bool:
        """Take in what has stopped growing. Returns whether something has not."""
        with self._library.reading() as session:
            growing = session.scalars(
                select(Arrival)
                .where(col(Arrival.folder_id) == folder.id, col(Arrival.state) == "growing")
                .order_by(col(Arrival.modified_ns), col(Arrival.id))
            ).all()
        for row in growing:
            if self._is_over():
                return True
            stamp = files.get(row.path)
            if stamp is not None:
                self._settle_if_whole(folder, row, stamp, frozenset(files))
        with self._library.reading() as session:
            left = select(col(Arrival.id)).where(
                col(Arrival.folder_id) == folder.id, col(Arrival.state) == "growing"
            )
            return session.scalar(left.limit(1)) is not None

    def _settle_if_whole(
        self, folder: WatchedFolder, row: Arrival, stamp: Stamp, present: frozenset[str]
    ) -> None:
        key = (folder.id, row.path)
        seen = self._seen.get(key)
        if seen is None or seen.stamp != stamp:
            self._seen[key] = _Seen(stamp, self._clock())
            return
        still_s = self._clock() - seen.since_s
        if still_s < STILL_S:
            return
        path = _at(folder, row.path)
        if self._settle_picture(row, path, seen, still_s, present):
            return
        try:
            head = audio_heads.read_head(path)
            if head is None or not head.is_finished:
                if still_s < PATIENCE_S:
                    return
                if head is None:
                    self._fail(row, "This is no WAV, AIFF or FLAC file and no picture any more.")
                    return
            taken = self._read(folder, path)
            alike = channel_pairs.alike(path)
            if _stamp_of(path) != stamp:
                self._seen.pop(key)
                return
        except OSError as error:
            if still_s >= PATIENCE_S:
                self._fail(row, f"It could not be read, or not be written to the library ({error.strerror}).")
            return
        self._seen.pop(key)
        filing.settle(self._library, row.id, Whole(path, stamp, head, taken, alike), present)
        self._settled += 1
        self._is_news = True

    def _settle_picture(
        self, row: Arrival, path: Path, seen: _Seen, still_s: float, present: frozenset[str]
    ) -> bool:
        """Take in a picture once it is whole. Returns whether the file is one, whole or not."""
        key = (row.folder_id, row.path)
        try:
            if not is_picture(path):
                return False
            if seen.was_refused and still_s < PATIENCE_S:
                return True
            whole = photo_filing.read_whole(self._library, path, seen.stamp)
            if _stamp_of(path) != seen.stamp:
                self._seen.pop(key)
                return True
        except UnusablePicture as error:
            self._seen[key] = replace(seen, was_refused=True)
            if still_s >= PATIENCE_S:
                self._fail(row, str(error))
            return True
        except OSError as error:
            if still_s >= PATIENCE_S:
                self._fail(row, f"It could not be read, or not be written to the library ({error.strerror}).")
            return True
        self._seen.pop(key)
        draft_id = photo_filing.settle(self._library, row.id, whole, present)
        if draft_id is not None:
            have_read(self._library, draft_id)
            self._photographed.append(draft_id)
        self._settled += 1
        self._is_news = True
        return True

    def _read(self, folder: WatchedFolder, path: Path) -> TakenIn:
        if folder.keeps != "copy":
            return TakenIn(sha256_of(path), path.stat().st_size)
        with path.open("rb") as stream:
            return self._library.files.take_in(stream)

    def _fail(self, row: Arrival, reason: str) -> None:
        log.warning("%s: %s", row.path, reason)
        self._is_news = True
        with self._library.writing() as session:
            failed = session.get(Arrival, row.id)
            if failed is not None and failed.state == "growing":
                failed.state, failed.reason = "failed", reason


def _newest_rows(session: Session, folder_id: int) -> dict[str, Arrival]:
    rows = session.scalars(
        select(Arrival).where(col(Arrival.folder_id) == folder_id).order_by(col(Arrival.id))
    )
    return {row.path: row for row in rows}


def _note_new(
    session: Session, folder: WatchedFolder, path: str, stamp: Stamp, moved: dict[Stamp, Arrival]
) -> None:
    """A file at a new path. One that was left before and is only called otherwise now stays left, and so is a picture that was
    taken before its folder was watched: a phone may sync all that it has."""
    old = moved.pop(stamp, None)
    if old is not None:
        old.path, old.missing_since = path, None
        return
    if is_old_picture(folder, path, stamp):
        session.add(left(folder.id, path, stamp, OLD_PICTURE))
        return
    session.add(Arrival(folder_id=folder.id, path=path, bytes=stamp.bytes, modified_ns=stamp.modified_ns))


def _note_changed(session: Session, row: Arrival, stamp: Stamp) -> None:
    if row.state == "growing":
        row.bytes, row.modified_ns = stamp.bytes, stamp.modified_ns
        return
    session.add(
        Arrival(folder_id=row.folder_id, path=row.path, bytes=stamp.bytes, modified_ns=stamp.modified_ns)
    )


def _note_referred(session: Session, folder: Path, paths: set[str]) -> None:
    """Files that stayed where they are, and vanished, changed or came back."""
    for referred in session.scalars(select(ReferredFile)):
        path = Path(referred.path)
        if folder in path.parents and path.relative_to(folder).as_posix() in paths:
            referred.problem, referred.checked_at = stored_files.trouble_of(referred), now()


def _stamp_of(path: Path) -> Stamp:
    seen = path.stat()
    return Stamp(seen.st_size, seen.st_mtime_ns)


def _at(folder: WatchedFolder, path: str) -> Path:
    return Path(folder.path, *path.split("/"))

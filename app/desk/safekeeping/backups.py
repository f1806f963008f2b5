"""The backups of a library: copies of its database in `backups/`, and databases that another took the place of."""

import re
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from app import database_file
from app.desk.safekeeping.holdings import (
    Contents,
    Holdings,
    compared_in_words,
    lacking,
    read_contents,
    read_holdings,
)
from app.library_errors import LibraryBroken

BY_ITSELF = "-by-itself"
"""Marks, in its name, a backup that nobody asked for: those are thinned out."""
Found = TypeVar("Found")
PUT_ASIDE = "put aside"
_MOMENT = re.compile(r"(\d{8}-\d{6})")


@dataclass(frozen=True)
class Backup:
    """`trouble` says why it cannot be put back, empty where it can; `compared` what it lacks of the database that is in
    use, and has besides, empty where there is nothing to hold it against."""

    path: Path
    kind: str
    made_at: datetime
    bytes: int
    holdings: Holdings | None = None
    compared: str = ""
    trouble: str = ""

    @property
    def name(self) -> str:
        """What it is called when it is to be put back."""
        return self.path.name if self.kind != PUT_ASIDE else f"{database_file.ASIDE}/{self.path.parent.name}"


@dataclass(frozen=True)
class Present:
    """The database that is in use; `trouble` where it cannot be read, or is not there."""

    holdings: Holdings | None
    trouble: str = ""


def list_backups(folder: Path) -> tuple[Present, list[Backup]]:
    """The newest first, each held against the database that is in use. Changes nothing."""
    contents, trouble = _read(folder / database_file.NAME, read_contents, in_use=True)
    found = []
    for path, kind in _paths(folder):
        theirs, why_not = _read(path, read_contents)
        holdings = None if theirs is None else theirs.holdings
        compared = "" if theirs is None or contents is None else _compared(contents, theirs)
        found.append(Backup(path, kind, made_at(path), path.stat().st_size, holdings, compared, why_not))
    present = Present(None if contents is None else contents.holdings, trouble)
    return present, _newest_first(found)


def look_at_backups(folder: Path) -> list[Backup]:
    """The same, quickly: not held against anything."""
    found = []
    for path, kind in _paths(folder):
        there = path.stat()
        holdings, why_not = _looked_at(path, there.st_mtime_ns, there.st_size)
        found.append(Backup(path, kind, made_at(path), there.st_size, holdings, "", why_not))
    return _newest_first(found)


def made_at(path: Path) -> datetime:
    """When a copy was made, as its name says: its date in the file system changes when it is copied."""
    for name in (path.name, path.parent.name):
        if found := _MOMENT.search(name):
            return datetime.strptime(found[1], "%Y%m%d-%H%M%S").astimezone()
    return datetime.fromtimestamp(path.stat().st_mtime).astimezone()


def newest_made_at(folder: Path) -> datetime | None:
    """When the newest copy of any kind was made."""
    return max((made_at(path) for path, _ in _paths(folder)), default=None)


def newest_by_itself(folder: Path) -> Path | None:
    return max((folder / "backups").glob(f"*{BY_ITSELF}*.db"), key=made_at, default=None)


def holdings_of(path: Path) -> Holdings:
    """Raises LibraryBroken where it is no library's database."""
    holdings, trouble = _read(path, read_holdings)
    if holdings is None:
        raise LibraryBroken(f"{path} cannot be put back: {trouble}. Nothing was changed.")
    return holdings


def _paths(folder: Path) -> Iterator[tuple[Path, str]]:
    for path in (folder / "backups").glob("*.db"):
        yield path, "by itself" if BY_ITSELF in path.name else "backup"
    for path in (folder / database_file.ASIDE).glob(f"*/{database_file.NAME}"):
        yield path, PUT_ASIDE


def _newest_first(found: list[Backup]) -> list[Backup]:
    return sorted(found, key=lambda backup: backup.made_at, reverse=True)


def _compared(present: Contents, theirs: Contents) -> str:
    return compared_in_words(lacking(present, theirs), lacking(theirs, present))


@lru_cache(maxsize=100)
def _looked_at(path: Path, modified_ns: int, size: int) -> tuple[Holdings | None, str]:
    """A copy does not change: it is read once."""
    return _read(path, read_holdings)


def _read(
    path: Path, reader: Callable[[sqlite3.Connection], Found], *, in_use: bool = False
) -> tuple[Found | None, str]:
    """What is read of a database, else why it cannot be."""
    if not path.exists():
        return None, "it is not there"
    try:
        with database_file.read_only(path, in_use=in_use) as connection:
            return reader(connection), ""
    except sqlite3.DatabaseError as error:
        return None, f"it cannot be read ({error})"
    except (TypeError, ValueError):
        return None, "it holds no library"

"""The backups of a library: copies of its database in `backups/`, and databases that another took the place of."""

import re
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from app import database_file
from app.desk.safekeeping.holdings import Contents, Holdings, compared_in_words, lacking, read_contents
from app.library_errors import LibraryBroken

BY_ITSELF = "-by-itself"
"""Marks, in its name, a backup that nobody asked for: those are thinned out."""
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


@dataclass(frozen=True)
class Present:
    """The database that is in use; `trouble` where it cannot be read, or is not there."""

    holdings: Holdings | None
    trouble: str = ""


def list_backups(folder: Path) -> tuple[Present, list[Backup]]:
    """The newest first, each held against the database that is in use. Changes nothing."""
    contents, trouble = _read(folder / database_file.NAME, in_use=True)
    found = []
    for path, kind in _paths(folder):
        theirs, why_not = _read(path)
        found.append(
            Backup(
                path,
                kind,
                made_at(path),
                path.stat().st_size,
                None if theirs is None else theirs.holdings,
                "" if theirs is None or contents is None else _compared(contents, theirs),
                why_not,
            )
        )
    present = Present(None if contents is None else contents.holdings, trouble)
    return present, sorted(found, key=lambda backup: backup.made_at, reverse=True)


def _compared(present: Contents, theirs: Contents) -> str:
    return compared_in_words(lacking(present, theirs), lacking(theirs, present))


def made_at(path: Path) -> datetime:
    """When a copy was made, as its name says: its date in the file system changes when it is copied."""
    for name in (path.name, path.parent.name):
        if found := _MOMENT.search(name):
            return datetime.strptime(found[1], "%Y%m%d-%H%M%S").astimezone()
    return datetime.fromtimestamp(path.stat().st_mtime).astimezone()


def newest_by_itself(folder: Path) -> Path | None:
    return max((folder / "backups").glob(f"*{BY_ITSELF}*.db"), key=made_at, default=None)


def read_holdings(path: Path) -> Holdings:
    """Raises LibraryBroken where it is no library's database."""
    contents, trouble = _read(path)
    if contents is None:
        raise LibraryBroken(f"{path} cannot be put back: {trouble}. Nothing was changed.")
    return contents.holdings


def _paths(folder: Path) -> Iterator[tuple[Path, str]]:
    for path in (folder / "backups").glob("*.db"):
        yield path, "by itself" if BY_ITSELF in path.name else "backup"
    for path in (folder / database_file.ASIDE).glob(f"*/{database_file.NAME}"):
        yield path, "put aside"


def _read(path: Path, *, in_use: bool = False) -> tuple[Contents | None, str]:
    if not path.exists():
        return None, "it is not there"
    try:
        with database_file.read_only(path, in_use=in_use) as connection:
            return read_contents(connection), ""
    except sqlite3.DatabaseError as error:
        return None, f"it cannot be read ({error})"
    except (TypeError, ValueError):
        return None, "it holds no library"

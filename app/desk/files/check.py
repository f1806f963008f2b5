"""Is the library whole? Every file's hash, every row's links; and what nothing refers to any more.

It reads whatever there is and changes nothing: no form is too old for it and no damage ends it. What cannot be read is
an answer, too.
"""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlmodel import col, delete

from app import database_file
from app.desk.files.file_names import name_of
from app.desk.files.tables import TableRead, read_table, readable_rows, table_names
from app.library import REVISION, FileStore, Library, refuse_if_newer, sha256_of
from app.records import StoredFile

REFERENCES = (
    ("source_track", "file_id"),
    ("print", "file_id"),
    ("photo", "original_file_id"),
    ("photo", "shown_file_id"),
    ("photo", "thumbnail_file_id"),
    ("draft_photo", "original_file_id"),
    ("draft_photo", "shown_file_id"),
    ("draft_photo", "thumbnail_file_id"),
    ("setting_crop", "file_id"),
    ("draft_crop", "file_id"),
    ("recall_photo", "original_file_id"),
    ("recall_photo", "shown_file_id"),
    ("recall_photo", "thumbnail_file_id"),
    ("arrival", "file_id"),
    ("recall_try", "file_id"),
    ("reference_signal", "file_id"),
    ("reference_print", "file_id"),
)
MOST_SAID = 20


@dataclass(frozen=True)
class CheckReport:
    """`problems` are sentences; `unused` counts stored files that nothing refers to (they are no problem): what
    deleted passes left, or an upload that was cut short after its file was safe. `kept` counts those of them that
    tidying leaves, for a backup knows them or they are older than this database. `damage` is what SQLite says of the
    database, then `tables` are told with what of them can be read. `foreign` are what others left in files/."""

    files: int
    bytes: int
    problems: tuple[str, ...]
    unused: int
    unused_bytes: int
    kept: int = 0
    damage: tuple[str, ...] = ()
    tables: tuple[TableRead, ...] = ()
    foreign: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Stored:
    row_id: int
    sha256: str
    bytes: int
    media_type: str


@dataclass(frozen=True)
class _Rows:
    """What the database says of files. `referred` are paths of files that were left where they are, by row; `used` is
    None where it cannot be told which files are in use; `born` is when the first file was known to this database."""

    tables: frozenset[str]
    stored: tuple[_Stored, ...]
    referred: Mapping[int, str]
    used: frozenset[int] | None
    born: datetime | None


def check_library(folder: Path) -> CheckReport:
    """Read every file and every row of the library in `folder`. Changes nothing. Raises LibraryTooNew."""
    store = FileStore(folder / "files", folder / "incoming")
    problems: list[str] = []
    try:
        with database_file.read_only(folder / database_file.NAME, in_use=True) as connection:
            damage = _said_by_sqlite(connection) or _foreign_form(connection)
            tables = _tables(connection) if damage else ()
            rows = _rows(connection)
            problems += [] if damage else _broken_links(connection)
            for row in rows.stored:
                problems += _problems_of_row(connection, rows, store, row)
    except sqlite3.DatabaseError as error:
        damage, tables, rows = (str(error),), (), _Rows(frozenset(), (), {}, None, None)
    strays = store.names() - {row.sha256 for row in rows.stored}
    if damage:  # nothing else says what they should be
        problems += [
            f"{_place(name)} has changed: its contents no longer fit its name."
            for name in strays
            if not _fits(store, name)
        ]
    unused = [] if damage else _unused(rows, store)
    removable = _removable(folder, rows, store, unused)
    return CheckReport(
        files=len(rows.stored),
        bytes=sum(row.bytes for row in rows.stored),
        problems=(*(f"The database says: {said}." for said in damage), *problems),
        unused=len(unused),
        unused_bytes=sum(_size(store, name) for name in unused),
        kept=len(unused) - len(removable),
        damage=damage,
        tables=tables,
        foreign=tuple(str(path.relative_to(folder)) for path in store.foreign()),
    )


def tidy(library: Library) -> int:
    """Remove the stored files that nothing refers to, neither this database nor any backup of it, unless they are older
    than what this database knows: then it is a new one beside old files. Returns how many. Only for a library that is
    not served."""
    with database_file.read_only(library.database, in_use=True) as connection:
        if _said_by_sqlite(connection):
            return 0
        rows = _rows(connection)
    removable = _removable(library.folder, rows, library.files, _unused(rows, library.files))
    with library.writing() as session:
        for name in removable:
            session.execute(delete(StoredFile).where(col(StoredFile.sha256) == name))
    for name in removable:
        library.files.remove(name)
    return len(removable)


def _said_by_sqlite(connection: sqlite3.Connection) -> tuple[str, ...]:
    try:
        said = [
            line for (line,) in connection.execute(f"PRAGMA integrity_check({MOST_SAID})") if line != "ok"
        ]
    except sqlite3.DatabaseError as error:
        return (str(error),)
    return tuple(part for line in said for part in str(line).splitlines() if not part.startswith("***"))


def _foreign_form(connection: sqlite3.Connection) -> tuple[str, ...]:
    """What says that it is no library's database. Raises LibraryTooNew: what refers to a file there is not known here."""
    try:
        form = database_file.form_of(connection)
    except (sqlite3.DatabaseError, TypeError):
        return ("it does not say of which form it is",)
    if form != REVISION:
        refuse_if_newer(form)
    return ()


def _tables(connection: sqlite3.Connection) -> tuple[TableRead, ...]:
    try:
        return tuple(read_table(connection, table) for table in table_names(connection))
    except sqlite3.DatabaseError:
        return ()


def _broken_links(connection: sqlite3.Connection) -> list[str]:
    return [
        f"Row {row_id} of {table} refers to a missing {parent}."
        for table, row_id, parent, _ in connection.execute("PRAGMA foreign_key_check")
    ]


def _rows(connection: sqlite3.Connection) -> _Rows:
    """As much as can be read."""
    tables = frozenset(table_names(connection))
    whole = True

    def of(table: str, columns: str) -> Iterator[Sequence[Any]]:
        nonlocal whole
        for row in readable_rows(connection, table, columns) if table in tables else ():
            if isinstance(row, sqlite3.DatabaseError):
                whole = False
            else:
                yield row

    known = list(of("stored_file", "id, sha256, bytes, media_type, created_at"))
    stored = tuple(_Stored(*row[:4]) for row in known)
    referred: dict[int, str] = dict(map(tuple, of("referred_file", "file_id, path")))
    used = frozenset(file_id for table, column in REFERENCES for (file_id,) in of(table, column) if file_id)
    born = min((str(row[-1]) for row in known), default=None)
    return _Rows(
        tables,
        stored,
        referred,
        used if whole else None,
        None if born is None else datetime.fromisoformat(born).replace(tzinfo=UTC),
    )


def _unused(rows: _Rows, store: FileStore) -> list[str]:
    """By name: stored files that no row uses, and those that the database does not know."""
    if rows.used is None:
        return []
    known = {row.sha256 for row in rows.stored}
    return [row.sha256 for row in rows.stored if row.row_id not in rows.used] + sorted(store.names() - known)


def _removable(folder: Path, rows: _Rows, store: FileStore, unused: Sequence[str]) -> list[str]:
    if rows.born is None or not unused:
        return []  # it knows of no file at all
    elsewhere = _known_to_backups(folder)
    return [name for name in unused if name not in elsewhere and not _is_older(store.path(name), rows.born)]


WRITTEN_BEFORE_ITS_ROW_S = 10.0
"""A file is safe before its row is written, so the first that a database knows is a little older than that."""


def _is_older(path: Path, born: datetime) -> bool:
    return path.exists() and path.stat().st_mtime < born.timestamp() - WRITTEN_BEFORE_ITS_ROW_S


def _known_to_backups(folder: Path) -> set[str]:
    """What a backup that is put back one day will look for, and so will a database that was put aside."""
    known: set[str] = set()
    for path in (
        *(folder / "backups").glob("*.db"),
        *(folder / database_file.ASIDE).glob(f"*/{database_file.NAME}"),
    ):
        try:
            with database_file.read_only(path) as connection:
                for row in readable_rows(connection, "stored_file", "sha256"):
                    if not isinstance(row, sqlite3.DatabaseError):
                        known.add(row[0])
        except sqlite3.DatabaseError:
            continue
    return known


def _problems_of_row(
    connection: sqlite3.Connection, rows: _Rows, store: FileStore, row: _Stored
) -> list[str]:
    path = store.path(row.sha256)
    if not path.exists() and row.row_id in rows.referred:
        return _problems_of_referred(Path(rows.referred[row.row_id]), row)
    trouble = _trouble_of(path, row)
    if not trouble:
        return []
    try:
        name = name_of(
            row.sha256, lambda query, values: connection.execute(query, values).fetchone(), rows.tables
        )
    except sqlite3.DatabaseError:
        name = None
    called = f"“{name}” ({_place(row.sha256)})" if name else f"{_place(row.sha256)} ({row.media_type})"
    return [f"{called} {trouble}"]


def _trouble_of(path: Path, row: _Stored) -> str:
    try:
        size = path.stat().st_size
        if size != row.bytes:
            return f"has {size} bytes; {row.bytes} were stored."
        if sha256_of(path) != row.sha256:
            return "has changed: its contents no longer fit its name."
    except FileNotFoundError:
        return "is missing."
    except OSError as error:
        return f"cannot be read ({error.strerror})."
    return ""


def _problems_of_referred(path: Path, row: _Stored) -> list[str]:
    """Of a file that was left where it is. Its bytes count, not its date."""
    try:
        is_same = sha256_of(path) == row.sha256
    except OSError as error:
        return [f"{path}, which was left where it is, cannot be read ({error.strerror})."]
    return [] if is_same else [f"{path}, which was left where it is, has changed since."]


def _fits(store: FileStore, name: str) -> bool:
    try:
        return sha256_of(store.path(name)) == name
    except OSError:
        return False


def _place(sha256: str) -> str:
    return f"files/{sha256[:2]}/{sha256}"


def _size(store: FileStore, name: str) -> int:
    path = store.path(name)
    return path.stat().st_size if path.exists() else 0

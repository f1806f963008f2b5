"""Is the library whole? Every file's hash, every row's links; and what nothing refers to any more."""

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select, text
from sqlmodel import col

from app.library import Library, sha256_of
from app.records import ReferredFile, StoredFile

REFERENCES = (
    ("source_track", "file_id"),
    ("print", "file_id"),
    ("photo", "original_file_id"),
    ("photo", "shown_file_id"),
    ("photo", "thumbnail_file_id"),
    ("draft_photo", "original_file_id"),
    ("draft_photo", "shown_file_id"),
    ("draft_photo", "thumbnail_file_id"),
    ("arrival", "file_id"),
    ("recall_try", "file_id"),
    ("reference_signal", "file_id"),
    ("reference_print", "file_id"),
)


@dataclass(frozen=True)
class CheckReport:
    """`problems` are sentences; `unused` counts stored files that nothing refers to (they are no problem): what
    deleted passes left, or an upload that was cut short after its file was safe."""

    files: int
    bytes: int
    problems: tuple[str, ...]
    unused: int
    unused_bytes: int


def check_library(library: Library) -> CheckReport:
    """Read every file and every row. Changes nothing."""
    problems = []
    with library.reading() as session:
        connection = session.connection()
        for (said,) in connection.execute(text("PRAGMA integrity_check")):
            if said != "ok":
                problems.append(f"The database says: {said}.")
        for table, row_id, parent, _ in connection.execute(text("PRAGMA foreign_key_check")):
            problems.append(f"Row {row_id} of {table} refers to a missing {parent}.")
        stored = session.scalars(select(StoredFile)).all()
        referred = {row.file_id: row for row in session.scalars(select(ReferredFile))}
    unused = _unused(library)
    for row in stored:
        path = library.files.path(row.sha256)
        elsewhere = None if path.exists() else referred.get(row.id)
        problems += _problems_of(path, row) if elsewhere is None else _problems_of_referred(elsewhere, row)
    strays = library.files.names() - {row.sha256 for row in stored}
    stray_bytes = sum(library.files.path(name).stat().st_size for name in strays)
    return CheckReport(
        files=len(stored),
        bytes=sum(row.bytes for row in stored),
        problems=tuple(problems),
        unused=len(unused) + len(strays),
        unused_bytes=sum(row.bytes for row in unused) + stray_bytes,
    )


def tidy(library: Library) -> int:
    """Remove the stored files that nothing refers to. Returns how many. Only for a library that is not served."""
    unused = _unused(library)
    with library.writing() as session:
        for row in unused:
            session.delete(row)
        known = set(session.scalars(select(col(StoredFile.sha256))))
    gone = library.files.names() - known
    for name in gone:
        library.files.remove(name)
    return len(gone)


def _unused(library: Library) -> list[StoredFile]:
    used = " UNION ".join(
        f'SELECT {column} FROM "{table}" WHERE {column} IS NOT NULL' for table, column in REFERENCES
    )
    with library.reading() as session:
        statement = select(StoredFile).from_statement(
            text(f"SELECT * FROM stored_file WHERE id NOT IN ({used})")
        )
        return list(session.scalars(statement))


def _problems_of(path: Path, row: StoredFile) -> list[str]:
    if not path.exists():
        return [f"The file {row.sha256} ({row.media_type}) is missing."]
    size = path.stat().st_size
    if size != row.bytes:
        return [f"The file {row.sha256} has {size} bytes; {row.bytes} were stored."]
    if sha256_of(path) != row.sha256:
        return [f"The file {row.sha256} has changed: its contents no longer fit its name."]
    return []


def _problems_of_referred(referred: ReferredFile, row: StoredFile) -> list[str]:
    """Of a file that was left where it is. Its bytes count, not its date."""
    try:
        is_same = sha256_of(Path(referred.path)) == row.sha256
    except OSError as error:
        return [f"{referred.path}, which was left where it is, cannot be read ({error.strerror})."]
    return [] if is_same else [f"{referred.path}, which was left where it is, has changed since."]

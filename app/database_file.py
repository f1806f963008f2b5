"""A library's database as a file: its form, copies of it, whether one is whole, and how one takes another's place.

SQLite plays a `-wal` or `-journal` that a hard stop left into whatever database stands beside it, so the files of a
database are only ever moved together.
"""

import contextlib
import json
import os
import shutil
import sqlite3
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from app.library_errors import LibraryBroken, LibraryDamaged, LibraryError, command

NAME = "dialback.db"
PARTS = (NAME, f"{NAME}-journal", f"{NAME}-wal", f"{NAME}-shm")
PRIMARY_CODE = 0xFF
"""The part of SQLite's error codes that names the kind of failure; the rest says more closely where it happened."""
DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)

STAGE = "restoring"
"""The folder within a library in which a database is made ready to take the place of another."""
ASIDE = "put-aside"
PLAN = "plan.json"

PAGES_AT_ONCE = 1024
GENTLE_PAUSE_S = 0.01


def code_of(error: BaseException | None) -> int:
    """SQLite's own code of an error, 0 where it has none."""
    return int(getattr(error, "sqlite_errorcode", 0) or 0) & PRIMARY_CODE


@contextlib.contextmanager
def read_only(database: Path, *, in_use: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection that changes nothing that is written. What a hard stop left in a `-wal` is read without playing it
    back; where it left a `-journal`, a change was cut off in the middle, which has to be taken back before anything can
    be read. A copy that nobody uses is read without making files beside it. Raises sqlite3.DatabaseError."""
    journal, wal = (database.with_name(f"{database.name}-{end}") for end in ("journal", "wal"))
    if journal.exists():
        way = "rw"
    elif in_use or wal.exists():
        way = "ro"
    else:
        way = "ro&immutable=1"
    address = f"{database.absolute().as_uri()}?mode={way}"
    with contextlib.closing(sqlite3.connect(address, uri=True, timeout=20)) as connection:
        yield connection


def form_of(connection: sqlite3.Connection) -> str | None:
    """The form a database is in, None where it is still to be made. Raises sqlite3.DatabaseError, and TypeError where
    it is the database of something else."""
    if not connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone():
        return None  # a first start was cut short before it wrote a table
    (revision,) = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(revision)


def revision_of(database: Path) -> str | None:
    """The form of a library's database, None where it is still to be made. Raises LibraryBroken."""
    if not database.exists():
        return None
    try:
        with contextlib.closing(sqlite3.connect(database)) as connection:
            return form_of(connection)
    except (sqlite3.DatabaseError, TypeError) as error:
        raise LibraryBroken(
            f"{database} is not a Dialback library that can be opened ({error}). Nothing was changed. "
            f"“{command('check', database.parent)}” says what can still be read of it, "
            f"“{command('restore', database.parent)}” lists the backups; or name another folder with --library."
        ) from error


def trouble_of(database: Path, *, thoroughly: bool = False, in_use: bool = False) -> str:
    """What SQLite's own check says is wrong with a database, empty where it finds nothing."""
    check = "integrity_check" if thoroughly else "quick_check"
    try:
        with read_only(database, in_use=in_use) as connection:
            (said,) = connection.execute(f"PRAGMA {check}(1)").fetchone()
    except sqlite3.DatabaseError as error:
        return str(error)
    return "" if said == "ok" else str(said).strip().splitlines()[-1]


def backup_path(folder: Path, revision: str, kind: str = "") -> Path:
    """A name in `backups/` that is not taken. `kind` tells those that are made by themselves, which are thinned out."""
    stem = f"dialback-{revision}-{datetime.now():%Y%m%d-%H%M%S}{kind}"
    taken = len(list((folder / "backups").glob(f"{stem}*")))
    return folder / "backups" / (f"{stem}-{taken + 1}.db" if taken else f"{stem}.db")


def back_up(database: Path, target: Path, *, gently: bool = False, in_use: bool = True) -> Path:
    """Copy a database as it is at one moment, also while others write, into one file that is checked before it has its
    name. `gently` leaves the disk to others between two pieces. Raises LibraryError; nothing is ever written over."""
    if target.exists():
        raise LibraryError(f"{target} is there already and is not written over. Name another file.")
    unfinished = target.with_name(target.name + ".part")
    try:
        unfinished.unlink(missing_ok=True)  # what an interrupted backup left
        _copy(database, unfinished, GENTLE_PAUSE_S if gently else 0.0, in_use)
        trouble = trouble_of(unfinished)
        if trouble:
            raise LibraryDamaged(
                f"{database} is damaged ({trouble}), so no backup was made of it; those that are there were left alone. "
                f"“{command('check', database.parent)}” says what can still be read."
            )
        flush_file(unfinished)
        unfinished.rename(target)
        flush_folder(target.parent)
    except (sqlite3.DatabaseError, OSError, LibraryDamaged) as error:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
        if isinstance(error, LibraryDamaged):
            raise
        raise LibraryError(f"The database could not be copied to {target}: {error}.") from error
    return target


def _copy(database: Path, target: Path, pause_s: float, in_use: bool) -> None:
    def breathe(status: int, remaining: int, total: int) -> None:
        time.sleep(pause_s)

    with read_only(database, in_use=in_use) as source, contextlib.closing(sqlite3.connect(target)) as copy:
        source.execute("BEGIN")  # one moment, whoever writes meanwhile
        source.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone()
        source.backup(copy, pages=PAGES_AT_ONCE, progress=breathe if pause_s else None)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, which nothing need lie beside


def make_one_file(database: Path) -> None:
    """What nothing need lie beside."""
    with contextlib.closing(sqlite3.connect(database)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def take_place(folder: Path) -> Path | None:
    """Put the database that was made ready in `restoring/` into the library's place. The present one is moved aside
    with all that belongs to it. Whatever interrupts this, `finish_taking_place` goes on with it. Returns where the
    present one lies now, None if there was none."""
    stage = folder / STAGE
    aside = folder / ASIDE / f"{datetime.now():%Y%m%d-%H%M%S}"
    while aside.exists():
        aside = aside.with_name(f"{aside.name}-2")
    flush_file(stage / NAME)
    plan = stage / f"{PLAN}.part"
    plan.write_text(json.dumps({"aside": aside.name}), encoding="utf-8")
    flush_file(plan)
    plan.rename(stage / PLAN)
    flush_folder(stage)
    finish_taking_place(folder)
    return aside if aside.exists() else None


def finish_taking_place(folder: Path) -> bool:
    """Go on with what `take_place` began, if it was interrupted; clear away what had not come so far. Call it while
    holding the library. As long as the new database has not moved, what stands in its place is the old one."""
    stage = folder / STAGE
    if not stage.is_dir():
        return False
    begun = (stage / PLAN).exists()
    if begun and (stage / NAME).exists():
        aside = folder / ASIDE / json.loads((stage / PLAN).read_text(encoding="utf-8"))["aside"]
        for part in PARTS:
            if (folder / part).exists():
                if not aside.exists():
                    aside.mkdir(parents=True)
                    flush_folder(aside.parent)
                    flush_folder(folder)
                (folder / part).rename(aside / part)
                flush_folder(aside)
        (stage / NAME).rename(folder / NAME)
        flush_folder(folder)
    shutil.rmtree(stage)
    return begun


def flush_file(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def flush_folder(folder: Path) -> None:
    if os.name == "nt":  # Windows keeps a rename without it
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

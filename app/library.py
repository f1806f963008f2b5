"""A library: one folder that can be copied, synced or moved to another machine.

    dialback.db    every record (SQLite)
    files/         sources, prints and photos, named by their SHA-256
    backups/       copies of dialback.db, made before each migration and by `dialback backup`
    incoming/      files on their way in; emptied at each start
    features/      what was computed from sources, to be thrown away at will
    auditions/     prints made ready for listening, to be thrown away at will

LibraryError
├── LibraryInUse     another Dialback serves it
├── LibraryFull      no room on its disk; nothing of the transaction was kept
├── LibraryBusy      another program held the database for too long; nothing of the transaction was kept
├── LibraryTooNew    written by a newer Dialback
└── LibraryBroken    the database cannot be opened
"""

import contextlib
import hashlib
import logging
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO, Self

from filelock import FileLock, Timeout
from sqlalchemy import URL, Engine, create_engine, event
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from app.config import ROOT
from app.records import written_words

REVISION = "0004"
"""The newest migration. Kept here so that a library that is up to date opens without loading Alembic."""

PRIMARY_CODE = 0xFF
"""The part of SQLite's error codes that names the kind of failure; the rest says more closely where it happened."""

BLOCK_BYTES = 1 << 20

log = logging.getLogger(__name__)


class LibraryError(Exception):
    """Something about the library folder that the person has to know; the message is a full sentence."""


class LibraryInUse(LibraryError):
    pass


class LibraryFull(LibraryError):
    pass


class LibraryBusy(LibraryError):
    pass


class LibraryTooNew(LibraryError):
    pass


class LibraryBroken(LibraryError):
    pass


@dataclass(frozen=True)
class TakenIn:
    sha256: str
    bytes: int


def copy_hashed(stream: BinaryIO, out: BinaryIO) -> TakenIn:
    """Copy from here to the end in constant memory; says what it was."""
    digest, size = hashlib.sha256(), 0
    while block := stream.read(BLOCK_BYTES):
        digest.update(block)
        size += out.write(block)
    return TakenIn(digest.hexdigest(), size)


def sha256_of(path: Path) -> str:
    """Of a whole file, in constant memory. Raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class FileStore:
    """Files by SHA-256. A file is there whole or not at all: it is written aside, flushed, then renamed."""

    def __init__(self, folder: Path, incoming: Path) -> None:
        self.folder = folder
        self.incoming = incoming

    def path(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / sha256

    def take_in(self, stream: BinaryIO) -> TakenIn:
        """Copy `stream` into the store in constant memory. Raises OSError (a full disk, say) leaving nothing."""
        handle, name = tempfile.mkstemp(dir=self.incoming)
        written = Path(name)
        try:
            with os.fdopen(handle, "wb") as out:
                taken = copy_hashed(stream, out)
                out.flush()
                os.fsync(out.fileno())
            target = self.path(taken.sha256)
            if not target.exists() or target.stat().st_size != taken.bytes:  # a damaged copy is replaced
                if not target.parent.exists():
                    target.parent.mkdir(exist_ok=True)
                    _flush_folder(self.folder)
                written.replace(target)
                _flush_folder(target.parent)
            return taken
        finally:
            written.unlink(missing_ok=True)

    def names(self) -> set[str]:
        """The SHA-256 of every file in the store."""
        return {path.name for path in self.folder.glob("??/*")}

    def remove(self, sha256: str) -> None:
        self.path(sha256).unlink(missing_ok=True)

    def empty_incoming(self) -> None:
        for left_over in self.incoming.iterdir():
            if left_over.is_dir():
                shutil.rmtree(left_over)
            else:
                left_over.unlink()


def _flush_folder(folder: Path) -> None:
    if os.name == "nt":  # Windows keeps a rename without it
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class Readable:
    """A library to read from. What the desk only reads takes one, so that types keep a page that was asked for from
    writing."""

    def __init__(self, folder: Path, files: FileStore, engine: Engine) -> None:
        self.folder = folder
        self.files = files
        self.features = folder / "features"
        self.auditions = folder / "auditions"
        self.engine = engine

    @contextlib.contextmanager
    def reading(self) -> Iterator[Session]:
        with Session(self.engine, autoflush=False, expire_on_commit=False) as session:
            yield session


class Snapshot(Readable):
    """A library as it stands at one moment: whatever is read of it is read in one transaction, so that no two parts of
    a page say different things of one fact."""

    def __init__(self, library: Readable, session: Session) -> None:
        super().__init__(library.folder, library.files, library.engine)
        self._session = session

    @contextlib.contextmanager
    def reading(self) -> Iterator[Session]:
        yield self._session


class Library(Readable):
    """An opened library folder. `writing()` is one transaction, begun at once as a writer: a reader that turns
    writer half-way would fail when somebody else wrote in between."""

    def __init__(self, folder: Path) -> None:
        self.database = folder / "dialback.db"
        super().__init__(folder, FileStore(folder / "files", folder / "incoming"), _engine(self.database))
        self._writer = self.engine.execution_options(dialback_begin="BEGIN IMMEDIATE")

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open `folder` as a library, making or migrating it first where needed. Raises LibraryError.

        Call it while holding `sole_server`, or `open_beside_server` where that is held by somebody else.
        """
        try:
            for name in ("files", "backups", "incoming", "features", "auditions"):
                (folder / name).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise _unusable(folder, error) from error
        _migrate(folder)
        return cls(folder)

    @classmethod
    def open_beside_server(cls, folder: Path) -> Self:
        """Open a library that somebody else serves, which must be of this version's form: nothing is migrated."""
        form = _revision_of(folder / "dialback.db")
        if form != REVISION:
            raise LibraryInUse(
                f"This library is served by another version of Dialback (its form is {form}, this one's is "
                f"{REVISION}). Stop that one first."
            )
        return cls(folder)

    @contextlib.contextmanager
    def snapshot(self) -> Iterator[Snapshot]:
        with self.reading() as session:
            yield Snapshot(self, session)

    @contextlib.contextmanager
    def writing(self) -> Iterator[Session]:
        try:
            with Session(self._writer, expire_on_commit=False) as session, session.begin():
                yield session
        except OperationalError as error:
            code = getattr(error.orig, "sqlite_errorcode", 0) & PRIMARY_CODE
            if code == sqlite3.SQLITE_FULL:
                raise LibraryFull("The disk is full.") from error
            if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                raise LibraryBusy(
                    "Something else has been writing to the library for a long time."
                ) from error
            raise

    def backup(self, target: Path | None = None) -> Path:
        """Copy the database as it is at one moment, also while the server writes. Returns the copy's path.
        Raises LibraryError when the copy cannot be written; nothing is ever written over."""
        return _back_up(self.database, target or _backup_path(self.folder, REVISION))

    def close(self) -> None:
        self.engine.dispose()


@contextlib.contextmanager
def sole_server(folder: Path, address: str) -> Iterator[None]:
    """Hold `folder` as the one server on it. Raises LibraryInUse, saying where the other one is."""
    note = folder / "served-at"
    lock = FileLock(folder / "serving.lock", timeout=0)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock.acquire()
        note.write_text(address, encoding="utf-8")
    except Timeout:
        where = note.read_text(encoding="utf-8") if note.exists() else "another address"
        raise LibraryInUse(
            f"Another Dialback already serves this library at {where}. Use that one, or stop it first, "
            "or name another folder with --library."
        ) from None
    except OSError as error:
        raise _unusable(folder, error) from error
    try:
        yield
    finally:
        note.unlink(missing_ok=True)
        lock.release()


def _unusable(folder: Path, error: OSError) -> LibraryBroken:
    return LibraryBroken(
        f"The library folder {folder} cannot be made or written to: {error.strerror}. "
        "Name another with --library."
    )


def _engine(database: Path) -> Engine:
    address = URL.create("sqlite", database=str(database))  # a path may hold %, # and ?
    engine = create_engine(address, connect_args={"isolation_level": None, "timeout": 20})

    @event.listens_for(engine, "connect")
    def _set_up(connection: sqlite3.Connection, record: Any) -> None:
        for pragma in (
            "foreign_keys = ON",
            "journal_mode = WAL",
            "synchronous = FULL",
            "cache_size = -16000",
        ):
            connection.execute(f"PRAGMA {pragma}")
        for trigger in written_words.FORGETTING:
            connection.execute(trigger)

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        connection.exec_driver_sql(connection.get_execution_options().get("dialback_begin", "BEGIN"))

    return engine


def _migrate(folder: Path) -> None:
    """Bring the database to REVISION: made if there is none, backed up and migrated if it is older."""
    database = folder / "dialback.db"
    revision = _revision_of(database)
    if revision == REVISION:
        return
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(ROOT / "migrations").replace("%", "%%"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if revision is not None:
        if revision not in known:
            raise LibraryTooNew(
                f"This library was written by a newer Dialback (its form is {revision}, this one knows up to "
                f"{REVISION}). Nothing was changed. Start it with the newer Dialback."
            )
        copy = _back_up(database, _backup_path(folder, revision))
        log.info("Library form %s is older than %s; it was copied to %s first.", revision, REVISION, copy)
    config.attributes["database"] = database
    try:
        with contextlib.closing(sqlite3.connect(database)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
        command.upgrade(config, "head")
    except Exception as error:  # whatever it was, the person has to know where their library stands
        raise LibraryBroken(
            f"The library could not be brought up to date ({getattr(error, 'orig', error)}). "
            "It is as it was before."
        ) from error


def _revision_of(database: Path) -> str | None:
    """The form the database is in, None where it is still to be made."""
    if not database.exists():
        return None
    try:
        with contextlib.closing(sqlite3.connect(database)) as connection:
            if not connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone():
                return None  # a first start was cut short before it wrote a table
            (revision,) = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    except (sqlite3.DatabaseError, TypeError) as error:
        raise LibraryBroken(
            f"{database} is not a Dialback library that can be opened ({error}). Nothing was changed. "
            "Put back a copy from the backups folder, or name another folder with --library."
        ) from error
    return str(revision)


def _backup_path(folder: Path, revision: str) -> Path:
    stem = f"dialback-{revision}-{datetime.now():%Y%m%d-%H%M%S}"
    taken = len(list((folder / "backups").glob(f"{stem}*")))
    return folder / "backups" / (f"{stem}-{taken + 1}.db" if taken else f"{stem}.db")


def _back_up(database: Path, target: Path) -> Path:
    if target.exists():
        raise LibraryError(f"{target} is there already and is not written over. Name another file.")
    unfinished = target.with_name(target.name + ".part")
    try:
        unfinished.unlink(missing_ok=True)  # what an interrupted backup left
        with (
            contextlib.closing(sqlite3.connect(database)) as source,
            contextlib.closing(sqlite3.connect(unfinished)) as copy,
        ):
            source.backup(copy)
        unfinished.rename(target)
    except (sqlite3.OperationalError, OSError) as error:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise LibraryError(f"The database could not be copied to {target}: {error}.") from error
    return target

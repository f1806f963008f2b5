"""A library: one folder that can be copied, synced or moved to another machine.

    dialback.db    every record (SQLite)
    files/         sources, prints and photos, named by their SHA-256
    backups/       copies of dialback.db, made before each migration and by `dialback backup`
    incoming/      files on their way in; emptied at each start
    features/      what was computed from sources, to be thrown away at will
    auditions/     prints made ready for listening, to be thrown away at will
    put-aside/     databases that another took the place of, each with all that belongs to it
    restoring/     a database that is being made ready to take the place of this one

What can be wrong with it: `library_errors.py`.
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
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Self

from filelock import FileLock, Timeout
from sqlalchemy import URL, Engine, ExceptionContext, create_engine, event
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from app import database_file
from app.config import ROOT
from app.database_file import flush_folder
from app.library_errors import (
    LibraryAway,
    LibraryBroken,
    LibraryBusy,
    LibraryDamaged,
    LibraryError,
    LibraryFull,
    LibraryInUse,
    LibraryLost,
    LibraryTooNew,
    command,
    unusable,
)
from app.records import written_words

if TYPE_CHECKING:
    from alembic.config import Config

REVISION = "0007"
"""The newest migration. Kept here so that a library that is up to date opens without loading Alembic."""

BLOCK_BYTES = 1 << 20
HEX_DIGITS = frozenset("0123456789abcdef")

log = logging.getLogger(__name__)


FAILING_DISK = (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)


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
                    flush_folder(self.folder)
                written.replace(target)
                flush_folder(target.parent)
            return taken
        finally:
            written.unlink(missing_ok=True)

    def names(self) -> set[str]:
        """The SHA-256 of every file in the store."""
        return {path.name for path in self.folder.glob("??/*") if _is_stored(path)}

    def foreign(self) -> list[Path]:
        """What lies in the store and is none of its files, such as what a synchronising program or a file browser left
        there."""
        found = []
        for path in sorted(self.folder.iterdir()) if self.folder.is_dir() else ():
            if len(path.name) == 2 and path.is_dir():
                found += [within for within in sorted(path.iterdir()) if not _is_stored(within)]
            else:
                found.append(path)
        return found

    def remove(self, sha256: str) -> None:
        self.path(sha256).unlink(missing_ok=True)

    def empty_incoming(self) -> None:
        for left_over in self.incoming.iterdir():
            if left_over.is_dir():
                shutil.rmtree(left_over)
            else:
                left_over.unlink()


def _is_stored(path: Path) -> bool:
    name = path.name
    return len(name) == 64 and not set(name) - HEX_DIGITS and path.parent.name == name[:2] and path.is_file()


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
    writer half-way would fail when somebody else wrote in between.

    `damage` is what SQLite said when the database turned out to contradict itself: from then on nothing is written.
    """

    def __init__(self, folder: Path, database: Path | None = None) -> None:
        """`database` is another than the folder's own, as while it is being made ready."""
        self.database = database or folder / database_file.NAME
        self.damage = ""
        self._identity = _identity_of(self.database)
        super().__init__(folder, FileStore(folder / "files", folder / "incoming"), self._engine())
        self._writer = self.engine.execution_options(dialback_begin="BEGIN IMMEDIATE")

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Open `folder` as a library, making or migrating it first where needed. Raises LibraryError.

        Call it while holding `sole_server`, or `open_beside_server` where that is held by somebody else.
        """
        make_folders(folder)
        database_file.finish_taking_place(folder)
        refuse_if_lost(folder)
        _bring_up_to_date(folder)
        return cls(folder)

    @classmethod
    def open_beside_server(cls, folder: Path) -> Self:
        """Open a library that somebody else serves, which must be of this version's form: nothing is migrated."""
        form = database_file.revision_of(folder / database_file.NAME)
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
        """Raises LibraryError where it cannot be written to; then nothing of the transaction was kept."""
        self.refuse_if_unwritable()
        try:
            with Session(self._writer, expire_on_commit=False) as session, session.begin():
                yield session
        except OperationalError as error:
            code = database_file.code_of(error.orig)
            if code == sqlite3.SQLITE_FULL:
                raise LibraryFull("The disk is full.") from error
            if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                raise LibraryBusy(
                    "Something else has been writing to the library for a long time."
                ) from error
            if code in FAILING_DISK:
                raise LibraryAway(
                    f"The disk of the library does not do what it is asked ({error.orig})."
                ) from error
            raise
        self.refuse_if_unwritable()  # it went away while this was written: that may be on no disk now

    def refuse_if_unwritable(self) -> None:
        """Raises LibraryAway and LibraryDamaged. An open database whose file was deleted or replaced takes writes as if
        nothing were, and they are gone with it: so path and file are compared."""
        if self.damage:
            raise LibraryDamaged(
                f"The database is damaged ({self.damage}), so nothing more is written to it. What can still be read is "
                f"shown. Stop Dialback; “{command('check', self.folder)}” says what can still be read, and "
                f"“{command('restore', self.folder)}” lists the backups, says what each lacks, and puts one back."
            )
        if _identity_of(self.database) != self._identity:
            raise LibraryAway(
                f"The library's folder {self.folder} is not there any more, or another stands in its place: it was moved, "
                "deleted, unmounted or replaced while Dialback was running."
            )

    @property
    def trouble(self) -> str:
        """Why nothing can be written any more, empty as long as it can."""
        try:
            self.refuse_if_unwritable()
        except LibraryError as error:
            return str(error)
        return ""

    def backup(self, target: Path | None = None) -> Path:
        """Copy the database as it is at one moment, also while the server writes. Returns the copy's path.
        Raises LibraryError when the copy cannot be written; nothing is ever written over."""
        return database_file.back_up(
            self.database, target or database_file.backup_path(self.folder, REVISION)
        )

    def _engine(self) -> Engine:
        address = URL.create("sqlite", database=str(self.database))  # a path may hold %, # and ?
        engine = create_engine(address, connect_args={"isolation_level": None, "timeout": 20})

        @event.listens_for(engine, "do_connect")
        def _refuse_another(*_: Any) -> None:
            if _identity_of(self.database) != self._identity:  # or SQLite would make an empty one there
                self.refuse_if_unwritable()

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

        @event.listens_for(engine, "handle_error")
        def _notice_damage(context: ExceptionContext) -> None:
            error = context.original_exception
            if database_file.code_of(error) in database_file.DAMAGE:
                self.damage = self.damage or str(error)
                raise LibraryDamaged(f"This part of the database cannot be read: {error}.") from error

        return engine

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
        raise unusable(folder, error) from error
    try:
        yield
    finally:
        note.unlink(missing_ok=True)
        lock.release()


def settle(folder: Path) -> None:
    """Bring what an interrupted restore left to its end, unless somebody serves the library and so has done that."""
    if (folder / database_file.STAGE).is_dir():
        with contextlib.suppress(LibraryInUse), sole_server(folder, "a look at it"):
            database_file.finish_taking_place(folder)


def make_folders(folder: Path) -> None:
    """Raises LibraryBroken."""
    try:
        for name in ("files", "backups", "incoming", "features", "auditions"):
            (folder / name).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise unusable(folder, error) from error


def _identity_of(database: Path) -> tuple[int, int] | None:
    """Which file a path leads to, None where to none."""
    try:
        found = database.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def refuse_if_lost(folder: Path) -> None:
    """A library that lost its database is not a new one: a new database would know of none of its files."""
    database = folder / database_file.NAME
    if database_file.revision_of(database) is not None:
        return
    files = sum(_is_stored(path) for path in (folder / "files").glob("??/*"))
    backups = len(
        [*(folder / "backups").glob("*.db"), *(folder / database_file.ASIDE).glob(f"*/{database_file.NAME}")]
    )
    if not files and not backups:
        return
    lost = (
        f"a {database_file.NAME} that is empty"
        if database.exists()
        else f"no database ({database_file.NAME})"
    )
    there = " and ".join(
        f"{count} {noun}{'' if count == 1 else 's'}"
        for count, noun in ((files, "stored file"), (backups, "backup"))
        if count
    )
    raise LibraryLost(
        f"{folder} holds {there} of a library, but {lost}. It is not a new library, so nothing was changed. "
        + (
            f"“{command('restore', folder)}” lists the backups and puts one back."
            if backups
            else f"If you have a copy of {database_file.NAME} or a full copy of the folder, “{command('restore', folder, 'COPY')}” puts it "
            f"back; else “{command('salvage', folder)}” makes a database of what the files themselves know."
        )
    )


def _bring_up_to_date(folder: Path) -> None:
    """Bring the library's database to REVISION: made if there is none, backed up and migrated if it is older."""
    database = folder / database_file.NAME
    revision = database_file.revision_of(database)
    if revision == REVISION:
        return
    refuse_if_newer(revision)
    if revision is not None:
        copy = database_file.back_up(database, database_file.backup_path(folder, revision))
        log.info("Library form %s is older than %s; it was copied to %s first.", revision, REVISION, copy)
    migrate(database)


def migrate(database: Path, form: str = "head") -> None:
    """Bring a database to this version's form, or make one, even of an older form. Raises LibraryBroken, leaving it as it
    was."""
    from alembic import command

    try:
        with contextlib.closing(sqlite3.connect(database)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
        config = _migrations()
        config.attributes["database"] = database
        command.upgrade(config, form)
    except Exception as error:  # whatever it was, the person has to know where their library stands
        raise LibraryBroken(
            f"The library could not be brought up to date ({getattr(error, 'orig', error)}). "
            "It is as it was before."
        ) from error


def refuse_if_newer(revision: str | None) -> None:
    """Raises LibraryTooNew for a form that no migration of this Dialback leads to."""
    from alembic.script import ScriptDirectory

    known = {script.revision for script in ScriptDirectory.from_config(_migrations()).walk_revisions()}
    if revision is not None and revision not in known:
        raise LibraryTooNew(
            f"This library was written by a newer Dialback (its form is {revision}, this one knows up to "
            f"{REVISION}). Nothing was changed. Start it with the newer Dialback."
        )


def _migrations() -> "Config":
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(ROOT / "migrations").replace("%", "%%"))
    return config

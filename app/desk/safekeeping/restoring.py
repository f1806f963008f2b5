"""A backup put back in the place of the database that is in use.

It is made ready beside the library first: copied, migrated where it is older, checked, its files brought along where it
comes with some. Only then does it take the place, and what stood there is moved aside, never deleted. Whatever
interrupts it, the next start finds either the one or the other.
"""

import shutil
from dataclasses import dataclass
from pathlib import Path

from app import database_file
from app.desk.safekeeping.backups import holdings_of, made_at
from app.desk.safekeeping.holdings import Holdings
from app.library import REVISION, FileStore, make_folders, migrate, refuse_if_newer, sha256_of, sole_server
from app.library_errors import LibraryBroken, LibraryDamaged, LibraryError


@dataclass(frozen=True)
class Restored:
    """`aside` is where the database lies now that was in use, None if there was none. `missing` counts files that the
    database knows and the library lacks; `damaged` names those of the copy that do not fit their names."""

    source: Path
    holdings: Holdings
    aside: Path | None
    brought: int
    missing: int
    damaged: tuple[str, ...]


def put_back(folder: Path, chosen: str) -> Restored:
    """Put back what was chosen: a database, its name in `backups/`, or a folder that holds a full copy. Only while
    nobody serves the library. Raises LibraryError; then what was in use is in use still."""
    with sole_server(folder, "a restore"):
        make_folders(folder)
        database_file.finish_taking_place(folder)
        source = find(folder, chosen)
        holdings = holdings_of(source)
        if holdings.form != REVISION:
            refuse_if_newer(holdings.form)
        stage = folder / database_file.STAGE
        try:
            stage.mkdir()
            staged = _make_ready(source, stage / database_file.NAME, holdings.form)
            brought, damaged = _bring_files(source, folder)
        except BaseException as error:
            shutil.rmtree(stage, ignore_errors=True)
            if isinstance(error, OSError):
                raise LibraryError(
                    f"{source} could not be made ready ({error.strerror}). Nothing was put back; what was in use still is."
                ) from error
            raise
        missing = _missing(staged, folder)
        return Restored(source, holdings, database_file.take_place(folder), brought, missing, damaged)


def find(folder: Path, chosen: str) -> Path:
    """The database that was meant. Raises LibraryError."""
    for path in (
        Path(chosen),
        folder / chosen,
        folder / "backups" / chosen,
        folder / database_file.ASIDE / chosen,
    ):
        if path.is_dir():
            found = _newest_within(path)
        elif path.is_file():
            found = path
        else:
            continue
        if found.resolve() == (folder / database_file.NAME).resolve():
            raise LibraryError("That is the database that is in use already.")
        return found
    raise LibraryError(f"There is no backup {chosen}, neither there nor in {folder / 'backups'}.")


def _newest_within(path: Path) -> Path:
    """Of a folder: its database, as in a library that was copied, else the newest of its backups."""
    if (path / database_file.NAME).exists():
        return path / database_file.NAME
    newest = max((path / "backups").glob("*.db"), key=made_at, default=None)
    if newest is None:
        raise LibraryError(f"{path} holds no {database_file.NAME} and no backups.")
    return newest


def _make_ready(source: Path, staged: Path, form: str) -> Path:
    try:
        database_file.back_up(source, staged, in_use=False)
    except LibraryDamaged as error:
        raise LibraryBroken(_not_put_back(source, database_file.trouble_of(source))) from error
    if form != REVISION:
        migrate(staged)
        database_file.make_one_file(staged)
    if trouble := database_file.trouble_of(staged, thoroughly=True):
        raise LibraryBroken(_not_put_back(source, trouble))
    return staged


def _not_put_back(source: Path, trouble: str) -> str:
    return (
        f"{source} is damaged and was not put back: {trouble}. Nothing was changed. “dialback salvage {source}” makes a "
        "database of what can still be read of it."
    )


def bring_files(folder: Path, copy: Path) -> tuple[int, tuple[str, ...]]:
    """Files alone, from the folder of a full copy: those that the library lacks, and those whose contents no longer fit
    their names, which are put aside. How many came; and those of the copy that are damaged. Raises LibraryError."""
    theirs = FileStore(copy / "files", copy / "files")
    if copy.resolve() == folder.resolve() or not theirs.folder.is_dir():
        raise LibraryError(f"{copy} is no folder with a full copy: it holds no other library's files.")
    with sole_server(folder, "a restore"):
        make_folders(folder)
        ours = FileStore(folder / "files", folder / "incoming")
        try:
            for name in theirs.names() & ours.names():
                path = ours.path(name)
                if sha256_of(path) != name and sha256_of(theirs.path(name)) == name:
                    (folder / database_file.ASIDE).mkdir(exist_ok=True)
                    path.rename(folder / database_file.ASIDE / f"damaged-{name}")
            return _brought(theirs, ours)
        except OSError as error:
            raise LibraryError(
                f"Not all files came ({error.strerror}: {error.filename}). The same command goes on from here."
            ) from error


def _bring_files(source: Path, folder: Path) -> tuple[int, tuple[str, ...]]:
    """What the library lacks of the files that lie beside a full copy's database."""
    beside = source.parent.parent if source.parent.name == "backups" else source.parent
    theirs = FileStore(beside / "files", beside / "files")
    if beside.resolve() == folder.resolve() or not theirs.folder.is_dir():
        return 0, ()
    return _brought(theirs, FileStore(folder / "files", folder / "incoming"))


def _brought(theirs: FileStore, ours: FileStore) -> tuple[int, tuple[str, ...]]:
    """How many came; and those that do not fit their names, which stay away."""
    brought, damaged = 0, []
    for name in sorted(theirs.names()):
        path = theirs.path(name)
        if ours.path(name).exists() and ours.path(name).stat().st_size == path.stat().st_size:
            continue
        if sha256_of(path) != name:
            damaged.append(str(path))
            continue
        with path.open("rb") as stream:
            ours.take_in(stream)
        brought += 1
    return brought, tuple(damaged)


def _missing(staged: Path, folder: Path) -> int:
    """Files that the library should hold; what was left where it is stays out of this."""
    ours = FileStore(folder / "files", folder / "incoming")
    with database_file.read_only(staged) as connection:
        known = connection.execute(
            "SELECT sha256 FROM stored_file WHERE id NOT IN (SELECT file_id FROM referred_file)"
        ).fetchall()
    return sum(not ours.path(name).exists() for (name,) in known)

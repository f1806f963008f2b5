"""Campaigns of kills: some work on a library is ended by SIGKILL at a random moment, and what is found then is held
against what may be found. `tests/desk/safekeeping/test_kills.py` runs short ones, `tests/bench/kills.py` long ones.

The work runs in a fork, so that the moment falls into the work itself and not into the start of an interpreter.
"""

import os
import random
import shutil
import signal
import sqlite3
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import alembic.command  # noqa: F401  a fork need not load it

from app import database_file
from app.config import ROOT
from app.desk.files.check import check_library
from app.desk.projects import projects
from app.desk.safekeeping.full_copies import copy_everything
from app.desk.safekeeping.restoring import put_back
from app.desk.safekeeping.salvaging import make_anew
from app.library import REVISION, FileStore, Library, sha256_of
from app.library_errors import LibraryLost

LONGER = 1.15
"""How far beyond the time that the work takes unhurried a kill may come."""
OLDER = ROOT / "tests" / "migrations" / "filled_0003.sql"
MUCH = 1 << 40


@dataclass
class Tally:
    """`killed` counts rounds that were ended before they were done, `found` what was found afterwards, `lost` what must
    never be."""

    rounds: int = 0
    killed: int = 0
    found: Counter[str] = field(default_factory=Counter)
    lost: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        found = ", ".join(f"{count} × {what}" for what, count in sorted(self.found.items()))
        return f"{self.rounds} rounds, {self.killed} killed: {found}; {len(self.lost)} lost"


def in_a_fork(work: Callable[[], object], kill_after_s: float | None = None) -> bool:
    """Whether the work came to its end."""
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            work()
            code = 0
        finally:
            os._exit(code)
    if kill_after_s is not None:
        time.sleep(kill_after_s)
        os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    return os.WIFEXITED(status) and os.WEXITSTATUS(status) == 0


def campaign(
    template: Path,
    scratch: Path,
    rounds: int,
    chance: random.Random,
    work: Callable[[Path], object],
    look: Callable[[Path], str],
) -> Tally:
    """`look` says in a word what it found, and raises AssertionError where something is lost."""
    tally = Tally()
    folder = scratch / "library"
    _afresh(template, folder)
    begun = time.perf_counter()
    assert in_a_fork(lambda: work(folder)), "it can be done at all"
    longest_s = (time.perf_counter() - begun) * LONGER
    for number in range(rounds):
        _afresh(template, folder)
        done = in_a_fork(lambda: work(folder), chance.uniform(0.0, longest_s))
        tally.rounds += 1
        tally.killed += not done
        try:
            tally.found[look(folder)] += 1
        except Exception as error:
            tally.lost.append(f"round {number}: {type(error).__name__}: {error}")
    shutil.rmtree(folder)
    return tally


def _afresh(template: Path, folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(template, folder)


def titles(folder: Path) -> set[str]:
    library = Library.open(folder)
    found = {line.title for line in projects.list_projects(library)}
    library.close()
    return found


# what is killed, and what may be found afterwards; the template's backup `copy.db` holds `before`, its database also `since`

BEFORE, SINCE = {"before"}, {"before", "since"}


def restoring(folder: Path) -> object:
    return put_back(folder, "copy.db")


def look_after_restoring(folder: Path) -> str:
    found = titles(folder)
    assert check_library(folder).problems == ()
    assert not (folder / database_file.STAGE).exists()
    if found == SINCE:
        return "the one that was in use"
    assert found == BEFORE
    (aside,) = (folder / database_file.ASIDE).iterdir()
    put_back(folder, str(aside))
    assert titles(folder) == SINCE, "what was put aside is whole"
    return "the one put back"


def backing_up(folder: Path) -> object:
    return database_file.back_up(folder / database_file.NAME, folder / "backups" / "made.db", gently=True)


def look_after_backing_up(folder: Path) -> str:
    assert titles(folder) == SINCE
    for path in (folder / "backups").glob("*.db"):
        assert database_file.trouble_of(path, thoroughly=True) == ""
    return "a whole backup" if (folder / "backups" / "made.db").exists() else "no backup"


def copying(folder: Path) -> object:
    return copy_everything(folder, folder.with_name("elsewhere"))


def look_after_copying(folder: Path) -> str:
    """The copy stays from round to round: each goes on where the last was cut off."""
    elsewhere = folder.with_name("elsewhere")
    theirs = FileStore(elsewhere / "files", elsewhere / "incoming")
    names = theirs.names()
    assert all(sha256_of(theirs.path(name)) == name for name in names), "no half file has a name"
    whole = list((elsewhere / "backups").glob("*.db"))
    for path in whole:
        with database_file.read_only(path) as connection:
            known = {name for (name,) in connection.execute("SELECT sha256 FROM stored_file")}
        assert known <= names, "a database that has its name has all its files"
    assert titles(folder) == SINCE
    if whole:
        shutil.rmtree(elsewhere)
    return "a whole copy" if whole else "to be gone on with"


def salvaging(folder: Path) -> object:
    return make_anew(folder, (), MUCH, anyway=True)


def look_after_salvaging(folder: Path) -> str:
    names = FileStore(folder / "files", folder / "incoming").names()
    try:
        found = titles(folder)
    except LibraryLost:
        return "still to be salvaged"
    assert all(title.startswith("Salvaged") for title in found)
    assert check_library(folder).problems == ()
    assert names
    return "a salvaged database"


def starting(folder: Path) -> object:
    return Library.open(folder)


def look_after_starting(folder: Path) -> str:
    with database_file.read_only(folder / database_file.NAME, in_use=True) as connection:
        form = database_file.form_of(connection)
    before = rows_of(folder)
    Library.open(folder).close()
    assert rows_of(folder) == before
    assert database_file.revision_of(folder / database_file.NAME) == REVISION
    return "migrated" if form == REVISION else "not migrated"


def rows_of(folder: Path) -> list[int]:
    with database_file.read_only(folder / database_file.NAME, in_use=True) as connection:
        return [
            connection.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0]
            for table in ("project", "pass", "setting", "print", "note", "stored_file")
        ]


def older_library(folder: Path) -> Path:
    folder.mkdir()
    connection = sqlite3.connect(folder / database_file.NAME)
    connection.executescript(OLDER.read_text(encoding="utf-8"))
    connection.close()
    return folder


def without_database(template: Path, folder: Path) -> Path:
    shutil.copytree(template, folder, ignore=shutil.ignore_patterns(*database_file.PARTS, "*.db"))
    return folder

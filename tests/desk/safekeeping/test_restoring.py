"""A backup put back: what it takes the place of is put aside whole, and nothing stands between the two."""

import errno
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from small_session import SmallSession
from stopped_hard import stopped_hard

from app import database_file
from app.config import ROOT
from app.desk.files.check import check_library
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.safekeeping import restoring
from app.desk.safekeeping.backups import list_backups
from app.desk.safekeeping.restoring import put_back
from app.library import REVISION, Library, sole_server
from app.library_errors import LibraryBroken, LibraryError, LibraryInUse, LibraryTooNew

OLDER = ROOT / "tests" / "migrations"


def titles(folder: Path) -> set[str]:
    library = Library.open(folder)
    found = {line.title for line in projects.list_projects(library)}
    library.close()
    return found


@pytest.fixture
def backed_up(library: Library) -> Library:
    """One project is in the backup `copy`, the other was begun since."""
    projects.create_project(library, ProjectEntry("before"))
    library.backup().rename(library.folder / "backups" / "copy.db")
    projects.create_project(library, ProjectEntry("since"))
    return library


def test_what_a_hard_stop_left_beside_the_database_is_not_played_into_the_backup(
    backed_up: Library, tmp_path: Path
) -> None:
    with stopped_hard(backed_up, tmp_path / "stopped") as folder:
        done = put_back(folder, "copy.db")
        assert done.aside is not None
        assert {path.name for path in done.aside.iterdir()} == {
            "dialback.db",
            "dialback.db-wal",
            "dialback.db-shm",
        }
        assert titles(folder) == {"before"}
        assert check_library(folder).problems == ()


def test_what_was_put_aside_can_be_gone_back_to_with_all_that_lay_beside_it(
    backed_up: Library, tmp_path: Path
) -> None:
    with stopped_hard(backed_up, tmp_path / "stopped") as folder:
        first = put_back(folder, "backups/copy.db")
        assert first.aside is not None
        second = put_back(folder, str(first.aside.relative_to(folder)))
        assert titles(folder) == {"before", "since"}
        assert second.aside is not None
        assert second.aside != first.aside
        assert first.aside.exists(), "it was copied, not moved"


def test_the_list_says_what_a_backup_holds_and_what_it_lacks(backed_up: Library) -> None:
    present, (backup,) = list_backups(backed_up.folder)
    assert present.holdings is not None
    assert present.holdings.projects == 2
    assert backup.holdings is not None
    assert backup.holdings.projects == 1
    assert backup.holdings.last_entry is not None
    assert backup.compared == "lacks 1 project (since)"
    before = next(line for line in projects.list_projects(backed_up) if line.title == "before")
    projects.delete_project(backed_up, before.project_id)
    _, (backup,) = list_backups(backed_up.folder)
    assert backup.compared == "lacks 1 project (since); has besides 1 project (before)"


def test_the_list_says_which_passes_were_edited_since(filled: Library, session: SmallSession) -> None:
    filled.backup()
    _, (backup,) = list_backups(filled.folder)
    assert backup.compared == "holds the same"
    with filled.writing() as writing:
        writing.connection().exec_driver_sql("UPDATE pass SET edited_at = '2999-01-01 00:00:00' WHERE id = 1")
    _, (backup,) = list_backups(filled.folder)
    assert backup.compared == "1 pass was edited since"


@pytest.mark.parametrize("form", ["0001", "0002", "0003"])
def test_a_backup_of_an_older_form_is_migrated_before_it_takes_the_place(
    backed_up: Library, form: str
) -> None:
    old = backed_up.folder / "backups" / "old.db"
    connection = sqlite3.connect(old)
    connection.executescript((OLDER / f"filled_{form}.sql").read_text(encoding="utf-8"))
    connection.close()
    before = old.read_bytes()
    backed_up.close()
    put_back(backed_up.folder, "old.db")
    assert database_file.revision_of(backed_up.database) == REVISION
    assert titles(backed_up.folder) - {"before", "since"}
    assert old.read_bytes() == before


def _garbage(path: Path) -> None:
    path.write_bytes(b"no database at all" * 500)


def _page_of_zeros(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[4096 * 3 : 4096 * 9] = bytes(4096 * 6)
    path.write_bytes(content)


def _cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: 4096 * 20])


def _empty(path: Path) -> None:
    path.write_bytes(b"")


def _of_something_else(path: Path) -> None:
    path.unlink()
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE recipes (id INTEGER)")
    connection.close()


def _newer(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.commit()
    connection.close()


@pytest.mark.parametrize("hurt", [_garbage, _page_of_zeros, _cut_short, _empty, _of_something_else, _newer])
def test_a_backup_that_cannot_be_put_back_leaves_everything_as_it_was(
    backed_up: Library, hurt: Callable[[Path], None]
) -> None:
    hurt(backed_up.folder / "backups" / "copy.db")
    backed_up.close()
    before = backed_up.database.read_bytes()
    with pytest.raises((LibraryBroken, LibraryTooNew), match="Nothing was changed"):
        put_back(backed_up.folder, "copy.db")
    assert backed_up.database.read_bytes() == before
    assert not (backed_up.folder / database_file.ASIDE).exists()
    assert titles(backed_up.folder) == {"before", "since"}


def test_a_damaged_database_is_put_aside_as_it_is(backed_up: Library) -> None:
    backed_up.close()
    _garbage(backed_up.database)
    damaged = backed_up.database.read_bytes()
    present, (backup,) = list_backups(backed_up.folder)
    assert "cannot be read" in present.trouble
    assert backup.compared == ""
    done = put_back(backed_up.folder, "copy.db")
    assert done.aside is not None
    assert (done.aside / "dialback.db").read_bytes() == damaged
    assert titles(backed_up.folder) == {"before"}


def test_a_change_that_was_cut_off_is_put_aside_with_its_database_and_not_played_into_the_backup(
    backed_up: Library,
) -> None:
    backed_up.close()
    code = (
        "import os, sqlite3, sys; c = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "c.execute('PRAGMA journal_mode = DELETE'); c.execute('PRAGMA cache_size = 2'); c.execute('BEGIN')\n"
        "c.execute('CREATE TABLE half AS SELECT zeroblob(3000) FROM sqlite_master, sqlite_master')\n"
        "os._exit(0)"
    )
    subprocess.run([sys.executable, "-c", code, str(backed_up.database)], check=True)
    journal = backed_up.folder / "dialback.db-journal"
    assert journal.stat().st_size > 0
    done = put_back(backed_up.folder, "copy.db")
    assert done.aside is not None
    assert not journal.exists()
    assert (done.aside / journal.name).exists()
    assert titles(backed_up.folder) == {"before"}
    assert check_library(backed_up.folder).problems == ()
    put_back(backed_up.folder, str(done.aside))
    assert titles(backed_up.folder) == {"before", "since"}


def test_nothing_is_put_back_while_a_server_runs(backed_up: Library) -> None:
    with (
        sole_server(backed_up.folder, "http://127.0.0.1:8427"),
        pytest.raises(LibraryInUse, match="8427"),
    ):
        put_back(backed_up.folder, "copy.db")
    assert len(projects.list_projects(backed_up)) == 2


def test_what_is_in_use_is_no_backup_and_what_is_not_there_is_said(backed_up: Library) -> None:
    backed_up.close()
    with pytest.raises(LibraryError, match="in use already"):
        put_back(backed_up.folder, "dialback.db")
    with pytest.raises(LibraryError, match=r"no backup gone\.db"):
        put_back(backed_up.folder, "gone.db")


def test_a_full_disk_while_it_is_made_ready_changes_nothing(
    backed_up: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    backed_up.close()
    with monkeypatch.context() as patched:
        patched.setattr(database_file, "flush_file", full)
        with pytest.raises(LibraryError, match="No space left"):
            put_back(backed_up.folder, "copy.db")
    assert not (backed_up.folder / database_file.STAGE).exists()
    assert titles(backed_up.folder) == {"before", "since"}


def test_files_that_a_restored_database_knows_and_the_library_lacks_are_counted(filled: Library) -> None:
    filled.backup().rename(filled.folder / "backups" / "copy.db")
    filled.files.remove(next(iter(filled.files.names())))
    filled.close()
    assert put_back(filled.folder, "copy.db").missing == 1


class Killed(BaseException):
    """As if the process had ended here."""


def killed_at(step: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ends everything at the given one of all the renames and flushes to come."""
    left = step

    def counting(real: Callable[..., Any]) -> Callable[..., Any]:
        def instead(*arguments: Any, **options: Any) -> Any:
            nonlocal left
            left -= 1
            if left < 0:
                raise Killed
            return real(*arguments, **options)

        return instead

    monkeypatch.setattr(Path, "rename", counting(Path.rename))
    monkeypatch.setattr(shutil, "rmtree", counting(shutil.rmtree))
    for name in ("flush_file", "flush_folder"):
        monkeypatch.setattr(database_file, name, counting(getattr(database_file, name)))


def test_wherever_it_is_cut_off_the_next_start_finds_the_one_or_the_other(
    backed_up: Library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outcomes = []
    for step in range(40):
        with stopped_hard(backed_up, tmp_path / f"step {step}") as folder, monkeypatch.context() as patched:
            killed_at(step, patched)
            try:
                put_back(folder, "copy.db")
                is_done = True
            except Killed:
                is_done = False
        found = titles(folder)
        assert found in ({"before"}, {"before", "since"}), f"cut off at step {step}"
        assert check_library(folder).problems == ()
        if found == {"before"}:
            (aside,) = (folder / database_file.ASIDE).iterdir()
            assert {path.name for path in aside.iterdir()} >= {"dialback.db", "dialback.db-wal"}
            put_back(folder, str(aside))
            assert titles(folder) == {"before", "since"}, "and what was put aside is whole"
        outcomes.append(found)
        if is_done:
            break
    assert is_done
    assert {"before", "since"} in outcomes
    assert len(outcomes) > 10


def test_a_server_that_starts_after_an_interrupted_restore_clears_away_what_had_not_come_so_far(
    backed_up: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    backed_up.close()
    with monkeypatch.context() as patched:
        patched.setattr(restoring.shutil, "rmtree", lambda *_, **__: None)
        patched.setattr(restoring, "_make_ready", killed)
        with pytest.raises(Killed):
            put_back(backed_up.folder, "copy.db")
    assert (backed_up.folder / database_file.STAGE).exists()
    assert titles(backed_up.folder) == {"before", "since"}
    assert not (backed_up.folder / database_file.STAGE).exists()


def killed(*_: Any) -> None:
    raise Killed

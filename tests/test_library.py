"""A library folder: made, opened, locked, backed up, and never left half-written."""

import errno
import io
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_session import SmallSession
from sqlalchemy.exc import OperationalError

from app.config import ROOT
from app.database_file import PARTS
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import (
    REVISION,
    Library,
    sole_server,
)
from app.library_errors import (
    LibraryAway,
    LibraryBroken,
    LibraryBusy,
    LibraryError,
    LibraryFull,
    LibraryInUse,
    LibraryLost,
    LibraryTooNew,
)


def titles(library: Library) -> list[str]:
    return [line.title for line in projects.list_projects(library)]


def form_of(database: Path) -> str:
    with sqlite3.connect(database) as connection:
        (form,) = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    connection.close()
    return str(form)


def test_a_new_folder_becomes_a_library(tmp_path: Path) -> None:
    library = Library.open(tmp_path / "deep" / "down")
    assert titles(library) == []
    library.close()
    assert form_of(tmp_path / "deep" / "down" / "dialback.db") == REVISION
    assert list((tmp_path / "deep" / "down" / "backups").iterdir()) == [], "there was nothing to back up"


@pytest.mark.parametrize(
    "name", ["50% done", "what?", "take #2", "a b", "ünï©ode 🎛", "quote'd", 'double"d', "semi;colon"]
)
def test_a_library_may_have_any_name(tmp_path: Path, name: str) -> None:
    for _ in range(2):
        library = Library.open(tmp_path / name)
        projects.create_project(library, ProjectEntry("kept"))
        library.close()
    assert (tmp_path / name / "dialback.db").exists()
    library = Library.open(tmp_path / name)
    assert titles(library) == ["kept", "kept"]
    library.close()
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_library_can_be_moved(filled: Library, session: SmallSession, tmp_path: Path) -> None:
    filled.close()
    moved = filled.folder.rename(tmp_path / "elsewhere")
    library = Library.open(moved)
    assert "Boathouse" in titles(library)
    library.close()


@pytest.mark.parametrize("left", [b"", None], ids=["empty file", "header only"])
def test_a_first_start_that_was_cut_short_is_finished_by_the_next(tmp_path: Path, left: bytes | None) -> None:
    database = tmp_path / "dialback.db"
    if left is None:
        with sqlite3.connect(database) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
        connection.close()
        assert database.stat().st_size > 0
    else:
        database.write_bytes(left)
    library = Library.open(tmp_path)
    assert titles(library) == []
    library.close()


@pytest.mark.parametrize("content", [b"not a database at all" * 100, b"SQLite format 3\0" + b"\xff" * 5000])
def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "dialback.db").write_bytes(content)
    with pytest.raises(LibraryBroken, match="Nothing was changed"):
        Library.open(tmp_path)
    assert (tmp_path / "dialback.db").read_bytes() == content


def test_a_database_of_something_else_is_refused_and_left_alone(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "dialback.db") as connection:
        connection.execute("CREATE TABLE recipes (id INTEGER)")
    connection.close()
    before = (tmp_path / "dialback.db").read_bytes()
    with pytest.raises(LibraryBroken, match="not a Dialback library"):
        Library.open(tmp_path)
    assert (tmp_path / "dialback.db").read_bytes() == before


def test_a_library_of_a_newer_dialback_is_refused_and_left_alone(filled: Library) -> None:
    filled.close()
    with sqlite3.connect(filled.database) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    before = filled.database.read_bytes()
    with pytest.raises(LibraryTooNew, match=r"newer Dialback.*9999.*Nothing was changed"):
        Library.open(filled.folder)
    assert filled.database.read_bytes() == before
    assert list((filled.folder / "backups").iterdir()) == []


def test_a_served_library_of_another_form_is_not_migrated_under_its_server(filled: Library) -> None:
    filled.close()
    Library.open_beside_server(filled.folder).close()
    with sqlite3.connect(filled.database) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0001'")
    connection.close()
    with pytest.raises(LibraryInUse, match="another version"):
        Library.open_beside_server(filled.folder)
    assert form_of(filled.database) == "0001"


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(LibraryBroken, match="cannot be made"):
        Library.open(tmp_path / "file" / "library")
    with (
        pytest.raises(LibraryBroken, match="cannot be made"),
        sole_server(tmp_path / "file" / "library", "x"),
    ):
        pass


def test_the_second_server_on_a_library_is_told_where_the_first_is(tmp_path: Path) -> None:
    with sole_server(tmp_path, "http://127.0.0.1:8427"):
        with pytest.raises(LibraryInUse, match=r"http://127\.0\.0\.1:8427"), sole_server(tmp_path, "other"):
            pass
        assert (tmp_path / "served-at").read_text() == "http://127.0.0.1:8427", (
            "the second left the note alone"
        )
    with sole_server(tmp_path, "http://127.0.0.1:9999"):
        pass
    assert not (tmp_path / "served-at").exists()


def test_a_killed_server_does_not_lock_its_library(tmp_path: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; from app.library import sole_server\n"
        "with sole_server(Path(sys.argv[1]), 'there'): print('held', flush=True); time.sleep(60)"
    )
    other = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, cwd=ROOT)
    assert other.stdout is not None
    assert other.stdout.readline() == b"held\n"
    with pytest.raises(LibraryInUse, match="there"), sole_server(tmp_path, "here"):
        pass
    other.kill()
    other.wait()
    other.stdout.close()
    with sole_server(tmp_path, "here"):
        pass


def without_its_database(library: Library) -> Path:
    library.close()
    for part in PARTS:
        (library.folder / part).unlink(missing_ok=True)
    return library.folder


def test_a_library_that_lost_its_database_is_not_a_new_one(filled: Library) -> None:
    folder = without_its_database(filled)
    with pytest.raises(LibraryLost, match=r"18 stored files .*not a new library.*dialback salvage"):
        Library.open(folder)
    assert not (folder / "dialback.db").exists()
    (folder / "dialback.db").write_bytes(b"")
    with pytest.raises(LibraryLost, match="that is empty"):
        Library.open(folder)


def test_a_library_that_lost_its_database_and_has_backups_is_told_of_restore(filled: Library) -> None:
    filled.backup()
    folder = without_its_database(filled)
    with pytest.raises(
        LibraryLost, match=r"18 stored files and 1 backup .*dialback restore --library"
    ) as lost:
        Library.open(folder)
    assert "salvage" not in str(lost.value)


# a folder that goes away while it is open


def test_a_folder_that_was_deleted_takes_no_writes(filled: Library) -> None:
    shutil.rmtree(filled.folder)
    with pytest.raises(LibraryAway, match="not there any more"):
        projects.create_project(filled, ProjectEntry("lost"))
    assert not filled.folder.exists()


def test_a_database_that_was_deleted_takes_no_writes_and_no_empty_one_appears(filled: Library) -> None:
    filled.close()  # the next connection would make one
    filled.database.unlink()
    with pytest.raises(LibraryAway):
        projects.create_project(filled, ProjectEntry("lost"))
    with pytest.raises(LibraryAway):
        titles(filled)
    assert not filled.database.exists()


def test_a_database_that_was_replaced_takes_no_writes(filled: Library) -> None:
    assert "Boathouse" in titles(filled)
    synced = filled.backup()
    synced.rename(filled.database)
    before = filled.database.read_bytes()
    with pytest.raises(LibraryAway, match="another stands in its place"):
        projects.create_project(filled, ProjectEntry("lost"))
    assert filled.database.read_bytes() == before


def test_a_folder_that_goes_away_in_the_middle_of_a_transaction_is_told(filled: Library) -> None:
    from app.records import Project

    def write_while_it_goes() -> None:
        with filled.writing() as writing:
            writing.add(Project(title="half"))
            writing.flush()
            filled.folder.rename(filled.folder.with_name("moved away"))

    with pytest.raises(LibraryAway):
        write_while_it_goes()


# the file store


def test_a_file_is_named_by_what_is_in_it(library: Library) -> None:
    taken = library.files.take_in(io.BytesIO(b"abc"))
    # SHA-256 of "abc": FIPS 180-4, example 1 of the NIST example values
    assert taken.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert taken.bytes == 3
    assert library.files.path(taken.sha256).read_bytes() == b"abc"
    assert list(library.files.incoming.iterdir()) == []


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=3000))
def test_what_goes_in_comes_out_byte_for_byte(library: Library, content: bytes) -> None:
    taken = library.files.take_in(io.BytesIO(content))
    assert library.files.path(taken.sha256).read_bytes() == content
    assert library.files.take_in(io.BytesIO(content)) == taken


class Breaking(io.BytesIO):
    """A stream that breaks off after its first megabyte."""

    def read(self, size: int | None = -1) -> bytes:
        if self.tell() > 0:
            raise OSError(errno.EIO, "the connection was lost")
        return super().read(size)


def test_a_stream_that_breaks_off_leaves_nothing(library: Library) -> None:
    with pytest.raises(OSError, match="lost"):
        library.files.take_in(Breaking(b"x" * 3_000_000))
    assert library.files.names() == set()
    assert list(library.files.incoming.iterdir()) == []


class Full(io.BufferedWriter):
    """A file on a disk without room."""

    def write(self, data: Any) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def full(*_: Any) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize(
    ("step", "instead"),
    [("fsync", full), ("fdopen", lambda handle, mode: Full(io.FileIO(handle, mode)))],
    ids=["flushing", "writing"],
)
def test_a_full_disk_leaves_nothing(
    library: Library, monkeypatch: pytest.MonkeyPatch, step: str, instead: Any
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(os, step, instead)
        with pytest.raises(OSError, match="No space left"):
            library.files.take_in(io.BytesIO(b"x" * 5000))
    assert library.files.names() == set()
    assert list(library.files.incoming.iterdir()) == []


def test_what_was_half_way_in_is_cleared_at_the_next_start(library: Library) -> None:
    (library.files.incoming / "tmpabc").write_bytes(b"half")
    library.files.empty_incoming()
    assert list(library.files.incoming.iterdir()) == []


def test_the_same_file_brought_in_by_many_at_once_is_there_once(library: Library) -> None:
    content = os.urandom(300_000)
    done: list[str] = []
    threads = [
        threading.Thread(target=lambda: done.append(library.files.take_in(io.BytesIO(content)).sha256))
        for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 8
    assert library.files.names() == set(done)
    assert library.files.path(done[0]).read_bytes() == content


# transactions


def test_a_transaction_that_fails_changes_nothing(library: Library) -> None:
    from app.records import Project

    def fail_half_way() -> None:
        with library.writing() as writing:
            writing.add(Project(title="never"))
            writing.flush()
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    assert titles(library) == []


def test_writers_at_once_wait_for_each_other(library: Library) -> None:
    failed: list[Exception] = []

    def write(number: int) -> None:
        try:
            for _ in range(10):
                projects.create_project(library, ProjectEntry(f"by {number}"))
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=write, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert len(titles(library)) == 40


def test_a_reader_sees_one_moment_while_another_writes(library: Library) -> None:
    from sqlalchemy import text

    with library.reading() as reading:
        assert reading.execute(text("SELECT count(*) FROM project")).scalar() == 0
        projects.create_project(library, ProjectEntry("meanwhile"))
        assert reading.execute(text("SELECT count(*) FROM project")).scalar() == 0
    assert titles(library) == ["meanwhile"]


def test_a_full_disk_is_told_and_keeps_what_was_there(library: Library) -> None:
    projects.create_project(library, ProjectEntry("before"))
    with library.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
        connection.rollback()
    much = ProjectEntry("more", notes="x" * 19_000)
    with pytest.raises(LibraryFull):
        [projects.create_project(library, much) for _ in range(100)]
    with library.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1000000")
        connection.rollback()
    assert "before" in titles(library)
    projects.create_project(library, ProjectEntry("after"))
    assert "after" in titles(library)


def test_a_library_that_another_program_holds_is_told_to_be_busy(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    holder = sqlite3.connect(library.database)
    holder.execute("BEGIN IMMEDIATE")
    with library.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA busy_timeout = 50")
        connection.rollback()
    with pytest.raises(LibraryBusy):
        projects.create_project(library, ProjectEntry("waiting"))
    holder.rollback()
    holder.close()
    projects.create_project(library, ProjectEntry("waiting"))
    assert titles(library) == ["waiting"]


def test_only_sqlites_code_tells_a_full_disk_from_a_fault_of_ours(library: Library) -> None:
    with pytest.raises(OperationalError, match="full_and_locked"), library.writing() as session:
        session.connection().exec_driver_sql("SELECT * FROM full_and_locked")


def test_a_database_that_may_not_grow_is_told_to_be_full(library: Library) -> None:
    with library.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
        connection.rollback()
    with pytest.raises(LibraryFull):
        fill_up(library)


def fill_up(library: Library) -> None:
    for number in range(10):
        projects.create_project(library, ProjectEntry(f"full {number}", notes="x" * 19_000))


# backups


def test_a_backup_is_whole_while_others_write(library: Library) -> None:
    stop = threading.Event()

    def keep_writing() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            with library.writing() as writing:
                from app.records import Project

                writing.add(Project(title=f"left {number}"))
                writing.flush()
                writing.add(Project(title=f"right {number}"))

    writer = threading.Thread(target=keep_writing)
    writer.start()
    copies = [library.backup() for _ in range(5)]
    stop.set()
    writer.join()
    assert len(set(copies)) == 5
    for copy in copies:
        connection = sqlite3.connect(copy)
        (count,) = connection.execute("SELECT count(*) FROM project").fetchone()
        assert count % 2 == 0, "a pair was torn apart"
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        connection.close()


def test_a_backup_put_back_is_the_library_as_it_was(filled: Library, session: SmallSession) -> None:
    copy = filled.backup()
    projects.delete_project(filled, session.project)
    filled.close()
    for name in ("dialback.db", "dialback.db-wal", "dialback.db-shm"):
        (filled.folder / name).unlink(missing_ok=True)
    copy.rename(filled.database)
    library = Library.open(filled.folder)
    assert "Boathouse" in titles(library)
    library.close()


def test_a_backup_writes_nothing_over(filled: Library, tmp_path: Path) -> None:
    taken = tmp_path / "mine.db"
    taken.write_text("mine")
    with pytest.raises(LibraryError, match="not written over"):
        filled.backup(taken)
    with pytest.raises(LibraryError, match="not written over"):
        filled.backup(filled.database)
    assert taken.read_text() == "mine"
    assert "Boathouse" in titles(filled)


def test_a_backup_that_cannot_be_written_is_told_and_leaves_nothing(filled: Library, tmp_path: Path) -> None:
    with pytest.raises(LibraryError, match="could not be copied"):
        filled.backup(tmp_path / "no such folder" / "copy.db")
    assert filled.backup(tmp_path / "copy.db") == tmp_path / "copy.db"
    assert not list(tmp_path.glob("*.part"))

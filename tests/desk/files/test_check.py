import errno
import io
import os
import sqlite3
from pathlib import Path

import pytest
from small_session import SmallSession, attach, tone
from sqlmodel import SQLModel

from app.config import ROOT
from app.database_file import PARTS
from app.desk.files import check
from app.desk.files.check import REFERENCES, check_library, tidy
from app.desk.files.stored_files import record
from app.desk.prints import prints
from app.desk.projects import projects
from app.library import Library, migrate
from app.records import Measurement, StoredFile

OLDER = ROOT / "tests" / "migrations"


def test_a_whole_library_has_no_problem(filled: Library) -> None:
    report = check_library(filled.folder)
    assert report.problems == ()
    assert (report.files, report.unused) == (18, 0)
    assert report.bytes == sum(path.stat().st_size for path in filled.files.folder.glob("??/*"))


@pytest.fixture
def near(filled: Library, session: SmallSession) -> str:
    return prints.audio_of_print(filled, session.prints[0]).sha256


def test_a_missing_file_is_told(filled: Library, near: str) -> None:
    filled.files.path(near).unlink()
    assert check_library(filled.folder).problems == (f"“near.wav” (files/{near[:2]}/{near}) is missing.",)


def test_a_file_that_was_cut_short_is_told(filled: Library, near: str) -> None:
    path = filled.files.path(near)
    path.write_bytes(path.read_bytes()[:-1])
    (problem,) = check_library(filled.folder).problems
    assert "48043 bytes; 48044 were stored" in problem


def test_a_file_with_one_bit_turned_is_told(filled: Library, near: str) -> None:
    path = filled.files.path(near)
    changed = bytearray(path.read_bytes())
    changed[1000] ^= 1
    path.write_bytes(changed)
    (problem,) = check_library(filled.folder).problems
    assert problem.startswith(f"“near.wav” (files/{near[:2]}/{near}) has changed")


def test_a_file_that_was_cut_short_is_mended_by_bringing_it_in_again(
    filled: Library, session: SmallSession, near: str
) -> None:
    path = filled.files.path(near)
    whole = path.read_bytes()
    path.write_bytes(whole[:100])
    attach(filled, session.passes[0], whole)
    assert check_library(filled.folder).problems == ()


def test_a_link_that_leads_nowhere_is_told(filled: Library, session: SmallSession) -> None:
    with filled.engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        raw.execute("PRAGMA foreign_keys = OFF")
        raw.execute("UPDATE print SET file_id = 999 WHERE id = 1")
        raw.execute("PRAGMA foreign_keys = ON")
    problems = check_library(filled.folder).problems
    assert any("Row 1 of print refers to a missing stored_file" in problem for problem in problems)


def test_every_link_to_a_stored_file_counts_as_use() -> None:
    """What is known of a file, as its measurement, goes with it and so keeps none."""
    links = {
        (table.name, key.parent.name)
        for table in SQLModel.metadata.tables.values()
        for key in table.foreign_keys
        if key.column.table.name == "stored_file" and key.ondelete != "CASCADE"
    }
    assert set(REFERENCES) == links


def test_what_a_deleted_project_leaves_is_tidied_away(filled: Library, session: SmallSession) -> None:
    projects.delete_project(filled, session.project)
    report = check_library(filled.folder)
    assert report.problems == ()
    assert report.unused == 15
    assert tidy(filled) == 15
    after = check_library(filled.folder)
    assert (after.files, after.unused, after.problems) == (3, 0, ())
    with filled.reading() as reading:
        assert reading.query(Measurement).count() == 0


def test_tidying_leaves_what_another_print_still_uses(filled: Library, session: SmallSession) -> None:
    twin = filled.files.path(prints.audio_of_print(filled, session.prints[0]).sha256).read_bytes()
    attach(filled, session.passes[2], twin)
    prints.delete_print(filled, session.prints[0])
    assert tidy(filled) == 0
    assert check_library(filled.folder).problems == ()


def test_a_file_that_came_in_but_whose_row_did_not_is_tidied_away(filled: Library, tmp_path: object) -> None:
    """As after a power cut between the two."""
    stray = filled.files.take_in(io.BytesIO(tone(0.1, hz=99)))
    report = check_library(filled.folder)
    assert (report.problems, report.unused, report.unused_bytes) == ((), 1, stray.bytes)
    assert tidy(filled) == 1
    assert not filled.files.path(stray.sha256).exists()
    with filled.reading() as reading:
        assert reading.query(StoredFile).count() == 18


def test_what_others_left_among_the_files_is_named_and_left_alone(filled: Library, near: str) -> None:
    folder = filled.files.folder
    conflict = folder / near[:2] / f"{near} (conflicted copy)"
    misplaced = folder / "zz" / near
    for path in (folder / ".DS_Store", conflict, misplaced, folder / near[:2] / "kept" / "inner.wav"):
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"left here")
    report = check_library(filled.folder)
    assert report.problems == ()
    assert report.unused == 0
    assert set(report.foreign) == {
        "files/.DS_Store",
        f"files/{near[:2]}/{conflict.name}",
        f"files/{near[:2]}/kept",
        f"files/zz/{near}",
    }
    assert tidy(filled) == 0
    assert conflict.exists()
    assert misplaced.exists()


def test_a_new_database_beside_old_files_removes_none_of_them(filled: Library) -> None:
    before = filled.files.names()
    for name in before:
        os.utime(filled.files.path(name), (1e9, 1e9))
    filled.close()
    for part in PARTS:
        (filled.folder / part).unlink(missing_ok=True)
    migrate(filled.database)
    fresh = Library(filled.folder)
    assert tidy(fresh) == 0, "it knows of no file at all"
    known = fresh.files.take_in(io.BytesIO(b"one file that it knows"))
    with fresh.writing() as session:
        record(session, known, "audio/wav")
    report = check_library(fresh.folder)
    assert (report.unused, report.kept) == (len(before) + 1, len(before))
    assert tidy(fresh) == 1
    assert fresh.files.names() == before
    fresh.close()


def test_what_a_backup_knows_is_not_tidied_away(filled: Library, session: SmallSession) -> None:
    copy = filled.backup()
    projects.delete_project(filled, session.project)
    report = check_library(filled.folder)
    assert (report.unused, report.kept) == (15, 15)
    assert tidy(filled) == 0
    copy.unlink()
    assert tidy(filled) == 15


def test_a_file_that_may_not_be_read_is_told(
    filled: Library, near: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path) -> str:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(check, "sha256_of", refuse)
    assert (
        f"“near.wav” (files/{near[:2]}/{near}) cannot be read (Permission denied)."
        in check_library(filled.folder).problems
    )


def test_a_library_of_an_older_form_is_checked_as_it_is(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / "dialback.db")
    connection.executescript((OLDER / "filled_0001.sql").read_text())
    connection.close()
    before = (tmp_path / "dialback.db").read_bytes()
    report = check_library(tmp_path)
    assert report.files > 0
    assert report.damage == ()
    assert (tmp_path / "dialback.db").read_bytes() == before

"""A database that is damaged page by page: the check answers every time, and a backup put back makes it whole."""

import random
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from app.database_file import DAMAGE, code_of
from app.desk.files.check import check_library
from app.desk.projects import projects
from app.desk.safekeeping.restoring import put_back
from app.library import Library
from app.library_errors import LibraryDamaged

PAGE = 4096
PLACES = 20


def zeroed(content: bytearray, page: int) -> bytearray:
    content[page * PAGE : (page + 1) * PAGE] = bytes(PAGE)
    return content


def garbage(content: bytearray, page: int) -> bytearray:
    content[page * PAGE : (page + 1) * PAGE] = random.Random(page).randbytes(PAGE)
    return content


def truncated(content: bytearray, page: int) -> bytearray:
    return content[: page * PAGE + PAGE // 2]


@pytest.mark.parametrize("hurt", [zeroed, garbage, truncated])
def test_damage_anywhere_is_an_answer(filled: Library, hurt: Callable[[bytearray, int], bytearray]) -> None:
    copy = filled.backup()
    filled.close()
    whole = copy.read_bytes()
    pages = len(whole) // PAGE
    unseen = []
    for page in range(0, pages, max(1, pages // PLACES)):
        filled.database.write_bytes(hurt(bytearray(whole), page))
        report = check_library(filled.folder)
        if not report.problems:
            unseen.append(page)
        elif report.tables:
            assert sum(table.rows for table in report.tables) > 0
    assert len(unseen) <= 2, f"a page that holds nothing may be anything: {unseen}"
    put_back(filled.folder, str(copy))
    assert check_library(filled.folder).problems == ()


def test_what_can_still_be_read_is_told_table_by_table(filled: Library) -> None:
    copy = filled.backup()
    with filled.reading() as session:
        (page,) = (
            session.connection()
            .exec_driver_sql("SELECT rootpage FROM sqlite_master WHERE name = 'setting'")
            .one()
        )
        (settings,) = session.connection().exec_driver_sql("SELECT count(*) FROM setting").one()
    filled.close()
    filled.database.write_bytes(zeroed(bytearray(copy.read_bytes()), page - 1))
    report = check_library(filled.folder)
    read = {table.name: table for table in report.tables}
    assert read["setting"].rows < settings
    assert read["setting"].trouble
    assert read["project"].rows == 2
    assert read["project"].trouble == ""
    assert report.files == 18, "the files are read all the same"


def test_files_are_held_against_their_names_where_the_database_says_nothing(filled: Library) -> None:
    filled.close()
    changed = next(filled.files.folder.glob("??/*"))
    changed.write_bytes(b"changed")
    filled.database.write_bytes(b"not a database at all" * 999)
    report = check_library(filled.folder)
    assert report.damage == ("file is not a database",)
    assert any(changed.name in problem and "has changed" in problem for problem in report.problems)
    assert report.unused == 0, "nothing may be tidied away"


@pytest.fixture
def hurt(filled: Library, tmp_path: Path) -> Library:
    """An open library in which the pages of one table are no more."""
    copy = filled.backup()
    with filled.reading() as session:
        (page,) = (
            session.connection()
            .exec_driver_sql("SELECT rootpage FROM sqlite_master WHERE name = 'setting'")
            .one()
        )
    filled.close()
    shutil.rmtree(tmp_path / "hurt", ignore_errors=True)
    filled.database.write_bytes(zeroed(bytearray(copy.read_bytes()), page - 1))
    return Library(filled.folder)


def test_a_library_that_meets_damage_takes_no_more_writes_and_is_read_on(hurt: Library) -> None:
    with pytest.raises(LibraryDamaged, match="cannot be read"), hurt.reading() as session:
        session.connection().exec_driver_sql(
            "SELECT count(*) FROM setting NOT INDEXED WHERE reading <> ''"
        ).all()
    with pytest.raises(LibraryDamaged, match=r"nothing more is written.*dialback check.*dialback restore"):
        projects.create_project(hurt, projects.ProjectEntry("too late"))
    assert len(projects.list_projects(hurt)) == 2
    hurt.close()


def test_sqlites_codes_tell_damage() -> None:
    with pytest.raises(sqlite3.DatabaseError) as met:
        sqlite3.connect(Path(__file__)).execute("SELECT 1 FROM sqlite_master")
    assert code_of(met.value) in DAMAGE
    assert code_of(sqlite3.DatabaseError("closed by us")) not in DAMAGE

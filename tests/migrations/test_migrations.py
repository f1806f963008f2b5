"""Every library ever written opens in this version, with everything that was in it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlmodel import SQLModel

import app.records  # noqa: F401  registers the tables
from app.config import ROOT
from app.desk.files.check import check_library
from app.desk.finding import find
from app.desk.passes.ledger import build_ledger
from app.desk.passes.pass_sheets import read_pass, read_passes_of_source
from app.library import REVISION, Library
from app.library_errors import LibraryBroken

FROZEN = {path.stem.removeprefix("filled_"): path for path in Path(__file__).parent.glob("filled_*.sql")}


def scripts() -> ScriptDirectory:
    config = Config()
    config.set_main_option("script_location", str(ROOT / "migrations"))
    return ScriptDirectory.from_config(config)


@contextmanager
def opened(database: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(database)
    try:
        yield connection
    finally:
        connection.close()


def frozen_library(folder: Path, form: str) -> Path:
    folder.mkdir()
    with opened(folder / "dialback.db") as connection:
        connection.executescript(FROZEN[form].read_text(encoding="utf-8"))
        connection.commit()
    return folder


def counts(database: Path) -> dict[str, int]:
    with opened(database) as connection:
        tables = [
            name
            for (name,) in connection.execute(
                "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "
                "AND name NOT LIKE 'written_words_%' AND name <> 'alembic_version'"
            )
        ]
        return {name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in tables}


def test_the_library_knows_the_newest_form() -> None:
    assert scripts().get_heads() == [REVISION]


def test_every_earlier_form_has_a_frozen_library_to_migrate() -> None:
    earlier = {script.revision for script in scripts().walk_revisions()} - {REVISION}
    assert set(FROZEN) >= earlier


def test_the_tables_are_those_of_the_records(library: Library) -> None:
    with library.engine.connect() as connection:
        context = MigrationContext.configure(
            connection,
            opts={
                "compare_type": True,
                "include_name": lambda name, kind, _: (
                    not (kind == "table" and str(name).startswith("written_words"))
                ),
            },
        )
        assert compare_metadata(context, SQLModel.metadata) == []
    assert len(SQLModel.metadata.tables) > 12


def test_a_difference_between_tables_and_records_would_be_seen(library: Library) -> None:
    with library.engine.begin() as connection:
        connection.exec_driver_sql("ALTER TABLE project DROP COLUMN artist")
        context = MigrationContext.configure(connection)
        assert any("artist" in str(found) for found in compare_metadata(context, SQLModel.metadata))


def test_no_id_is_ever_given_out_twice(library: Library) -> None:
    with opened(library.database) as connection:
        made = dict(
            connection.execute(
                "SELECT name, sql FROM sqlite_master WHERE type = 'table' AND sql NOT LIKE '%VIRTUAL%'"
            )
        )
    reused = {
        table.name
        for table in SQLModel.metadata.tables.values()
        if [column.name for column in table.primary_key] == ["id"] and "AUTOINCREMENT" not in made[table.name]
    }
    assert reused == set()


@pytest.mark.parametrize("form", sorted(FROZEN))
def test_a_library_of_an_earlier_form_keeps_every_row(tmp_path: Path, form: str) -> None:
    folder = frozen_library(tmp_path / "library", form)
    before = counts(folder / "dialback.db")
    Library.open(folder).close()
    after = counts(folder / "dialback.db")
    # The index may learn of fields that it did not know.
    assert after["written_words"] >= before.pop("written_words")
    assert {name: after[name] for name in before} == before
    assert before["setting"] > 30


@pytest.mark.parametrize("form", sorted(FROZEN))
def test_a_migrated_library_has_the_form_of_a_new_one(tmp_path: Path, library: Library, form: str) -> None:
    folder = frozen_library(tmp_path / "old", form)
    Library.open(folder).close()

    def shape(database: Path) -> dict[str, object]:
        with opened(database) as connection:
            tables = [
                row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            ]
            return {
                name: (
                    sorted(connection.execute(f'PRAGMA table_info("{name}")').fetchall()),
                    sorted(row[2:] for row in connection.execute(f'PRAGMA foreign_key_list("{name}")')),
                    sorted(row[1:3] for row in connection.execute(f'PRAGMA index_list("{name}")')),
                )
                for name in tables
            }

    assert shape(folder / "dialback.db") == shape(library.database)


@pytest.mark.parametrize("form", sorted(FROZEN))
def test_a_library_is_copied_before_it_is_migrated(tmp_path: Path, form: str) -> None:
    folder = frozen_library(tmp_path / "library", form)
    before = counts(folder / "dialback.db")
    Library.open(folder).close()
    (copy,) = (folder / "backups").iterdir()
    assert copy.name.startswith(f"dialback-{form}-")
    assert counts(copy) == before
    with opened(copy) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == (form,)
    Library.open(folder).close()
    assert len(list((folder / "backups").iterdir())) == 1, "a library up to date is not copied again"


@pytest.mark.parametrize("form", sorted(FROZEN))
def test_a_migrated_library_says_what_it_said(tmp_path: Path, form: str) -> None:
    library = Library.open(frozen_library(tmp_path / "library", form))
    first = read_pass(library, 1)
    settings = {line.name: (line.reading, line.position) for step in first.steps for line in step.settings}
    assert settings["Gain"] == ("6.5", 0.65)
    assert settings["Tone"] == ("half past 2", 0.75)
    assert settings["Remark"] == ("valves warm", None)
    assert [mark.reason for mark in first.keepers] == ["The low end sits."]
    placed = [step.placement for step in first.steps if step.placement]
    assert (placed[0].distance_mm, placed[0].pattern, placed[0].note) == (30.0, "figure-8", "on a towel")
    ledger = build_ledger(read_passes_of_source(library, 1))
    drive = next(row for rows in ledger.gear for row in rows.rows if row.label == "Drive")
    assert [cell.reading for cell in drive.cells] == ["6.5 (Gain)", "7", "7"]
    assert {hit.title for hit in find.find(library, "boathouse")} == {"Boathouse"}
    assert {hit.row_id for hit in find.find(library, "towel")} == {1, 2, 3}
    problems = check_library(library.folder).problems
    assert all("is missing" in problem for problem in problems), "the frozen library comes without its files"
    library.close()


def test_a_migration_that_fails_leaves_the_library_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = frozen_library(tmp_path / "library", "0001")
    with opened(folder / "dialback.db") as connection:
        # what the second form adds is in the way already
        connection.execute("CREATE TABLE sound_level (in_the_way INTEGER)")
        connection.commit()
    before = counts(folder / "dialback.db")
    with pytest.raises(LibraryBroken, match="as it was before"):
        Library.open(folder)
    assert counts(folder / "dialback.db") == before
    with opened(folder / "dialback.db") as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        columns = [row[1] for row in connection.execute("PRAGMA table_info(control_layout)")]
        connection.execute("DROP TABLE sound_level")
        connection.commit()
    assert "ports" not in columns
    Library.open(folder).close()


def test_a_link_that_was_broken_before_does_not_keep_a_library_shut(tmp_path: Path) -> None:
    folder = frozen_library(tmp_path / "library", "0001")
    with opened(folder / "dialback.db") as connection:
        connection.execute("UPDATE print SET file_id = 999 WHERE id = 1")
        connection.commit()
    library = Library.open(folder)
    assert any(
        "Row 1 of print refers to a missing stored_file" in found
        for found in check_library(library.folder).problems
    )
    library.close()


def test_what_is_measured_already_can_be_searched_by_sound(tmp_path: Path) -> None:
    folder = frozen_library(tmp_path / "library", "0002")
    Library.open(folder).close()
    with opened(folder / "dialback.db") as connection:
        shapes = connection.execute("SELECT file_id, length(shape) FROM sound_shape").fetchall()
        uids = [uid for (uid,) in connection.execute("SELECT uid FROM pass")]
    assert shapes == [(2, 24 * 4)], "the one file that was measured in all its bands"
    assert len(set(uids)) == len(uids) == 3
    assert all(len(uid) == 32 for uid in uids)


def test_notes_on_sound_levels_are_found_once_migrated(tmp_path: Path) -> None:
    library = Library.open(frozen_library(tmp_path / "library", "0002"))
    assert [hit.row_id for hit in find.find(library, "loft")] == [1]
    library.close()


def test_work_that_stopping_dialback_had_ended_too_often_is_tried_again(tmp_path: Path) -> None:
    folder = frozen_library(tmp_path / "library", "0003")
    with opened(folder / "dialback.db") as connection:
        connection.execute(
            "UPDATE measurement SET state = 'failed', tries = 3, reason = 'Measuring this file ended the measuring "
            "process 3 times. It is left alone now; the file itself is untouched.' WHERE id = 1"
        )
        connection.execute("UPDATE measurement SET state = 'failed', reason = 'It is no sound.' WHERE id = 2")
        connection.commit()
    Library.open(folder).close()
    with opened(folder / "dialback.db") as connection:
        rows = connection.execute(
            "SELECT state, tries, reason FROM measurement WHERE id < 3 ORDER BY id"
        ).fetchall()
    assert rows[0] == ("waiting", 0, "")
    assert [row[0] for row in rows[1:]] == ["failed"] * len(rows[1:])
    assert len(rows) == 2

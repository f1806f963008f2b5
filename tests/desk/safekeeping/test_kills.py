"""Whatever is killed at whatever moment: nothing that was there is lost. Short campaigns; long ones are in tests/bench/kills.py."""

import random
from pathlib import Path

import kills
import pytest
from small_session import tone
from stopped_hard import stopped_hard

from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.library import Library


@pytest.fixture
def template(library: Library, tmp_path: Path) -> Path:
    """A library that was stopped hard, with a backup and some files."""
    import io

    from app.desk.files.stored_files import record

    for hz in (101, 202, 303):
        taken = library.files.take_in(io.BytesIO(tone(0.1, hz=hz)))
        with library.writing() as session:
            record(session, taken, "audio/wav")
    projects.create_project(library, ProjectEntry("before"))
    library.backup().rename(library.folder / "backups" / "copy.db")
    projects.create_project(library, ProjectEntry("since"))
    with stopped_hard(library, tmp_path / "template") as folder:
        return folder


CHANCE = random.Random(28)


def held(tally: kills.Tally) -> None:
    print(tally)
    assert tally.lost == []
    assert tally.killed > 0


def test_kills_during_a_restore(template: Path, tmp_path: Path) -> None:
    held(kills.campaign(template, tmp_path, 14, CHANCE, kills.restoring, kills.look_after_restoring))


def test_kills_during_a_backup(template: Path, tmp_path: Path) -> None:
    held(kills.campaign(template, tmp_path, 12, CHANCE, kills.backing_up, kills.look_after_backing_up))


def test_kills_during_a_full_copy(template: Path, tmp_path: Path) -> None:
    held(kills.campaign(template, tmp_path, 10, CHANCE, kills.copying, kills.look_after_copying))


def test_kills_during_a_salvage(template: Path, tmp_path: Path) -> None:
    lost = kills.without_database(template, tmp_path / "lost")
    held(kills.campaign(lost, tmp_path, 6, CHANCE, kills.salvaging, kills.look_after_salvaging))


def test_kills_during_a_start_that_migrates(tmp_path: Path) -> None:
    older = kills.older_library(tmp_path / "older")
    held(kills.campaign(older, tmp_path, 6, CHANCE, kills.starting, kills.look_after_starting))

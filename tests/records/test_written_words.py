"""The full-text index follows every row, whichever way it is written or deleted."""

from itertools import pairwise
from typing import Any

import pytest
from small_session import SmallSession, bring_in, correct
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from app.desk.passes import keepers, passes
from app.desk.photos import photos
from app.desk.prints import prints
from app.desk.projects import projects
from app.desk.projects.projects import ProjectEntry
from app.desk.shelf import gear
from app.library import Library
from app.records import WRITTEN, Photo, Project, entry_of
from app.records.written_words import FORGETTING, write_anew


def index_of(library: Library) -> dict[int, str]:
    with library.reading() as reading:
        rows = reading.execute(text("SELECT rowid, words FROM written_words"))
        return {row.rowid: row.words for row in rows}


def rebuilt(library: Library) -> dict[int, str]:
    with library.writing() as writing:
        write_anew(writing.connection())
    return index_of(library)


def test_the_index_is_what_a_rebuilding_would_make(filled: Library) -> None:
    followed = index_of(filled)
    assert len(followed) > 50
    assert rebuilt(filled) == followed


def test_the_index_follows_every_kind_of_change(filled: Library, session: SmallSession) -> None:
    projects.edit_project(filled, session.project, ProjectEntry("Net loft", "", "48000", "new words"))
    correct(filled, session.passes[0], passes.without_step(passes.entry_of(filled, session.passes[0]), 4))
    gear.edit_gear(filled, session.unused, gear.GearEntry("renamed", "other"))
    gear.delete_gear(filled, session.unused)
    keepers.unmark_keeper(filled, session.keeper)
    prints.edit_print(filled, session.prints[0], label="relabelled", step_id=None)
    prints.delete_print(filled, session.prints[1])
    photos.delete_photo(filled, session.photos[0])
    passes.delete_pass(filled, session.passes[2])
    followed = index_of(filled)
    assert rebuilt(filled) == followed
    assert "relabelled" in followed.values()
    assert "renamed" not in followed.values()


def test_a_project_takes_all_its_words_with_it(filled: Library, session: SmallSession) -> None:
    projects.delete_project(filled, session.project)
    followed = index_of(filled)
    assert rebuilt(filled) == followed
    assert {entry_of(rowid)[0].noun for rowid in followed} == {
        "project",
        "gear",
        "control",
        "control_layout",
        "photo",
    }


def test_a_transaction_that_fails_leaves_the_index_as_it_was(filled: Library) -> None:
    before = index_of(filled)

    def fail() -> None:
        with filled.writing() as writing:
            writing.add(Project(title="never written"))
            writing.flush()
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert index_of(filled) == before


def test_every_written_noun_is_forgotten_with_its_rows(library: Library) -> None:
    assert {statement.split('"')[1] for statement in FORGETTING} == {written.noun for written in WRITTEN}
    with library.reading() as reading:
        made = reading.execute(text("SELECT name FROM sqlite_temp_master WHERE type = 'trigger'")).all()
    assert len(made) == len(FORGETTING)


def test_the_places_of_written_fields_are_history() -> None:
    """They stand in every library's rowids: append to them, change none."""
    assert [(written.noun, written.field) for written in WRITTEN][:24] == [
        ("project", "title"),
        ("project", "artist"),
        ("project", "notes"),
        ("source_track", "name"),
        ("source_track", "instrument"),
        ("source_track", "recorded_with"),
        ("source_track", "tuning"),
        ("source_track", "notes"),
        ("source_track", "file_name"),
        ("gear", "name"),
        ("gear", "notes"),
        ("control", "name"),
        ("pass", "title"),
        ("pass", "notes"),
        ("pass", "hook_up"),
        ("pass", "levels"),
        ("mic_placement", "speaker"),
        ("mic_placement", "preamp"),
        ("mic_placement", "note"),
        ("print", "label"),
        ("print", "file_name"),
        ("keeper_mark", "part"),
        ("keeper_mark", "reason"),
        ("photo", "caption"),
    ]
    assert len(WRITTEN) < 256


def test_a_moment_is_kept_in_utc_and_read_as_such(library: Library) -> None:
    made = projects.create_project(library, ProjectEntry("one"))
    begun = projects.read_project(library, made).created_at
    assert begun.utcoffset() is not None
    assert begun.utcoffset().total_seconds() == 0  # type: ignore[union-attr]


def test_ids_only_ever_rise(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = bring_in(library, project, "bass")
    made = []
    for _ in range(3):
        made.append(passes.log_pass(library, source, passes.PassEntry()))
        passes.delete_pass(library, made[-1])
    assert all(before < after for before, after in pairwise(made))


@pytest.mark.parametrize("owner", [{}, {"pass_id": 1, "gear_id": 1}])
def test_a_photo_belongs_to_a_pass_or_to_gear(filled: Library, owner: dict[str, Any]) -> None:
    def add() -> None:
        with filled.writing() as writing:
            writing.add(
                Photo(width=1, height=1, original_file_id=1, shown_file_id=1, thumbnail_file_id=1, **owner)
            )

    with pytest.raises(IntegrityError, match="of_a_pass_or_gear"):
        add()


def test_a_row_that_points_nowhere_is_not_written(filled: Library) -> None:
    def point() -> None:
        with filled.writing() as writing:
            writing.execute(text("UPDATE print SET file_id = 999"))

    with pytest.raises(IntegrityError, match="FOREIGN KEY"):
        point()

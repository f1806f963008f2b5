import io

import pytest
from small_session import SmallSession, bring_in, figures, measured, tone

from app.desk.measuring import measurements
from app.desk.passes import passes
from app.desk.passes.keepers import mark_keeper
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry
from app.desk.projects import projects, sources
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.desk.refusals import NotThere, Refusal
from app.library import Library
from app.records import Measurement


def test_projects_stand_with_the_one_worked_on_last_first(library: Library) -> None:
    early = projects.create_project(library, ProjectEntry("early"))
    late = projects.create_project(library, ProjectEntry("late"))
    assert [line.project_id for line in projects.list_projects(library)] == [late, early]
    passes.log_pass(library, bring_in(library, early, "bass"), PassEntry())
    assert [line.project_id for line in projects.list_projects(library)] == [early, late]


def test_a_project_counts_what_is_in_it(filled: Library, session: SmallSession) -> None:
    mark_keeper(filled, session.passes[2], part="right", reason="")
    lines = {line.title: line for line in projects.list_projects(filled)}
    boathouse = lines["Boathouse"]
    assert (boathouse.sources, boathouse.passes, boathouse.keepers) == (2, 3, 2)
    assert (lines["Nothing yet"].sources, lines["Nothing yet"].passes, lines["Nothing yet"].keepers) == (
        0,
        0,
        0,
    )
    sheet = projects.read_project(filled, session.project)
    assert [(line.name, line.passes, line.has_audio) for line in sheet.sources] == [
        ("bass DI", 3, True),
        ("organ line", 0, False),
    ]
    assert [keeper.words for keeper in sheet.sources[0].keepers] == ["pass 1, left", "pass 3, right"]


@pytest.mark.parametrize("rate", ["", "0", "-48000", "48 kHz", "47999", "9" * 5000])
def test_a_sample_rate_that_no_daw_offers_is_refused(library: Library, rate: str) -> None:
    with pytest.raises(Refusal) as refused:
        projects.create_project(library, ProjectEntry("odd", sample_rate=rate))
    assert list(refused.value.sentences) == ["sample_rate"]


def test_everything_wrong_is_told_at_once(library: Library) -> None:
    with pytest.raises(Refusal) as refused:
        projects.create_project(library, ProjectEntry(" ", "a" * 201, "1", "n" * 20_001))
    assert set(refused.value.sentences) == {"title", "artist", "sample_rate", "notes"}


def test_a_refused_edit_changes_nothing(filled: Library, session: SmallSession) -> None:
    with pytest.raises(Refusal):
        projects.edit_project(filled, session.project, ProjectEntry("", "somebody"))
    assert projects.project_entry(filled, session.project).artist == "Invented Trio"


def test_a_deleted_project_takes_its_own_and_leaves_the_rest(filled: Library, session: SmallSession) -> None:
    projects.delete_project(filled, session.project)
    assert [line.title for line in projects.list_projects(filled)] == ["Nothing yet"]
    with pytest.raises(NotThere):
        read_pass(filled, session.passes[0])
    with filled.reading() as reading:
        run = reading.connection().exec_driver_sql
        for table in ("pass", "chain_step", "setting", "mic_placement", "print", "keeper_mark"):
            assert run(f'SELECT count(*) FROM "{table}"').scalar() == 0, table
        assert run("SELECT count(*) FROM photo").scalar() == 1
        assert run("SELECT count(*) FROM gear").scalar() == 8
        assert run("PRAGMA foreign_key_check").fetchall() == []


def test_a_deleted_rows_id_is_not_given_out_again(library: Library) -> None:
    first = projects.create_project(library, ProjectEntry("one"))
    projects.delete_project(library, first)
    assert projects.create_project(library, ProjectEntry("two")) > first


def test_a_source_is_measured_as_soon_as_it_has_its_file(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    source = bring_in(library, project, "bass")
    assert sources.read_source(library, source).measured == measurements.NOT_ASKED
    sources.edit_source(library, source, SourceEntry("bass"), ("bass.wav", io.BytesIO(tone(0.1))))
    assert sources.read_source(library, source).measured.is_coming
    measured(library, figures(aligned=False))
    found = sources.read_source(library, source)
    assert found.measured.figures == figures(aligned=False)
    assert (found.file_name, found.file_bytes) == ("bass.wav", len(tone(0.1)))


def test_a_new_file_of_a_source_has_its_prints_measured_against_it(
    filled: Library, session: SmallSession
) -> None:
    entry = sources.read_source(filled, session.bass).entry
    sources.edit_source(filled, session.bass, entry, ("again.wav", io.BytesIO(tone(0.3, hz=330))))
    for number in session.passes:
        assert all(item.measured.is_coming for item in read_pass(filled, number).prints)


def test_the_same_file_brought_in_twice_is_stored_and_measured_once(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    for name in ("bass", "bass again"):
        bring_in(library, project, name, tone(0.1))
    with library.reading() as reading:
        assert reading.query(Measurement).count() == 1
    assert len(library.files.names()) == 1


def test_editing_the_words_of_a_source_leaves_its_file(filled: Library, session: SmallSession) -> None:
    before = sources.read_source(filled, session.bass)
    sources.edit_source(filled, session.bass, SourceEntry("bass, renamed"))
    after = sources.read_source(filled, session.bass)
    assert (after.name, after.file_name, after.measured) == (
        "bass, renamed",
        before.file_name,
        before.measured,
    )


def test_a_source_of_no_project_stores_nothing(library: Library) -> None:
    with pytest.raises(NotThere):
        bring_in(library, 9, "stray", tone(0.1))
    assert library.files.names() == set()


def test_a_file_that_is_no_audio_is_refused_before_it_is_stored(library: Library) -> None:
    project = projects.create_project(library, ProjectEntry("Boathouse"))
    with pytest.raises(Refusal) as refused:
        bring_in(library, project, "letter", b"%PDF-1.7 and so on")
    assert list(refused.value.sentences) == ["file"]
    assert library.files.names() == set()
    assert list(library.files.incoming.iterdir()) == []


@pytest.mark.parametrize(
    ("head", "media_type"),
    [
        (b"RIFF\0\0\0\0WAVE", "audio/wav"),
        (b"RF64\xff\xff\xff\xffWAVE", "audio/wav"),
        (b"BW64\xff\xff\xff\xffWAVE", "audio/wav"),
        (b"FORM\0\0\0\0AIFF", "audio/aiff"),
        (b"FORM\0\0\0\0AIFC", "audio/aiff"),
        (b"fLaC\0\0\0\x22", "audio/flac"),
    ],
)
def test_a_container_is_known_by_its_first_bytes(head: bytes, media_type: str) -> None:
    from app.desk.files.stored_files import refuse_unless_audio

    stream = io.BytesIO(head + b"rest")
    assert refuse_unless_audio("file", "x.txt", stream) == media_type
    assert stream.tell() == 0


@pytest.mark.parametrize(("rate", "kept"), [(44_100, 44_100), (96_000, 96_000), (22_050, 48_000)])
def test_a_session_that_begins_with_a_file_runs_at_its_rate_where_a_daw_does(
    library: Library, rate: int, kept: int
) -> None:
    audio = [("line.wav", io.BytesIO(tone(0.2, sample_rate=rate))), ("other.wav", io.BytesIO(tone(0.1)))]
    source = sources.begin_session(library, audio)
    project = sources.read_source(library, source).project_id
    assert projects.read_project(library, project).sample_rate == kept

import io
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_session import SmallSession, bring_in, correct, picture, step_of, tone, turned
from sqlalchemy import select
from sqlmodel import col

from app.desk.finding.find import find
from app.desk.passes import keepers, passes
from app.desk.passes.kept_chains import keep_chain
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.photos import photos
from app.desk.prints import prints
from app.desk.projects import ears, projects, sources
from app.desk.projects.ears import LevelEntry
from app.desk.projects.projects import ProjectEntry
from app.desk.projects.sources import SourceEntry
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.desk.shelf.gear import GearEntry
from app.library import Library
from app.records import WRITTEN, ChainStep, ControlLayout, Note, Recall, RecallTry

WORD_OF = {(written.noun, written.field): f"zz{place}word" for place, written in enumerate(WRITTEN)}


def written_everywhere(library: Library) -> dict[str, int]:
    """A library where each field that can be searched holds a word of its own. Returns the ids by noun."""

    def word(noun: str, field: str) -> str:
        return f"about {WORD_OF[noun, field]} then"

    project = projects.create_project(
        library,
        ProjectEntry(word("project", "title"), word("project", "artist"), "48000", word("project", "notes")),
    )
    source = sources.create_source(
        library,
        project,
        SourceEntry(
            word("source_track", "name"),
            word("source_track", "instrument"),
            word("source_track", "recorded_with"),
            "",
            word("source_track", "tuning"),
            word("source_track", "notes"),
        ),
        (word("source_track", "file_name"), io.BytesIO(tone(0.1))),
    )
    mic = gear.add_gear(
        library,
        GearEntry(
            word("gear", "name"),
            "microphone",
            word("gear", "notes"),
            (ControlEntry(name=word("control", "name")), ControlEntry(name="Remark", form="text")),
        ),
    )
    with library.writing() as session:  # its name on the layout that the pass is logged with
        session.get_one(ControlLayout, 1).gear_name = word("control_layout", "gear_name")
    step = replace(
        step_of(library, mic, {"Remark": word("setting", "reading")}),
        placement=PlacementEntry(
            speaker=word("mic_placement", "speaker"),
            preamp=word("mic_placement", "preamp"),
            note=word("mic_placement", "note"),
        ),
    )
    made = passes.log_pass(
        library,
        source,
        PassEntry(
            word("pass", "title"),
            word("pass", "notes"),
            word("pass", "hook_up"),
            word("pass", "levels"),
            (step,),
        ),
    )
    prints.attach_print(
        library, made, word("print", "file_name"), io.BytesIO(tone(0.1)), label=word("print", "label")
    )
    keepers.mark_keeper(library, made, part=word("keeper_mark", "part"), reason=word("keeper_mark", "reason"))
    keep_chain(library, made, word("pass", "chain_name"))
    photos.add_photo(library, "x.jpg", io.BytesIO(picture()), pass_id=made, caption=word("photo", "caption"))
    ears.log_level(library, project, LevelEntry("90", "10", note=word("sound_level", "note")))
    with library.writing() as session:
        recall = Recall(pass_id=made, note=word("recall", "note"))
        session.add_all((recall, Note(project_id=project, pass_id=made, words=word("note", "words"))))
        session.flush()
        session.add(
            RecallTry(recall_id=recall.id, file_id=1, file_name="again.wav", note=word("recall_try", "note"))
        )
    return {"project": project, "source track": source, "gear": mic, "pass": made}


OWNER = {
    "project": "project",
    "source_track": "source track",
    "gear": "gear",
    "control": "gear",
    "control_layout": "gear",
    "sound_level": "project",
} | dict.fromkeys(
    ("pass", "mic_placement", "print", "keeper_mark", "photo", "note", "recall", "recall_try", "setting"),
    "pass",
)


def test_every_field_that_is_written_is_found_and_said_to_be_where_it_is(library: Library) -> None:
    ids = written_everywhere(library)
    found = {}
    for written in WRITTEN:
        hit, *of_its_chains = find(library, WORD_OF[written.noun, written.field])
        assert {other.noun for other in of_its_chains} <= {"pass"}
        (excerpt,) = hit.excerpts
        found[written] = (hit.noun, hit.row_id, excerpt.where)
        assert (WORD_OF[written.noun, written.field], True) in excerpt.parts
    assert found == {
        written: (OWNER[written.noun], ids[OWNER[written.noun]], written.label) for written in WRITTEN
    }


@pytest.mark.parametrize(
    ("query", "title"),
    [
        ("boathouse", "Boathouse"),
        ("BOATHOUSE", "Boathouse"),
        ("boat", "Boathouse"),
        ("rain tin", "Boathouse"),
        ("tin rain", "Boathouse"),
        ("low end", "Pass 1: first try"),
        ("on a towel", "Pass 1: first try"),
        ("ribbon", "small ribbon microphone"),
        ("15-watt", "15-watt valve combo"),
    ],
)
def test_words_are_found_whole_begun_and_in_any_order(
    filled: Library, session: SmallSession, query: str, title: str
) -> None:
    assert title in {hit.title for hit in find(filled, query)}


def test_words_are_found_with_and_without_their_marks(library: Library) -> None:
    projects.create_project(library, ProjectEntry("Café Ångström"))
    for query in ("cafe", "café", "Cafe\u0301", "angstrom", "ÅNGSTRÖM"):
        assert [hit.title for hit in find(library, query)] == ["Café Ångström"], query


def test_the_words_may_stand_in_different_places_of_one_pass(filled: Library, session: SmallSession) -> None:
    """One is in its title, one in its notes, one in the reason for the keeper."""
    (hit,) = [hit for hit in find(filled, "first neighbours sits") if hit.noun == "pass"]
    assert hit.row_id == session.passes[0]
    assert {excerpt.where for excerpt in hit.excerpts} >= {"pass title", "pass notes", "keeper's reason"}


def test_all_the_words_must_be_there(filled: Library) -> None:
    assert find(filled, "boathouse") != []
    assert find(filled, "boathouse zeppelin") == []


@pytest.mark.parametrize(
    "query",
    [
        '"',
        "*",
        "NEAR(",
        "-",
        "^",
        ":",
        "(",
        ")",
        "{",
        "'",
        "a:b",
        '"unfinished',
        "words:x",
        "AND",
        "OR NOT",
        "--",
        ";DROP TABLE pass",
        "%",
        "_",
        "\x00",
        "\ufeff",
        "🎸",
        " ",
        "",
        "\u0301",
        "NEAR(a b, 3)",
        "'; --",
        "﷽",
        "a" * 10_000,
        "a " * 5_000,
        "²",
        "ﬃ",
    ],
)
def test_a_hostile_query_is_only_words(filled: Library, query: str) -> None:
    assert isinstance(find(filled, query), list)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=40))
def test_no_query_can_break_the_search(filled: Library, query: str) -> None:
    find(filled, query)


def test_an_operator_is_looked_for_as_a_word(library: Library) -> None:
    projects.create_project(library, ProjectEntry("this and that"))
    projects.create_project(library, ProjectEntry("this near that"))
    assert [hit.title for hit in find(library, "this AND that")] == ["this and that"]
    assert [hit.title for hit in find(library, "NEAR that")] == ["this near that"]


def test_what_was_changed_is_found_as_it_is_now(filled: Library, session: SmallSession) -> None:
    projects.edit_project(filled, session.project, ProjectEntry("Net loft", "", "48000", ""))
    assert find(filled, "boathouse") == []
    assert find(filled, "tin") == []
    assert [hit.title for hit in find(filled, "loft")] == ["Net loft"]


def test_what_was_deleted_is_not_found_and_takes_no_room(filled: Library, session: SmallSession) -> None:
    projects.delete_project(filled, session.project)
    for word in ("boathouse", "towel", "neighbours", "odd", "amp.jpg"):
        assert find(filled, word) == [], word
    with filled.reading() as reading:
        index = reading.connection().exec_driver_sql
        left = {row[0] for row in index("SELECT words FROM written_words")}
    assert left == {
        *(line.name for line in gear.list_gear(filled)),
        *(
            "Trim",
            "Fuzz",
            "Gain",
            "Drive",
            "Tone",
            "Mix",
            "Time",
            "Level",
            "Input",
            "Bright",
            "Mains",
            "Remark",
        ),
        *("Nothing yet", "inside"),
    }


def test_a_deleted_crowd_does_not_hide_what_is_there(library: Library) -> None:
    crowd = projects.create_project(library, ProjectEntry("crowd"))
    source = bring_in(library, crowd, "bass")
    for _ in range(200):
        passes.log_pass(library, source, PassEntry(title="fuzz fuzz fuzz"))
    projects.create_project(
        library, ProjectEntry("the one with a fuzz in a much longer title than the others")
    )
    projects.delete_project(library, crowd)
    assert [hit.noun for hit in find(library, "fuzz")] == ["project"]


def test_an_old_name_of_a_knob_still_finds_its_gear(filled: Library, session: SmallSession) -> None:
    assert session.amp in {hit.row_id for hit in find(filled, "gain") if hit.noun == "gear"}
    assert session.amp in {hit.row_id for hit in find(filled, "drive") if hit.noun == "gear"}


def test_what_was_written_on_a_free_control_is_found_as_it_is_now(
    filled: Library, session: SmallSession
) -> None:
    assert [hit.row_id for hit in find(filled, "valves warm") if hit.noun == "pass"] == list(
        reversed(session.passes)
    )
    entry = passes.entry_of(filled, session.passes[0])
    correct(filled, session.passes[0], turned(filled, entry, session.amp, Remark="cold start"))
    assert session.passes[0] not in {hit.row_id for hit in find(filled, "valves warm")}
    assert [hit.row_id for hit in find(filled, "cold start")] == [session.passes[0]]


def test_a_former_name_of_gear_is_found_and_the_present_one_is_said_once(
    filled: Library, session: SmallSession
) -> None:
    gear.edit_gear(filled, session.fuzz, replace(gear.gear_entry(filled, session.fuzz), name="brown fuzz"))
    (hit,) = [hit for hit in find(filled, "silicon") if hit.noun == "gear"]
    assert (hit.title, [excerpt.where for excerpt in hit.excerpts]) == (
        "brown fuzz",
        ["gear, as it was called"],
    )
    (hit,) = [hit for hit in find(filled, "brown") if hit.noun == "gear"]
    assert [excerpt.where for excerpt in hit.excerpts] == ["gear"]


def test_a_word_finds_gear_in_every_chain_that_holds_it(filled: Library, session: SmallSession) -> None:
    hits = find(filled, "silicon fuzz")
    holding = {hit.row_id for hit in hits if hit.noun == "pass"}
    with filled.reading() as reading:
        steps = reading.scalars(select(col(ChainStep.pass_id)).where(col(ChainStep.gear_id) == session.fuzz))
        assert holding == set(steps)
    assert len(holding) == 2
    assert (hits[0].noun, hits[0].row_id) == ("gear", session.fuzz)
    gear.edit_gear(filled, session.fuzz, replace(gear.gear_entry(filled, session.fuzz), name="old fuzz"))
    assert {hit.row_id for hit in find(filled, "silicon") if hit.noun == "pass"} == holding
    assert {hit.row_id for hit in find(filled, "old fuzz") if hit.noun == "pass"} == holding
    assert not [hit for hit in find(filled, "chorus") if hit.noun == "pass"]

"""What is jotted is kept as it is typed, by desk and phone into one draft, and nothing is taken twice or lost."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_session import SmallSession, correct

from app.desk.passes import drafts, passes
from app.desk.passes.draft_fields import difference, fields_of, from_json, in_a_unit, to_json, with_fields
from app.desk.passes.drafts import DraftGone, DraftSheet
from app.desk.passes.field_names import ReadingField
from app.desk.passes.pass_sheets import read_pass, read_passes_of_source
from app.desk.passes.passes import PassEntry, StepEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.refusals import EditedMeanwhile, Refusal
from app.desk.shelf import gear
from app.library import Library

KEY = "invented-key-0001"


def knob(library: Library, gear_id: int, name: str) -> str:
    controls = gear.read_gear(library, gear_id).newest.controls
    return next(str(ReadingField(gear_id, c.control_id)) for c in controls if c.spec.name == name)


def value(library: Library, draft: DraftSheet, name: str) -> str:
    return fields_of(drafts.read_draft(library, draft.draft_id).entry).get(name, "")


@pytest.fixture
def drive(filled: Library, session: SmallSession) -> str:
    return knob(filled, session.amp, "Drive")


@pytest.fixture
def tone(filled: Library, session: SmallSession) -> str:
    return knob(filled, session.amp, "Tone")


@pytest.fixture
def draft(filled: Library, session: SmallSession) -> DraftSheet:
    return drafts.open_draft(filled, session.bass)


def test_a_draft_begins_as_the_next_passs_form(
    filled: Library, session: SmallSession, draft: DraftSheet
) -> None:
    assert draft.entry == passes.entry_for_next(filled, session.bass)
    assert (draft.is_changed, draft.undoes, draft.redoes) == (False, None, None)
    assert drafts.open_draft(filled, session.bass) == draft, "one draft for all devices"
    assert drafts.list_drafts(filled, [session.bass]) == [], "nothing in it is lost if nobody looks"


def test_what_is_jotted_is_there_when_the_form_is_opened_again(
    filled: Library, session: SmallSession, draft: DraftSheet, drive: str
) -> None:
    drafts.jot(filled, draft.draft_id, KEY, {drive: "3", "notes": "rain stopped"})
    again = drafts.open_draft(filled, session.bass)
    assert fields_of(again.entry) == fields_of(draft.entry) | {drive: "3", "notes": "rain stopped"}
    assert again.is_changed
    line = drafts.list_drafts(filled, [session.bass, session.organ])[0]
    assert (line.number, line.source_name, line.address) == (
        4,
        "bass DI",
        f"/sources/{session.bass}/passes/new",
    )


def test_the_same_jotting_sent_again_is_answered_as_before_and_does_nothing(
    filled: Library, draft: DraftSheet, drive: str
) -> None:
    first = drafts.jot(filled, draft.draft_id, KEY, {drive: "3"})
    drafts.jot(filled, draft.draft_id, "another-key-2", {drive: "4"})
    assert drafts.jot(filled, draft.draft_id, KEY, {drive: "3"}) == first
    assert value(filled, draft, drive) == "4"


def test_desk_and_phone_write_into_one_draft_and_the_last_has_the_field(
    filled: Library, draft: DraftSheet, drive: str, tone: str
) -> None:
    drafts.jot(filled, draft.draft_id, "", {drive: "3", tone: "noon"})
    drafts.jot(filled, draft.draft_id, "", {tone: "3:00"})
    assert (value(filled, draft, drive), value(filled, draft, tone)) == ("3", "3:00")


def test_a_reading_that_no_scale_knows_is_kept_as_typed_and_said(
    filled: Library, draft: DraftSheet, drive: str
) -> None:
    jotted = drafts.jot(filled, draft.draft_id, "", {drive: "eleventy"})
    assert list(jotted.refused) == [drive]
    assert "eleventy" in jotted.refused[drive]
    assert value(filled, draft, drive) == "eleventy"
    with pytest.raises(Refusal):
        drafts.save(filled, draft.draft_id)
    assert drafts.jot(filled, draft.draft_id, "", {drive: "8"}).refused == {}


def test_what_is_too_long_to_keep_is_said_and_leaves_the_rest(
    filled: Library, draft: DraftSheet, drive: str
) -> None:
    jotted = drafts.jot(filled, draft.draft_id, "", {drive: "3", "notes": "x" * (drafts.FIELD_LIMIT + 1)})
    assert "not kept" in jotted.refused["notes"]
    assert (value(filled, draft, drive), value(filled, draft, "notes")) == ("3", "")


def test_undo_and_redo_go_through_the_changes_one_by_one(
    filled: Library, draft: DraftSheet, drive: str, tone: str
) -> None:
    drafts.jot(filled, draft.draft_id, "", {drive: "3"})
    drafts.jot(filled, draft.draft_id, "", {tone: "noon"})
    there = drafts.read_draft(filled, draft.draft_id)
    assert there.undoes == "Tone noon"
    assert drafts.undo(filled, draft.draft_id).can_redo
    assert value(filled, draft, tone) == "half past 2"
    drafts.undo(filled, draft.draft_id)
    nothing_left = drafts.undo(filled, draft.draft_id)
    assert not nothing_left.can_undo
    assert drafts.read_draft(filled, draft.draft_id).entry == draft.entry
    drafts.redo(filled, draft.draft_id)
    drafts.redo(filled, draft.draft_id)
    assert drafts.read_draft(filled, draft.draft_id).entry == there.entry
    drafts.undo(filled, draft.draft_id)
    drafts.jot(filled, draft.draft_id, "", {drive: "9"})
    assert drafts.read_draft(filled, draft.draft_id).redoes is None, "a new change leaves nothing to redo"


def test_changes_of_one_field_in_one_breath_are_undone_together(
    filled: Library, draft: DraftSheet, drive: str
) -> None:
    for reading in ("3", "3.5", "4"):
        drafts.jot(filled, draft.draft_id, "", {drive: reading})
    drafts.undo(filled, draft.draft_id)
    assert drafts.read_draft(filled, draft.draft_id).entry == draft.entry


def test_undo_is_bounded_and_the_beginning_always_there(
    filled: Library, draft: DraftSheet, drive: str, tone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drafts, "STATES_LIMIT", 5)
    for count in range(8):
        drafts.jot(filled, draft.draft_id, "", {drive if count % 2 else tone: str(1 + count / 2)})
    undone = 0
    while drafts.undo(filled, draft.draft_id).can_undo:
        undone += 1
    assert undone + 1 == 4
    assert drafts.read_draft(filled, draft.draft_id).entry == draft.entry


def test_thrown_away_is_as_it_began_and_can_be_brought_back(
    filled: Library, session: SmallSession, draft: DraftSheet, drive: str
) -> None:
    drafts.jot(filled, draft.draft_id, "", {drive: "3", "notes": "a good one"})
    drafts.discard(filled, draft.draft_id)
    assert drafts.list_drafts(filled, [session.bass]) == []
    assert drafts.open_draft(filled, session.bass).entry == draft.entry
    drafts.undo(filled, draft.draft_id)
    assert value(filled, draft, "notes") == "a good one"


def test_a_saved_draft_is_a_pass_and_the_draft_is_gone(
    filled: Library, session: SmallSession, draft: DraftSheet, drive: str
) -> None:
    drafts.jot(filled, draft.draft_id, "", {drive: "3", "title": "less"})
    pass_id = drafts.save(filled, draft.draft_id, KEY)
    assert read_pass(filled, pass_id).name == "Pass 4: less"
    assert drafts.save(filled, draft.draft_id, KEY) == pass_id, "sent again, it is not logged again"
    assert len(read_passes_of_source(filled, session.bass)) == 4
    with pytest.raises(DraftGone) as gone:
        drafts.jot(filled, draft.draft_id, "", {drive: "5"})
    assert gone.value.pass_id == pass_id
    following = drafts.open_draft(filled, session.bass)
    assert following.entry.like == pass_id
    assert following.draft_id != draft.draft_id


def test_a_form_that_was_opened_and_left_follows_the_log(
    filled: Library, session: SmallSession, draft: DraftSheet
) -> None:
    newer = passes.log_pass(filled, session.bass, replace(draft.entry, title="from elsewhere"))
    again = drafts.open_draft(filled, session.bass)
    assert again.entry.like == newer
    assert again.draft_id != draft.draft_id, "a page open on the old values does not write into the new ones"


def test_the_pass_it_was_asked_to_be_like_stays_so_until_something_is_logged(
    filled: Library, session: SmallSession
) -> None:
    begun = drafts.open_draft(filled, session.bass, like=session.passes[0])
    assert begun.entry.like == session.passes[0]
    assert drafts.open_draft(filled, session.bass) == begun, "the phone sees the desk's form"


def test_a_draft_with_something_in_it_stays_whatever_pass_is_asked_for(
    filled: Library, session: SmallSession, draft: DraftSheet, drive: str
) -> None:
    drafts.jot(filled, draft.draft_id, "", {drive: "3", "notes": "keep"})
    assert drafts.open_draft(filled, session.bass, like=session.passes[0]).entry.like == session.passes[2]
    drafts.set_like(filled, draft.draft_id, "", session.passes[0])
    now = drafts.read_draft(filled, draft.draft_id)
    assert now.entry == replace(passes.entry_for_next(filled, session.bass, session.passes[0]), notes="keep")
    drafts.undo(filled, draft.draft_id)
    assert value(filled, draft, drive) == "3"


def test_the_chain_is_changed_and_undone_like_any_setting(
    filled: Library, session: SmallSession, draft: DraftSheet, drive: str
) -> None:
    def chain() -> list[int]:
        return [step.gear_id for step in drafts.read_draft(filled, draft.draft_id).entry.steps]

    before = chain()
    drafts.add_gear(filled, draft.draft_id, "", session.fuzz)
    assert chain() == [before[0], session.fuzz, *before[1:]]
    assert drafts.read_draft(filled, draft.draft_id).undoes == "silicon fuzz added"
    drafts.move_gear(filled, draft.draft_id, "", session.fuzz, 1)
    drafts.jot(filled, draft.draft_id, "", {drive: "2"})
    assert chain()[:3] == [before[0], before[1], session.fuzz]
    drafts.take_out_gear(filled, draft.draft_id, "", session.fuzz)
    assert chain() == before
    assert value(filled, draft, drive) == "2", "fields are the gear's, wherever it stands"
    for _ in range(4):
        drafts.undo(filled, draft.draft_id)
    assert drafts.read_draft(filled, draft.draft_id).entry == draft.entry


def test_a_whole_form_changes_only_what_was_changed_in_it(
    filled: Library, draft: DraftSheet, drive: str, tone: str
) -> None:
    typed = with_fields(draft.entry, {drive: "3"})
    drafts.jot(filled, draft.draft_id, "", {tone: "9:00"})  # from the phone, after the form was shown
    merged = drafts.merge(filled, draft.draft_id, draft.seen, typed)
    assert fields_of(merged.entry) == fields_of(draft.entry) | {drive: "3", tone: "9:00"}


def test_an_edit_is_a_draft_of_its_own_and_the_stale_one_is_told(
    filled: Library, session: SmallSession, drive: str
) -> None:
    edit = drafts.open_edit(filled, session.passes[1])
    assert edit.entry == passes.entry_of(filled, session.passes[1])
    drafts.jot(filled, edit.draft_id, "", {drive: "1"})
    assert drafts.list_drafts(filled, [session.bass])[0].number == 2
    correct(filled, session.passes[1], passes.entry_of(filled, session.passes[1]))
    with pytest.raises(EditedMeanwhile) as told:
        drafts.save(filled, edit.draft_id)
    assert drafts.save(filled, edit.draft_id, revision=int(told.value.saved)) == session.passes[1]


def test_a_bare_length_keeps_the_unit_of_the_one_who_wrote_it(
    filled: Library, session: SmallSession, draft: DraftSheet
) -> None:
    name = f"placement-{session.near_mic}-distance"
    drafts.jot(filled, draft.draft_id, "", {name: "2"}, unit="in")
    placed = read_pass(filled, drafts.save(filled, draft.draft_id, unit="mm")).steps[-1].placement
    assert placed is not None
    assert placed.distance_mm == pytest.approx(50.8)
    assert in_a_unit("placement-5-distance", "3 cm", "in") == "3 cm"
    assert in_a_unit("placement-5-pad", "3", "in") == "3"
    assert in_a_unit("placement-5-distance", "a thumb", "in") == "a thumb"


readings = st.dictionaries(st.integers(1, 5), st.sampled_from(["", "1", "noon", "é"]), max_size=4)
placed = st.none() | st.builds(
    PlacementEntry, distance=st.sampled_from(["", "30 mm"]), note=st.text(max_size=5)
)
steps = st.lists(st.integers(1, 6), unique=True, max_size=4).flatmap(
    lambda gear_ids: st.tuples(
        *(
            st.builds(StepEntry, st.just(g), st.just(g), st.text(max_size=3), readings, placed)
            for g in gear_ids
        )
    )
)
entries = st.builds(PassEntry, title=st.text(max_size=5), notes=st.text(max_size=5), steps=steps)


@settings(max_examples=80, deadline=None)
@given(entries)
def test_an_entry_comes_back_from_where_it_is_kept(entry: PassEntry) -> None:
    assert from_json(to_json(entry)) == entry


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(entries, entries)
def test_the_difference_of_two_forms_makes_one_the_other(one: PassEntry, other: PassEntry) -> None:
    other = replace(other, steps=tuple(replace(step, readings={9: "7"}) for step in one.steps))
    made = with_fields(one, difference(one, other))
    assert fields_of(made) == fields_of(other) | {
        name: text for name, text in fields_of(made).items() if name.startswith("placement")
    }
    assert difference(made, made) == {}

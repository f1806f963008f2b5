from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_session import SmallSession, bring_in, correct, put_on_shelf, step_id_of, step_of, turned

from app.desk.passes import passes, placements
from app.desk.passes.pass_sheets import PassSheet, read_pass, read_passes_of_source
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.refusals import Complaints, EditedMeanwhile, NotThere, Refusal
from app.desk.shelf import gear
from app.desk.shelf.control_entries import ControlEntry
from app.library import Library
from app.trade.distances import LengthUnit
from app.trade.placements import Placement


def names(sheet: PassSheet) -> list[str]:
    return [step.gear_name for step in sheet.steps]


def readings(sheet: PassSheet) -> dict[str, str]:
    return {line.name: line.reading for step in sheet.steps for line in step.settings if line.is_set}


def test_the_next_pass_begins_as_a_copy_of_the_last(filled: Library, session: SmallSession) -> None:
    third = read_pass(filled, session.passes[2])
    entry = passes.entry_for_next(filled, session.bass)
    assert (entry.title, entry.notes, entry.revision) == ("", "", 0)
    assert (entry.hook_up, entry.levels) == (third.hook_up, third.levels)
    fourth = read_pass(filled, passes.log_pass(filled, session.bass, entry))
    assert fourth.number == 4
    assert readings(fourth) == readings(third)
    assert [(step.gear_id, step.branch, step.placement) for step in fourth.steps] == [
        (step.gear_id, step.branch, step.placement) for step in third.steps
    ]
    assert (fourth.prints, fourth.keepers, fourth.photos) == ((), (), ())


def test_the_next_pass_can_begin_as_a_copy_of_any(filled: Library, session: SmallSession) -> None:
    entry = passes.entry_for_next(filled, session.organ, session.passes[0])
    copied = read_pass(filled, passes.log_pass(filled, session.organ, entry))
    assert copied.number == 1
    assert names(copied) == [
        "re-amp box",
        "silicon fuzz",
        "15-watt valve combo",
        "1×12 cabinet",
        "small ribbon microphone",
    ]
    assert readings(copied)["Drive"] == "6.5", "what pass 1 noted as Gain is called Drive today"


def test_the_first_pass_of_a_source_begins_as_the_projects_last(
    filled: Library, session: SmallSession
) -> None:
    entry = passes.entry_for_next(filled, session.organ)
    assert [step.gear_id for step in entry.steps] == [
        step.gear_id for step in read_pass(filled, session.passes[2]).steps
    ]


def test_the_first_pass_of_a_project_begins_empty(library: Library) -> None:
    from app.desk.projects.projects import ProjectEntry, create_project

    source = bring_in(library, create_project(library, ProjectEntry("new")), "bass")
    assert passes.entry_for_next(library, source) == PassEntry()


def test_passes_are_numbered_by_source(filled: Library, session: SmallSession) -> None:
    passes.log_pass(filled, session.organ, PassEntry())
    passes.log_pass(filled, session.bass, PassEntry())
    assert [sheet.number for sheet in read_passes_of_source(filled, session.organ)] == [1]
    assert [sheet.number for sheet in read_passes_of_source(filled, session.bass)] == [1, 2, 3, 4]
    passes.delete_pass(filled, session.passes[1])
    passes.log_pass(filled, session.bass, PassEntry())
    assert [sheet.number for sheet in read_passes_of_source(filled, session.bass)] == [1, 3, 4, 5]


def test_a_setting_keeps_what_was_read_and_where_it_stands(filled: Library, session: SmallSession) -> None:
    lines = {line.name: line for line in read_pass(filled, session.passes[0]).steps[2].settings}
    assert (lines["Gain"].reading, lines["Gain"].position, lines["Gain"].value) == ("6.5", 0.65, 6.5)
    assert lines["Tone"].reading == "half past 2"
    assert lines["Tone"].position == pytest.approx(0.75)
    assert lines["Trim"].position == pytest.approx(0.4)
    assert lines["Time"].position == pytest.approx(0.5)
    assert (lines["Input"].reading, lines["Input"].position) == ("low", 0.5)
    assert (lines["Mains"].value, lines["Mains"].position) == (231.0, None)
    assert lines["Remark"].reading == "valves warm"


def test_a_reading_that_no_scale_knows_keeps_the_whole_pass_from_being_saved(
    filled: Library, session: SmallSession
) -> None:
    entry = turned(
        filled, passes.entry_for_next(filled, session.bass), session.amp, Drive="eleventy", Tone="6:30"
    )
    with pytest.raises(Refusal) as refused:
        passes.log_pass(filled, session.bass, entry)
    assert len(refused.value.sentences) == 2
    assert all(field.startswith(f"control-{session.amp}-") for field in refused.value.sentences)
    assert len(read_passes_of_source(filled, session.bass)) == 3


def test_an_edit_from_a_stale_tab_is_refused_and_changes_nothing(
    filled: Library, session: SmallSession
) -> None:
    number = session.passes[1]
    first_tab, second_tab = passes.entry_of(filled, number), passes.entry_of(filled, number)
    correct(filled, number, replace(first_tab, notes="from the laptop"))
    with pytest.raises(EditedMeanwhile) as told:
        correct(filled, number, replace(second_tab, notes="from the phone"))
    assert told.value.saved == 2
    assert read_pass(filled, number).notes == "from the laptop"
    correct(filled, number, replace(second_tab, notes="from the phone", revision=told.value.saved))
    assert read_pass(filled, number).notes == "from the phone"


def test_saving_a_pass_unchanged_changes_nothing_but_its_revision(
    filled: Library, session: SmallSession
) -> None:
    for number in session.passes:
        before = read_pass(filled, number)
        for unit in ("mm", "in"):
            correct(filled, number, passes.entry_of(filled, number, unit=unit), unit=unit)
        after = read_pass(filled, number)
        assert replace(after, revision=before.revision, edited_at=before.edited_at) == before


def test_reordering_keeps_prints_and_photos_with_their_gear(filled: Library, session: SmallSession) -> None:
    number = session.passes[0]
    mic_step = step_id_of(filled, number, session.near_mic)
    entry = passes.entry_of(filled, number)
    for _ in range(4):
        entry = passes.with_step_moved(entry, len(entry.steps) - 1, -4)
    correct(filled, number, passes.with_step_moved(entry, 4, -1))
    after = read_pass(filled, number)
    assert step_id_of(filled, number, session.near_mic) == mic_step
    assert after.prints[0].step_id == mic_step
    assert [photo.step_id for photo in after.photos] == [None, mic_step]


def test_gear_taken_out_leaves_its_prints_and_photos_on_the_pass(
    filled: Library, session: SmallSession
) -> None:
    number = session.passes[0]
    correct(filled, number, passes.without_step(passes.entry_of(filled, number), 4))
    after = read_pass(filled, number)
    assert "small ribbon microphone" not in names(after)
    assert [item.step_id for item in after.prints] == [None]
    assert [photo.step_id for photo in after.photos] == [None, None]


def test_gear_is_put_where_its_kind_usually_stands(filled: Library, session: SmallSession) -> None:
    entry = PassEntry()
    for gear_id in (session.near_mic, session.amp, session.box, session.cabinet, session.fuzz):
        entry = passes.with_gear(filled, entry, gear_id)
    assert [step.gear_id for step in entry.steps] == [
        session.box,
        session.fuzz,
        session.amp,
        session.cabinet,
        session.near_mic,
    ]
    with pytest.raises(Refusal, match="in this chain already"):
        passes.with_gear(filled, entry, session.amp)
    with pytest.raises(NotThere):
        passes.with_gear(filled, entry, 99)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 6), st.integers(-3, 9), st.integers(-9, 9))
def test_moving_a_step_loses_none(length: int, index: int, by: int) -> None:
    entry = PassEntry(steps=tuple(passes.StepEntry(number, number) for number in range(length)))
    moved = passes.with_step_moved(entry, index, by)
    assert sorted(step.gear_id for step in moved.steps) == list(range(length))
    if 0 <= index < length:
        assert moved.steps.index(entry.steps[index]) == min(max(0, index + by), length - 1)
    else:
        assert moved == entry


def test_a_chain_has_a_limit(filled: Library, session: SmallSession) -> None:
    step = step_of(filled, session.amp)
    many = PassEntry(steps=(step,) * (passes.STEPS_LIMIT + 1))
    with pytest.raises(Refusal, match="at most 60"):
        passes.log_pass(filled, session.bass, many)


def test_a_step_of_another_pieces_layout_is_refused(filled: Library, session: SmallSession) -> None:
    wrong = replace(step_of(filled, session.amp), gear_id=session.fuzz)
    with pytest.raises(Refusal):
        passes.log_pass(filled, session.bass, PassEntry(steps=(wrong,)))


def test_readings_of_another_pieces_controls_are_left_aside(filled: Library, session: SmallSession) -> None:
    amp_gain = gear.read_gear(filled, session.amp).newest.controls[0].control_id
    step = replace(step_of(filled, session.fuzz), readings={amp_gain: "5"})
    logged = read_pass(filled, passes.log_pass(filled, session.bass, PassEntry(steps=(step,))))
    assert readings(logged) == {}


def test_words_of_every_script_are_kept_and_controls_characters_are_not(
    filled: Library, session: SmallSession
) -> None:
    typed = "Ge\u0301rard’s 👩‍🎤 \u0646\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645 10\u00a0dB\x00\x1b[31m\u202e"
    entry = PassEntry(title=typed, notes=f"one\r\n\ttwo\x07\r{typed}")
    logged = read_pass(filled, passes.log_pass(filled, session.bass, entry))
    kept = "Ge\u0301rard’s 👩‍🎤 \u0646\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645 10 dB[31m"
    assert logged.title == kept
    unbroken = kept.replace("10 dB", "10\u00a0dB")
    assert logged.notes == f"one\n\ttwo\n{unbroken}"


lengths = st.one_of(st.none(), st.floats(0, 2000).map(lambda mm: round(mm, 4)))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    distance=lengths,
    offset=lengths,
    angle=st.one_of(st.none(), st.integers(-180, 180).map(float)),
    pad=st.one_of(st.none(), st.sampled_from([-20.0, -10.0, 0.0, 3.25])),
    low_cut=st.one_of(st.none(), st.sampled_from([40.0, 80.5, 120.0, 1234.0])),
    unit=st.sampled_from(["mm", "in"]),
)
def test_a_placement_comes_back_from_its_form_in_either_unit(
    distance: float | None,
    offset: float | None,
    angle: float | None,
    pad: float | None,
    low_cut: float | None,
    unit: LengthUnit,
) -> None:
    placed = Placement(
        "left", distance, offset, angle, None, "figure-8", pad, low_cut, "first", "6", "on a towel"
    )
    complaints = Complaints()
    again = placements.read_entry(complaints, 1, placements.entry_of(placed, unit), unit)
    assert complaints.sentences == {}
    for name in ("distance_mm", "offset_mm", "angle_deg", "pad_db", "low_cut_hz"):
        before, after = getattr(placed, name), getattr(again, name)
        assert (before is None) == (after is None), name
        if before is not None:
            assert after == pytest.approx(before, abs=1e-3), name


@pytest.mark.parametrize(
    ("unit", "typed", "distance_mm"),
    [
        ("mm", "30", 30.0),
        ("in", "1.5", 38.1),
        ("in", "30 mm", 30.0),
        ("mm", '1 1/2"', 38.1),
        ("mm", "3 cm", 30.0),
    ],
)
def test_a_bare_distance_is_in_the_unit_one_likes(unit: LengthUnit, typed: str, distance_mm: float) -> None:
    placed = placements.read_entry(Complaints(), 1, PlacementEntry(distance=typed), unit)
    assert placed.distance_mm == pytest.approx(distance_mm)


def test_what_is_wrong_with_a_placement_is_said_at_its_field(filled: Library, session: SmallSession) -> None:
    entry = passes.entry_for_next(filled, session.bass)
    wrong = PlacementEntry(
        distance="-3", offset="a thumb", angle="400", pad="loud", low_cut="0", note="n" * 300
    )
    steps = (*entry.steps[:-1], replace(entry.steps[-1], placement=wrong))
    with pytest.raises(Refusal) as refused:
        passes.log_pass(filled, session.bass, replace(entry, steps=steps))
    assert set(refused.value.sentences) == {
        f"placement-{session.near_mic}-{name}"
        for name in ("distance", "offset", "angle", "pad", "low_cut", "note")
    }


def test_a_microphone_without_a_placement_noted_stays_without(library: Library) -> None:
    from app.desk.projects.projects import ProjectEntry, create_project

    mic = put_on_shelf(
        library, "small ribbon microphone", "microphone", ControlEntry(name="Pad", form="text")
    )
    source = bring_in(library, create_project(library, ProjectEntry("Boathouse")), "bass")
    logged = read_pass(library, passes.log_pass(library, source, PassEntry(steps=(step_of(library, mic),))))
    assert logged.steps[0].placement == Placement()


def test_a_pass_that_is_not_there_is_said_to_be_gone(library: Library) -> None:
    for verb in (passes.entry_of, passes.delete_pass, read_pass):
        with pytest.raises(NotThere):
            verb(library, 9)
    with pytest.raises(NotThere):
        correct(library, 9, PassEntry())
    with pytest.raises(NotThere):
        passes.entry_for_next(library, 9)


def test_the_settings_of_a_pass_are_said_on_one_line_in_chain_order(
    filled: Library, session: SmallSession
) -> None:
    said = read_pass(filled, session.passes[0]).settings_in_words
    assert said.startswith(
        "re-amp box: Trim noon; silicon fuzz: Fuzz 10 o'clock; 15-watt valve combo: Gain 6.5, "
    )
    assert read_pass(filled, session.passes[2]).settings_in_words.count("silicon fuzz") == 0

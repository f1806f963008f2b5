"""The levels of a pass, worked by hand beside each check."""

from dataclasses import replace

import pytest
from level_session import LevelSession, fill, peaking_at, socket
from small_session import attach, bring_in, correct, measured, step_id_of, step_of, tone

from app.desk.passes import passes
from app.desk.passes.pass_sheets import read_pass
from app.desk.passes.passes import PassEntry, StepEntry
from app.desk.planning.hook_up import entry_of as plan_of
from app.desk.planning.hook_up import read_hook_up, save_plan
from app.desk.planning.level_rig import LevelPart
from app.desk.planning.levels import (
    LevelsEntry,
    LevelSheet,
    entry_of,
    planned_lines,
    read_levels,
    save_levels,
)
from app.desk.refusals import Refusal
from app.desk.shelf.ports import know_facts
from app.library import Library
from app.records import HookUpPlan
from app.trade.level_plan import Figure

RECORDED = LevelsEntry(recording_box_loss_db="20 dB")


def figure(part: LevelPart, label: str) -> Figure:
    return next(item for item in part.figures if item.label.startswith(label))


def lacks(part: LevelPart, label: str) -> dict[str, str]:
    return {given.label: given.place for given in part.lacking(figure(part, label))}


def with_readings(library: Library, logged: LevelSession, **of_gear: dict[str, str]) -> LevelSheet:
    """The pass with some controls set anew, pieces named as in LevelSession."""
    entry = passes.entry_of(library, logged.pass_id)
    steps: list[StepEntry] = []
    for step in entry.steps:
        name = next((key for key in of_gear if getattr(logged, key) == step.gear_id), None)
        anew = step if name is None else step_of(library, step.gear_id, of_gear[name])
        steps.append(replace(step, readings={**step.readings, **anew.readings}))
    correct(library, logged.pass_id, replace(entry, steps=tuple(steps)))
    return read_levels(library, logged.pass_id)


def test_the_log_and_one_typed_figure_say_how_hard_the_instrument_drove(
    library: Library, logged: LevelSession
) -> None:
    save_levels(library, logged.pass_id, RECORDED)
    recording = read_levels(library, logged.pass_id).recording
    assert figure(recording, "Instrument peak").value == pytest.approx(2.0)  # -6 + 18 - 30 + 20
    volts = next(item for item in recording.figures if item.unit == "V")
    assert volts.value == pytest.approx(1.3791, abs=5e-5)  # 0.7746 V x 10^(2/20) x sqrt 2
    assert volts.text == "1.38 V ± 0.37 V"
    # -23.01 + 3.01 + 18 - 30 + 20
    assert figure(recording, "Instrument rms").value == pytest.approx(-12.0, abs=1e-4)


def test_a_gain_read_off_a_knob_is_surer_once_the_person_says_so(
    library: Library, logged: LevelSession
) -> None:
    save_levels(library, logged.pass_id, RECORDED)
    by_eye = figure(read_levels(library, logged.pass_id).recording, "Instrument peak").uncertainty
    save_levels(library, logged.pass_id, replace(RECORDED, recording_gain_uncertainty_db="0.5"))
    stepped = figure(read_levels(library, logged.pass_id).recording, "Instrument peak").uncertainty
    assert by_eye == pytest.approx((2.0**2 + 0.5**2) ** 0.5)
    assert stepped == pytest.approx((0.5**2 + 0.5**2) ** 0.5)


def test_an_open_figure_says_what_is_missing_and_where_it_is_entered(
    library: Library, logged: LevelSession
) -> None:
    levels = read_levels(library, logged.pass_id)
    assert lacks(levels.recording, "Instrument peak") == {"the DI box's loss": "here"}
    assert lacks(levels.sends[0], "DAW trim") == {"the instrument's peak level": "here"}
    know_facts(library, logged.box, loss_db=None)
    entry = passes.entry_for_next(library, logged.source)
    later = passes.log_pass(library, logged.source, entry)
    assert lacks(read_levels(library, later).sends[0], "DAW trim") == {
        "the instrument's peak level": "here",
        "the re-amp box's loss": "ports",
    }


def test_every_missing_word_of_every_figure_leads_somewhere(library: Library) -> None:
    """Whatever is unknown: a figure never names a lack without a place to enter it."""
    logged = fill(library, with_interface=False)
    bare = passes.log_pass(library, logged.source, PassEntry(steps=(step_of(library, logged.far),)))
    for pass_id in (logged.pass_id, bare):
        levels = read_levels(library, pass_id)
        for part in (levels.recording, *levels.sends, *levels.returns):
            for item in part.figures:
                wanted = {*item.missing, *item.typical}
                assert {given.label for given in part.lacking(item)} == wanted, item.label
                assert (item.value is None) == bool(item.missing)


def test_what_to_send_is_worked_out_from_facts_and_sockets(library: Library, logged: LevelSession) -> None:
    # -6 + 18 - 12 - 0.0864 = -0.0864 dBu reach the amp untouched; +2 wanted, so +2.0864 dB are asked of the DAW.
    save_levels(library, logged.pass_id, RECORDED)
    send = read_levels(library, logged.pass_id).sends[0]
    assert figure(send, "DAW trim").value == pytest.approx(2.0864, abs=5e-5)
    assert figure(send, "Box trim").value == 0.0
    assert lacks(send, "Peak behind the box with the DAW as it is") == {"where the box's trim stands": "here"}
    assert send.warnings == ()


def test_the_reverse_says_what_the_amp_sees_with_trims_as_they_stand(
    library: Library, logged: LevelSession
) -> None:
    # -6 - 3 + 18 - 12 - 6 - 0.0864
    typed = replace(RECORDED, daw_trim_db="−3 dB", of_gear={f"trim_db-{logged.box}": "-6"})
    save_levels(library, logged.pass_id, typed)
    send = read_levels(library, logged.pass_id).sends[0]
    assert figure(send, "Peak behind the box with the DAW at −3.0 dB").value == pytest.approx(
        -9.0864, abs=5e-5
    )
    assert figure(send, "DAW trim").value == pytest.approx(8.0864, abs=5e-5)  # 2.0864 + 6
    clips, overloads = send.warnings
    assert "peak at +2.1 dBFS: the converter clips" in clips  # -6 + 8.0864
    assert "overloaded by 0.1 dB" in overloads  # 2.0864 + 18 against the box's 20 dBu


def test_settings_that_say_db_count_and_a_bare_knob_does_not(library: Library, logged: LevelSession) -> None:
    levels = with_readings(
        library, logged, interface={"Output level": "−6 dB"}, box={"Pad": "−20 dB", "Level": "9"}
    )
    given = {item.label: item.value for item in levels.sends[0].givens if not item.is_open}
    assert given["the output's level at 0 dBFS"] == pytest.approx(12.0)
    assert given["the re-amp box's loss"] == pytest.approx(32.0)
    assert "where the box's trim stands" not in given


def test_two_inputs_on_one_box_load_it_side_by_side(library: Library, logged: LevelSession) -> None:
    plan = plan_of(read_hook_up(library, logged.pass_id))
    again = next(link for link in plan.links if link.target == f"{logged.amp}:in")
    save_plan(library, logged.pass_id, replace(plan, links=(*plan.links, again)))
    given = {item.label: item.value for item in read_levels(library, logged.pass_id).sends[0].givens}
    assert given["the input impedance behind the box"] == pytest.approx(500_000.0)


def test_a_microphone_s_return_follows_its_cables(library: Library, logged: LevelSession) -> None:
    # 2 mV/Pa at 120 dB SPL is -25.740 dBu; crest 13.0103 is 10 dB over a sine's: -15.740; + 30 - 18 = -3.740 dBFS.
    save_levels(
        library,
        logged.pass_id,
        LevelsEntry(crest_db="13.0103", of_gear={f"sound_level_db_spl-{logged.near}": "120 dB SPL"}),
    )
    back = read_levels(library, logged.pass_id).returns[0]
    assert figure(back, "Microphone's peak").value == pytest.approx(-15.740, abs=5e-4)
    assert figure(back, "Peak").value == pytest.approx(-3.740, abs=5e-4)
    assert figure(back, "Headroom").value == pytest.approx(3.740, abs=5e-4)
    assert figure(back, "Gain for a peak of −12.0 dBFS").value == pytest.approx(21.740, abs=5e-4)
    assert back.warnings == ()


def test_a_return_too_hot_for_the_preamp_s_range_is_warned_of(library: Library, logged: LevelSession) -> None:
    save_levels(
        library,
        logged.pass_id,
        LevelsEntry(crest_db="13.0103", of_gear={f"sound_level_db_spl-{logged.near}": "135"}),
    )
    warnings = read_levels(library, logged.pass_id).returns[0].warnings
    assert "The input would clip" in warnings[0]  # -0.74 + 30 - 18 = +11.3 dBFS
    assert "3.3 dB too much" in warnings[1]  # -12 + 18 + 0.74 = 6.74 dB wanted, 10 the lowest


def test_the_sound_level_of_the_hook_up_counts_until_another_is_typed(
    library: Library, logged: LevelSession
) -> None:
    plan = plan_of(read_hook_up(library, logged.pass_id))
    save_plan(library, logged.pass_id, replace(plan, sound_levels=((str(logged.near), "112"),)))

    def sound() -> float | None:
        givens = read_levels(library, logged.pass_id).returns[0].givens
        return next(item.value for item in givens if item.label == "the sound level")

    assert sound() == 112.0
    save_levels(library, logged.pass_id, LevelsEntry(of_gear={f"sound_level_db_spl-{logged.near}": "108"}))
    assert sound() == 108.0


def test_a_measured_print_gives_the_crest_factor_and_stands_beside_the_plan(
    library: Library, logged: LevelSession
) -> None:
    step = step_id_of(library, logged.pass_id, logged.near)
    attach(library, logged.pass_id, tone(0.2, hz=300), step_id=step)
    measured(library, peaking_at(-9.5, crest_db=14.0))
    back = read_levels(library, logged.pass_id).returns[0]
    assert next(item.value for item in back.givens if item.label == "the crest factor") == 14.0
    assert figure(back, "Measured on its print").value == -9.5


@pytest.mark.parametrize(("above_plan_db", "is_told"), [(3.0, False), (-20.0, True), (20.0, True)])
def test_a_print_that_peaks_elsewhere_than_the_plan_says_is_told(
    library: Library, logged: LevelSession, above_plan_db: float, is_told: bool
) -> None:
    planned = figure(read_levels(library, logged.pass_id).returns[0], "Peak")
    assert planned.value is not None
    step = step_id_of(library, logged.pass_id, logged.near)
    attach(library, logged.pass_id, tone(0.2, hz=300), step_id=step)
    within = max(1.0, (planned.uncertainty or 0.0) / 5)
    measured(library, peaking_at(planned.value + above_plan_db * within, crest_db=14.0))
    told = [words for words in read_levels(library, logged.pass_id).returns[0].warnings if "peaks" in words]
    assert bool(told) == is_told


def test_a_pass_without_an_interface_leaves_its_levels_open_and_says_why(library: Library) -> None:
    logged = fill(library, with_interface=False)
    save_levels(library, logged.pass_id, RECORDED)
    levels = read_levels(library, logged.pass_id)
    assert not levels.has_interface
    assert levels.runs == ()
    assert lacks(levels.recording, "Instrument peak") == {"the input's level at 0 dBFS": "here"}
    save_levels(library, logged.pass_id, replace(RECORDED, recording_full_scale_dbu="6.1528 V"))
    assert figure(read_levels(library, logged.pass_id).recording, "Instrument peak").value == pytest.approx(
        2.0, abs=1e-3
    )


def test_the_diagram_holds_level_maximum_and_headroom_along_the_send(
    library: Library, logged: LevelSession
) -> None:
    socket(library, logged.amp, "in", max="0")
    entry = passes.entry_for_next(library, logged.source)
    later = passes.log_pass(library, logged.source, entry)
    save_levels(library, later, replace(RECORDED, of_gear={f"trim_db-{logged.box}": "0"}))
    run = read_levels(library, later).runs[0]
    assert [(point.name, round(point.level_dbu, 3), point.max_dbu) for point in run.points] == [
        ("Interface output", 14.086, 18.0),
        ("passive re-amp box, input", 14.086, 20.0),
        ("15-watt valve amp, input", 2.0, 0.0),
    ]
    assert run.points[-1].headroom_db == pytest.approx(-2.0)


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("recording_gain_db", "loud", "is not a level in dB"),
        ("recording_gain_db", "400", "between −100 and 100"),
        ("wanted_peak_dbu", "-3 V", "voltmeter that reads nothing"),
        ("wanted_peak_dbu", "12 ohm", "is not a level in dBu, dBV or V"),
        ("crest_db", "-1", "a sine has 3"),
        ("wanted_return_dbfs", "3", "between −60 and 0 dBFS"),
        ("trim_db-7", "6", "as 0 or below"),
        ("sound_level_db_spl-7", "300", "between 0 and 194"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_nothing_is_kept(
    library: Library, logged: LevelSession, field: str, text: str, words: str
) -> None:
    of_gear = {field: text} if "-" in field else {}
    typed = {} if of_gear else {field: text}
    with pytest.raises(Refusal) as refused:
        save_levels(library, logged.pass_id, LevelsEntry(**typed, of_gear=of_gear))  # type: ignore[arg-type]
    assert words in refused.value.sentences[field]
    assert not read_levels(library, logged.pass_id).is_saved


def test_the_form_shows_what_was_kept_and_saving_it_again_changes_nothing(
    library: Library, logged: LevelSession
) -> None:
    typed = LevelsEntry(
        recording_gain_db="30",
        wanted_peak_dbu="-10 dBV",
        daw_trim_db="-1.5",
        of_gear={f"gain_db-{logged.near}": "28", f"trim_db-{logged.box}": "−6"},
    )
    save_levels(library, logged.pass_id, typed)
    kept = read_levels(library, logged.pass_id)
    assert kept.inputs.wanted_peak_dbu == pytest.approx(-7.7815, abs=5e-5)
    save_levels(library, logged.pass_id, entry_of(kept))
    again = read_levels(library, logged.pass_id).inputs
    assert again.wanted_peak_dbu == pytest.approx(kept.inputs.wanted_peak_dbu)
    assert replace(again, wanted_peak_dbu=None) == replace(kept.inputs, wanted_peak_dbu=None)


def test_figures_of_gear_that_left_the_chain_are_not_lost(library: Library, logged: LevelSession) -> None:
    save_levels(library, logged.pass_id, LevelsEntry(of_gear={"gain_db-999": "20"}))
    save_levels(library, logged.pass_id, LevelsEntry(of_gear={f"gain_db-{logged.near}": "28"}))
    inputs = read_levels(library, logged.pass_id).inputs
    assert (inputs.of("999").gain_db, inputs.of(str(logged.near)).gain_db) == (20.0, 28.0)


def test_the_next_pass_begins_with_these_levels_and_another_source_without_its_recording(
    library: Library, logged: LevelSession
) -> None:
    typed = replace(RECORDED, daw_trim_db="-3", of_gear={f"trim_db-{logged.box}": "-6"})
    save_levels(library, logged.pass_id, typed)
    same = passes.log_pass(library, logged.source, passes.entry_for_next(library, logged.source))
    assert read_levels(library, same).inputs == read_levels(library, logged.pass_id).inputs
    organ = bring_in(library, logged.project, "organ")
    other = read_levels(
        library, passes.log_pass(library, organ, passes.entry_for_next(library, organ))
    ).inputs
    assert (other.recording_box_loss_db, other.daw_trim_db) == (None, None)
    assert other.of(str(logged.box)).trim_db == -6.0


def test_old_passes_keep_the_levels_they_were_logged_with(library: Library, logged: LevelSession) -> None:
    save_levels(library, logged.pass_id, RECORDED)
    know_facts(library, logged.interface, input_full_scale_dbu=10.0)
    old = figure(read_levels(library, logged.pass_id).recording, "Instrument peak")
    assert old.value == pytest.approx(2.0)


def test_what_was_not_known_then_and_is_today_counts_and_says_so(
    library: Library, logged: LevelSession
) -> None:
    know_facts(library, logged.far, sensitivity_mv_per_pa=None)
    steps = (step_of(library, logged.far),)
    early = passes.log_pass(library, logged.source, PassEntry(steps=steps))
    assert lacks(read_levels(library, early).returns[0], "Microphone's peak")["the microphone's sensitivity"]
    know_facts(library, logged.far, sensitivity_mv_per_pa=1.5)
    given = read_levels(library, early).returns[0].givens[0]
    assert (given.value, given.origin) == (1.5, "ribbon microphone, noted after this pass")
    socket(library, logged.box, "out", impedance="150")
    send = read_levels(library, logged.pass_id).sends[0]
    known = {item.label: item.value for item in send.givens}
    assert known["the re-amp box's output impedance"] == 10_000.0  # what was known stays


def test_a_recall_sheet_repeats_what_is_known_and_leaves_out_what_is_open(
    library: Library, logged: LevelSession
) -> None:
    save_levels(library, logged.pass_id, RECORDED)
    lines = dict(planned_lines(read_levels(library, logged.pass_id)))
    assert lines["passive re-amp box: DAW trim to send with"] == "+2.1 dB"
    assert not any("dynamic microphone" in label for label in lines)


def test_levels_alone_make_no_hook_up(library: Library, logged: LevelSession) -> None:
    save_levels(library, logged.pass_id, RECORDED)
    with library.reading() as session:
        row = session.get(HookUpPlan, logged.pass_id)
        assert row is not None
        assert row.plan == {}
    assert not read_hook_up(library, logged.pass_id).is_saved
    assert read_pass(library, logged.pass_id).pass_id == logged.pass_id

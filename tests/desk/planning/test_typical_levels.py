"""Levels of a pass of which little is known: typical values stand in, say that they do, and give way to facts."""

import pytest
from level_session import LevelSession, fill, peaking_at, socket
from small_session import bring_in, measured, step_of, tone

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.planning.levels import (
    LevelsEntry,
    LevelSheet,
    entry_of,
    planned_lines,
    read_levels,
    save_levels,
    with_answer,
)
from app.desk.shelf import gear
from app.desk.shelf.ports import know_facts
from app.library import Library
from app.trade.level_plan import Figure


def bare(library: Library) -> tuple[int, dict[str, int]]:
    """A pass through gear just made from the starting layouts, of a source that is measured and nothing else."""
    keys = ("interface", "reamp_box", "combo", "condenser_microphone", "preamp")
    made = {key: gear.add_gear(library, gear.starting_entry(key)) for key in keys}
    project = fill(library).project
    source = bring_in(library, project, "organ", tone(0.2, hz=333))
    measured(library, peaking_at(-6.0))
    steps = tuple(step_of(library, gear_id) for gear_id in made.values())
    return passes.log_pass(library, source, PassEntry(steps=steps)), made


def all_figures(levels: LevelSheet) -> list[Figure]:
    return [item for part in (levels.recording, *levels.sends, *levels.returns) for item in part.figures]


def named(levels: LevelSheet, label: str) -> Figure:
    return next(item for item in all_figures(levels) if item.label.startswith(label))


def test_no_figure_of_a_new_pass_is_open_and_each_says_that_it_is_typical(library: Library) -> None:
    pass_id, _ = bare(library)
    levels = read_levels(library, pass_id)
    rest = [item for item in all_figures(levels) if item.value is None]
    assert rest == []
    guessed = [item for item in all_figures(levels) if item.typical]
    assert len(guessed) >= 10
    assert all(item.uncertainty for item in guessed)
    for part in (levels.recording, *levels.sends, *levels.returns):
        for given in part.givens:
            if given.within_db is not None:
                assert given.origin.startswith("typical")


def test_a_source_that_is_still_being_measured_leaves_nothing_open_and_is_not_asked_for(
    library: Library,
) -> None:
    _, made = bare(library)
    source = bring_in(library, fill(library).project, "not measured yet", tone(0.2, hz=444))
    steps = tuple(step_of(library, gear_id) for gear_id in made.values())
    levels = read_levels(library, passes.log_pass(library, source, PassEntry(steps=steps)))
    assert [item for item in all_figures(levels) if item.value is None] == []
    assert levels.question is not None
    assert levels.question.given.place != "source"


def test_the_instrument_is_taken_for_a_pickup_of_one_volt(library: Library) -> None:
    pass_id, _ = bare(library)
    levels = read_levels(library, pass_id)
    peak = named(levels, "Instrument peak")
    assert peak.value == pytest.approx(-0.79, abs=0.005)  # 1 V peak: 20 log (0.7071 / 0.7746)
    assert peak.uncertainty == pytest.approx(8.0)
    # −0.79 − (−6 + 18 − 12 − 0.0864) = −0.71 dB, within the pickup's 8, the output's 6, the box's 9 and two impedances
    trims = [
        item
        for part in levels.sends
        for item in part.figures
        if item.label.endswith("trim that goes with it")
    ]
    assert trims[0].value == pytest.approx(-0.71, abs=0.01)
    assert trims[0].uncertainty == pytest.approx((8**2 + 6**2 + 9**2 + 0.5) ** 0.5, abs=0.05)


def test_a_fact_takes_the_place_of_what_is_typical(library: Library) -> None:
    pass_id, made = bare(library)
    before = named(read_levels(library, pass_id), "Box trim")
    know_facts(library, made["reamp_box"], loss_db=12.0)
    after = named(read_levels(library, pass_id), "Box trim")
    assert "the re-amp box's loss" in before.typical
    assert "the re-amp box's loss" not in after.typical
    assert before.uncertainty is not None
    assert after.uncertainty is not None
    assert after.uncertainty < before.uncertainty


def test_what_is_known_is_left_as_it_is(library: Library, logged: LevelSession) -> None:
    save_levels(library, logged.pass_id, LevelsEntry(recording_box_loss_db="20 dB"))
    peak = named(read_levels(library, logged.pass_id), "Instrument peak")
    assert (peak.value, peak.typical) == (pytest.approx(2.0), ())


def test_what_is_typical_is_neither_warned_of_nor_put_on_a_recall_sheet(library: Library) -> None:
    pass_id, _ = bare(library)
    levels = read_levels(library, pass_id)
    assert [part.warnings for part in (*levels.sends, *levels.returns) if part.warnings] == []
    assert planned_lines(levels) == []


def test_the_page_asks_first_for_what_the_most_figures_rest_on(library: Library) -> None:
    pass_id, made = bare(library)
    asked = []
    while (question := read_levels(library, pass_id).question) is not None and len(asked) < 30:
        given = question.given
        asked.append((given.label, given.gear_id, question.figures))
        if given.field:
            answer = (
                "100" if given.field.startswith("sound") else "-3" if given.field.startswith("trim") else "12"
            )
            levels = read_levels(library, pass_id)
            save_levels(library, pass_id, with_answer(entry_of(levels), given.field, answer))
        elif "0 dBFS" in given.label:
            side = "output" if "output" in given.label else "input"
            know_facts(library, made["interface"], **{f"{side}_full_scale_dbu": 16.0})
        elif "sensitivity" in given.label:
            know_facts(library, made["condenser_microphone"], sensitivity_mv_per_pa=12.0)
        elif "loss" in given.label:
            know_facts(library, made["reamp_box"], loss_db=10.0)
        elif given.label == "the re-amp box's output impedance":
            socket(library, made["reamp_box"], "out", impedance="5000")
        else:
            assert given.label == "the input impedance behind the box"
            socket(library, made["combo"], "in", impedance="500000")
    assert asked[0][:2] == ("the input's level at 0 dBFS", made["interface"]), (
        "all that is recorded rests on it"
    )
    assert len({(label, gear_id) for label, gear_id, _ in asked}) == len(asked), "nothing is asked twice"
    assert [item for item in all_figures(read_levels(library, pass_id)) if item.typical] == []

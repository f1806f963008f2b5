from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from sqlalchemy import select

from app.demo.session import SOURCES
from app.desk.files.check import check_library
from app.desk.measuring import measurements
from app.desk.passes.ledger import build_ledger
from app.desk.passes.pass_sheets import PassSheet, PrintSheet
from app.desk.planning.hook_up import read_hook_up
from app.desk.planning.levels import read_levels
from app.desk.processes import measuring
from app.desk.projects.ears import ears_today
from app.desk.sheets.session_log import SessionLog, read_session_log
from app.desk.shelf.gear import list_gear, read_gear
from app.library import Library
from app.records import Measurement, Print, SourceTrack
from app.signal.survey import survey_of

RATE_HZ = 48_000


@pytest.fixture(scope="module")
def filled(
    invented_folder: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Library, str]]:
    folder, loaded = invented_folder
    library = Library.open(shutil.copytree(folder, tmp_path_factory.mktemp("filled") / "library"))
    yield library, loaded
    library.close()


@pytest.fixture(scope="module")
def library(filled: tuple[Library, str]) -> Library:
    return filled[0]


@pytest.fixture(scope="module")
def log(library: Library) -> SessionLog:
    return read_session_log(library, 1)


def samples(library: Library, sha256: str) -> NDArray[np.float64]:
    with library.files.path(sha256).open("rb") as file:
        read, rate_hz = soundfile.read(file, dtype="float64")
    assert rate_hz == RATE_HZ
    return np.asarray(read)


def passes_of(log: SessionLog, name: str) -> tuple[PassSheet, ...]:
    return next(source.passes for source in log.sources if name in source.name)


def print_of(sheet: PassSheet, microphone: str) -> PrintSheet:
    return next(item for item in sheet.prints if microphone in item.label)


def rms_db(print_: NDArray[np.float64]) -> float:
    return float(10 * np.log10(np.mean(print_**2)))


def test_filling_a_library_loads_no_numerics_into_the_server(filled: tuple[Library, str]) -> None:
    assert filled[1] == "[]"


def test_the_story_has_three_songs_four_sources_and_fourteen_passes(log: SessionLog) -> None:
    assert len({source.name.split(",")[0] for source in log.sources}) == 3
    assert [len(source.passes) for source in log.sources] == [5, 4, 3, 2]
    assert [sum(sheet.is_keeper for sheet in source.passes) for source in log.sources] == [1, 2, 1, 1]
    assert {
        mark.part for mark in (passes_of(log, "organ")[1].keepers + passes_of(log, "organ")[3].keepers)
    } == {
        "left",
        "right",
    }


def test_everything_says_that_it_is_invented(library: Library, log: SessionLog) -> None:
    assert "invented" in log.project.title
    assert "invented" in log.project.artist
    with library.reading() as session:
        for source in session.scalars(select(SourceTrack)):
            assert "INVENTED" in source.notes
            assert "INVENTED" in source.file_name
    for line in list_gear(library):
        assert "INVENTED" in read_gear(library, line.gear_id).notes
    for source in log.sources:
        for sheet in source.passes:
            assert all("INVENTED" in item.file_name for item in sheet.prints)
            assert all("INVENTED" in photo.caption for photo in sheet.photos)


def test_from_pass_to_pass_little_changes_and_something_does(log: SessionLog) -> None:
    for source in log.sources:
        ledger = build_ledger(source.passes)
        for column in range(1, len(source.passes)):
            changed = [
                row for piece in ledger.gear for row in piece.rows if row.cells[column].change == "changed"
            ]
            joined = [
                piece
                for piece in ledger.gear
                if piece.rows[-1].cells[column - 1].change == "absent"
                and piece.rows[-1].cells[column].change != "absent"
            ]
            assert changed or joined
            assert len([row for row in changed if row.label != "branch"]) <= 6


def test_every_microphone_and_di_box_has_its_print_of_the_sources_length(
    library: Library, log: SessionLog
) -> None:
    for source, planned in zip(log.sources, SOURCES, strict=True):
        for sheet, jotting in zip(source.passes, planned.jottings, strict=True):
            returns = {step.step_id for step in sheet.steps if step.kind in ("microphone", "di_box")}
            assert {item.step_id for item in sheet.prints} == returns
            for item in sheet.prints:
                played_s = samples(library, item.sha256).size / RATE_HZ
                assert 8 < played_s + jotting.mishap.ends_early_s < 25


def test_the_humming_pass_hums_at_the_mains_and_stops_early(library: Library, log: SessionLog) -> None:
    bass = passes_of(log, "bass")
    humming, clean = (samples(library, print_of(bass[index], "ribbon").sha256) for index in (3, 2))
    assert (clean.size - humming.size) / RATE_HZ == pytest.approx(4.2, abs=1e-3)

    def line_db(print_: NDArray[np.float64], frequency_hz: float) -> float:
        turn = np.exp(-2j * np.pi * frequency_hz * np.arange(print_.size) / RATE_HZ)
        return float(20 * np.log10(2 * abs(np.mean(print_ * turn)) + 1e-12))

    assert line_db(humming, 50.0) > line_db(clean, 50.0) + 15
    assert line_db(humming, 50.0) > line_db(humming, 47.0) + 15


def test_the_pass_on_the_wrong_cable_is_upside_down(library: Library, log: SessionLog) -> None:
    organ = passes_of(log, "organ")
    wrong, right = (samples(library, organ[index].prints[0].sha256) for index in (2, 3))
    assert np.corrcoef(wrong, right)[0, 1] < -0.9


def test_the_pass_under_the_red_light_is_flat_at_full_scale(library: Library, log: SessionLog) -> None:
    drums = passes_of(log, "drum")
    hot, tamed = (samples(library, drums[index].prints[0].sha256) for index in (1, 2))
    assert np.sum(np.abs(hot) > 0.999999) > 50
    assert np.max(np.abs(tamed)) < 0.99


def test_no_other_print_reaches_full_scale(library: Library, log: SessionLog) -> None:
    for source in log.sources:
        for sheet in source.passes:
            for item in sheet.prints:
                peak = np.max(np.abs(samples(library, item.sha256)))
                assert 0.2 < peak < 0.99 or sheet.title == "fuzz on the loop"


def test_a_setting_that_was_turned_can_be_heard(library: Library, log: SessionLog) -> None:
    first, hotter = (samples(library, sheet.prints[0].sha256) for sheet in passes_of(log, "bass")[:2])
    crest_db = [float(20 * np.log10(np.max(np.abs(print_)))) - rms_db(print_) for print_ in (first, hotter)]
    assert crest_db[1] < crest_db[0] - 2, "more gain squeezes the peaks"


def test_a_better_name_for_a_knob_leaves_the_old_passes_alone(log: SessionLog) -> None:
    def bias_of(sheet: PassSheet) -> tuple[str, str, int]:
        step = next(step for step in sheet.steps if step.gear_name == "Silicon fuzz")
        line = next(line for line in step.settings if line.name.startswith("Bias"))
        return line.name, line.key, step.layout_version

    old, new = bias_of(passes_of(log, "bass")[2]), bias_of(passes_of(log, "drum")[1])
    assert old[0] == "Bias"
    assert new[0] == "Bias, inside by the battery"
    assert old[1] == new[1]
    assert (old[2], new[2]) == (1, 2)


def test_the_drawn_picture_hangs_at_its_pass(log: SessionLog) -> None:
    (photo,) = passes_of(log, "bass")[2].photos
    assert (photo.width, photo.height) == (1600, 1200)


def test_the_library_is_whole_and_everything_waits_to_be_measured(library: Library) -> None:
    assert check_library(library.folder).problems == ()
    with library.reading() as session:
        states = session.scalars(select(Measurement.state)).all()
        prints = session.scalars(select(Print.file_id)).all()
        sources = session.scalars(select(SourceTrack.file_id)).all()
    assert set(states) <= {"waiting", "done"}
    assert len(states) == len(prints) + len(sources) == 22


def test_the_measuring_process_reads_the_true_delay_of_the_first_pass(
    library: Library, log: SessionLog
) -> None:
    """True: 418 samples in the converters and 300 mm of air, 41.96 samples; the modelled gear adds its own few."""
    item = passes_of(log, "bass")[0].prints[0]
    waiting = None
    while (claimed := measurements.claim(library)) is not None:
        if claimed.file_id == item.file_id:
            waiting = claimed
            break
    assert waiting is not None
    measuring.measure(library, waiting)

    measured = print_of(passes_of(read_session_log(library, 1), "bass")[0], "ribbon").measured
    assert measured.figures is not None, measured.reason
    assert measured.figures.alignment is not None
    assert measured.figures.alignment.polarity == "same"
    assert measured.figures.alignment.delay_samples == pytest.approx(459.96, abs=12)


def test_every_pass_was_plugged_in_whole_and_what_its_checks_found_stands_for_a_reason(
    library: Library, log: SessionLog
) -> None:
    for source in log.sources:
        for sheet in source.passes:
            plan = read_hook_up(library, sheet.pass_id)
            assert plan.is_saved
            ends = {joint.target.key for joint in plan.hook_up.joints()}
            assert {str(step.gear_id) for step in sheet.steps} <= ends
            assert [item.finding.what for item in plan.findings if item.reason is None] == []
    assert [len(stands) for stands in log.let_stand.values()] == [1]


def test_every_pass_says_its_trims_and_what_its_returns_were_planned_for(
    library: Library, log: SessionLog
) -> None:
    """Without the measurements, which are still waiting: the figures that need none."""
    for source in log.sources:
        for sheet in source.passes:
            levels = read_levels(library, sheet.pass_id)
            assert levels.is_saved
            lacking = {label for part in levels.returns for item in part.figures for label in item.missing}
            assert lacking <= {"the crest factor"}
            assert {given.label for part in levels.sends for given in part.givens if given.value is None} <= {
                "the source's peak level",
                "the instrument's peak level",
                "where the box's trim stands",
            }


def test_one_sound_level_is_logged_for_the_ears(library: Library) -> None:
    line = ears_today(library, 1)
    assert line is not None
    assert dict(line.percents)["NIOSH"] == pytest.approx(
        100 * 40 / 60
    )  # 40 min at 94 dBA, which allows an hour


def test_a_starved_fuzz_at_the_di_box_has_flats_and_no_gaps(library: Library, log: SessionLog) -> None:
    di = next(
        item
        for source in log.sources
        for sheet in source.passes
        if sheet.number == 5
        for item in sheet.prints
        if "DI" in item.label
    )
    assert survey_of(library.files.path(di.sha256)).dropouts == ()

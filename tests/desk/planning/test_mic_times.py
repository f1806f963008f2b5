"""Times of flight, combs and the tape measure, worked by hand beside each check."""

from dataclasses import replace

import pytest
from level_session import LevelSession
from small_session import attach, figures, measured, step_id_of, step_of, tone

from app.desk.passes import passes
from app.desk.passes.passes import PassEntry
from app.desk.passes.placements import PlacementEntry
from app.desk.planning.mic_times import MicTimes, TimesEntry, read_mic_times
from app.library import Library
from app.signal.figures import AlignmentFigures, Polarity


def two_mics(
    library: Library, logged: LevelSession, near: PlacementEntry, far: PlacementEntry
) -> tuple[int, MicTimes]:
    steps = (
        step_of(library, logged.cabinet),
        replace(step_of(library, logged.far), placement=far),
        replace(step_of(library, logged.near), placement=near),
    )
    pass_id = passes.log_pass(library, logged.source, PassEntry(steps=steps))
    return pass_id, read_mic_times(library, pass_id, TimesEntry())


def printed(
    library: Library,
    pass_id: int,
    gear_id: int,
    delay_samples: float,
    lufs: float,
    polarity: Polarity = "same",
    *,
    rate: int = 48_000,
) -> None:
    """A measured print of one microphone."""
    step_id = step_id_of(library, pass_id, gear_id)
    attach(library, pass_id, tone(0.2, hz=200 + delay_samples), step_id=step_id)
    alignment = AlignmentFigures(delay_samples, delay_samples / rate * 1000, polarity, 0.97, 0.0, True)
    made = figures(lufs=lufs)
    measured(library, replace(made, file=replace(made.file, sample_rate=rate), alignment=alignment))


CLOSE = PlacementEntry(distance="30 mm", offset="40 mm")
ROOM = PlacementEntry(distance="350 mm")


def test_the_path_of_a_microphone_runs_from_the_cone_and_takes_its_time(
    library: Library, logged: LevelSession
) -> None:
    _, times = two_mics(library, logged, CLOSE, ROOM)
    ribbon, dynamic = times.mics
    assert dynamic.path_mm == pytest.approx(50.0)  # 3-4-5
    assert ribbon.time_s * 1000 == pytest.approx(1.01981, abs=5e-6)  # 0.35 m / 343.2 m/s
    assert ribbon.samples == pytest.approx(48.951, abs=5e-4)
    assert times.mm_per_sample == pytest.approx(7.150)


def test_the_farther_microphone_is_pulled_earlier_by_the_difference(
    library: Library, logged: LevelSession
) -> None:
    _, times = two_mics(library, logged, CLOSE, ROOM)
    (pair,) = times.pairs
    assert (pair.first.name, pair.second.name) == ("dynamic microphone", "ribbon microphone")
    assert pair.line_up is not None
    assert pair.line_up.move_mm == pytest.approx(300.0)
    assert pair.line_up.nudge_samples == pytest.approx(41.96, abs=5e-3)  # 30 cm at 48 kHz and 20 °C
    assert pair.comb is not None
    assert pair.comb.notches_hz[0] == pytest.approx(572.0)  # 343.2 / (2 x 0.3)
    assert pair.level.difference_db is None
    assert pair.is_inverted is None
    assert pair.tape is None


def test_two_measured_prints_give_level_polarity_and_the_files_own_delay(
    library: Library, logged: LevelSession
) -> None:
    pass_id, _ = two_mics(library, logged, CLOSE, ROOM)
    printed(library, pass_id, logged.far, 143.36, -24.0, "inverted")
    printed(library, pass_id, logged.near, 100.0, -17.9794)
    (pair,) = read_mic_times(library, pass_id, TimesEntry()).pairs
    assert pair.level.difference_db == pytest.approx(-6.0206)
    assert pair.is_inverted is True
    assert pair.comb is not None
    # g = 0.5: +3.5218 and -6.0206 dB; opposite polarity puts the first notch at 0 Hz.
    assert (pair.comb.peak_db, pair.comb.notch_db) == (
        pytest.approx(3.5218, abs=5e-5),
        pytest.approx(-6.0206, abs=5e-5),
    )
    assert pair.comb.notches_hz[0] == 0.0
    assert pair.measured_delay_samples == pytest.approx(43.36)
    assert pair.tape is not None
    # 43.36 samples x 7.15 mm
    assert pair.tape.sentence == "The files say 31.0 cm, the log says 30.0 cm: they agree."


def test_a_tape_that_was_read_wrong_is_noticed(library: Library, logged: LevelSession) -> None:
    pass_id, _ = two_mics(library, logged, CLOSE, ROOM)
    printed(library, pass_id, logged.far, 160.0, -24.0)
    printed(library, pass_id, logged.near, 100.0, -18.0)
    (pair,) = read_mic_times(library, pass_id, TimesEntry()).pairs
    assert pair.tape is not None
    assert not pair.tape.agrees
    assert pair.tape.sentence.startswith("The files say 42.9 cm, the log says 30.0 cm: one of the two is off")


def test_prints_of_another_rate_than_the_project_s_count_in_milliseconds(
    library: Library, logged: LevelSession
) -> None:
    pass_id, _ = two_mics(library, logged, CLOSE, ROOM)
    printed(library, pass_id, logged.far, 286.72, -24.0, rate=96_000)
    printed(library, pass_id, logged.near, 200.0, -18.0, rate=96_000)
    (pair,) = read_mic_times(library, pass_id, TimesEntry()).pairs
    assert pair.measured_delay_samples == pytest.approx(43.36)


def test_an_unclear_polarity_is_not_taken_for_one(library: Library, logged: LevelSession) -> None:
    pass_id, _ = two_mics(library, logged, CLOSE, ROOM)
    printed(library, pass_id, logged.far, 143.0, -24.0, "unclear")
    printed(library, pass_id, logged.near, 100.0, -18.0)
    assert read_mic_times(library, pass_id, TimesEntry()).pairs[0].is_inverted is None


def test_two_equally_far_have_no_comb(library: Library, logged: LevelSession) -> None:
    _, times = two_mics(library, logged, ROOM, ROOM)
    assert (times.pairs[0].line_up, times.pairs[0].comb, times.pairs[0].drawn) == (None, None, None)


def test_a_microphone_without_a_distance_is_named_and_left_out(
    library: Library, logged: LevelSession
) -> None:
    _, times = two_mics(library, logged, CLOSE, PlacementEntry(offset="40 mm"))
    assert [mic.name for mic in times.mics] == ["dynamic microphone"]
    assert times.unplaced == ("ribbon microphone",)
    assert times.pairs == ()


def test_a_cold_room_is_slower(library: Library, logged: LevelSession) -> None:
    times = read_mic_times(library, logged.pass_id, TimesEntry(celsius="10 °C"))
    assert times.complaints == {}
    assert times.speed_m_per_s == pytest.approx(337.296, abs=5e-4)  # ISO 9613-1


@pytest.mark.parametrize(
    ("entry", "field", "words"),
    [
        (TimesEntry(celsius="-90"), "celsius", "between −20 and 50 °C"),
        (TimesEntry(celsius="451"), "celsius", "worked out for 20 °C"),
        (TimesEntry(celsius="warm"), "celsius", "is not a temperature"),
        (TimesEntry(own="-3 cm"), "own", "negative"),
        (TimesEntry(own="0"), "own", "further than nothing"),
        (TimesEntry(spill="3 ohm"), "spill", "unit of length"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_the_page_still_stands(
    library: Library, logged: LevelSession, entry: TimesEntry, field: str, words: str
) -> None:
    times = read_mic_times(library, logged.pass_id, entry)
    assert words in times.complaints[field]
    assert times.celsius == 20.0
    assert len(times.mics) == 1


def test_the_rule_of_three_says_the_number_behind_it(library: Library, logged: LevelSession) -> None:
    rule = read_mic_times(library, logged.pass_id, TimesEntry(own="10 cm", spill="30 cm")).rule
    assert rule is not None
    assert rule.kept
    assert rule.spill_db == pytest.approx(-9.5424, abs=5e-5)
    assert rule.ripple_db == pytest.approx(6.0206, abs=5e-5)
    assert read_mic_times(library, logged.pass_id, TimesEntry(own="10 cm")).rule is None

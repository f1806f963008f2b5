from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.microphones import (
    comb,
    distance_of_samples_mm,
    distance_to_speaker_mm,
    flight_samples,
    line_up,
    ripple_db,
    speed_of_sound_m_per_s,
    sum_level_db,
    tape_against_files,
    three_to_one,
)
from app.trade.sound_pressure import spl_db

distances = st.floats(1, 30_000)


@given(distances, st.sampled_from([44_100.0, 48_000.0, 96_000.0]), st.floats(-20, 50))
def test_distance_and_samples_are_inverse(mm: float, rate: float, celsius: float) -> None:
    assert distance_of_samples_mm(flight_samples(mm, rate, celsius), rate, celsius) == pytest.approx(mm)


@given(distances, distances)
def test_sound_never_arrives_earlier_from_further_away(near: float, far: float) -> None:
    near, far = sorted((near, far))
    assert flight_samples(far, 48_000) >= flight_samples(near, 48_000)


@given(st.floats(1e-5, 0.01), st.floats(0.1, 30), st.booleans())
def test_the_sum_is_deepest_at_its_notches_and_highest_at_its_peaks(
    delay: float, down: float, inverted: bool
) -> None:
    found = comb(delay, level_difference_db=down, inverted=inverted)
    for notch in found.notches_hz[:5]:
        level = sum_level_db(notch, delay, level_difference_db=down, inverted=inverted)
        assert level == pytest.approx(found.notch_db, abs=1e-6)
    for peak in found.peaks_hz[:5]:
        level = sum_level_db(peak, delay, level_difference_db=down, inverted=inverted)
        assert level == pytest.approx(found.peak_db, abs=1e-6)


def test_equal_paths_cancel_wholly_at_a_notch() -> None:
    assert comb(1e-3).notch_db == -inf
    assert ripple_db(1.0) == inf


def test_the_later_microphone_is_pulled_earlier_or_moved_nearer() -> None:
    # By hand: 280 mm at 343.2 m/s and 48 kHz is 39.16 samples.
    found = line_up(20, 300, 48_000)
    assert found is not None
    assert (found.later, found.move_mm) == (1, 280)
    assert found.nudge_samples == pytest.approx(39.16, abs=5e-3)
    swapped = line_up(300, 20, 48_000)
    assert swapped is not None
    assert swapped.later == 0
    assert line_up(100, 100, 48_000) is None


def test_files_and_tape_measure_are_set_against_each_other() -> None:
    found = tape_against_files(280.0, flight_samples(340, 48_000), 48_000)
    assert not found.agrees
    assert found.sentence.startswith("The files say 34.0 cm, the log says 28.0 cm: one of the two is off")
    assert tape_against_files(280.0, flight_samples(290, 48_000), 48_000).agrees


def test_less_than_three_to_one_leaves_more_ripple() -> None:
    assert not three_to_one(100, 200).kept
    assert three_to_one(100, 200).ripple_db > three_to_one(100, 300).ripple_db
    assert three_to_one(100, 300, gain_difference_db=6.0).ripple_db > three_to_one(100, 300).ripple_db


def test_the_slant_to_the_centre_of_the_cone() -> None:
    assert distance_to_speaker_mm(30, 40) == 50


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: speed_of_sound_m_per_s(80),
        lambda: comb(0.0),
        lambda: comb(5.0),
        lambda: three_to_one(0, 10),
        lambda: spl_db(0),
        lambda: ripple_db(2),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(impossible: object) -> None:
    assert callable(impossible)
    with pytest.raises(ValueError, match=r"\.$"):
        impossible()

"""Acoustics and summing against ISO 9613-1 and the closed forms of superposition."""

from math import inf, sqrt

import pytest

from app.trade.microphones import (
    comb,
    distance_of_samples_mm,
    flight_samples,
    flight_time_s,
    ripple_db,
    speed_of_sound_m_per_s,
    sum_level_db,
    three_to_one,
)


@pytest.mark.parametrize(
    ("celsius", "speed"), [(0, 331.286), (10, 337.296), (20, 343.200), (25, 346.114), (30, 349.005)]
)
def test_speed_of_sound(celsius: float, speed: float) -> None:  # ISO 9613-1:1993
    assert speed_of_sound_m_per_s(celsius) == pytest.approx(speed, abs=5e-4)


@pytest.mark.parametrize("celsius", [0, 10, 20, 25, 30])
def test_the_textbook_forms_agree_within_what_they_promise(celsius: float) -> None:  # textbook, closed form
    assert speed_of_sound_m_per_s(celsius) == pytest.approx(331.3 * sqrt(1 + celsius / 273.15), abs=0.016)
    assert speed_of_sound_m_per_s(celsius) == pytest.approx(331.3 + 0.606 * celsius, abs=0.5)


@pytest.mark.parametrize(("rate", "samples"), [(44_100, 128.497), (48_000, 139.860), (96_000, 279.720)])
def test_flight_per_metre_at_20_degrees(rate: float, samples: float) -> None:  # closed form
    assert flight_time_s(1000) * 1000 == pytest.approx(2.91375, abs=5e-6)
    assert flight_samples(1000, rate) == pytest.approx(samples, abs=5e-4)


@pytest.mark.parametrize(("rate", "mm"), [(44_100, 7.782), (48_000, 7.150), (96_000, 3.575)])
def test_distance_per_sample(rate: float, mm: float) -> None:  # closed form
    assert distance_of_samples_mm(1, rate) == pytest.approx(mm, abs=5e-4)


def test_thirty_centimetres_at_48_khz() -> None:  # closed form
    assert flight_time_s(300) * 1000 == pytest.approx(0.8741, abs=5e-5)
    assert flight_samples(300, 48_000) == pytest.approx(41.96, abs=5e-3)


def test_ten_degrees_wrong_over_a_metre() -> None:  # closed form
    assert flight_samples(1000, 48_000, 10) == pytest.approx(142.31, abs=5e-3)
    assert flight_samples(1000, 48_000, 10) - flight_samples(1000, 48_000, 20) == pytest.approx(2.4, abs=0.06)


@pytest.mark.parametrize(
    ("path_mm", "delay_ms", "notches"),
    [
        (343.2, 1.0, (500, 1500, 2500)),
        (100, 0.29138, (1716, 5148, 8580)),
        (50, 0.14569, (3432, 10296, 17160)),
    ],
)
def test_notches_of_two_paths_in_the_same_polarity(
    path_mm: float, delay_ms: float, notches: tuple[float, ...]
) -> None:  # superposition
    delay_s = flight_time_s(path_mm)
    assert delay_s * 1000 == pytest.approx(delay_ms, abs=5e-6)
    assert comb(delay_s).notches_hz[:3] == pytest.approx(notches, abs=0.5)


def test_notches_of_two_paths_in_opposite_polarity() -> None:  # superposition
    assert comb(1e-3, inverted=True).notches_hz[:3] == pytest.approx((0, 1000, 2000))
    assert comb(1e-3, inverted=True).peaks_hz[:2] == pytest.approx((500, 1500))


@pytest.mark.parametrize(("samples", "hz"), [(1, 24_000), (10, 2400), (48, 500)])
def test_first_notch_by_samples_at_48_khz(samples: int, hz: float) -> None:  # superposition
    assert comb(samples / 48_000, highest_hz=25_000).notches_hz[0] == pytest.approx(hz)


@pytest.mark.parametrize(
    ("ratio_db", "peak", "notch", "ripple"),
    [
        (-9.54243, 2.4988, -3.5218, 6.0206),
        (-6.0206, 3.5218, -6.0206, 9.5424),
        (-20.0, 0.8279, -0.9151, 1.7430),
    ],
)
def test_peak_notch_and_ripple(
    ratio_db: float, peak: float, notch: float, ripple: float
) -> None:  # superposition
    found = comb(1e-3, level_difference_db=ratio_db)
    assert found.peak_db == pytest.approx(peak, abs=1e-4)
    assert found.notch_db == pytest.approx(notch, abs=1e-4)
    assert found.ripple_db == pytest.approx(ripple, abs=1e-4)


@pytest.mark.parametrize(("down_db", "ripple"), [(10, 5.6884), (1, 24.8065)])
def test_ripple_by_level_difference(down_db: float, ripple: float) -> None:  # superposition
    assert ripple_db(10 ** (-down_db / 20)) == pytest.approx(ripple, abs=5e-5)


def test_what_the_three_to_one_rule_leaves() -> None:  # common practice; the numbers by superposition
    found = three_to_one(100, 300)
    assert found.kept
    assert found.spill_db == pytest.approx(-9.5424, abs=5e-5)
    assert found.ripple_db == pytest.approx(6.0206, abs=5e-5)


@pytest.mark.parametrize(
    ("degrees", "db"), [(60, 4.7712), (90, 3.0103), (120, 0.0), (150, -5.7195), (170, -15.1735)]
)
def test_two_equal_tones_by_phase(degrees: float, db: float) -> None:  # closed form: 20 log10(2 cos(phi / 2))
    assert sum_level_db(1.0, degrees / 360) == pytest.approx(db, abs=5e-5)


def test_a_signal_and_its_inverse_are_silence() -> None:  # closed form
    assert sum_level_db(1000, 0.0, inverted=True) == -inf

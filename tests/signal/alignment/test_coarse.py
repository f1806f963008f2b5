"""Coarse lags from bands' rise and fall: closed cases, 25 frames a second."""

import numpy as np
import pytest
from numpy.typing import NDArray

from app.signal.alignment.coarse import candidates
from app.signal.alignment.features import Features
from app.signal.audio.frames import BandFrames, coded
from app.signal.levels.bands import band_mids_hz

MIDS = np.array(band_mids_hz(48000))
Frames = NDArray[np.float64]


def _features(energies: Frames) -> Features:
    return Features(48000, len(energies) * 1920, MIDS, BandFrames(coded(energies.astype(np.float32))))


def _playing(frames: int, seed: int) -> Frames:
    """Bands that jump and decay on their own."""
    rng = np.random.default_rng(seed)
    level = np.zeros((frames, len(MIDS)))
    now = np.zeros(len(MIDS))
    for frame in range(frames):
        now = np.maximum(now * 0.8, np.where(rng.random(len(MIDS)) < 0.1, rng.random(len(MIDS)), 0))
        level[frame] = now
    return level**2 * 0.01 + 1e-9


@pytest.mark.parametrize("late", [0, 7, 60])
def test_a_print_that_is_late_by_so_many_frames_is_found_there_first(late: int) -> None:
    source = _playing(400, 1)
    print_samples = np.concatenate((np.full((late, len(MIDS)), 1e-9), source))
    lags = candidates(_features(source), _features(print_samples))
    assert lags[0].lag_s == pytest.approx(late / 25, abs=0.02)
    assert lags[0].explained == pytest.approx(1.0, abs=0.02)
    assert lags[0].score > 2 * lags[1].score


def test_an_excerpt_is_found_where_it_was_cut() -> None:
    source = _playing(600, 2)
    lags = candidates(_features(source), _features(source[250:400]))
    assert lags[0].lag_s == pytest.approx(-10, abs=0.02)


def test_level_colour_and_compression_do_not_matter() -> None:
    source = _playing(400, 3)
    print_samples = 30 * np.linspace(0.01, 1, len(MIDS)) * source**0.5
    assert candidates(_features(source), _features(print_samples))[0].lag_s == pytest.approx(0, abs=0.02)


def test_another_playing_does_not_stand_out() -> None:
    own = candidates(_features(_playing(400, 4)), _features(_playing(400, 4)))[0].score
    other = candidates(_features(_playing(400, 4)), _features(_playing(400, 5)))[0].score
    assert other < 0.3 * own


def test_of_equal_bars_the_nearest_lag_comes_first() -> None:
    bars = np.tile(_playing(50, 6), (8, 1))
    lags = candidates(_features(bars), _features(bars))
    assert lags[0].lag_s == pytest.approx(0, abs=0.02)
    assert {round(one.lag_s) for one in lags} >= {0, 2, -2}


def test_too_little_to_compare_has_no_candidates() -> None:
    assert candidates(_features(_playing(2, 7)), _features(_playing(400, 7))) == []

"""Flat tops: closed forms of clipped and unclipped waves, at the resolution of 24 and 16 bits."""

import numpy as np
import pytest
from numpy.typing import NDArray

from app.signal.levels.clipping import FlatTops, flat_tops, flatness, may_clip, really_clipped

RATE = 48000
Audio = NDArray[np.float64]
FINE, COARSE = flatness(2.0**-23), flatness(2.0**-15)


def _tops(samples: Audio, tolerance: float = FINE) -> list[tuple[int, int]]:
    """(start, length) of the runs that count as clipping."""
    tops = flat_tops(samples.astype(np.float32), tolerance)
    kept = really_clipped(tops, float(np.abs(samples).max()), tolerance)
    return list(zip(tops.starts[kept].tolist(), tops.lengths[kept].tolist(), strict=True))


def _sine(hz: float = 997.0, seconds: float = 0.2) -> Audio:
    return np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


@pytest.mark.parametrize("ceiling", [0.9, 0.5, 0.1, 0.02])
@pytest.mark.parametrize("tolerance", [FINE, COARSE])
def test_a_sine_clipped_at_any_level_has_a_flat_top_per_half_turn(ceiling: float, tolerance: float) -> None:
    clipped = np.clip(1.3 * ceiling * _sine(), -ceiling, ceiling)
    half_turns = 2 * 997 * 0.2
    assert len(_tops(clipped, tolerance)) == pytest.approx(half_turns, abs=3)


def test_a_run_begins_and_ends_where_the_wave_meets_the_ceiling() -> None:
    wave = 1.2 * _sine(200.0, 0.005)
    beyond = np.flatnonzero(np.abs(wave) > 1.0)
    first = beyond[: int(np.argmax(np.diff(beyond) > 1)) + 1]
    assert _tops(np.clip(wave, -1, 1))[0] == (first[0], len(first))


@pytest.mark.parametrize("gain", [1.0, 3.0, 8.0])
@pytest.mark.parametrize("hz", [41.2, 110.0, 997.0])
def test_a_rounded_top_is_not_clipping(gain: float, hz: float) -> None:
    assert _tops(0.8 * np.tanh(gain * _sine(hz, 1.0))) == []


def test_a_slow_crest_far_below_the_peak_is_not_clipping() -> None:
    """A 30 Hz wave at -38 dB under a peak at -13 dB, its crest bent straight by a little noise."""
    crest = np.array([*range(6), 5, 5, 5, 5, 5, 5, *range(4, -2, -1)]) * 1e-4 + 0.0122
    assert _tops(np.concatenate((crest, np.zeros(8), [0.1, 0.213, 0.1], np.zeros(8)))) == []


def test_one_crest_that_16_bits_flatten_is_not_clipping_and_two_alike_are() -> None:
    """Three samples agree at the top of a wave whose peak an offset has moved away from full scale."""
    crest = FlatTops(np.array([100]), np.array([3]), np.array([0.38]))
    assert not really_clipped(crest, 0.38, COARSE).any()
    assert really_clipped(crest, 0.38, FINE).all(), "finer steps agree by no chance"
    again = FlatTops(np.array([100, 700]), np.array([3, 3]), np.array([0.38, 0.38]))
    assert really_clipped(again, 0.38, COARSE).all()
    full = FlatTops(np.array([100]), np.array([3]), np.array([0.99997]))
    assert really_clipped(full, 0.99997, COARSE).all()


def test_two_channels_of_one_sound_do_not_vouch_for_each_other() -> None:
    once = FlatTops(np.array([100, 900]), np.array([4, 4]), np.array([0.10211, 0.10213]))
    twice = FlatTops(*(np.concatenate((part, part)) for part in (once.starts, once.lengths, once.levels)))
    assert not really_clipped(twice, 0.134, COARSE).any()
    four = FlatTops(np.array([100, 900, 1500, 1700]), np.full(4, 4), np.full(4, 0.1021))
    assert really_clipped(four, 0.134, COARSE).all()


def test_only_steps_whose_extreme_is_held_are_looked_at() -> None:
    steps = np.array(
        [[0.1, 0.5, 0.5, 0.5], [0.1, 0.2, 0.5, 0.3], [0.001, 0.001, 0.001, 0.001]], dtype=np.float32
    )
    assert may_clip(steps, steps.min(axis=1), steps.max(axis=1), FINE).tolist() == [0]

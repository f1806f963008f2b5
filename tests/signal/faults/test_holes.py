"""Holes by their edges: what breaks off at once and is back at once, whatever little noise fills it."""

import numpy as np
import pytest
from numpy.typing import NDArray

from app.signal.faults.holes import HoleSearch

RATE = 48000
Audio = NDArray[np.float64]


def _holes(samples: Audio, block: int = 2 * RATE) -> list[tuple[int, int]]:
    """(first sample, samples) of each hole."""
    search = HoleSearch(RATE)
    for start in range(0, len(samples), block):
        search.feed(start, samples[start : start + block].astype(np.float32))
    return [(round(hole.at_s * RATE), hole.samples) for hole in search.holes]


def _playing(seconds: float = 4.0, seed: int = 1) -> Audio:
    """Notes that decay, one every 0.4 s, with the noise of an amplifier at -75 dBFS."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * RATE)) / RATE
    since = t % 0.4
    hz = 82.4 * 2 ** (rng.integers(0, 24, round(seconds / 0.4) + 1) / 12)
    turns = 2 * np.pi * np.cumsum(hz[(t / 0.4).astype(int)]) / RATE
    notes = (
        sum(np.sin(k * turns) / k for k in range(1, 6)) * np.exp(-since / 0.3) * np.minimum(1, since / 0.003)
    )
    return 0.2 * notes + 10 ** (-75 / 20) * rng.standard_normal(len(t))


def _noise(count: int, level_db: float) -> Audio:
    return np.random.default_rng(9).standard_normal(count) * 10 ** (level_db / 20)


@pytest.mark.parametrize("samples", [64, 480, 1488, 4800, 20000])
@pytest.mark.parametrize("level_db", [-200.0, -90.0, -80.0])
def test_a_hole_filled_with_a_little_noise_is_found_with_its_place_and_length(
    samples: int, level_db: float
) -> None:
    print_samples = _playing()
    at = round(1.27 * RATE)
    print_samples[at : at + samples] = _noise(samples, level_db)
    ((first, length),) = _holes(print_samples)
    assert first == pytest.approx(at, abs=3)
    assert length == pytest.approx(samples, abs=6)


@pytest.mark.parametrize("block", [9600, 48000, 96000])
@pytest.mark.parametrize("at", [95900, 96000, 95000, 96100])
def test_a_hole_across_the_edge_of_a_block_is_found_once_and_whole(at: int, block: int) -> None:
    print_samples = _playing()
    print_samples[at : at + 1000] = _noise(1000, -90)
    ((first, length),) = _holes(print_samples, block)
    assert first == pytest.approx(at, abs=3)
    assert length == pytest.approx(1000, abs=6)


@pytest.mark.parametrize("seed", range(5))
def test_playing_has_no_holes(seed: int) -> None:
    assert _holes(_playing(seed=seed)) == []


def test_a_rest_that_fades_is_no_hole() -> None:
    t = np.arange(4 * RATE) / RATE
    gate = np.clip(np.minimum(np.abs(t % 0.5 - 0.25) - 0.05, 0.01) / 0.005, 0, 1)
    assert _holes(_playing() * gate + _noise(len(t), -85)) == []


def test_a_pulse_wave_rests_between_its_pulses_without_holes() -> None:
    """Pulses 2 ms wide every 8 ms, edges as sharp as can be: what a gated fuzz leaves of a note."""
    t = np.arange(2 * RATE)
    assert _holes(0.3 * np.where(t % 384 < 96, np.sign(48 - t % 384 + 0.5), 0.0)) == []


def test_an_attack_out_of_silence_is_no_hole() -> None:
    print_samples = _noise(2 * RATE, -85)
    for at in (20000, 40000, 55000):
        count = 12000
        print_samples[at : at + count] += (
            0.5 * np.sin(np.arange(count) / 20 + 1) * np.exp(-np.arange(count) / 3000)
        )
    assert _holes(print_samples) == []


@pytest.mark.parametrize("count", [0, 1, 63, 480, 500])
def test_next_to_nothing_has_no_holes(count: int) -> None:
    assert _holes(np.zeros(count)) == []


def test_one_long_rest_of_a_stage_with_a_dead_band_is_no_hole() -> None:
    """Crossover distortion holds still about every zero crossing, longest where two tones cross together."""
    print_samples = _crossed_over()
    assert _holes(print_samples) == []
    at = round(0.513 * RATE)
    print_samples[at : at + 480] = _noise(480, -85)
    assert [first for first, _ in _holes(print_samples)] == pytest.approx([at], abs=3)


def _crossed_over() -> Audio:
    t = np.arange(2 * RATE) / RATE
    wave = 0.56 * np.sin(2 * np.pi * 383 * t) + 0.57 * np.sin(2 * np.pi * 514 * t + 1)
    return np.sign(wave) * np.maximum(np.abs(wave) - 0.127, 0) * 1.5 + _noise(len(t), -85)

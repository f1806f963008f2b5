"""The one short-time spectrum: energies add up, bands hold their tones, the low-rate signal is the signal."""

import numpy as np
import pytest

from app.signal.levels.spectrum import LOW_BINS, ShortTimeSpectrum, hop_samples

RATE = 48000


@pytest.mark.parametrize("rate", [44100, 48000, 96000, 192000])
def test_frames_are_40_ms_apart_at_every_rate(rate: int) -> None:
    assert hop_samples(rate) / rate == pytest.approx(0.04, abs=1e-5)


def test_the_energies_of_all_frames_add_up_to_that_of_the_signal() -> None:
    spectrum = ShortTimeSpectrum(RATE)
    noise = np.random.default_rng(1).standard_normal(50 * spectrum.frames.hop).astype(np.float32)
    noise[: 2 * spectrum.frames.hop] = noise[-2 * spectrum.frames.hop :] = 0
    tone = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(len(noise)) / RATE).astype(np.float32)
    tone[: 2 * spectrum.frames.hop] = tone[-2 * spectrum.frames.hop :] = 0
    energies, _ = spectrum.feed(tone)
    assert energies.sum() * spectrum.frames.hop == pytest.approx(float(tone @ tone), rel=1e-3)


@pytest.mark.parametrize("hz", [125.0, 1000.0, 8000.0])
def test_a_tone_lies_in_its_own_third_octave(hz: float) -> None:
    spectrum = ShortTimeSpectrum(RATE)
    energies, _ = spectrum.feed(
        np.sin(2 * np.pi * hz * np.arange(20 * spectrum.frames.hop) / RATE).astype(np.float32)
    )
    loudest = spectrum.frames.mids[int(np.argmax(energies[5:15].sum(axis=0)))]
    assert abs(np.log2(loudest / hz)) < 1 / 6


def test_the_low_rate_signal_is_the_signal_where_it_is_low() -> None:
    spectrum = ShortTimeSpectrum(RATE)
    samples = np.sin(2 * np.pi * 100 * np.arange(20 * spectrum.frames.hop) / RATE).astype(np.float32)
    low = spectrum.feed(samples)[1][LOW_BINS:]
    expected = np.sin(2 * np.pi * 100 * np.arange(len(low)) / spectrum.low_rate)
    inner = slice(2 * LOW_BINS, -2 * LOW_BINS)
    np.testing.assert_allclose(low[inner], expected[inner], atol=1e-3)


def test_blocks_give_what_the_whole_gives() -> None:
    whole, parts = ShortTimeSpectrum(RATE), ShortTimeSpectrum(RATE)
    noise = np.random.default_rng(2).standard_normal(12 * whole.frames.hop).astype(np.float32)
    once, _ = whole.feed(noise)
    piecewise = np.concatenate(
        [
            parts.feed(noise[n : n + 4 * whole.frames.hop])[0]
            for n in range(0, len(noise), 4 * whole.frames.hop)
        ]
    )
    np.testing.assert_allclose(once, piecewise, rtol=1e-4, atol=1e-9)

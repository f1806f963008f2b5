"""A pattern that turns round and round fits its source a bar too early or too late nearly as well as at its place."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from app.signal.audio.reading import Samples
from app.signal.measure import measure_print

RATE, BAR_S, NOTES = 48000, 0.896, 8
CHORDS = ((0, 4, 7, 12), (-3, 0, 4, 9), (-7, -3, 0, 5), (-5, -1, 2, 7))


def _pluck(hz: float) -> Samples:
    at_s = np.arange(RATE) / RATE
    wave = sum(np.sin(2 * np.pi * hz * k * at_s + k) / k for k in (1, 2, 3))
    return np.asarray(0.05 * wave * np.exp(-at_s / 0.4) * np.minimum(1, at_s / 0.006), dtype=np.float32)


@pytest.fixture(scope="module")
def arpeggio() -> Samples:
    """Half a minute of an invented arpeggio, even as a machine's, whose chords come in no order."""
    random = np.random.default_rng(4)
    samples = np.zeros(34 * RATE, dtype=np.float32)
    for bar in range(34):
        chord = CHORDS[random.integers(4)]
        for note in range(NOTES):
            hz = 220 * 2 ** (chord[(0, 1, 2, 3, 2, 1, 0, 2)[note]] / 12)
            start = round((bar + note / NOTES) * BAR_S * RATE)
            samples[start : start + RATE] += _pluck(hz)[: max(0, len(samples) - start)]
    return samples


@pytest.mark.parametrize("bars", [0, 1, 3, 5])
def test_a_print_that_begins_some_bars_early_is_found_at_its_place(
    arpeggio: Samples, tmp_path: Path, bars: int
) -> None:
    delay = round(bars * BAR_S * RATE) + 150
    print_samples = np.concatenate((np.zeros(delay), np.tanh(4 * arpeggio)))
    print_samples += 3e-5 * np.random.default_rng(1).standard_normal(len(print_samples))
    soundfile.write(tmp_path / "source.wav", arpeggio, RATE, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", print_samples, RATE, subtype="PCM_24")
    alignment = measure_print(tmp_path / "print.wav", tmp_path / "source.wav").alignment
    assert alignment is not None
    assert alignment.is_of_source
    assert alignment.delay_samples == pytest.approx(delay, abs=0.5)

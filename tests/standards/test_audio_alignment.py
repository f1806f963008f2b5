"""Delay, polarity and clock drift against AES17's definitions and closed forms.

AES17-2015, 6.8.2 and 6.2.8 (c): the delay is the lag of the largest absolute value of the impulse response or
correlation, the polarity its sign there (read in one secondary source). Fractional delays are made by phase, which is
exact for band-limited signals. Tolerances are ours.
"""

from pathlib import Path

import numpy as np
import pytest

from app.signal.figures import AlignmentFigures
from app.signal.fine import exact_peak
from tests.standards.signals import Audio, delayed, measured

RATE = 48000


def _noise(seconds: float, seed: int = 1) -> Audio:
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE)) * 0.1


def _aligned(taken: Audio, source: Audio, folder: Path) -> AlignmentFigures:
    found = measured(taken, folder, source=source).alignment
    assert found is not None
    assert found.delay_samples is not None
    return found


@pytest.mark.parametrize(
    ("delay", "gain", "tolerance"),
    [(37, 1.0, 0.01), (37.25, -0.5, 0.02), (-12.75, 1.0, 0.02), (0.5, -1.0, 0.02), (1234.125, 0.1, 0.02)],
)
def test_delay_and_polarity_of_white_noise(
    delay: float, gain: float, tolerance: float, tmp_path: Path
) -> None:
    """3 s of white noise with noise at -40 dB: 37.000 ±0.01, 37.250 ±0.02, -12.750 ±0.02, and their signs."""
    source = _noise(3)
    taken = gain * delayed(source, delay) + 0.01 * abs(gain) * _noise(3, 2)
    found = _aligned(taken, source, tmp_path)
    assert found.delay_samples == pytest.approx(delay, abs=tolerance)
    assert found.polarity == ("same" if gain > 0 else "inverted")
    assert found.delay_ms == pytest.approx(found.delay_samples / 48, abs=1e-9)
    assert found.confidence > 0.9


@pytest.mark.parametrize("true", [0.1, 0.25, 0.5])
def test_a_sinc_peak_is_read_without_the_bias_of_a_parabola(true: float) -> None:
    """A parabola through three samples of a sinc reads 0.051, 0.143 and 0.5 for 0.1, 0.25 and 0.5."""
    at = np.arange(-40, 41)
    curve = np.sinc(at - true)
    before, here, after = curve[39:42]
    parabola = 0.5 * (before - after) / (before - 2 * here + after)
    assert parabola == pytest.approx({0.1: 0.05102, 0.25: 0.14286, 0.5: 0.5}[true], abs=1e-4)
    flat = np.exp(-2j * np.pi * np.fft.rfftfreq(4096) * (7 + true)).astype(np.complex64)
    lag, height = exact_peak(flat, 4096, 7)
    assert lag - 7 == pytest.approx(true, abs=0.002)
    assert height == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize("ppm", [10.0, -50.0, 100.0, 0.0])
def test_drift_is_read_within_a_tenth_of_a_part_per_million(ppm: float, tmp_path: Path) -> None:
    """slip = ppm·1e-6·T·fs; the source is a sum of known sines, so the drifting print is exact. ±0.1 ppm (ours)."""
    rng = np.random.default_rng(3)
    t = np.arange(RATE * 40) / RATE
    partials = [
        (hz, phase) for hz, phase in zip(rng.uniform(60, 6000, 16), rng.uniform(0, 6.28, 16), strict=True)
    ]
    swell = [(rng.uniform(0.3, 3), rng.uniform(0, 6.28)) for _ in partials]

    def played(times: Audio) -> Audio:
        return 0.01 * sum(
            np.clip(np.sin(2 * np.pi * slow * times + turn), 0, 1) ** 4
            * np.sin(2 * np.pi * hz * times + phase)
            for (hz, phase), (slow, turn) in zip(partials, swell, strict=True)
        )

    found = _aligned(played(t / (1 + ppm * 1e-6) - 20 / RATE), played(t), tmp_path)
    assert found.drift_ppm == pytest.approx(ppm, abs=0.1)
    assert found.delay_samples == pytest.approx(20 * (1 + ppm * 1e-6), abs=0.2)


def test_source_and_print_may_differ_in_rate(tmp_path: Path) -> None:
    """The same 25 ms at 96 kHz are 2400 samples of the print, whatever the source's rate."""
    import soundfile
    import soxr

    from app.signal.measure import measure_print

    source = _noise(8) * np.repeat(np.random.default_rng(5).random(80), 4800)
    taken = soxr.resample(np.concatenate((np.zeros(1200), source)), RATE, 96000, quality="VHQ")
    at_44 = soxr.resample(source, RATE, 44100, quality="VHQ")
    soundfile.write(tmp_path / "source.wav", at_44, 44100, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", taken, 96000, subtype="PCM_24")
    found = measure_print(tmp_path / "print.wav", tmp_path / "source.wav").alignment
    assert found is not None
    assert found.delay_samples == pytest.approx(2400, abs=0.1)

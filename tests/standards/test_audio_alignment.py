"""Delay, polarity and clock drift against AES17's definitions and closed forms.

AES17-2015, 6.8.2 and 6.2.8: the delay is the lag of the largest absolute value of the impulse response or correlation,
the polarity its sign there (read in one secondary source). Fractional delays are made by phase, which is exact for
band-limited signals. Tolerances are ours. The grades of AES11 and IEC 60958-3 and the accuracy of ordinary crystals say
how much drift to expect; nothing here measures a clock against them.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from app.signal.alignment.fine import exact_peak
from app.signal.audio.parabola import parabola_peak
from app.signal.figures import AlignmentFigures
from app.signal.measure import measure_print
from tests.standards.rows import DELAY
from tests.standards.signals import Audio, delayed, measured

RATE = 48000
AES17_DELAY = "AES17-2015, 6.8.2"
AES17_POLARITY = "AES17-2015, 6.2.8 (c)"
AES17_TONE = "AES17-2015, 6.2.8 (b)"
CLOSED = "closed form"


def _noise(seconds: float, seed: int = 1) -> Audio:
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE)) * 0.1


def _aligned(print_samples: Audio, source: Audio, folder: Path, rate: int = RATE) -> AlignmentFigures:
    alignment = measured(print_samples, folder, rate, source=source).alignment
    assert alignment is not None
    return alignment


@pytest.mark.parametrize(
    ("delay", "gain", "tolerance"),
    [(37, 1.0, 0.01), (37.25, -0.5, 0.02), (-12.75, 1.0, 0.02), (0.5, -1.0, 0.02), (1234.125, 0.1, 0.02)],
)
def test_delay_and_polarity_of_white_noise(
    delay: float, gain: float, tolerance: float, tmp_path: Path
) -> None:
    """3 s of white noise with noise at -40 dB."""
    source = _noise(3)
    print_samples = gain * delayed(source, delay) + 0.01 * abs(gain) * _noise(3, 2)
    alignment = _aligned(print_samples, source, tmp_path)
    name = f"white noise later by {delay} samples, gain {gain:g}"
    DELAY.hold(name, alignment.delay_samples, float(delay), tolerance, source=AES17_DELAY)
    DELAY.hold(
        f"{name}: polarity", alignment.polarity, "same" if gain > 0 else "inverted", source=AES17_POLARITY
    )
    assert alignment.delay_samples is not None
    assert alignment.delay_ms == pytest.approx(alignment.delay_samples / 48, abs=1e-9)
    assert alignment.confidence > 0.9


def test_whitening_takes_the_colour_of_the_source_out(tmp_path: Path) -> None:
    """A source that falls by 12 dB an octave above 80 Hz, so that its own correlation is a hill of milliseconds."""
    spectrum = np.fft.rfft(_noise(6, 4))
    hz = np.fft.rfftfreq(6 * RATE, 1 / RATE)
    source = np.fft.irfft(spectrum / (1 + (hz / 80) ** 2)) * 3
    print_samples = -0.7 * delayed(source, 37.25) + 1e-5 * _noise(6, 5)
    alignment = _aligned(print_samples, source, tmp_path)
    DELAY.hold(
        "dark noise later by 37.25 samples, inverted",
        alignment.delay_samples,
        37.25,
        0.02,
        source="Knapp and Carter 1976, Table I",
    )
    DELAY.hold("dark noise, inverted: polarity", alignment.polarity, "inverted", source=AES17_POLARITY)


def _asymmetric_tone() -> Audio:
    """sin(2π·997·t) + sin(2π·1994·t - π/2): extremes +2 and -1.125, here at a quarter of that."""
    t = np.arange(10 * RATE) / RATE
    return 0.25 * (np.sin(2 * np.pi * 997 * t) + np.sin(2 * np.pi * 1994 * t - np.pi / 2))


@pytest.mark.parametrize("sign", [1, -1])
def test_an_asymmetric_tone_shows_which_way_up_it_is(sign: int, tmp_path: Path) -> None:
    columns = measured(sign * _asymmetric_tone(), tmp_path).overview.columns
    low, high = min(low for low, _ in columns), max(high for _, high in columns)
    way = "upright" if sign > 0 else "inverted"
    extremes = (2.0, -1.125) if sign > 0 else (1.125, -2.0)
    DELAY.hold(f"asymmetric tone, {way}: extremes", (4 * high, 4 * low), extremes, 0.002, source=AES17_TONE)
    DELAY.hold(
        f"asymmetric tone, {way}: ratio",
        high / -low,
        1.7778 if sign > 0 else 0.5625,
        0.001,
        source=AES17_TONE,
    )


def test_the_polarity_of_an_asymmetric_tone_is_right_or_unclear_and_seldom_unclear(tmp_path: Path) -> None:
    """Three that come and go differently, each both ways up.

    Against a source the two tones alone say little, so "unclear" is an honest polarity of them, the wrong one is not; but
    one that is always unclear would say nothing, so how often it is is counted.
    """
    polarities = []
    for seed in (6, 7, 8):
        source = _asymmetric_tone() * np.repeat(np.random.default_rng(seed).random(40), RATE // 4)
        for sign, upright in ((1, "same"), (-1, "inverted")):
            polarity = _aligned(np.roll(sign * source, 480), source, tmp_path).polarity
            polarities.append({upright: "right", "unclear": "unclear"}.get(polarity, "wrong"))
    wrong, unclear = polarities.count("wrong"), polarities.count("unclear")
    DELAY.hold("six asymmetric tones: polarity wrong, of 6", wrong, 0, source=AES17_TONE)
    DELAY.hold("six asymmetric tones: polarity unclear, of 6", unclear, 0, (0, 1), source=AES17_TONE)


@pytest.mark.parametrize(
    ("three", "offset", "height"),
    [((-1.69, -0.09, -0.49), 0.3, 0.0), ((0.8, 1.0, 0.9), 0.166667, 1.004167)],
)
def test_a_parabola_through_three_values(
    three: tuple[float, float, float], offset: float, height: float
) -> None:
    DELAY.hold(
        f"parabola through {three}: offset and height",
        parabola_peak(*three),
        (offset, height),
        1e-6,
        source="Smith, Spectral Audio Signal Processing",
    )


@pytest.mark.parametrize(("true", "parabola"), [(0.1, 0.05102), (0.25, 0.14286), (0.5, 0.5)])
def test_a_sinc_peak_is_read_without_the_bias_of_a_parabola(true: float, parabola: float) -> None:
    curve = np.sinc(np.arange(-1, 2) - true)
    name = f"full-band peak at {true:g}"
    DELAY.hold(f"{name}, by a parabola", parabola_peak(*curve.tolist())[0], parabola, 1e-4, source=CLOSED)
    flat = np.exp(-2j * np.pi * np.fft.rfftfreq(4096) * (7 + true)).astype(np.complex64)
    lag, height = exact_peak(flat, 4096, 7)
    DELAY.hold(f"{name}, as read here", lag - 7, true, 0.002, source=CLOSED)
    assert height == pytest.approx(1.0, abs=0.005)


def test_a_parabola_on_a_slow_cosine_and_on_noise() -> None:
    """It leans less on a cosine of 0.1·fs than on white noise, where 37.25 reads 37.14 (±0.15)."""
    curve = np.cos(2 * np.pi * 0.1 * (np.arange(-1, 2) - 0.25))
    DELAY.hold(
        "cosine of 0.1 fs at 0.25, by a parabola",
        parabola_peak(*curve.tolist())[0],
        0.24373,
        1e-5,
        source=CLOSED,
    )
    source = _noise(3)
    print_samples = delayed(source, 37.25)
    near = [
        float(np.dot(source[:-50], print_samples[lag : len(print_samples) - 50 + lag]))
        for lag in (36, 37, 38)
    ]
    DELAY.hold(
        "white noise at 37.25, by a parabola", 37 + parabola_peak(*near)[0], 37.14, 0.15, source=CLOSED
    )


def test_a_delay_by_phase_is_exact() -> None:
    """What these tests rest on: `X·exp(-jωd)`, zero padded, against the band-limited signal itself, written anew."""
    at = np.arange(4000.0)

    def signal(times: Audio) -> Audio:
        return np.sinc((times - 1500) / 1.5) + 0.5 * np.sinc((times - 2100.3) / 2)

    error = np.abs(delayed(signal(at), 37.25) - signal(at - 37.25))[500:3500].max()
    DELAY.hold("delay by phase, largest error", float(error), 0.0, 1e-3, source=CLOSED)


PARTIALS = np.random.default_rng(3).uniform((60, 0, 0.3), (6000, 6.28, 3), (9, 3))


def _swelling(times: Audio) -> Audio:
    """Sines that come and go, at any times: so a print by another clock is exact."""
    return 0.01 * sum(
        np.clip(np.sin(2 * np.pi * slow * times + 3 * phase), 0, 1) * np.sin(2 * np.pi * hz * times + phase)
        for hz, phase, slow in PARTIALS
    )


@cache
def _by_its_own_clock(rate: int) -> Audio:
    return _swelling(np.arange(rate * 40) / rate)


@pytest.mark.parametrize(
    ("ppm", "rate", "over_s", "slip"),
    [
        (10.0, 48000, 240, 115.2),
        (50.0, 48000, 240, 576.0),
        (50.0, 44100, 240, 529.2),
        (1.0, 48000, 3600, 172.8),
        (115 / 240 / 48000 * 1e6, 48000, 240, 115.0),
        (-100.0, 48000, 240, -1152.0),
        (0.0, 48000, 240, 0.0),
    ],
)
def test_drift_is_read_within_a_tenth_of_a_part_per_million(
    ppm: float, rate: int, over_s: float, slip: float, tmp_path: Path
) -> None:
    """Read in 40 s; slip = ppm·1e-6·T·fs, so 0.1 ppm are 1.15 samples in four minutes at 48 kHz."""
    t = np.arange(rate * 40) / rate
    print_samples = _swelling(t / (1 + ppm * 1e-6) - 20 / rate)
    alignment = _aligned(print_samples, _by_its_own_clock(rate), tmp_path, rate)
    assert alignment.drift_ppm is not None
    name = f"drift of {ppm:.4g} ppm at {rate / 1000:g} kHz"
    DELAY.hold(f"{name}, ppm", alignment.drift_ppm, ppm, 0.1, source=CLOSED)
    DELAY.hold(
        f"{name}, slip in {over_s / 60:g} min, samples",
        alignment.drift_ppm * 1e-6 * over_s * rate,
        slip,
        0.1e-6 * over_s * rate,
        source=CLOSED,
    )
    assert alignment.delay_samples == pytest.approx(20 * (1 + ppm * 1e-6), abs=0.2)


def test_source_and_print_may_differ_in_rate(tmp_path: Path) -> None:
    """The same 25 ms at 96 kHz are 2400 samples of the print, whatever the source's rate."""
    source = _noise(8) * np.repeat(np.random.default_rng(5).random(80), 4800)
    print_samples = soxr.resample(np.concatenate((np.zeros(1200), source)), RATE, 96000, quality="VHQ")
    at_44 = soxr.resample(source, RATE, 44100, quality="VHQ")
    soundfile.write(tmp_path / "source.wav", at_44, 44100, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", print_samples, 96000, subtype="PCM_24")
    alignment = measure_print(tmp_path / "print.wav", tmp_path / "source.wav").alignment
    assert alignment is not None
    DELAY.hold(
        "25 ms at 96 kHz, source at 44.1 kHz, samples", alignment.delay_samples, 2400.0, 0.1, source=CLOSED
    )

"""Swept sine and distortion against published relations and closed forms.

Farina, AES preprint 5093 (2000), named by ISO 18233:2006 Annex B; IEC 60268-3:2013 for one convention of THD (both read in
secondary sources); Chebyshev identities and Fourier series for the known non-linearities. Tolerances are ours.
"""

import math

import numpy as np
import pytest
from scipy import signal

from app.signal.levels.third_octaves import edges_hz, mid_hz
from app.signal.reference.deconvolution import deconvolve, mean_power, order_response
from app.signal.reference.make import sweep_samples
from app.signal.reference.plan import ExponentialSweep, sweep_between
from app.signal.reference.tone_harmonics import ToneHarmonics, tone_harmonics
from tests.standards.signals import Audio

RATE = 48000


def sweep(from_hz: float, to_hz: float, length_s: float) -> ExponentialSweep:
    return ExponentialSweep(0.0, from_hz, to_hz, length_s / math.log(to_hz / from_hz), 0.0)


def with_rest(samples: Audio, before_s: float = 0.0, after_s: float = 1.0) -> Audio:
    return np.concatenate((np.zeros(round(before_s * RATE)), samples, np.zeros(round(after_s * RATE))))


@pytest.mark.parametrize(
    ("length_s", "to_hz", "rate_s", "advances_s"),
    [
        (10, 20_000, 1.447648, (1.003433, 1.590404, 2.006867, 2.329900)),
        (5, 20_000, 0.723824, (0.501717, 0.795202)),
        (4, 6_000, 0.701289, (23332.63 / RATE, 36981.35 / RATE)),
    ],
)
def test_harmonics_come_l_ln_n_earlier(
    length_s: float, to_hz: float, rate_s: float, advances_s: tuple[float, ...]
) -> None:
    """Farina 2000: L = T / ln(f2/f1), advance L·ln(n)."""
    made = sweep(20, to_hz, length_s)
    assert made.rate_s == pytest.approx(rate_s, abs=5e-7)
    assert made.length_s == pytest.approx(length_s)
    for order, advance_s in enumerate(advances_s, 2):
        assert made.harmonic_advance_s(order) == pytest.approx(advance_s, abs=5e-7)


def test_the_samples_are_farinas_formula() -> None:
    made = sweep(20, 6000, 4)
    t = np.arange(4 * RATE) / RATE
    formula = np.sin(2 * np.pi * 20 * made.rate_s * (np.exp(t / made.rate_s) - 1))
    whole = slice(round(0.11 * RATE), round(3.98 * RATE))
    assert sweep_samples(made, RATE)[whole] == pytest.approx(formula[whole], abs=1e-9)


@pytest.mark.parametrize("about_s", [3.0, 8.0, 20.0])
def test_a_synchronised_sweep_begins_its_harmonics_on_whole_turns(about_s: float) -> None:
    """f1·L is whole, so that its second harmonic is the sweep itself, L·ln(2) earlier, sign for sign."""
    made = sweep_between(20, 20_000, about_s)
    assert made.from_hz * made.rate_s == pytest.approx(round(made.from_hz * made.rate_s), abs=1e-9)
    assert made.length_s == pytest.approx(about_s, rel=0.07)
    t = np.linspace(0.2, about_s / 3, 50)
    phase = 2 * np.pi * made.from_hz * made.rate_s
    second = np.sin(2 * phase * (np.exp(t / made.rate_s) - 1))
    later = t + made.harmonic_advance_s(2)
    assert second == pytest.approx(np.sin(phase * (np.exp(later / made.rate_s) - 1)), abs=1e-6)


def test_division_agrees_with_farinas_inverse_filter() -> None:
    """The time-reversed sweep times exp(-t/L), 6.02 dB per octave: 60 dB over three decades; the same arrival."""
    made = sweep(20, 20_000, 3)
    sent = sweep_samples(made, RATE)
    falling = np.exp(-np.arange(len(sent)) / RATE / made.rate_s)
    assert 20 * math.log10(falling[0] / falling[-1]) == pytest.approx(60, abs=0.01)
    print_samples = with_rest(sent, before_s=0.01)
    by_filter = signal.oaconvolve(print_samples, sent[::-1] * falling)
    by_division = deconvolve(print_samples, made, RATE).response
    assert int(np.argmax(by_filter)) - (len(sent) - 1) == int(np.argmax(by_division)) == 480


def test_harmonic_responses_stand_where_they_should() -> None:
    """y = x + 0.12·x² + 0.08·x³, 20 Hz to 6 kHz in 4 s at 48 kHz: 23332.63 and 36981.35 samples early, ±1."""
    made = sweep(20, 6000, 4)
    x = with_rest(sweep_samples(made, RATE))
    response = deconvolve(x + 0.12 * x**2 + 0.08 * x**3, made, RATE).response
    for samples in (23332.63, 36981.35):
        around = len(response) - round(samples) + np.arange(-2000, 2000)
        envelope = np.abs(signal.hilbert(response[around]))  # a second harmonic stands in quadrature
        assert int(around[np.argmax(envelope)]) == pytest.approx(len(response) - samples, abs=1)
    assert int(np.argmax(np.abs(response))) == 0


def test_a_known_polynomial_has_the_harmonics_of_chebyshevs_identities() -> None:
    """H1 = 1 + 3·0.08/4 = 1.06, H2 = 0.12/2 = 0.06, H3 = 0.08/4 = 0.02, ±1 %; THD 0.059666 = -24.486 dB."""
    made = sweep_between(20, 20_000, 4)
    x = with_rest(sweep_samples(made, RATE))
    deconvolved = deconvolve(x + 0.12 * x**2 + 0.08 * x**3, made, RATE)
    for hz in (100, 500, 2000):
        amplitudes = [
            math.sqrt(
                mean_power(order_response(deconvolved, 0.0, order), order * hz * 0.95, order * hz * 1.05)
            )
            for order in (1, 2, 3)
        ]
        assert amplitudes == pytest.approx([1.06, 0.06, 0.02], rel=0.01)
        thd = math.hypot(*amplitudes[1:]) / amplitudes[0]
        assert thd == pytest.approx(0.059666, rel=0.01)
        assert 20 * math.log10(thd) == pytest.approx(-24.486, abs=0.09)


def test_a_chain_that_changes_nothing_has_no_harmonics() -> None:
    made = sweep_between(20, 20_000, 4)
    deconvolved = deconvolve(with_rest(sweep_samples(made, RATE)), made, RATE)
    assert int(np.argmax(np.abs(deconvolved.response))) == 0
    for order in (2, 3, 4, 5):
        assert 10 * math.log10(mean_power(order_response(deconvolved, 0.0, order), 1000, 2000)) < -60


def test_the_response_of_a_known_filter_is_read() -> None:
    """A peak and a shelf-like low-pass, from 25 Hz to 16 kHz, within 0.1 dB of their closed form (scipy's sosfreqz)."""
    sections = np.concatenate(
        [signal.butter(2, 3000, fs=RATE, output="sos"), signal.butter(2, 60, "high", fs=RATE, output="sos")]
    )
    made = sweep_between(20, 20_000, 4)
    print_samples = signal.sosfilt(sections, with_rest(sweep_samples(made, RATE)))
    linear = order_response(deconvolve(print_samples, made, RATE), 0.0, 1)
    for index in range(-15, 13):
        low, high = edges_hz(mid_hz(index))
        _, exact = signal.sosfreqz(sections, np.linspace(low, high, 400), fs=RATE)
        expected = 10 * math.log10(float(np.mean(np.abs(exact) ** 2)))
        assert 10 * math.log10(mean_power(linear, low, high)) == pytest.approx(expected, abs=0.1), index


def test_twice_the_length_is_3_db_less_noise() -> None:
    """ISO 18233:2006, B.6: +3.01 dB of signal to noise for each doubling."""
    noise = np.random.default_rng(1).standard_normal(10 * RATE)
    levels = []
    for length_s in (3.0, 6.0):
        made = sweep(20, 20_000, length_s)
        response = deconvolve(noise[: round((length_s + 1) * RATE)], made, RATE).response
        levels.append(10 * math.log10(float(np.mean(response[: RATE // 2] ** 2))))
    assert levels[0] - levels[1] == pytest.approx(3.01, abs=0.5)


def test_thd_is_of_the_fundamental() -> None:
    """Amplitudes 1, 0.1, 0.05, 0.02: 0.113578 of the fundamental (data-sheet practice); of the whole it would be 0.112853
    (IEC 60268-3, 14.12.3.2)."""
    harmonics = ToneHarmonics((1.0, 0.1, 0.05, 0.02), 0.0)
    assert harmonics.thd_fundamental() == pytest.approx(0.113578, abs=1e-6)


def test_a_clipped_sine() -> None:
    """At ±0.7, 48 samples a period, harmonics to 10: THD 0.137945 of the fundamental; odd orders only."""
    x = np.clip(np.sin(2 * np.pi * np.arange(RATE // 2) / 48), -0.7, 0.7)
    harmonics = tone_harmonics(x, 1000, RATE)
    assert harmonics.thd_fundamental() == pytest.approx(0.137945, abs=1e-5)
    assert [own is None for own in harmonics.amplitudes] == [False, True] * 5


@pytest.mark.parametrize("hz", [215.0, 1000.3])
def test_harmonics_of_a_tone_are_read_exactly(hz: float) -> None:
    """y = x + 0.12·x² + 0.08·x³ of a unit sine, whatever its frequency."""
    x = np.sin(2 * np.pi * hz * np.arange(RATE // 2) / RATE)
    harmonics = tone_harmonics(x + 0.12 * x**2 + 0.08 * x**3, hz, RATE)
    assert harmonics.amplitudes[:3] == pytest.approx((1.06, 0.06, 0.02), abs=1e-4)
    assert harmonics.thd_fundamental() == pytest.approx(0.059666, abs=1e-4)


def test_noise_is_no_harmonic() -> None:
    """40 tones in noise: of 360 amplitudes of noise alone none is taken for a harmonic."""
    random = np.random.default_rng(3)
    tone = 0.1 * np.sin(2 * np.pi * 215 * np.arange(round(0.44 * RATE)) / RATE)
    claimed = 0
    for _ in range(40):
        harmonics = tone_harmonics(tone + 0.003 * random.standard_normal(len(tone)), 215, RATE)
        assert harmonics.amplitudes[0] == pytest.approx(0.1, abs=0.001)
        claimed += sum(own is not None for own in harmonics.amplitudes[1:])
    assert claimed == 0

"""True peak against EBU Tech 3341 Table 1, cases 15 to 23, and ITU-R BS.1770 Annex 2.

The tolerance of the standard, +0.2/-0.4 dB, holds at three sample rates. Levels were read in public implementations
that cite the table; closed-form rows follow from the definitions.
"""

import math

import numpy as np
import pytest

from app.signal.levels.true_peak import TruePeak, interpolation_phases, oversampling
from tests.standards.rows import TRUE_PEAK
from tests.standards.signals import Audio

RATES = (44100, 48000, 96000)
TECH_3341 = "EBU Tech 3341, Table 1"
CLOSED = "closed form"


def _dbtp(samples: Audio, rate: int, block: int = 4800) -> float:
    meter = TruePeak(rate)
    for start in range(0, len(samples), block):
        meter.feed(samples[start : start + block].astype(np.float32))
    return 20 * math.log10(meter.finish())


def _faded(samples: Audio, rate: int) -> Audio:
    count = round(0.01 * rate)
    ramp = np.minimum(1, np.arange(len(samples)) / count)
    return samples * ramp * ramp[::-1]


def _case(divisor: int, amplitude: float, degrees: float, rate: int) -> Audio:
    turns = 2 * np.pi * np.arange(rate) / divisor + math.radians(degrees)
    return _faded(amplitude * np.sin(turns), rate)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize(
    ("case", "divisor", "amplitude", "degrees", "expected", "between_db"),
    [
        (15, 4, 0.50, 0, -6.0, 0.0),
        (16, 4, 0.50, 45, -6.0, -3.010),
        (17, 6, 0.50, 60, -6.0, -1.249),
        (18, 8, 0.50, 67.5, -6.0, -0.688),
        (19, 4, 1.41, 45, 3.0, -3.010),
    ],
)
def test_tech_3341_cases_15_to_19(
    case: int, divisor: int, amplitude: float, degrees: float, expected: float, between_db: float, rate: int
) -> None:
    """The samples themselves lie lower by `between_db`, as the table has it."""
    samples = _case(divisor, amplitude, degrees, rate)
    dbtp = _dbtp(samples, rate)
    TRUE_PEAK.hold(f"Tech 3341 case {case}, three rates", dbtp, expected, (0.4, 0.2), source=TECH_3341)
    TRUE_PEAK.hold(
        f"Tech 3341 case {case}, three rates", dbtp, 20 * math.log10(amplitude), 0.05, source=CLOSED
    )
    sample_peak = 20 * math.log10(np.abs(samples).max())
    assert sample_peak == pytest.approx(20 * math.log10(amplitude) + between_db, abs=0.01)


def _burst(offset: int, rate: int) -> Audio:
    """At four times the rate, a sine of fs/6 at 0.5 with one period of fs/4 at 1.0, low-passed, every fourth kept."""
    before = 0.5 * np.sin(2 * np.pi * np.arange(24 * 2000) / 24)
    high = np.concatenate((before, np.sin(2 * np.pi * np.arange(16) / 16), before))
    high = _faded(high, 4 * rate)
    spectrum = np.fft.rfft(high)
    spectrum[np.fft.rfftfreq(len(high)) > 0.125] = 0
    return np.fft.irfft(spectrum, len(high))[offset::4]


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize(
    ("case", "offset", "sample_peak"), [(20, 0, -0.13), (21, 1, -0.46), (22, 2, -2.50), (23, 3, -0.46)]
)
def test_tech_3341_cases_20_to_23(case: int, offset: int, sample_peak: float, rate: int) -> None:
    """The construction gives the published sample peaks; the true peak is the same whichever sample is kept."""
    samples = _burst(offset, rate)
    dbtp = _dbtp(samples, rate)
    name = f"Tech 3341 case {case}, three rates"
    TRUE_PEAK.hold(name, dbtp, 0.0, (0.4, 0.2), source=TECH_3341)
    TRUE_PEAK.hold(name, dbtp, -0.13, 0.1, source=CLOSED)
    made = 20 * math.log10(np.abs(samples).max())
    TRUE_PEAK.hold(f"{name}: sample peak as made", made, sample_peak, 0.05, source="the official files' own")


def test_without_oversampling_a_peak_between_samples_is_missed() -> None:
    """fs/4 at 45°, full scale: sample peak -3.01, true peak 0.0."""
    samples = _case(4, 1.0, 45, 48000)
    sample_peak = 20 * math.log10(np.abs(samples).max())
    TRUE_PEAK.hold("fs/4 at 45°, full scale: sample peak", sample_peak, -3.01, 0.01, source=CLOSED)
    TRUE_PEAK.hold("fs/4 at 45°, full scale: true peak", _dbtp(samples, 48000), 0.0, 0.05, source=CLOSED)


@pytest.mark.parametrize(("share", "bound"), [(0.25, -0.169), (0.45, -0.554)])
def test_four_times_oversampling_under_reads_by_no_more_than_the_published_bound(
    share: float, bound: float
) -> None:
    """20·log10(cos(π·f/(fs·n))), n = 4, here with the phase of a worst case. At fs/2 a sine has no level of its own."""
    worst = min(
        _dbtp(_faded(np.cos(2 * np.pi * share * (np.arange(24000) - offset)), 48000), 48000)
        for offset in np.linspace(0, 0.25, 9)
    )
    TRUE_PEAK.hold(
        f"full scale at {share:g} fs, lowest reading over nine phases: no more than {-bound:g} low",
        worst,
        0.0,
        (-bound, 0.05),
        source="BS.1770, Annex 2, attachment 1",
    )


def test_leaving_out_rows_is_exact() -> None:
    noise = np.random.default_rng(4).standard_normal(30000) * np.repeat(np.linspace(0.01, 0.3, 30), 1000)
    phases = interpolation_phases(oversampling(48000))
    every = [np.convolve(np.pad(noise, 32), taps[::-1]) for taps in phases.astype(np.float64)]
    expected = max(np.abs(noise).max(), *(np.abs(curve).max() for curve in every))
    assert _dbtp(noise, 48000) == pytest.approx(20 * math.log10(expected), abs=1e-4)


def test_the_peak_does_not_depend_on_where_blocks_end() -> None:
    samples = _case(4, 0.9, 45, 48000)
    assert _dbtp(samples, 48000, 4800) == pytest.approx(_dbtp(samples, 48000, 1237), abs=1e-5)

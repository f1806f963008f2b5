"""One-third-octave bands against IEC 61260-1:2014 (base ten) and closed forms.

Band limits and labels were read in public implementations that cite the clauses.
"""

import math
from pathlib import Path

import numpy as np
import pytest

from app.signal.bands import NOMINAL_HZ, RELATIVE_BANDWIDTH, band_mids_hz, edges_hz, mid_hz
from tests.standards.signals import Audio, measured, tone

TABLE = {
    20: (19.953, 17.783, 22.387),
    25: (25.119, 22.387, 28.184),
    31.5: (31.623, 28.184, 35.481),
    40: (39.811, 35.481, 44.668),
    50: (50.119, 44.668, 56.234),
    63: (63.096, 56.234, 70.795),
    80: (79.433, 70.795, 89.125),
    100: (100.0, 89.125, 112.202),
    125: (125.893, 112.202, 141.254),
    160: (158.489, 141.254, 177.828),
    200: (199.526, 177.828, 223.872),
    250: (251.189, 223.872, 281.838),
    315: (316.228, 281.838, 354.813),
    400: (398.107, 354.813, 446.684),
    500: (501.187, 446.684, 562.341),
    630: (630.957, 562.341, 707.946),
    800: (794.328, 707.946, 891.251),
    1000: (1000.0, 891.251, 1122.018),
    1250: (1258.925, 1122.018, 1412.538),
    1600: (1584.893, 1412.538, 1778.279),
    2000: (1995.262, 1778.279, 2238.721),
    2500: (2511.886, 2238.721, 2818.383),
    3150: (3162.278, 2818.383, 3548.134),
    4000: (3981.072, 3548.134, 4466.836),
    5000: (5011.872, 4466.836, 5623.413),
    6300: (6309.573, 5623.413, 7079.458),
    8000: (7943.282, 7079.458, 8912.509),
    10000: (10000.0, 8912.509, 11220.185),
    12500: (12589.254, 11220.185, 14125.375),
    16000: (15848.932, 14125.375, 17782.794),
    20000: (19952.623, 17782.794, 22387.211),
}


def test_mid_bands_and_edges_are_the_published_ones() -> None:
    """IEC 61260-1:2014 eqs. 2, 4, 5; labels by its Annex E. Exact to 0.001 Hz."""
    assert list(TABLE) == list(NOMINAL_HZ)
    for index, (mid, lower, upper) in enumerate(TABLE.values()):
        assert mid_hz(index - 17) == pytest.approx(mid, abs=0.0006)
        assert edges_hz(mid_hz(index - 17)) == pytest.approx((lower, upper), abs=0.0006)


def test_bands_meet_and_have_the_relative_width_of_base_ten() -> None:
    for index in range(-17, 13):
        assert edges_hz(mid_hz(index))[1] == pytest.approx(edges_hz(mid_hz(index + 1))[0], rel=1e-9)
    assert pytest.approx(0.230768, abs=1e-6) == RELATIVE_BANDWIDTH
    assert mid_hz(13) == pytest.approx(19952.62, abs=0.01)


def test_the_20_khz_band_is_left_out_at_44_1_khz() -> None:
    assert len(band_mids_hz(44100)) == 30
    assert len(band_mids_hz(48000)) == 31


def _levels(samples: Audio, folder: Path, rate: int = 48000) -> dict[float, float]:
    found = measured(samples, folder, rate)
    return {band.nominal_hz: band.level_dbfs for band in found.bands if band.level_dbfs is not None}


def test_white_noise_rises_one_decibel_a_band(tmp_path: Path) -> None:
    """10·log10(10^0.1); slope 1.00 ±0.03, each band within ±0.5 dB from 50 Hz (ours), wider below."""
    noise = np.random.default_rng(7).standard_normal(48000 * 60) * 0.1
    levels = _levels(noise, tmp_path)
    hz = [label for label in levels if label <= 16000]
    index = np.array([NOMINAL_HZ.index(label) for label in hz])
    values = np.array([levels[label] for label in hz])
    slope, offset = np.polyfit(index, values, 1)
    assert slope == pytest.approx(1.0, abs=0.03)
    deviation = np.abs(values - slope * index - offset)
    assert deviation[np.array(hz) >= 50].max() < 0.5
    assert deviation.max() < 1.0
    assert levels[1000] - levels[100] == pytest.approx(10.0, abs=0.5)


def test_pink_noise_is_flat(tmp_path: Path) -> None:
    """Equal power per relative bandwidth: slope 0.0 ±0.03 dB a band (ours)."""
    spectrum = np.fft.rfft(np.random.default_rng(8).standard_normal(48000 * 60))
    spectrum[1:] /= np.sqrt(np.arange(1, len(spectrum)))
    spectrum[0] = 0
    noise = np.fft.irfft(spectrum)
    levels = _levels(noise / np.abs(noise).max() * 0.5, tmp_path)
    values = np.array([level for label, level in levels.items() if label <= 16000])
    assert np.polyfit(np.arange(len(values)), values, 1)[0] == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize("rate", [44100, 48000, 96000, 192000])
@pytest.mark.parametrize("hz", [25.119, 100.0, 1000.0, 10000.0])
def test_a_tone_reads_its_rms_level_in_its_own_band(hz: float, rate: int, tmp_path: Path) -> None:
    """Closed form: a sine of -20 dBFS peak has -23.01 dB rms; ±0.1 dB (ours)."""
    levels = _levels(tone([(10, -20)], hz=hz, rate=rate), tmp_path, rate)
    loudest = max(levels, key=lambda label: levels[label])
    assert mid_hz(NOMINAL_HZ.index(loudest) - 17) == pytest.approx(hz, rel=0.001)
    assert levels[loudest] == pytest.approx(-23.01, abs=0.1)


def test_the_bands_together_hold_the_power_of_the_signal(tmp_path: Path) -> None:
    noise = np.random.default_rng(9).standard_normal(48000 * 20) * 0.1
    spectrum = np.fft.rfft(noise)
    hz = np.fft.rfftfreq(len(noise), 1 / 48000)
    spectrum[(hz < 30) | (hz > 18000)] = 0
    samples = np.fft.irfft(spectrum)
    found = measured(samples, tmp_path)
    total = sum(10 ** (band.level_dbfs / 10) for band in found.bands if band.level_dbfs is not None)
    assert found.level.rms_dbfs is not None
    assert 10 * math.log10(total) == pytest.approx(found.level.rms_dbfs, abs=0.02)


def test_equal_bands_sum_as_powers() -> None:
    """+4.77 dB for three, +14.91 for 31."""
    assert 10 * math.log10(3) == pytest.approx(4.77, abs=0.005)
    assert 10 * math.log10(31) == pytest.approx(14.91, abs=0.005)


def test_three_thirds_make_the_octave(tmp_path: Path) -> None:
    """Exact edges: the octave at 1 kHz is the thirds at 800, 1000 and 1250; ±0.05 dB against a direct sum (ours)."""
    noise = np.random.default_rng(10).standard_normal(48000 * 30) * 0.1
    levels = _levels(noise, tmp_path)
    thirds = 10 * math.log10(sum(10 ** (levels[label] / 10) for label in (800, 1000, 1250)))
    power = np.abs(np.fft.rfft(noise)) ** 2 * 2 / len(noise) ** 2
    hz = np.fft.rfftfreq(len(noise), 1 / 48000)
    inside = (hz >= 1000 * 10**-0.15) & (hz < 1000 * 10**0.15)
    assert thirds == pytest.approx(10 * math.log10(power[inside].sum()), abs=0.05)


def test_short_material_says_which_bands_are_uncertain(tmp_path: Path) -> None:
    found = measured(np.random.default_rng(11).standard_normal(24000) * 0.1, tmp_path)
    assert any("uncertain" in note for note in found.notes)
    unknown = {band.nominal_hz for band in found.bands if band.level_dbfs is None}
    assert unknown == {hz for hz in (20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0) if hz * 0.2308 * 0.5 < 1}

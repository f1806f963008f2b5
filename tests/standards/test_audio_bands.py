"""One-third-octave bands against IEC 61260-1:2014 (base ten) and closed forms.

Band limits and labels were read in public implementations that cite the clauses.
"""

import math
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile

from app.signal.figures import PrintFigures
from app.signal.levels.bands import RELATIVE_BANDWIDTH, band_mids_hz, skirt_matrix
from app.signal.levels.third_octaves import NOMINAL_HZ, edges_hz, mid_hz
from tests.machine import LOOPS
from tests.standards.rows import BANDS
from tests.standards.signals import Audio, measured, tone

IEC_61260 = "IEC 61260-1:2014"
CLOSED = "closed form"

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
    """Exact to 0.001 Hz."""
    assert list(TABLE) == list(NOMINAL_HZ)
    for index, table in enumerate(TABLE.values()):
        mid = mid_hz(index - 17)
        BANDS.hold(
            "mid-band and edges, Hz",
            (mid, *edges_hz(mid)),
            table,
            0.0006,
            source=f"{IEC_61260}, eqs. 2, 4, 5",
        )


def test_labels_are_the_published_ones() -> None:
    BANDS.hold("labels of 31 bands, Hz", NOMINAL_HZ, tuple(TABLE), source=f"{IEC_61260}, Annex E")


def test_an_octave_is_base_ten() -> None:
    BANDS.hold("octave ratio", mid_hz(3) / mid_hz(0), 1.995262315, 1e-9, source=f"{IEC_61260}, 5.2, eq. 1")
    BANDS.hold("band 13, Hz; base two would be 20158.74", mid_hz(13), 19952.62, 0.01, source=IEC_61260)


def test_bands_meet_and_have_the_relative_width_of_base_ten() -> None:
    for index in range(-17, 13):
        gap = edges_hz(mid_hz(index))[1] / edges_hz(mid_hz(index + 1))[0]
        BANDS.hold("upper edge over the next band's lower", gap, 1.0, 1e-9, source=CLOSED)
    low, high = edges_hz(mid_hz(0))
    BANDS.hold("relative bandwidth", RELATIVE_BANDWIDTH, 0.230768, 1e-6, source=CLOSED)
    BANDS.hold("Q of a band", mid_hz(0) / (high - low), 4.33337, 1e-5, source=CLOSED)


def test_the_20_khz_band_is_left_out_at_44_1_khz() -> None:
    for rate, count in ((44100, 30), (48000, 31)):
        BANDS.hold(f"bands at {rate / 1000:g} kHz", len(band_mids_hz(rate)), count, source=CLOSED)


def _levels_of(found: PrintFigures) -> dict[float, float]:
    return {band.nominal_hz: band.level_dbfs for band in found.bands if band.level_dbfs is not None}


def _levels(samples: Audio, folder: Path, rate: int = 48000) -> dict[float, float]:
    return _levels_of(measured(samples, folder, rate))


def _white(seconds: float, seed: int) -> Audio:
    return np.random.default_rng(seed).standard_normal(round(48000 * seconds)) * 0.1


def _pink(seconds: float, seed: int) -> Audio:
    spectrum = np.fft.rfft(_white(seconds, seed))
    spectrum[1:] /= np.sqrt(np.arange(1, len(spectrum)))
    spectrum[0] = 0
    noise = np.fft.irfft(spectrum)
    return noise / np.abs(noise).max() * 0.5


def _within(noise: Audio, low_hz: float, high_hz: float) -> Audio:
    spectrum = np.fft.rfft(noise)
    hz = np.fft.rfftfreq(len(noise), 1 / 48000)
    spectrum[(hz < low_hz) | (hz > high_hz)] = 0
    return np.fft.irfft(spectrum)


def test_white_noise_rises_one_decibel_a_band_and_pink_noise_does_not(tmp_path: Path) -> None:
    """60 s, 20 Hz to 16 kHz: slope ±0.03 dB, each band within ±0.5 dB from 50 Hz, ±1 dB below (ours).

    The random error of a band of noise is 4.34/√(B·T) dB, one standard deviation: over all bands of both, deviations
    from their slope have to be as large as that, give or take three standard deviations of such an estimate.
    """
    in_sigmas: list[float] = []
    for colour, noise, slope_db in (("white", _white(60, 7), 1.0), ("pink", _pink(60, 8), 0.0)):
        levels = _levels(noise, tmp_path)
        hz = np.array([label for label in levels if label <= 16000])
        values = np.array([levels[label] for label in hz.tolist()])
        index = np.arange(len(hz))
        slope = float(np.polyfit(index, values, 1)[0])
        BANDS.hold(f"{colour} noise, 60 s: slope, dB a band", slope, slope_db, 0.03, source=CLOSED)
        deviations = values - slope_db * index
        deviations -= deviations[hz >= 1000].mean()
        in_sigmas += (deviations / (10 / math.log(10) / np.sqrt(hz * 0.230768 * 60))).tolist()
        for label, deviation in zip(hz.tolist(), deviations.tolist(), strict=True):
            BANDS.hold(
                f"{colour} noise, 60 s: a band {'from' if label >= 50 else 'below'} 50 Hz, off its slope",
                deviation,
                0.0,
                0.5 if label >= 50 else 1.0,
                source=CLOSED,
            )
        if colour == "white":
            BANDS.hold(
                "white noise: 1 kHz band above 100 Hz band, dB",
                levels[1000] - levels[100],
                10.0,
                0.5,
                source=CLOSED,
            )
    BANDS.hold(
        f"random error of {len(in_sigmas)} bands of noise, in 4.34/√(B·T) dB",
        float(np.sqrt(np.mean(np.square(in_sigmas)))),
        1.0,
        3 / math.sqrt(2 * len(in_sigmas)),
        source="Bendat and Piersol, Random Data",
    )


@pytest.mark.parametrize("rate", [44100, 48000, 96000, 192000])
@pytest.mark.parametrize("hz", [25.119, 100.0, 1000.0, 10000.0])
def test_a_tone_reads_its_rms_level_in_its_own_band(hz: float, rate: int, tmp_path: Path) -> None:
    """A sine of -20 dBFS peak has -23.01 dB rms; ±0.1 dB (ours)."""
    levels = _levels(tone([(4, -20)], hz=hz, rate=rate), tmp_path, rate)
    loudest = max(levels, key=lambda label: levels[label])
    assert mid_hz(NOMINAL_HZ.index(loudest) - 17) == pytest.approx(hz, rel=0.001)
    BANDS.hold("tone of -20 dBFS peak in its band, four rates", levels[loudest], -23.01, 0.1, source=CLOSED)


# Limits of attenuation in dB, class 1, at frequencies of an octave filter (Table 1), from memory; those of a third-octave filter
# lie where 5.10 puts them.
CLASS_1 = (
    (0.0, -0.4, 0.4),
    (1 / 8, -0.4, 0.5),
    (1 / 4, -0.4, 0.7),
    (3 / 8, -0.4, 1.4),
    (0.4999, -0.4, 5.3),
    (0.5001, 1.6, math.inf),
    (1.0, 16.6, math.inf),
    (2.0, 40.5, math.inf),
    (3.0, 60.0, math.inf),
    (4.0, 70.0, math.inf),
)
OCTAVE = 10**0.3


@pytest.mark.parametrize(("octaves", "least_db", "most_db"), CLASS_1)
def test_the_skirts_lie_within_class_1(octaves: float, least_db: float, most_db: float) -> None:
    third = (OCTAVE ** (1 / 6) - 1) / (OCTAVE**0.5 - 1)
    for up in (1 + third * (OCTAVE**octaves - 1), 1 / (1 + third * (OCTAVE**octaves - 1))):
        gain = float(skirt_matrix([1000.0], 2, 1000.0 * up)[1, 0])
        assert least_db <= -10 * math.log10(gain) <= most_db


@pytest.mark.parametrize("loop", ["beats/break01.ogg", "bassloops/techno_bass01.ogg"])
def test_music_reads_as_in_a_filter_bank(loop: str, tmp_path: Path) -> None:
    """Butterworth filters of six poles, run over four times as many samples, for a digital filter's skirts bend near half the rate."""
    samples, rate = soundfile.read(LOOPS / loop, always_2d=True)
    part = samples.mean(axis=1) / np.abs(samples).max()
    levels = _levels(part, tmp_path, rate)
    loudest = max(levels.values())
    finer = scipy.signal.resample(np.concatenate((part, np.zeros(rate))), 4 * (len(part) + rate))
    for label in (label for label, level in levels.items() if 100 <= label <= 8000 and level > loudest - 40):
        edges = edges_hz(mid_hz(NOMINAL_HZ.index(label) - 17))
        passed = scipy.signal.sosfilt(scipy.signal.butter(3, edges, "band", fs=4 * rate, output="sos"), finer)
        expected = 10 * math.log10(float(passed @ passed) / 4 / len(part))
        BANDS.hold(
            "music, each band against a filter bank, dB",
            levels[label],
            expected,
            0.3,
            source="Butterworth, six poles",
        )


def test_the_bands_together_hold_the_power_of_the_signal(tmp_path: Path) -> None:
    """And of noise a little more, for their skirts overlap: (π/6)/sin(π/6), the integral of 1/(1 + x^6), is 0.2 dB."""
    figures = measured(_within(_white(20, 9), 30, 18000), tmp_path)
    assert figures.level.rms_dbfs is not None
    total = 10 * math.log10(sum(10 ** (level / 10) for level in _levels_of(figures).values()))
    overlap_db = 10 * math.log10((math.pi / 6) / math.sin(math.pi / 6))
    BANDS.hold(
        "sum of all bands, against the rms, dB",
        total,
        figures.level.rms_dbfs + overlap_db,
        0.02,
        source=CLOSED,
    )


def test_a_tone_in_every_band_adds_what_skirts_let_through(tmp_path: Path) -> None:
    """By 1/(1 + x^6) a filter passes 1.5 % of a tone that stands in the middle of the next."""
    mids = [mid_hz(n) for n in range(-17, 14)]
    t = np.arange(48000 * 20) / 48000
    figures = measured(sum(0.01 * np.sin(2 * np.pi * hz * t + n) for n, hz in enumerate(mids)), tmp_path)
    through = [1 / (1 + ((10 ** (n / 10) - 10 ** (-n / 10)) / 0.230768) ** 6) for n in range(-3, 4)]
    levels = _levels_of(figures)
    for label in [label for label in levels if 40 <= label <= 10_000]:
        BANDS.hold(
            "a tone in every band, what one reads, dBFS",
            levels[label],
            10 * math.log10(0.01**2 / 2 * sum(through)),
            0.05,
            source=CLOSED,
        )


def test_short_material_says_which_bands_are_uncertain(tmp_path: Path) -> None:
    figures = measured(_white(0.5, 11), tmp_path)
    assert any("uncertain" in note for note in figures.notes)
    unknown = {band.nominal_hz for band in figures.bands if band.level_dbfs is None}
    assert unknown == {hz for hz in (20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0) if hz * 0.2308 * 0.5 < 1}

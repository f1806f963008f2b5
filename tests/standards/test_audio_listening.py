"""What is heard on the listening pages, held against ffmpeg's meter, BS.1770's own tables, numpy and null tests."""

import json
import math
import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.desk.listening.auditions import _place
from app.desk.listening.loudness_of_part import Balance, loudness_of_part, matching_gains
from app.desk.passes.leads import Lead
from app.signal.levels.loudness import KWeightedEnergy, channel_weights, measure_loudness
from app.signal.listening.audition import LOUDNESS_FILE, build_audition, read_segment
from app.signal.listening.figures import AuditionFigures, HopPowers, hop_powers_from_json
from app.signal.listening.hop_powers import TogetherMeter
from app.signal.measure import measure_print

RATE = 48_000
Audio = NDArray[np.float64]


def played(seconds: float, seed: int = 1, rate: int = RATE) -> Audio:
    """Notes that die away at uneven levels, with pauses: something a gate has work with."""
    made = np.random.default_rng(seed)
    at = np.arange(round(0.5 * rate)) / rate
    notes = []
    while len(notes) * 0.5 < seconds:
        hz = made.choice([55.0, 82.4, 110.0, 164.8, 220.0])
        level = made.choice([0.002, 0.1, 0.2, 0.4])
        partials = (np.sin(2 * np.pi * hz * n * at + made.uniform(0, 6)) / n for n in range(1, 20))
        note = level * np.exp(-6 * at) * np.sum(list(partials), axis=0)
        notes.append(note * np.minimum(1, at * 500))
    return np.concatenate(notes)[: round(seconds * rate)] * 0.5


def ffmpeg_lufs(samples: Audio, folder: Path, rate: int = RATE, *, dual_mono: bool = False) -> float:
    """Integrated loudness as ffmpeg's ebur128 filter reads it."""
    path = folder / "excerpt.wav"
    soundfile.write(path, samples, rate, subtype="FLOAT")
    options = "ebur128=framelog=verbose" + (":dualmono=true" if dual_mono else "")
    command = ["ffmpeg", "-nostats", "-i", str(path), "-af", options, "-f", "null", "-"]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    return float(re.findall(r"I:\s+(-?[\d.]+) LUFS", said)[-1])


def audition(
    folder: Path, name: str, samples: Audio, *, delay: float = 0.0, rate: int = RATE, length_s: float
) -> tuple[Path, AuditionFigures]:
    soundfile.write(folder / f"{name}.wav", samples, rate, subtype="FLOAT")
    figures = build_audition(
        folder / f"{name}.wav", folder / name, delay_samples=delay, target_rate=RATE, length_s=length_s
    )
    return folder / name, figures


def heard(made: tuple[Path, AuditionFigures]) -> Audio:
    folder, figures = made
    parts = [read_segment(folder, figures, number) for number in range(figures.segments)]
    return np.concatenate(parts).astype(np.float64).squeeze()


def kept_powers(made: tuple[Path, AuditionFigures]) -> HopPowers:
    return hop_powers_from_json(json.loads((made[0] / LOUDNESS_FILE).read_text()))


def powers_of(*prints: Audio, rate: int = RATE) -> HopPowers:
    two_dimensional = [np.atleast_2d(samples.T).T.astype(np.float32) for samples in prints]
    meter = TogetherMeter(rate, tuple(samples.shape[1] for samples in two_dimensional))
    for start in range(0, len(two_dimensional[0]), 100_003):
        meter.feed([samples[start : start + 100_003] for samples in two_dimensional])
    return meter.figures()


def alone(powers: HopPowers) -> Balance:
    return Balance(powers, (0.0,), (False,))


@pytest.mark.parametrize(("from_s", "to_s"), [(0.0, 20.0), (3.0, 9.0), (7.4, 8.6), (13.1, 20.0)])
def test_the_loudness_of_a_part_is_what_ffmpeg_reads_of_the_audition_files(
    tmp_path: Path, from_s: float, to_s: float
) -> None:
    """ffmpeg's ebur128 filter on the same excerpt; 0.1 LU is what it prints."""
    made = audition(tmp_path, "print", played(21), delay=4800.0, length_s=20.0)
    excerpt = heard(made)[round(from_s * RATE) : round(to_s * RATE)]
    ours = loudness_of_part(alone(kept_powers(made)), from_s, to_s)
    assert ours == pytest.approx(ffmpeg_lufs(excerpt, tmp_path), abs=0.1)


def test_matched_passes_read_equally_loud_in_ffmpeg_even_mono_beside_stereo(tmp_path: Path) -> None:
    """Heard from two loudspeakers a mono file counts on both: ffmpeg's own option for it is used."""
    from_s, to_s = 2.0, 9.5
    mono = audition(tmp_path, "mono", 0.5 * played(12), length_s=12.0)
    wide = np.column_stack((0.1 * played(12), 0.4 * np.tanh(6 * played(12, seed=2))))
    stereo = audition(tmp_path, "stereo", wide, length_s=12.0)
    distorted = audition(tmp_path, "distorted", 3 * np.tanh(9 * played(12)), length_s=12.0)
    all_made = (mono, stereo, distorted)
    balances = [alone(kept_powers(made)) for made in all_made]
    matched = matching_gains(balances, from_s, to_s)
    assert matched.is_gated
    assert max(matched.gains_db) <= 0
    read = []
    for made, gain_db in zip(all_made, matched.gains_db, strict=True):
        part = heard(made)[round(from_s * RATE) : round(to_s * RATE)] * 10 ** (gain_db / 20)
        assert np.abs(part).max() <= 1
        read.append(ffmpeg_lufs(part, tmp_path, dual_mono=part.ndim == 1))
    assert max(read) - min(read) <= 0.1 + 1e-9


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_a_whole_file_reads_as_the_measuring_room_reads_it(rate: int) -> None:
    samples = played(8, rate=rate)
    meter = KWeightedEnergy(rate)
    energies = meter.feed(samples.astype(np.float32))[:, None]
    expected = measure_loudness(energies, channel_weights(1)).integrated_lufs
    assert loudness_of_part(alone(powers_of(samples, rate=rate)), 0, 8) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize(
    ("gains_db", "inverted"),
    [((0.0, 0.0, 0.0), (False, False, False)), ((-3.0, -9.5, 0.0), (False, True, False))],
)
@pytest.mark.parametrize("wide", [False, True])
def test_the_loudness_of_any_balance_is_that_of_the_sum_itself(
    gains_db: tuple[float, ...], inverted: tuple[bool, ...], wide: bool
) -> None:
    """The powers of pairs against the sum made with numpy and measured on its own."""
    first = played(6)
    prints = [
        first,
        np.roll(0.7 * first, 30) + 0.1 * played(6, seed=5),
        np.column_stack((0.6 * first, -0.3 * played(6, seed=8))) if wide else 0.2 * np.roll(first, 9),
    ]
    ours = loudness_of_part(Balance(powers_of(*prints), gains_db, inverted), 1.0, 5.0)
    both = [samples if samples.ndim == 2 else np.column_stack((samples, samples)) for samples in prints]
    gains = [
        10 ** (gain / 20) * (-1 if turned else 1) for gain, turned in zip(gains_db, inverted, strict=True)
    ]
    together = np.sum([gain * samples for gain, samples in zip(gains, both, strict=True)], axis=0)
    summed = together if wide else together[:, 0]
    expected = loudness_of_part(alone(powers_of(summed)), 1.0, 5.0)
    assert ours == pytest.approx(expected, abs=0.001)


def sine(parts: list[tuple[float, float]], hz: float = 1000.0) -> Audio:
    counts = [round(seconds * RATE) for seconds, _ in parts]
    gains = np.repeat([10 ** (level / 20) for _, level in parts], counts)
    return gains * np.sin(2 * np.pi * hz * np.arange(sum(counts)) / RATE)


@pytest.mark.parametrize(
    ("parts", "channels", "hz", "expected", "tolerance"),
    [
        ([(20, 0.0)], 1, 997.0, -3.0103, 0.005),  # BS.1770 Annex 1, the scale's anchor
        ([(5, -18.0)], 2, 1000.0, -17.993, 0.005),  # EBU Tech 3341, 2.9
        ([(10, -23.0), (30, -50.0)], 2, 1000.0, -23.06, 0.02),  # BS.1770 gating, relative gate
        ([(5, -69.7)], 2, 1000.0, -69.69, 0.02),  # BS.1770 gating, just above the absolute gate
        ([(20, -36.0), (20, -23.0), (20, -36.0)], 2, 1000.0, -27.33, 0.02),  # quiet parts that pass the gate
    ],
)
def test_the_anchors_of_the_loudness_scale(
    parts: list[tuple[float, float]], channels: int, hz: float, expected: float, tolerance: float
) -> None:
    """From the pure arithmetic that the server runs: CHECK-VALUES' anchors, computed from BS.1770-5."""
    samples = sine(parts, hz)
    powers = powers_of(samples if channels == 1 else np.column_stack((samples, samples)))
    seconds = sum(length for length, _ in parts)
    assert loudness_of_part(alone(powers), 0, seconds) == pytest.approx(expected, abs=tolerance)


def test_below_the_absolute_gate_and_under_400_ms_there_is_no_loudness() -> None:
    quiet = sine([(5, -70.3)])
    assert loudness_of_part(alone(powers_of(np.column_stack((quiet, quiet)))), 0, 5) is None
    powers = powers_of(sine([(2, -20.0)]))
    assert loudness_of_part(alone(powers), 0.5, 0.8) is None
    assert loudness_of_part(alone(powers), 0.5, 0.9) is not None


def test_the_gain_for_a_fair_comparison() -> None:
    """A at -18.3 and B at -23.9 LUFS: A is lowered by 5.6 dB, B stays (BS.1770's scale is linear in decibels)."""
    balances = [alone(powers_of(sine([(3, level + 3.0036)]))) for level in (-18.3, -23.9)]
    matched = matching_gains(balances, 0, 3)
    assert matched.gains_db == (pytest.approx(-5.6, abs=0.001), 0.0)
    assert matched.loudness_lufs == (pytest.approx(-18.3, abs=0.005), pytest.approx(-23.9, abs=0.005))


@pytest.mark.parametrize(("delay", "deepest_db"), [(255.0, -80.0), (37.25, -50.0), (1000.6, -50.0)])
def test_a_print_that_is_a_delayed_copy_nulls_after_measuring_and_aligning(
    tmp_path: Path, delay: float, deepest_db: float
) -> None:
    """The null test: nothing is known but the two files. -80 dB for a whole delay, -50 dB for a fraction."""
    source = played(20) + 1e-4 * np.random.default_rng(2).standard_normal(20 * RATE)
    size = 2 * len(source)
    turns = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * delay)
    late = np.fft.irfft(np.fft.rfft(source, size) * turns, size)[: len(source) + 4800]
    soundfile.write(tmp_path / "source.wav", source, RATE, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", -late, RATE, subtype="PCM_24")
    alignment = measure_print(tmp_path / "print.wav", tmp_path / "source.wav").alignment
    assert alignment is not None
    assert alignment.polarity == "inverted"
    assert alignment.delay_samples is not None
    lead = Lead(alignment.delay_samples / RATE, alignment.polarity, alignment.drift_ppm or 0.0)
    delay_samples, drift_ppm = _place(lead, RATE, 20.0)
    figures = build_audition(
        tmp_path / "print.wav",
        tmp_path / "made",
        delay_samples=delay_samples,
        drift_ppm=drift_ppm,
        target_rate=RATE,
        length_s=20.0,
    )
    left_over = heard((tmp_path / "made", figures)) + soundfile.read(tmp_path / "source.wav")[0]
    depth_db = 10 * math.log10(np.mean(left_over**2) / np.mean(source**2) + 1e-20)
    print(f"{delay} samples: null at {depth_db:.1f} dB")
    assert depth_db < deepest_db

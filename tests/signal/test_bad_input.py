"""Whatever is handed in: a sentence, or honest figures. Never NaN in JSON, never a traceback, never a made-up number."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.signal.alignment.identify import identify
from app.signal.audio.reading import UnreadableAudio, probe
from app.signal.comparison.match import match
from app.signal.figures import PrintFigures, print_figures_from_json, to_json
from app.signal.measure import measure_print

RATE = 48000
Audio = NDArray[np.float64]


def _noise(seconds: float, seed: int = 1, level: float = 0.1) -> Audio:
    return np.random.default_rng(seed).standard_normal(round(seconds * RATE)) * level


def _measured(path: Path, source: Path | None = None) -> PrintFigures:
    figures = measure_print(path, source)
    text = json.dumps(to_json(figures), allow_nan=False)
    assert print_figures_from_json(json.loads(text)) == figures
    return figures


def _file(
    folder: Path, samples: Audio, name: str = "print.wav", subtype: str = "FLOAT", rate: int = RATE
) -> Path:
    soundfile.write(folder / name, samples, rate, subtype=subtype)
    return folder / name


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"this is a shopping list\n" * 20, "text"),
        (bytes(range(256)) * 4, "not a kind of audio"),
        (b"RIFF\x10\x00\x00\x00WAVEfmt ", "header is damaged"),
        (b"fLaC\x00\x00", "header is damaged"),
    ],
)
def test_what_is_no_audio_is_refused_with_a_sentence(content: bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / "print.wav"
    path.write_bytes(content)
    with pytest.raises(UnreadableAudio, match=words) as refusal:
        measure_print(path)
    assert "“print.wav”" in str(refusal.value)


@pytest.mark.parametrize("rate", [1, 100, 4_000, 7_999, 768_001, 2_000_000])
def test_a_rate_that_no_converter_has_is_refused_with_a_sentence(rate: int, tmp_path: Path) -> None:
    path = _file(tmp_path, _noise(0.05), rate=rate)
    for read in (measure_print, probe):
        with pytest.raises(UnreadableAudio, match=r"samples a second.*8,000 to 768,000"):
            read(path)
    with pytest.raises(UnreadableAudio):
        identify(path, [path])
    with pytest.raises(UnreadableAudio):
        match(path, path, path)


def test_a_file_that_is_not_there_or_a_folder_is_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "nowhere.wav", tmp_path):
        with pytest.raises(UnreadableAudio):
            probe(path)


def test_a_header_without_samples_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadableAudio, match="not one sample"):
        measure_print(_file(tmp_path, np.zeros(0)))


def test_a_recording_whose_header_was_never_finished_says_so(tmp_path: Path) -> None:
    path = _file(tmp_path, _noise(1), subtype="PCM_24")
    content = path.read_bytes()
    at = content.index(b"data") + 4
    path.write_bytes(content[:at] + bytes(4) + content[at + 4 :])
    with pytest.raises(UnreadableAudio, match="cut off before its header was finished"):
        probe(path)


@pytest.mark.parametrize("kind", ["WAV", "RF64", "AIFF", "FLAC"])
def test_half_a_file_is_measured_as_far_as_it_goes(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "print"
    soundfile.write(path, _noise(4), RATE, format=kind, subtype="PCM_24")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    figures = _measured(path)
    assert figures.file.duration_s == pytest.approx(2, abs=0.15)
    assert any("promises 4.00 s" in note for note in figures.notes)
    assert figures.level.rms_dbfs == pytest.approx(-20, abs=0.3)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30])
def test_values_that_are_no_samples_are_refused_with_their_place(value: float, tmp_path: Path) -> None:
    samples = _noise(2)
    samples[RATE + 480] = value
    with pytest.raises(UnreadableAudio, match=r"1\.010 s"):
        measure_print(_file(tmp_path, samples))


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_every_sample_format_reads_the_same_level(subtype: str, tmp_path: Path) -> None:
    tone = 0.5 * np.sin(2 * np.pi * 997 * np.arange(RATE * 2) / RATE)
    figures = _measured(_file(tmp_path, tone, subtype=subtype))
    assert figures.file.subtype == subtype
    assert figures.level.integrated_lufs == pytest.approx(-9.03, abs=0.06)


def test_ten_channels(tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, np.random.default_rng(1).standard_normal((RATE, 10)) * 0.01))
    assert figures.file.channels == 10


@pytest.mark.parametrize("frames", [1, 2, 63, 480, 4000, 19199])
def test_very_short_files_have_no_loudness_but_peaks(frames: int, tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, np.full(frames, 0.25)))
    assert figures.level.integrated_lufs is None
    assert figures.level.sample_peak_dbfs == pytest.approx(-12.04, abs=0.01)
    assert any("shorter than one block of 400 ms" in note for note in figures.notes)
    assert figures.faults.hum is None


@pytest.mark.parametrize("subtype", ["PCM_16", "FLOAT"])
def test_silence(subtype: str, tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, np.zeros(RATE * 3), subtype=subtype))
    assert figures.faults.silent
    level = figures.level
    assert (level.integrated_lufs, level.true_peak_dbtp, level.rms_dbfs, level.crest_db) == (None,) * 4
    assert all(band.level_dbfs is None for band in figures.bands)
    assert figures.faults.noise_floor_dbfs is None
    assert not figures.faults.clipped_runs
    assert not figures.faults.dropouts


def test_direct_current_alone(tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, np.full(RATE * 3, -0.25)))
    assert figures.level.dc_offset == pytest.approx(-0.25, abs=1e-6)
    assert figures.level.integrated_lufs is None or figures.level.integrated_lufs < -35
    assert not figures.faults.clipped_runs
    assert figures.faults.hum is None


def test_one_impulse(tmp_path: Path) -> None:
    samples = np.zeros(RATE * 2)
    samples[RATE] = 0.9
    figures = _measured(_file(tmp_path, samples))
    assert figures.level.sample_peak_dbfs == pytest.approx(-0.915, abs=0.01)
    assert not figures.faults.clipped_runs


@pytest.mark.parametrize("hz", [1.0, 23900.0])
def test_a_sine_at_the_edge_of_hearing(hz: float, tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, 0.5 * np.sin(2 * np.pi * hz * np.arange(RATE * 3) / RATE)))
    assert figures.level.rms_dbfs == pytest.approx(-9.03, abs=0.05)
    assert figures.level.true_peak_dbtp == pytest.approx(-6.02, abs=0.3)
    assert figures.faults.hum is None


def test_denormals_are_silence(tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, np.full(RATE * 2, 1e-40)))
    assert figures.faults.silent
    assert figures.level.integrated_lufs is None


def test_alternating_full_scale_is_no_flat_top(tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, np.tile([1.0, -1.0], RATE)))
    assert not figures.faults.clipped_runs
    assert figures.level.crest_db == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("rate", [8000, 11025, 22050, 47952, 88200, 192000, 768000])
def test_unusual_rates(rate: int, tmp_path: Path) -> None:
    figures = _measured(_file(tmp_path, _noise(32)[: rate * 2], rate=rate))
    assert figures.level.rms_dbfs == pytest.approx(-20, abs=0.2)
    assert figures.level.integrated_lufs is not None


def test_source_shorter_than_the_print_and_the_reverse(tmp_path: Path) -> None:
    long = _noise(12)
    whole = _file(tmp_path, long, "long.wav")
    part = _file(tmp_path, long[4 * RATE : 8 * RATE], "part.wav")
    short_print = _measured(part, whole)
    assert short_print.alignment is not None
    assert short_print.alignment.delay_samples == pytest.approx(-4 * RATE, abs=0.05)
    assert short_print.faults.starts_late_s == pytest.approx(4, abs=0.05)
    assert short_print.faults.ends_early_s == pytest.approx(4, abs=0.05)
    long_print = _measured(whole, part)
    assert long_print.alignment is not None
    assert long_print.faults.ends_early_s in (None, 0.0)
    assert (
        long_print.alignment.delay_samples is None or abs(long_print.alignment.delay_samples - 4 * RATE) < 1
    )


def _tune(seconds: float, seed: int) -> Audio:
    rng = np.random.default_rng(seed)
    steps = np.repeat(rng.random(round(seconds * 8)) ** 3, RATE // 8)
    return _noise(seconds, seed) * steps[: round(seconds * RATE)]


def test_no_overlap_at_all_is_no_print_of_the_source(tmp_path: Path) -> None:
    tune = _tune(12, 3)
    figures = _measured(_file(tmp_path, tune[: 5 * RATE]), _file(tmp_path, tune[7 * RATE :], "source.wav"))
    assert figures.alignment is not None
    assert not figures.alignment.is_of_source
    assert figures.alignment.delay_samples is None
    assert figures.faults.starts_late_s is None


def test_reversed_audio_is_no_print_of_the_source(tmp_path: Path) -> None:
    tune = _tune(10, 4)
    figures = _measured(_file(tmp_path, tune[::-1].copy()), _file(tmp_path, tune, "source.wav"))
    assert figures.alignment is not None
    assert not figures.alignment.is_of_source
    assert figures.alignment.polarity == "unclear"


@pytest.mark.parametrize("silent", ["print", "source"])
def test_silence_is_no_print_of_anything(silent: str, tmp_path: Path) -> None:
    samples = {"print": _noise(4), "source": _noise(4)} | {silent: np.zeros(4 * RATE)}
    figures = _measured(_file(tmp_path, samples["print"]), _file(tmp_path, samples["source"], "source.wav"))
    assert figures.alignment is not None
    assert not figures.alignment.is_of_source
    assert figures.alignment.delay_samples is None


@pytest.mark.parametrize("frames", [1, 100, 5000])
def test_very_short_prints_claim_no_alignment_they_cannot_know(frames: int, tmp_path: Path) -> None:
    noise = _noise(3)
    figures = _measured(_file(tmp_path, noise[:frames]), _file(tmp_path, noise, "source.wav"))
    assert figures.alignment is not None
    assert figures.alignment.confidence < 0.9 or abs(figures.alignment.delay_samples or 0) < 1


def test_channels_that_cancel_are_aligned_by_one_of_them(tmp_path: Path) -> None:
    source = _tune(8, 5)
    late = np.concatenate((np.zeros(100), source))
    figures = _measured(
        _file(tmp_path, np.column_stack((late, -late))), _file(tmp_path, source, "source.wav")
    )
    assert figures.alignment is not None
    assert figures.alignment.delay_samples == pytest.approx(100, abs=0.05)
    assert figures.level.integrated_lufs is not None


def test_source_at_44_1_and_print_at_96(tmp_path: Path) -> None:
    t = np.arange(8 * 192000) / 192000
    swept = np.sin(2 * np.pi * 3000 * t * (1 + 0.3 * t / 8)) * np.repeat(
        np.random.default_rng(6).random(64), 24000
    )
    source, print_samples = swept[np.round(np.arange(8 * 44100) * 192000 / 44100).astype(int)], swept[::2]
    figures = _measured(
        _file(tmp_path, 0.3 * print_samples + 1e-3 * _noise(16, 7)[: len(print_samples)], rate=96000),
        _file(tmp_path, 0.3 * source, "source.wav", rate=44100),
    )
    assert figures.alignment is not None
    assert figures.alignment.confidence <= 0.9 or abs(figures.alignment.delay_samples or 1e9) < 24


def test_identify_and_match_keep_their_tempers(tmp_path: Path) -> None:
    noise = _file(tmp_path, _tune(5, 8), "tune.wav")
    silence = _file(tmp_path, np.zeros(5 * RATE), "silence.wav")
    other = _file(tmp_path, _tune(5, 9), "other.wav")
    assert identify(silence, [noise, other]).best is None
    assert identify(noise, []).best is None
    assert identify(noise, [other, noise, silence]).best == str(noise)
    for recalled in (silence, other):
        figures = match(noise, recalled, noise)
        assert figures.verdict in (None, "different")
        json.dumps(to_json(figures), allow_nan=False)
    with pytest.raises(UnreadableAudio):
        match(noise, tmp_path / "nowhere.wav", noise)

"""What is kept of a source: the same whether it comes from the survey or from a reading of its own."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from app.signal.alignment.features import compute_features, features_of, read_features
from app.signal.alignment.identify import identify
from app.signal.survey import survey_of


def noise(folder: Path, name: str, seed: int, *, seconds: float = 9.3, rate: int = 48000) -> Path:
    """Stereo noise that swells and fades in its own invented way."""
    random = np.random.default_rng(seed)
    count = int(seconds * rate)
    swell = np.interp(np.arange(count), np.linspace(0, count, 60), random.random(60) ** 3)
    soundfile.write(folder / name, 0.2 * swell[:, None] * random.standard_normal((count, 2)), rate)
    return folder / name


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_a_survey_and_a_reading_of_its_own_agree(tmp_path: Path, rate: int) -> None:
    path = noise(tmp_path, "a.wav", 1, rate=rate)
    found, known = survey_of(path), compute_features(path)
    surveyed = features_of(rate, found.file.frames, found.band_mids, found.frames)
    assert (surveyed.samples, len(surveyed.frames)) == (known.samples, len(known.frames))
    np.testing.assert_allclose(surveyed.frames.codes.astype(int), known.frames.codes.astype(int), atol=1)
    assert known.duration_s == pytest.approx(9.3, abs=1e-4)


def test_what_is_kept_is_read_again_and_made_anew_where_it_is_damaged(tmp_path: Path) -> None:
    path, kept = noise(tmp_path, "a.wav", 2), tmp_path / "kept"
    first = read_features(path, kept)
    (file,) = kept.iterdir()
    np.testing.assert_array_equal(read_features(path, kept).frames.codes, first.frames.codes)
    file.write_bytes(file.read_bytes()[:100])
    np.testing.assert_array_equal(read_features(path, kept).frames.codes, first.frames.codes)
    noise(tmp_path, "a.wav", 3)
    assert not np.array_equal(read_features(path, kept).frames.codes, first.frames.codes), "another file"


def test_a_print_is_identified_among_sources_or_as_one_of_none(tmp_path: Path) -> None:
    sources = [noise(tmp_path, f"source {n}.wav", 10 + n) for n in range(3)]
    samples, rate = soundfile.read(sources[1])
    driven = np.concatenate((np.zeros((1234, 2)), np.tanh(6 * samples)))
    soundfile.write(tmp_path / "print.wav", driven, rate)
    identification = identify(tmp_path / "print.wav", sources)
    assert identification.best == str(sources[1])
    assert identification.ranking[0].score > 0.9
    assert identification.ranking[0].delay_samples == pytest.approx(1234, abs=1)
    assert all(entry.score < 0.5 for entry in identification.ranking[1:])
    assert identify(noise(tmp_path, "foreign.wav", 99), sources).best is None

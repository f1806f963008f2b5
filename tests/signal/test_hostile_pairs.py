"""Whatever two files hold, measuring, identifying and matching end with figures or a sentence, never a traceback."""

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from app.signal.alignment.features import features_of
from app.signal.alignment.fine import FineFit
from app.signal.alignment.identify import identify
from app.signal.alignment.place_of_change import Plateau, place_of_change
from app.signal.alignment.segments import Pair
from app.signal.audio.frames import BandFrames
from app.signal.audio.reading import Sound, UnreadableAudio
from app.signal.comparison.match import match
from app.signal.measure import measure_print

RATES = (8000, 11025, 16000)
CHANGES = (
    "twice",
    "loop",
    "reversed",
    "octave",
    "silent middle",
    "skips",
    "very short",
    "foreign",
    "as it is",
)
Samples = NDArray[np.float64]
STRAIGHT = FineFit(0.0, 0.0, 1, 50.0, 0.1, 0.1, 1.0, 1.0, 0.9, 60, 0.9)


def _part(seconds: float, rate: int, seed: int) -> Samples:
    """Decaying notes at uneven times over a little noise."""
    random = np.random.default_rng(seed)
    count = max(1, round(seconds * rate))
    part = 1e-4 * random.standard_normal(count)
    at = 0
    while at < count:
        times_s = np.arange(min(rate // 2, count - at)) / rate
        pitch = 110 * 2 ** (random.integers(0, 24) / 12)
        part[at : at + len(times_s)] += 0.2 * np.exp(-6 * times_s) * np.sin(2 * np.pi * pitch * times_s)
        at += int(rate * random.uniform(0.1, 0.4))
    return part


def _changed(part: Samples, change: str, rate: int) -> Samples:
    third = max(1, len(part) // 3)
    changed = part.copy()
    match change:
        case "twice":
            changed = np.concatenate((part, part))
        case "loop":
            changed = np.tile(part[:third], 4)
        case "reversed":
            changed = part[::-1]
        case "octave":
            changed = part[::2]
        case "silent middle":
            changed[third : 2 * third] = 0
        case "skips":
            changed = np.concatenate((part[:third], part[third + 233 : 2 * third], part[2 * third - 512 :]))
        case "very short":
            changed = part[: rate // 50]
        case "foreign":
            changed = _part(len(part) / rate, rate, 999)
    return changed


@settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(
    seconds=st.sampled_from([0.01, 0.7, 4.0, 9.0]),
    rates=st.tuples(st.sampled_from(RATES), st.sampled_from(RATES)),
    changes=st.tuples(st.sampled_from(CHANGES), st.sampled_from(CHANGES)),
    seed=st.integers(0, 50),
)
def test_hostile_pairs_end_with_figures_or_a_sentence(
    seconds: float, rates: tuple[int, int], changes: tuple[str, str], seed: int
) -> None:
    refusals: list[str] = []
    with TemporaryDirectory() as name:
        folder = Path(name)
        source, first, second = (folder / f"{role}.wav" for role in ("source", "first", "second"))
        soundfile.write(source, _part(seconds, rates[0], seed), rates[0])
        for path, change in zip((first, second), changes, strict=True):
            soundfile.write(path, _changed(_part(seconds, rates[1], seed), change, rates[1]), rates[1])
        for asked in (
            lambda: measure_print(first, source),
            lambda: identify(first, [source, second]),
            lambda: match(first, second, source),
        ):
            try:
                asked()
            except UnreadableAudio as refusal:
                refusals.append(str(refusal))
    assert all(refusals)


@pytest.mark.parametrize("overlap_s", [0.0, 0.15, 0.5, 1.5])
def test_a_lag_that_changes_where_two_plateaus_overlap_is_placed_within_them(
    overlap_s: float, tmp_path: Path
) -> None:
    rate, at_s = 8000, 3.0
    wave = 0.1 * np.random.default_rng(1).standard_normal(6 * rate)
    soundfile.write(tmp_path / "source.wav", wave, rate)
    at = round(at_s * rate)
    soundfile.write(tmp_path / "print.wav", np.concatenate((wave[:at], wave[at + 40 :])), rate)
    before = Plateau(0.0, 0.0, at_s + overlap_s / 2)
    after = Plateau(-40.0, at_s - overlap_s / 2, 6.0)
    with Sound(tmp_path / "source.wav") as source, Sound(tmp_path / "print.wav") as printed:
        nothing = features_of(rate, len(wave), [], BandFrames(np.zeros((0, 0), np.uint16)))
        pair = Pair(source, printed, nothing, nothing)
        assert place_of_change(pair, STRAIGHT, before, after) == pytest.approx(at_s, abs=0.005)

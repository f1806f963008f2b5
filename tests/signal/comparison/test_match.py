"""Prints of one part through one chain, months apart: what nobody touched matches, what somebody turned is named."""

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import scipy.signal
import soundfile
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from app.signal.comparison.match import match
from app.signal.figures import MatchFigures

RATE = 16_000
Samples = NDArray[np.float64]
FEW = settings(
    max_examples=6,
    deadline=None,
    derandomize=True,
    phases=(Phase.generate,),  # a match takes a third of a second: what fails is shown as it is
    suppress_health_check=[HealthCheck.too_slow],
)


def _part(seconds: float, seed: int) -> Samples:
    """Plucked notes of four partials at uneven times."""
    random = np.random.default_rng(seed)
    part = np.zeros(round(seconds * RATE))
    at = 800
    while at < len(part):
        times_s = np.arange(min(RATE, len(part) - at)) / RATE
        pitch = 98 * 2 ** (random.integers(0, 20) / 12)
        pluck = sum(np.sin(2 * np.pi * n * pitch * times_s) / n for n in range(1, 12))
        part[at : at + len(times_s)] += random.uniform(0.1, 0.4) * np.exp(-4 * times_s) * pluck
        at += int(RATE * random.uniform(0.12, 0.4))
    return 0.4 * part / np.abs(part).max()


def _through(part: Samples, *, drive: float = 3.0, middle_db: float = 0.0, gain_db: float = 0.0) -> Samples:
    """A soft clipper between two filters, and a bell of 500 Hz behind it."""
    driven = np.tanh(drive * scipy.signal.lfilter(*scipy.signal.butter(1, 60, "high", fs=RATE), part))
    filtered = scipy.signal.lfilter(*scipy.signal.butter(2, 4000, fs=RATE), driven)
    turn, width = 2 * np.pi * 500 / RATE, np.sin(2 * np.pi * 500 / RATE) / 2
    high = 10 ** (middle_db / 40)
    bell = (
        [1 + width * high, -2 * np.cos(turn), 1 - width * high],
        [1 + width / high, -2 * np.cos(turn), 1 - width / high],
    )
    return np.asarray(0.3 * 10 ** (gain_db / 20) * scipy.signal.lfilter(*bell, filtered))


def _later(samples: Samples, delay: float, ppm: float = 0.0) -> Samples:
    """Later by any number of samples, and longer by `ppm`, by interpolation between eight times as many samples."""
    fine = scipy.signal.resample(np.pad(samples, (0, 400)), 8 * (len(samples) + 400))
    at = (np.arange(len(samples) + round(delay)) - delay) * (1 - ppm * 1e-6) * 8
    return np.interp(at, np.arange(len(fine)), fine)


def _matched(source: Samples, original: Samples, recalled: Samples) -> MatchFigures:
    with TemporaryDirectory() as name:
        paths = [Path(name) / f"{role}.wav" for role in ("original", "recalled", "source")]
        for path, samples in zip(paths, (original, recalled, source), strict=True):
            soundfile.write(path, samples, RATE, subtype="PCM_24")
        return match(paths[0], paths[1], paths[2])


def _hiss(count: int, level_db: float, seed: int) -> Samples:
    return np.random.default_rng(seed).standard_normal(count) * 0.1 * 10 ** (level_db / 20)


@FEW
@given(
    seed=st.integers(0, 99),
    delay=st.floats(20, 900),
    ppm=st.sampled_from([0.0, 4.0, -4.0]),
    hiss_db=st.sampled_from([-70.0, -50.0]),
    gain_db=st.sampled_from([0.0, -0.2]),
)
def test_another_buffer_clock_or_hiss_is_no_other_sound(
    seed: int, delay: float, ppm: float, hiss_db: float, gain_db: float
) -> None:
    part = _part(7, seed)
    printed = _through(part)
    recalled = _later(printed * 10 ** (gain_db / 20), delay, ppm)
    recalled += _hiss(len(recalled), hiss_db, seed)
    found = _matched(part, _later(printed, 100.3), recalled)
    assert found.verdict == "match", found
    assert found.level_difference_db == pytest.approx(gain_db, abs=0.05)
    assert found.null_depth_db is not None
    power = float(np.mean(recalled**2))
    noise_db = 10 * np.log10(0.01 * 10 ** (hiss_db / 10) / power)
    assert max(found.null_depth_db, -50) == pytest.approx(max(noise_db, -50), abs=3)
    assert found.causes == ()


@FEW
@given(
    seed=st.integers(0, 99),
    delay=st.floats(20, 900),
    change=st.sampled_from(["tone", "level", "polarity", "drive"]),
    sign=st.sampled_from([1, -1]),
)
def test_one_thing_that_was_turned_never_matches_and_is_named_first(
    seed: int, delay: float, change: str, sign: int
) -> None:
    part = _part(7, seed)
    original, recalled = _through(part), _through(part)
    if change == "tone":
        recalled = _through(part, middle_db=3.5 * sign)
    elif change == "level":
        recalled = _through(part, gain_db=1.4 * sign)
    elif change == "polarity":
        recalled = -recalled
    else:
        recalled = _through(part, drive=3.0 * 10 ** (0.4 * sign))
        recalled *= np.sqrt(np.mean(original**2) / np.mean(recalled**2))
    found = _matched(part, _later(original, 100.3), _later(recalled, delay))
    assert found.verdict in ("close", "different"), found
    assert found.causes[0].cause == change, found.causes


def test_a_recall_that_stops_before_its_file_ends_is_compared_as_far_as_it_plays() -> None:
    part = _part(10, 5)
    played = np.where(np.arange(len(part)) < 6 * RATE, part, 0.0)
    found = _matched(part, _through(part), _later(_through(played), 250.4))
    assert found.verdict == "match", found
    assert found.compared_s == pytest.approx(5.6, abs=0.5)
    assert found.left_out_s > 3
    assert found.null_depth_db is not None
    assert found.null_depth_db < -45
    assert any("were left out" in said for said in found.findings)


def test_a_recall_that_lost_a_buffer_is_compared_before_it_and_after() -> None:
    part = _part(12, 3)
    recalled = _later(_through(part), 130.0)
    lost = np.delete(recalled, slice(6 * RATE, 6 * RATE + 512))
    found = _matched(part, _later(_through(part), 100.3), lost)
    assert found.verdict == "match", found
    assert found.null_depth_db is not None
    assert found.null_depth_db < -45
    assert found.left_out_s < 1.5


def test_hiss_alone_is_told_as_hiss() -> None:
    part = _part(8, 7)
    part[3 * RATE : 4 * RATE] = 0
    printed = _through(part)
    quiet, noisy = (printed + _hiss(len(part), level_db, seed) for level_db, seed in ((-60, 1), (-40, 2)))
    found = _matched(part, quiet, noisy)
    assert (found.verdict, [cause.cause for cause in found.causes]) == ("match", ["noise"])
    assert found.noise_difference_db == pytest.approx(20, abs=2)


@pytest.mark.parametrize("later", [0.31, 0.77])
def test_a_tremolo_that_stands_elsewhere_is_not_called_different(later: float) -> None:
    part = _part(9, 11)
    times_s = np.arange(len(part)) / RATE

    def pulsing(phase: float) -> Samples:
        return np.asarray(_through(part) * (1 - 0.5 * np.sin(2 * np.pi * (4.3 * times_s + phase)) ** 2))

    assert _matched(part, pulsing(0.0), pulsing(later)).verdict in ("match", None)

"""Held stretches and repeated buffers, sample by sample; and which of them the source has itself."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.signal.audio.reading import Sound
from app.signal.faults.against_source import without_rests
from app.signal.faults.dropouts import RepeatSearch, held_runs, is_torn
from app.signal.figures import AlignmentFigures, Dropout

RATE = 48000
LATE = AlignmentFigures(100.0, 100_000 / RATE, "same", 0.97, 0.0, True)
Samples = NDArray[np.float32]


def _noise(count: int, seed: int = 1) -> Samples:
    return (0.1 * np.random.default_rng(seed).standard_normal(count)).astype(np.float32)


def _repeats(samples: Samples, block: int = 2 * RATE) -> list[tuple[int, int]]:
    search = RepeatSearch(RATE)
    for start in range(0, len(samples), block):
        search.feed(start, samples[start : start + block])
    return [(round(repeat.at_s * RATE), repeat.samples) for repeat in search.repeats]


@pytest.mark.parametrize(("at", "length"), [(1000, 16), (1003, 64), (5001, 700)])
def test_a_held_value_is_found_with_its_first_and_last_sample(at: int, length: int) -> None:
    samples = _noise(10000)
    samples[at : at + length] = 0.05
    assert held_runs(samples) == [(at, length)]


def test_fifteen_equal_samples_are_no_run() -> None:
    samples = _noise(10000)
    samples[1000:1015] = 0.0
    assert held_runs(samples) == []


def test_a_stretch_is_torn_where_the_sound_stops_at_once_and_not_where_it_fades() -> None:
    sound = _noise(960)
    assert is_torn(sound, 0.0, sound)
    assert not is_torn(sound * np.linspace(1, 0, 960, dtype=np.float32) ** 4, 0.0, sound[::-1] * 1e-5)


def test_a_flat_top_is_not_torn() -> None:
    wave = np.clip(0.4 * np.sin(np.arange(960) / 30), -0.3, 0.3).astype(np.float32)
    assert not is_torn(wave, float(wave.max()), wave)


@pytest.mark.parametrize("length", [128, 512, 4096, 8192])
@pytest.mark.parametrize("at", [30000, 95900])
def test_a_buffer_played_twice_is_found_also_across_blocks(length: int, at: int) -> None:
    samples = _noise(4 * RATE)
    samples[at : at + length] = samples[at - length : at]
    ((begins, lasts),) = _repeats(samples)
    assert begins == pytest.approx(at, abs=2)
    assert lasts == pytest.approx(length, abs=4)


def test_a_repeat_with_another_gain_is_a_loop_and_no_buffer() -> None:
    samples = _noise(RATE)
    samples[30000:30512] = 0.9 * samples[29488:30000]
    assert _repeats(samples) == []


def test_a_wave_that_is_read_from_a_table_over_and_over_is_no_buffer() -> None:
    assert _repeats(np.tile(_noise(2000), 48)) == []


def test_a_hole_the_source_has_itself_is_left_out(tmp_path: Path) -> None:
    source = _noise(2 * RATE)
    source[20000:20500] = 0
    soundfile.write(tmp_path / "source.wav", source, RATE, subtype="FLOAT")
    own, new = (Dropout((at + 100) / RATE, "gap", 500) for at in (20000, 60000))
    with Sound(tmp_path / "source.wav") as sound:
        assert without_rests((own, new), sound, RATE, LATE) == (new,)


def test_a_hole_in_one_channel_of_the_source_is_left_out_too_unless_that_channel_is_silent(
    tmp_path: Path,
) -> None:
    source = np.stack((_noise(2 * RATE, 1), _noise(2 * RATE, 2), np.zeros(2 * RATE, np.float32)), axis=1)
    source[20000:20500, 0] = 0
    soundfile.write(tmp_path / "source.wav", source, RATE, subtype="FLOAT")
    own, new = (Dropout((at + 100) / RATE, "gap", 500) for at in (20000, 60000))
    with Sound(tmp_path / "source.wav") as sound:
        assert without_rests((own, new), sound, RATE, LATE) == (new,)

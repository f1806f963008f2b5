"""The true step of samples: closed forms of recordings that were quantised, gained and quantised again."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.signal.audio.steps import step_of
from app.signal.measure import measure_print

RATE = 48000


def _notes(seconds: float = 8.0) -> NDArray[np.float64]:
    """Low notes that decay to nothing, one every two seconds."""
    t = np.arange(round(seconds * RATE)) / RATE
    since = t % 2.0
    tone = np.sin(2 * np.pi * 41.2 * t) + 0.4 * np.sin(2 * np.pi * 123.6 * t)
    return 0.15 * tone * np.exp(-since / 0.25) * np.minimum(1, since / 0.004)


def _in_steps(samples: NDArray[np.float64], bits: int) -> NDArray[np.float64]:
    return np.round(samples * 2.0 ** (bits - 1)) / 2.0 ** (bits - 1)


@pytest.mark.parametrize("gain", [1.0, 2.371, 4.0])
def test_a_16_bit_recording_gained_up_into_24_bits_keeps_its_steps(gain: float) -> None:
    made = _in_steps(gain * _in_steps(_notes(), 16), 24).astype(np.float32)
    assert step_of(made) == pytest.approx(gain * 2.0**-15, rel=0.01)


def test_what_was_recorded_in_24_bits_has_no_coarser_step() -> None:
    noise = 1e-5 * np.random.default_rng(3).standard_normal(8 * RATE)
    assert step_of(_in_steps(_notes() + noise, 24).astype(np.float32)) == 0.0


def test_a_wave_of_few_values_has_no_step() -> None:
    assert step_of(np.tile(np.array([-0.5, 0.5], dtype=np.float32), 1000)) == 0.0


@pytest.mark.parametrize("gain", [2.371, 7.3])
def test_a_clean_track_of_16_bits_in_24_neither_clips_nor_breaks_off(tmp_path: Path, gain: float) -> None:
    """Slow crests are held for many samples and decays end in single steps, which a 24-bit recording would not do."""
    path = tmp_path / "clean.wav"
    soundfile.write(path, gain / 2 * _in_steps(_notes(), 16), RATE, subtype="PCM_24")
    faults = measure_print(path).faults
    assert faults.clipped_runs == ()
    assert faults.dropouts == ()


@pytest.mark.parametrize(("right", "said"), [(1.0, "identical"), (0.0, "one silent"), (0.7, None)])
def test_stereo_that_a_mono_file_would_hold_is_known(tmp_path: Path, right: float, said: str | None) -> None:
    path = tmp_path / "stereo.wav"
    soundfile.write(path, np.stack((_notes(2), right * _notes(2)), axis=1), RATE, subtype="PCM_24")
    assert measure_print(path).faults.channels == said

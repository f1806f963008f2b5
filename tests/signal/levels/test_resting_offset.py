"""An offset that stays while little is played, against one that lopsided notes have of their own."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.signal.measure import measure_print

RATE = 48_000


def lopsided(seconds: float = 6.0) -> NDArray[np.float64]:
    """Notes of narrow pulses, which spend most of their time on one side and so have a mean, with rests between."""
    t = np.arange(round(seconds * RATE)) / RATE
    pulses = np.where((t * 55) % 1 < 0.2, 0.6, 0.0)
    return np.where(t % 1.0 < 0.7, pulses, 0.0)


def measured(samples: NDArray[np.float64], folder: Path) -> tuple[float, float | None]:
    noise = np.random.default_rng(1).standard_normal(len(samples)) * 1e-4
    soundfile.write(folder / "print.wav", np.where(samples == 9, 0, samples + noise), RATE, subtype="PCM_24")
    level = measure_print(folder / "print.wav").level
    return level.dc_offset, level.resting_offset


def test_lopsided_notes_have_a_mean_that_rests_with_them(tmp_path: Path) -> None:
    mean, resting = measured(lopsided(), tmp_path)
    assert mean == pytest.approx(0.6 * 0.2 * 0.7, abs=0.005)
    assert resting == pytest.approx(0, abs=1e-4)


def test_a_converters_offset_never_rests(tmp_path: Path) -> None:
    _, resting = measured(lopsided() + 0.02, tmp_path)
    assert resting == pytest.approx(0.02, abs=1e-4)


def test_what_an_edit_cut_to_nothing_tells_nothing(tmp_path: Path) -> None:
    samples = lopsided() + 0.02
    samples[: 2 * RATE] = 9  # written as nothing at all
    _, resting = measured(samples, tmp_path)
    assert resting == pytest.approx(0.02, abs=1e-4)


def test_half_a_second_is_too_little_to_tell(tmp_path: Path) -> None:
    assert measured(lopsided(0.4), tmp_path)[1] is None

"""What is said of a print that cannot be placed: foreign only where nothing speaks for the source."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.signal.figures import AlignmentFigures
from app.signal.measure import measure_print

RATE = 16_000
Samples = NDArray[np.float64]


def _bursts(seed: int, seconds: float = 8.0) -> Samples:
    """Notes of noise at uneven times."""
    random = np.random.default_rng(seed)
    part = 1e-4 * random.standard_normal(round(seconds * RATE))
    at = 1000
    while at < len(part) - RATE:
        length = int(RATE * random.uniform(0.1, 0.4))
        fall = np.exp(-np.arange(length) / 900)
        part[at : at + length] += random.uniform(0.05, 0.3) * fall * random.standard_normal(length)
        at += length
    return part


def _against(source: Samples, printed: Samples, folder: Path) -> AlignmentFigures:
    for name, samples in (("source", source), ("print", printed)):
        soundfile.write(folder / f"{name}.wav", samples, RATE, subtype="PCM_24")
    found = measure_print(folder / "print.wav", folder / "source.wav").alignment
    assert found is not None
    return found


def test_another_part_is_foreign(tmp_path: Path) -> None:
    found = _against(_bursts(1), _bursts(2), tmp_path)
    assert (found.is_of_source, found.delay_samples, found.drift_ppm) == (False, None, None)
    assert found.confidence > 0.8


@pytest.mark.parametrize("seed", [1, 5])
def test_what_rises_and_falls_with_the_source_is_not_called_foreign_though_no_wave_survives(
    seed: int, tmp_path: Path
) -> None:
    """Every third of a second of the print stands elsewhere by up to 25 ms: the pattern is there, the one lag is not."""
    source = _bursts(seed)
    random = np.random.default_rng(9)
    pieces = [
        np.roll(source, int(random.integers(-400, 400)))[at : at + RATE // 3]
        for at in range(0, len(source), RATE // 3)
    ]
    found = _against(source, random.permuted(np.concatenate(pieces).reshape(-1, 8), axis=1).ravel(), tmp_path)
    assert (found.is_of_source, found.delay_samples, found.confidence) == (None, None, 0.0)

"""Two prints that leave their polarity unclear against the source settle it against one another."""

from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile

from app.signal.comparison.match import match
from app.signal.measure import measure_print

RATE = 48_000


def _write(path: Path, samples: np.ndarray) -> Path:
    soundfile.write(path, samples, RATE, subtype="PCM_24")
    return path


@pytest.mark.parametrize(("sign", "polarity"), [(1, "same"), (-1, "inverted")])
@pytest.mark.parametrize("hiss", [1e-5, 0.03])
def test_print_against_print_tells_the_polarity_that_the_source_cannot(
    tmp_path: Path, sign: int, polarity: str, hiss: float
) -> None:
    """The chain turns every frequency by a quarter of a turn: upright and upside down are equally far away."""
    rng = np.random.default_rng(3)
    played = np.concatenate(
        [
            rng.uniform(0.05, 0.3) * np.exp(-np.arange(length) / 6000) * rng.standard_normal(length)
            for length in rng.integers(8_000, 30_000, 24)
        ]
    )
    turned = 0.5 * np.imag(scipy.signal.hilbert(played))
    source = _write(tmp_path / "source.wav", played)
    original = _write(tmp_path / "original.wav", turned)
    noise = hiss * rng.standard_normal(len(turned))
    recalled = _write(tmp_path / "recalled.wav", sign * turned + noise)
    alone = measure_print(original, source).alignment
    assert alone is not None
    assert (alone.is_of_source, alone.polarity) == (True, "unclear")
    assert match(original, recalled, source).polarity == polarity

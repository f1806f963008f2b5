"""Where one of print and source rests for long while the other plays."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from app.signal.audio.reading import Samples
from app.signal.figures import PrintFigures
from app.signal.measure import measure_print

RATE, DELAY = 16_000, 400


@pytest.fixture(scope="module")
def part() -> Samples:
    """Sixteen seconds of short bursts at uneven times."""
    random = np.random.default_rng(7)
    samples = 1e-4 * random.standard_normal(16 * RATE)
    at = 800
    while at < len(samples) - RATE:
        count = round(random.uniform(0.1, 0.3) * RATE)
        samples[at : at + count] += 0.2 * random.standard_normal(count) * np.linspace(1, 0, count) ** 2
        at += count + round(random.uniform(0.02, 0.15) * RATE)
    return samples.astype(np.float32)


def measured(folder: Path, source: Samples, print_samples: Samples) -> PrintFigures:
    late = np.concatenate((np.zeros(DELAY), 0.5 * print_samples))
    late += 1e-5 * np.random.default_rng(8).standard_normal(len(late))
    soundfile.write(folder / "source.wav", source, RATE, subtype="PCM_24")
    soundfile.write(folder / "print.wav", late, RATE, subtype="PCM_24")
    return measure_print(folder / "print.wav", folder / "source.wav")


def without(part: Samples, first_s: float, last_s: float) -> Samples:
    part = part.copy()
    part[round(first_s * RATE) : round(last_s * RATE)] = 0
    return part


def test_a_print_that_falls_silent_for_long_while_its_source_plays_has_a_gap(
    part: Samples, tmp_path: Path
) -> None:
    figures = measured(tmp_path, part, without(part, 6.0, 7.5))
    (gap,) = figures.faults.dropouts
    assert gap.kind == "gap"
    assert gap.at_s == pytest.approx(6.0 + DELAY / RATE, abs=0.15)
    assert gap.samples / RATE == pytest.approx(1.5, abs=0.25)
    assert figures.alignment is not None
    assert [one.kind for one in figures.alignment.between] == ["silent"]


def test_what_was_muted_in_the_source_since_is_named_and_is_no_fault(part: Samples, tmp_path: Path) -> None:
    figures = measured(tmp_path, without(part, 6.0, 9.0), part)
    assert figures.faults.dropouts == ()
    assert figures.alignment is not None
    (more,) = figures.alignment.between
    assert more.kind == "not in the source"
    assert more.at_s == pytest.approx(6.0 + DELAY / RATE, abs=0.15)
    assert more.samples / RATE == pytest.approx(3.0, abs=0.3)


def test_where_both_rest_nothing_is_said(part: Samples, tmp_path: Path) -> None:
    rested = without(part, 6.0, 9.0)
    figures = measured(tmp_path, rested, rested)
    assert figures.faults.dropouts == ()
    assert figures.alignment is not None
    assert figures.alignment.between == ()

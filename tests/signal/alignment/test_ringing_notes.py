"""A few notes that ring on for seconds: each says when it began, and hardly anything afterwards."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.desk.measuring.findings import find
from app.signal.alignment.coarse import Candidate
from app.signal.alignment.evidence import clues_of_fit, with_keeping
from app.signal.alignment.fine import FineFit
from app.signal.alignment.path import steady
from app.signal.figures import print_figures_from_json, to_json
from app.signal.measure import measure_print

RATE, DELAY = 48_000, 230
Samples = NDArray[np.float64]


def _plucks(seed: int, lowest_hz: float) -> Samples:
    """Four plucked strings (Karplus and Strong) in six seconds, each ringing into the next."""
    random = np.random.default_rng(seed)
    part = np.zeros(6 * RATE)
    for turn in range(4):
        period = round(RATE / (lowest_hz * 2 ** (random.integers(0, 20) / 12)))
        wave = np.convolve(random.uniform(-1, 1, period), np.ones(7) / 7, "same")
        waves = []
        for _ in range(2 * RATE // period):
            waves.append(wave)
            wave = 0.9985 * (0.7 * wave + 0.3 * np.roll(wave, 1))
        at = round((0.1 + 1.4 * turn + 0.1 * random.uniform()) * RATE)
        note = np.concatenate(waves)[: len(part) - at]
        part[at : at + len(note)] += note
    return 0.4 * part / np.abs(part).max()


@pytest.mark.parametrize("lowest_hz", [41.2, 82.4])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_soft_overdrive_of_ringing_plucks_is_placed(seed: int, lowest_hz: float, tmp_path: Path) -> None:
    source = _plucks(seed, lowest_hz)
    soundfile.write(tmp_path / "source.wav", source, RATE, subtype="PCM_24")
    driven = np.tanh(2 * np.concatenate((np.zeros(DELAY), source)))
    soundfile.write(tmp_path / "print.wav", 0.6 * driven, RATE, subtype="PCM_24")
    figures = measure_print(tmp_path / "print.wav", tmp_path / "source.wav")
    assert figures.alignment is not None
    assert (figures.alignment.is_of_source, figures.alignment.untold) == (True, None)
    assert figures.alignment.delay_samples == pytest.approx(DELAY, abs=1)
    assert len(figures.alignment.pieces) == 1, "a note that rings loses no samples"
    assert figures.faults.dropouts == ()


def test_other_ringing_plucks_are_not_taken_for_it(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "source.wav", _plucks(4, 82.4), RATE, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", np.tanh(2 * _plucks(5, 82.4)), RATE, subtype="PCM_24")
    figures = measure_print(tmp_path / "print.wav", tmp_path / "source.wav")
    assert figures.alignment is not None
    assert not figures.alignment.is_of_source


def test_what_cannot_be_told_says_why_and_an_older_document_does_not(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "source.wav", _plucks(6, 82.4), RATE, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", np.zeros(6 * RATE), RATE, subtype="PCM_24")
    figures = measure_print(tmp_path / "print.wav", tmp_path / "source.wav")
    assert figures.alignment is not None
    assert figures.alignment.is_of_source is None
    assert figures.alignment.untold is not None
    assert any(
        "cannot be told: " in found.sentence and "To know, " in found.sentence for found in find(figures)
    )
    document = to_json(figures)
    del document["alignment"]["untold"]
    older = print_figures_from_json(document)
    assert any(found.sentence.endswith("cannot be told") for found in find(older))


@pytest.mark.parametrize(("agreement", "counts"), [(1.0, False), (0.8, True)])
def test_power_that_is_not_shared_says_nothing_where_every_stretch_agrees(
    agreement: float, counts: bool
) -> None:
    """Clipped bursts in a print hold most of its power: they are no other part."""
    fit = FineFit(
        delay=95.5,
        drift=0.0,
        sign=-1,
        height=44.5,
        second=0.18,
        opposite=0.18,
        agreement=agreement,
        steadiest=1.0,
        coherence=0.11,
        stretches=12.0,
        shared=0.14,
    )
    found = with_keeping(
        clues_of_fit(fit, Candidate(lag_s=0.0, score=9.0, correlation=0.9, explained=1.0)), steady(fit), RATE
    )
    assert (found.little_shared > 0) == counts

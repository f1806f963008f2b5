"""Where the delay changes: samples lost on the way, how many and where, also when it happens twice within two seconds; and a
source that was edited after it was printed."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from app.signal.audio.reading import Samples
from app.signal.figures import Dropout
from app.signal.measure import measure_print

RATE, DELAY = 48000, 300


@pytest.fixture(scope="module")
def source() -> Samples:
    """Half a minute of invented plucks."""
    random = np.random.default_rng(5)
    samples = 1e-4 * random.standard_normal(30 * RATE)
    at_s = np.arange(int(0.8 * RATE)) / RATE
    for start in np.arange(0, 29, 0.21):
        hz = 110 * 2 ** (random.integers(0, 24) / 12)
        note = sum(np.sin(2 * np.pi * hz * k * at_s + k) / k for k in (1, 2, 3, 4, 7)) * np.exp(-at_s / 0.2)
        at = round((start + 0.02 * random.random()) * RATE)
        samples[at : at + len(note)] += 0.1 * note
    return samples.astype(np.float32)


def lost(
    source: Samples, folder: Path, skips: list[tuple[float, int]], ppm: float = 0.0
) -> tuple[Dropout, ...]:
    """The dropouts found in a driven print that lacks so many samples from each time on."""
    print_samples = np.concatenate((np.zeros(DELAY, dtype=np.float32), np.tanh(3 * source)))
    for at_s, count in reversed(skips):
        print_samples = np.delete(print_samples, slice(round(at_s * RATE), round(at_s * RATE) + count))
    if ppm:
        places = np.arange(int(len(print_samples) * (1 + ppm * 1e-6)) - 1) / (1 + ppm * 1e-6)
        print_samples = np.interp(places, np.arange(len(print_samples)), print_samples)
    print_samples = 0.4 * print_samples + 1e-4 * np.random.default_rng(6).standard_normal(len(print_samples))
    soundfile.write(folder / "source.wav", source, RATE, subtype="PCM_24")
    soundfile.write(folder / "print.wav", print_samples, RATE, subtype="PCM_24")
    figures = measure_print(folder / "print.wav", folder / "source.wav")
    assert figures.alignment is not None
    assert figures.alignment.delay_samples == pytest.approx(DELAY, abs=0.5), "given is the delay at the start"
    assert figures.alignment.drift_ppm == pytest.approx(ppm, abs=1)
    return figures.faults.dropouts


@pytest.mark.parametrize("apart_s", [1.3, 2.0, 3.1, 12.0])
def test_two_skips_are_two_however_near(source: Samples, tmp_path: Path, apart_s: float) -> None:
    first, second = lost(source, tmp_path, [(9.0, 617), (9.0 + apart_s, 617)])
    assert [(dropout.kind, dropout.samples) for dropout in (first, second)] == [("skip", 617), ("skip", 617)]
    assert first.at_s == pytest.approx(9.0, abs=0.05)
    assert second.at_s == pytest.approx(9.0 + apart_s - 617 / RATE, abs=0.05)


def test_a_few_samples_are_told_from_a_clock_that_drifts(source: Samples, tmp_path: Path) -> None:
    assert lost(source, tmp_path, [], ppm=14.0) == ()
    (dropout,) = lost(source, tmp_path, [(15.0, 40)])
    assert (dropout.kind, dropout.samples) == ("skip", 40)
    assert dropout.at_s == pytest.approx(15.0, abs=0.05)


def test_many_changes_do_not_make_a_print_foreign(source: Samples, tmp_path: Path) -> None:
    """At any one lag most of it does not fit; along its path all of it does."""
    sizes = (513, 119, 2048, 700)
    found = lost(source, tmp_path, [(5.0 + 5.5 * turn, size) for turn, size in enumerate(sizes)])
    assert [(dropout.kind, dropout.samples) for dropout in found] == [("skip", size) for size in sizes]


EDITED_S = 12.0


@pytest.mark.parametrize("print_rate", [RATE, 44_100])
@pytest.mark.parametrize("put_in_s", [2.0, 0.7, -2.0])
def test_a_print_of_an_edited_source_runs_in_step_with_it_on_both_sides(
    source: Samples, tmp_path: Path, put_in_s: float, print_rate: int
) -> None:
    """Something of the part itself was put in, or so much cut out."""
    at, count = round(EDITED_S * RATE), round(abs(put_in_s) * RATE)
    after = source[at + count :] if put_in_s < 0 else np.concatenate((source[:count], source[at:]))
    late = np.concatenate((np.zeros(DELAY, dtype=np.float32), np.tanh(3 * source)))
    held_s = np.arange(round(len(late) * print_rate / RATE)) / print_rate
    print_samples = 0.4 * (
        late if print_rate == RATE else np.interp(held_s * RATE, np.arange(len(late)), late)
    )
    soundfile.write(tmp_path / "source.wav", np.concatenate((source[:at], after)), RATE, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", print_samples, print_rate, subtype="PCM_24")
    figures = measure_print(tmp_path / "print.wav", tmp_path / "source.wav")
    assert figures.faults.dropouts == ()
    assert figures.alignment is not None
    late_s = DELAY / RATE
    assert figures.alignment.delay_ms == pytest.approx(1000 * late_s, abs=0.02), (
        "given is the delay at the start"
    )
    for source_s in (1.0, EDITED_S - 0.5):
        assert figures.alignment.in_print_s(source_s) == pytest.approx(source_s + late_s, abs=5e-5)
    for source_s in (EDITED_S + max(put_in_s, 0.0) + 0.5, 25.0 + put_in_s):
        there_s = figures.alignment.in_print_s(source_s)
        assert there_s == pytest.approx(source_s - put_in_s + late_s, abs=5e-5)
    (edit,) = figures.alignment.between
    assert edit.is_edit
    assert edit.at_s == pytest.approx(EDITED_S + late_s, abs=0.25)
    assert edit.kind == ("lost" if put_in_s > 0 else "cut from the source since")


def test_a_print_of_a_part_of_its_source_is_one_piece(source: Samples, tmp_path: Path) -> None:
    """Outside of it other lags fit as well as any, and are none."""
    soundfile.write(tmp_path / "source.wav", source, RATE, subtype="PCM_24")
    soundfile.write(tmp_path / "print.wav", np.tanh(3 * source[8 * RATE : 17 * RATE]), RATE, subtype="PCM_24")
    figures = measure_print(tmp_path / "print.wav", tmp_path / "source.wav")
    assert figures.alignment is not None
    (piece,) = figures.alignment.pieces
    assert piece.source_from_s == pytest.approx(8.0, abs=1e-4)
    assert piece.source_to_s == pytest.approx(17.0, abs=1e-4)

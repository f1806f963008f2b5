"""Audition files hold the print on its source's time line, whole or not at all."""

import json
import math
import tracemalloc
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from app.signal.audio.reading import Sound, UnreadableAudio
from app.signal.listening import audition
from app.signal.listening.aligned import HALF_TAPS, aligned_blocks, fractional_delay
from app.signal.listening.audition import build_audition, read_segment
from app.signal.listening.figures import AuditionFigures, Moved, audition_figures_from_json

RATE = 48_000
Audio = NDArray[np.float64]


def noise(seconds: float, channels: int = 1, seed: int = 1, rate: int = RATE) -> Audio:
    shape = (round(seconds * rate), channels)
    return np.random.default_rng(seed).uniform(-0.5, 0.5, shape).squeeze()


def chord(at_s: Audio) -> Audio:
    """A signal that is known at any moment, not only at samples: a dozen sines up to 17 kHz."""
    made = np.random.default_rng(4)
    hz, phases = made.uniform(40, 17_000, 12), made.uniform(0, 2 * np.pi, 12)
    parts = (np.sin(2 * np.pi * f * at_s + p) for f, p in zip(hz, phases, strict=True))
    return 0.05 * np.sum(list(parts), axis=0)


def write(path: Path, samples: Audio, rate: int = RATE, subtype: str = "PCM_24") -> Path:
    soundfile.write(path, samples, rate, subtype=subtype)
    return path


def heard(folder: Path, figures: AuditionFigures) -> Audio:
    """All segments on end, at the print's own level."""
    parts = [read_segment(folder, figures, number) for number in range(figures.segments)]
    return np.concatenate(parts).astype(np.float64).squeeze()


def null_db(samples: Audio, reference: Audio) -> float:
    left_over = float(np.mean((samples - reference) ** 2))
    return 10 * math.log10(left_over / float(np.mean(reference**2))) if left_over else -math.inf


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24"])
@pytest.mark.parametrize("delay", [0, 255, -300])
def test_a_whole_delay_copies_every_bit(tmp_path: Path, subtype: str, delay: int) -> None:
    source = noise(12)
    late = np.concatenate((np.zeros(max(delay, 0)), source[max(-delay, 0) :]))
    path = write(tmp_path / "print.wav", late, subtype=subtype)
    figures = build_audition(
        path, tmp_path / "made", delay_samples=float(delay), target_rate=RATE, length_s=12.0
    )
    reference = soundfile.read(write(tmp_path / "source.wav", source, subtype=subtype))[0]
    reference[: max(-delay, 0)] = 0
    assert figures.is_exact
    assert figures.scale_db == 0
    np.testing.assert_array_equal(heard(tmp_path / "made", figures), reference)


@pytest.mark.parametrize(
    ("print_rate", "delay", "ppm"), [(RATE, 255.0, 0.0), (RATE, 30.3, 0.0), (44_100, 90.0, 20.0)]
)
def test_a_print_in_pieces_runs_in_step_with_its_source_all_along(
    tmp_path: Path, print_rate: int, delay: float, ppm: float
) -> None:
    """Two seconds were put into the source at 4 s, and one was cut out of it at 8 s of the print."""
    held_s = (np.arange(12 * print_rate) - delay) / print_rate / (1 + ppm * 1e-6)
    path = write(tmp_path / "print.wav", np.where(held_s >= 0, chord(held_s), 0), print_rate)
    figures = build_audition(
        path,
        tmp_path / "made",
        delay_samples=delay,
        drift_ppm=ppm,
        target_rate=RATE,
        length_s=12.0,
        moved=[Moved(4.0, None), Moved(6.0, -2.0 * (1 + ppm * 1e-6)), Moved(10.0, -1.0 * (1 + ppm * 1e-6))],
    )
    played = heard(tmp_path / "made", figures)
    at_s = np.arange(12 * RATE) / RATE
    expected = chord(np.where(at_s < 10, np.where(at_s < 5, at_s, at_s - 2), at_s - 1))
    assert not figures.is_exact
    for first_s, last_s in ((0.1, 3.99), (6.01, 9.99), (10.01, 11.9)):
        part = slice(round(first_s * RATE), round(last_s * RATE))
        assert null_db(played[part], expected[part]) < -60
    assert not played[round(4.01 * RATE) : round(5.99 * RATE)].any(), "the print does not hold it"


def test_segments_hold_exactly_ten_seconds_and_the_last_the_rest(tmp_path: Path) -> None:
    path = write(tmp_path / "print.wav", noise(25.3))
    figures = build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=25.3)
    assert figures.segments == 3
    infos = [soundfile.info(tmp_path / "made" / f"{number:03d}.flac") for number in range(3)]
    assert [info.frames for info in infos] == [480_000, 480_000, round(5.3 * RATE)]
    assert {(info.samplerate, info.subtype, info.format) for info in infos} == {(RATE, "PCM_24", "FLAC")}
    assert [(tmp_path / "made" / f"{n:03d}.flac").stat().st_size for n in range(3)] == list(
        figures.segment_bytes
    )


@pytest.mark.parametrize(
    ("print_rate", "target_rate", "delay", "drift_ppm", "deepest_db"),
    [
        (48_000, 48_000, 37.25, 0.0, -90),
        (48_000, 48_000, -1000.6, 0.0, -90),
        (44_100, 48_000, 100.3, 0.0, -90),
        (96_000, 48_000, 1000.0, 0.0, -90),
        (192_000, 44_100, 77.7, 0.0, -90),
        (48_000, 96_000, 5.5, 0.0, -90),
        (48_000, 48_000, 250.3, 23.7, -80),
        (48_000, 44_100, 3.2, -180.0, -80),
    ],
)
def test_a_fraction_another_rate_and_a_drifting_clock_null_against_the_signal_itself(
    tmp_path: Path, print_rate: int, target_rate: int, delay: float, drift_ppm: float, deepest_db: float
) -> None:
    """The print holds at its sample delay + t·(1 + drift)·rate what the source holds at t."""
    length_s = 10.5 if print_rate == target_rate else 2.5
    at_s = (np.arange(round((length_s + 0.5) * print_rate)) - delay) / print_rate / (1 + drift_ppm * 1e-6)
    path = write(tmp_path / "print.wav", chord(at_s), print_rate, "FLOAT")
    figures = build_audition(
        path,
        tmp_path / "made",
        delay_samples=delay,
        drift_ppm=drift_ppm,
        target_rate=target_rate,
        length_s=length_s,
    )
    reference = chord(np.arange(round(length_s * target_rate)) / target_rate)
    first = 1100 if delay < 0 else 200  # before them the print of a negative delay holds nothing
    got = heard(tmp_path / "made", figures)
    assert not figures.is_exact
    assert null_db(got[first:], reference[first:]) < deepest_db


def test_moving_by_a_fraction_errs_less_than_it_says() -> None:
    turns = 2 * np.pi * np.linspace(0, 0.46, 2000)
    at = np.arange(-HALF_TAPS + 1, HALF_TAPS + 1)
    for fraction in np.linspace(0, 0.99, 23):
        response = np.exp(1j * np.outer(turns, at)) @ fractional_delay(fraction)
        assert np.abs(response - np.exp(1j * turns * fraction)).max() < 10 ** (-90 / 20)


def test_silence_stands_where_the_print_holds_nothing(tmp_path: Path) -> None:
    path = write(tmp_path / "print.wav", noise(2))
    figures = build_audition(path, tmp_path / "made", delay_samples=-RATE, target_rate=RATE, length_s=12.0)
    got = heard(tmp_path / "made", figures)
    assert len(got) == 12 * RATE
    assert not got[:RATE].any()
    assert got[RATE : 3 * RATE].any()
    assert not got[3 * RATE :].any()


def test_what_the_print_plays_after_its_source_ended_is_left_out(tmp_path: Path) -> None:
    path = write(tmp_path / "print.wav", noise(8))
    figures = build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=3.0)
    assert len(heard(tmp_path / "made", figures)) == 3 * RATE


def test_a_float_print_above_full_scale_is_lowered_not_cut_and_says_by_how_much(tmp_path: Path) -> None:
    loud = 7.9 * noise(12)
    path = write(tmp_path / "print.wav", loud, subtype="FLOAT")
    figures = build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=12.0)
    peak_db = 20 * math.log10(np.abs(loud.astype(np.float32)).max())
    assert figures.peak_dbfs == pytest.approx(peak_db, abs=1e-6)
    assert -peak_db - 0.11 < figures.scale_db <= -peak_db
    assert null_db(heard(tmp_path / "made", figures), loud) < -120
    assert any("above full scale" in note for note in figures.notes)


def test_a_print_at_full_scale_on_both_sides_is_lowered_only_if_it_does_not_fit(tmp_path: Path) -> None:
    square = np.tile([-1.0, 1.0 - 2**-23], RATE)
    path = write(tmp_path / "print.wav", square, subtype="FLOAT")
    figures = build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=2.0)
    assert figures.scale_db == 0
    np.testing.assert_array_equal(heard(tmp_path / "made", figures), square)


def test_a_clipped_print_moved_by_a_fraction_overshoots_and_is_lowered(tmp_path: Path) -> None:
    square = np.sign(noise(2)) * 0.99
    path = write(tmp_path / "print.wav", square)
    figures = build_audition(path, tmp_path / "made", delay_samples=0.5, target_rate=RATE, length_s=2.0)
    assert figures.scale_db < 0
    written = soundfile.read(tmp_path / "made" / "000.flac")[0]
    assert np.abs(written).max() == pytest.approx(1, abs=0.02)
    assert np.count_nonzero(np.abs(written) >= 1 - 2**-22) <= 1


@pytest.mark.parametrize(("channels", "kept"), [(1, 1), (2, 2), (3, 1), (10, 1)])
def test_mono_and_stereo_are_kept_and_more_channels_are_mixed_to_one(
    tmp_path: Path, channels: int, kept: int
) -> None:
    samples = noise(1, channels)
    path = write(tmp_path / "print.wav", samples)
    figures = build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=1.0)
    assert figures.channels == kept
    expected = samples if channels <= 2 else samples.mean(axis=1)
    np.testing.assert_allclose(heard(tmp_path / "made", figures), expected, atol=2**-22)
    assert any(f"{channels} channels" in note for note in figures.notes) == (channels > 2)


def test_both_channels_of_a_stereo_print_are_moved_alike(tmp_path: Path) -> None:
    at_s = (np.arange(3 * RATE) - 10.5) / RATE
    samples = np.column_stack((chord(at_s), -0.5 * chord(at_s)))
    path = write(tmp_path / "print.wav", samples, subtype="FLOAT")
    figures = build_audition(path, tmp_path / "made", delay_samples=10.5, target_rate=44_100, length_s=2.0)
    left, right = heard(tmp_path / "made", figures).T
    np.testing.assert_allclose(right, -0.5 * left, atol=2**-22)


def test_a_sample_that_is_no_number_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    samples = noise(2)
    samples[RATE] = np.nan
    path = write(tmp_path / "print.wav", samples, subtype="FLOAT")
    with pytest.raises(UnreadableAudio, match="not a number"):
        build_audition(path, tmp_path / "x" / "made", delay_samples=0.0, target_rate=RATE, length_s=2.0)
    assert list((tmp_path / "x").iterdir()) == []


def test_what_was_made_before_is_replaced_whole(tmp_path: Path) -> None:
    path = write(tmp_path / "print.wav", noise(25))
    build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=25.0)
    build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=5.0)
    assert sorted(file.name for file in (tmp_path / "made").iterdir()) == ["000.flac", "loudness.json"]
    assert [folder.name for folder in tmp_path.iterdir() if folder.is_dir()] == ["made"]


def test_a_build_that_breaks_off_leaves_the_old_one_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(tmp_path / "print.wav", noise(25))
    figures = build_audition(path, tmp_path / "made", delay_samples=0.0, target_rate=RATE, length_s=25.0)
    real = audition._write_segment

    def full_at_the_second(target: Path, *rest: object) -> None:
        if target.name == "001.flac":
            raise OSError(28, "No space left on device")
        real(target, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(audition, "_write_segment", full_at_the_second)
    with pytest.raises(OSError, match="No space"):
        build_audition(path, tmp_path / "made", delay_samples=5.0, target_rate=RATE, length_s=25.0)
    assert len(heard(tmp_path / "made", figures)) == 25 * RATE
    assert [folder.name for folder in tmp_path.iterdir() if folder.is_dir()] == ["made"]


def test_memory_does_not_grow_with_length(tmp_path: Path) -> None:
    """At 8 kHz, so that five minutes are quickly made."""

    def most_bytes(minutes: int) -> int:
        path = write(tmp_path / "print.wav", noise(60 * minutes, rate=8000), 8000, "PCM_16")
        tracemalloc.start()
        build_audition(path, tmp_path / "made", delay_samples=0.4, target_rate=8000, length_s=60.0 * minutes)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    assert most_bytes(5) < most_bytes(1) + 2_000_000


def test_blocks_do_not_depend_on_how_they_are_cut(tmp_path: Path) -> None:
    path = write(tmp_path / "print.wav", noise(3))

    def whole(block_frames: int, target_rate: int) -> Audio:
        with Sound(path) as sound:
            blocks = aligned_blocks(
                sound,
                delay_samples=7.3,
                drift_ppm=0.0,
                target_rate=target_rate,
                frames=2 * target_rate,
                block_frames=block_frames,
            )
            return np.concatenate([block.copy() for block in blocks])

    for target_rate in (RATE, 44_100):
        np.testing.assert_allclose(whole(9_999, target_rate), whole(60_000, target_rate), atol=1e-6)


def test_figures_come_back_as_they_were_written(tmp_path: Path) -> None:
    path = write(tmp_path / "print.wav", noise(1))
    figures = build_audition(path, tmp_path / "made", delay_samples=3.0, target_rate=RATE, length_s=1.0)
    assert audition_figures_from_json(json.loads(json.dumps(asdict(figures)))) == figures

"""A reference signal sent through modelled chains, found in the print, measured, and compared."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from hypothesis import given
from hypothesis import strategies as st

from app.signal.reference.compare import compare_references
from app.signal.reference.figures import ReferenceFigures, reference_from_json, reference_to_json
from app.signal.reference.make import read_excerpt, reference_signal, write_reference_signal
from app.signal.reference.measure import measure_reference
from app.signal.reference.plan import plan_from_json, plan_reference, plan_to_json
from tests.standards.signals import Audio, delayed

RATE = 16_000
PLAN = plan_reference(RATE, level_dbfs=-6.0, sweep_s=3.0)
SENT = reference_signal(PLAN).astype(np.float64)


def noise(dbfs: float, seed: int = 1, length: int = len(SENT)) -> Audio:
    return 10 ** (dbfs / 20) * np.random.default_rng(seed).standard_normal(length)


def measured(print_samples: Audio, folder: Path, rate: int = RATE) -> ReferenceFigures:
    soundfile.write(folder / "print.wav", print_samples, rate, subtype="FLOAT")
    return measure_reference(folder / "print.wav", PLAN)


def amp(x: Audio, *, drive: float = 4.0, treble_db: float = 0.0, volume: float = 0.2) -> Audio:
    """An uneven soft clipper (asymmetric tanh), then a one-zero shelf of `treble_db` about 2 kHz."""
    driven = (np.tanh(drive * x + 0.3) - np.tanh(0.3)) * volume
    hz = np.fft.rfftfreq(len(x), 1 / RATE)
    shelf = 1 + (10 ** (treble_db / 20) - 1) * (hz / 2000) ** 2 / (1 + (hz / 2000) ** 2)
    return np.fft.irfft(np.fft.rfft(driven) * shelf, len(x))


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> ReferenceFigures:
    return measured(amp(SENT) + noise(-85), tmp_path_factory.mktemp("original"))


def why(figures: ReferenceFigures, figure: str) -> str:
    return next(entry.reason for entry in figures.absent if entry.figure == figure)


@given(
    st.sampled_from([8000, 22_050, 44_100, 48_000, 88_200, 96_000, 192_000]),
    st.floats(-60, -1),
    st.floats(3, 30),
    st.none() | st.floats(0.1, 60),
)
def test_a_plan_is_read_back_as_it_was_written_and_its_parts_follow_one_another(
    rate: int, level_dbfs: float, sweep_s: float, excerpt_s: float | None
) -> None:
    plan = plan_reference(
        rate, level_dbfs=level_dbfs, sweep_s=sweep_s, excerpt_s=excerpt_s, excerpt_from_s=3.5
    )
    assert plan_from_json(json.loads(json.dumps(plan_to_json(plan)))) == plan
    parts = [plan.lead, plan.marks[0], *plan.steps, plan.sweep, plan.tail, plan.marks[1]]
    ends = [part.start_s + part.length_s for part in parts]
    assert all(part.start_s >= end - 1e-9 for part, end in zip(parts[1:], ends, strict=False))
    assert plan.sweep.to_hz <= 0.45 * rate
    assert plan.headroom_db == -level_dbfs


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [
        ({"level_dbfs": 0.0}, "The level must lie between -60 and -1 dBFS."),
        ({"sweep_s": 1.0}, "The sweep must last 3 to 30 seconds."),
        ({"excerpt_s": 90.0}, "The excerpt must last up to 60 seconds."),
    ],
)
def test_what_cannot_be_made_is_refused_with_a_sentence(wanted: dict[str, float], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        plan_reference(48_000, **wanted)  # type: ignore[arg-type]


def test_a_plan_of_a_newer_version_is_refused() -> None:
    with pytest.raises(ValueError, match="newer"):
        plan_from_json(plan_to_json(replace(PLAN, version=99)))


def test_the_signal_keeps_its_headroom_and_begins_and_ends_silent() -> None:
    assert np.abs(SENT).max() == pytest.approx(10 ** (-6 / 20), abs=0.002)
    assert not SENT[: round(1.5 * RATE)].any()
    assert not SENT[-round(0.3 * RATE) :].any()
    assert np.abs(np.diff(SENT)).max() < 2 * np.pi * PLAN.sweep.to_hz / RATE * 10 ** (-6 / 20) * 1.01


def test_an_excerpt_keeps_the_level_of_its_source(tmp_path: Path) -> None:
    source = np.concatenate((np.zeros(44_100), 0.3 * np.sin(2 * np.pi * 440 * np.arange(88_200) / 44_100)))
    soundfile.write(tmp_path / "source.wav", source, 44_100, subtype="FLOAT")
    plan = plan_reference(RATE, level_dbfs=-20, sweep_s=3, excerpt_s=1.0, excerpt_from_s=1.5)
    write_reference_signal(tmp_path / "made.wav", plan, tmp_path / "source.wav")
    made, rate = soundfile.read(tmp_path / "made.wav")
    assert rate == RATE
    assert plan.excerpt is not None
    middle = made[round((plan.excerpt.start_s + 0.2) * RATE) :][: RATE // 2]
    assert np.abs(middle).max() == pytest.approx(0.3, abs=0.003)
    assert np.abs(made[: round(plan.excerpt.start_s * RATE)]).max() == pytest.approx(0.1, abs=0.001)


def test_an_excerpt_beyond_the_source_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "source.wav", np.zeros(1000), RATE)
    plan = plan_reference(RATE, sweep_s=3, excerpt_s=1.0, excerpt_from_s=5)
    with pytest.raises(ValueError, match="after the source's end"):
        read_excerpt(tmp_path / "source.wav", plan)


def test_a_wire_changes_nothing(tmp_path: Path) -> None:
    figures = measured(SENT, tmp_path)
    assert figures.delay_samples == pytest.approx(0, abs=0.001)
    assert (figures.polarity, figures.likeness) == ("same", pytest.approx(1))
    assert [band.gain_db for band in figures.response] == pytest.approx(
        [0.0] * len(figures.response), abs=0.3
    )
    assert all(step.returned_dbfs == pytest.approx(step.sent_dbfs, abs=0.01) for step in figures.steps)
    assert why(figures, "noise") == "The silence came back as digital silence."


@pytest.mark.parametrize(("delay", "gain"), [(37.25, -0.5), (412.0, 0.1)])
def test_delay_and_polarity_are_found_in_a_longer_print(delay: float, gain: float, tmp_path: Path) -> None:
    before = 5 * RATE
    print_samples = np.concatenate(
        (noise(-50, 2, before), gain * delayed(SENT, delay), noise(-50, 3, 3 * RATE))
    )
    figures = measured(print_samples + noise(-75, 4, len(print_samples)), tmp_path)
    assert figures.delay_samples == pytest.approx(before + delay, abs=0.02)
    assert figures.polarity == ("inverted" if gain < 0 else "same")
    assert figures.noise_floor_dbfs == pytest.approx(-75, abs=0.3)


def test_a_print_whose_beginning_is_cut_off_still_tells_most(tmp_path: Path) -> None:
    figures = measured(
        amp(SENT)[round(1.4 * RATE) :] + noise(-80, 1, len(SENT) - round(1.4 * RATE)), tmp_path
    )
    assert figures.delay_samples == pytest.approx(-1.4 * RATE, abs=0.1)
    assert figures.response
    assert figures.noise_floor_dbfs == pytest.approx(-80, abs=0.5), "read after the sweep instead"


def test_another_rate_is_compared_at_that_rate(tmp_path: Path) -> None:
    print_samples = soxr.resample(delayed(SENT, 80), RATE, 24_000, quality="VHQ")
    figures = measured(print_samples, tmp_path, 24_000)
    assert figures.delay_samples == pytest.approx(120, abs=0.02)
    assert figures.delay_ms == pytest.approx(5, abs=0.001)
    assert [band.gain_db for band in figures.response] == pytest.approx(
        [0.0] * len(figures.response), abs=0.3
    )


@pytest.mark.parametrize("ppm", [40.0, -120.0])
def test_two_clocks_are_told_by_the_two_marks_and_allowed_for(ppm: float, tmp_path: Path) -> None:
    print_samples = reference_signal(PLAN, sample_rate=RATE * (1 + ppm * 1e-6)).astype(np.float64)
    figures = measured(print_samples + noise(-80, 1, len(print_samples)), tmp_path)
    assert figures.drift_ppm == pytest.approx(ppm, abs=2), (
        "parts are placed on whole samples: 0.5 in 14 s is 2 ppm"
    )
    assert [band.gain_db for band in figures.response] == pytest.approx(
        [0.0] * len(figures.response), abs=0.3
    )


def test_compression_is_read_step_by_step(original: ReferenceFigures) -> None:
    """Against the describing function of the same curve, by numerical Fourier integral (closed route)."""
    turn = 2 * np.pi * (np.arange(4096) + 0.5) / 4096
    for step in original.steps[2:]:
        wave = (np.tanh(4 * 10 ** (step.sent_dbfs / 20) * np.sin(turn) + 0.3) - np.tanh(0.3)) * 0.2
        lines = np.abs(np.fft.rfft(wave)) * 2 / 4096
        assert step.returned_dbfs == pytest.approx(20 * np.log10(lines[1]), abs=0.05)
        if step.thd_percent is not None and step.sent_dbfs >= -24:
            expected = 100 * np.sqrt(np.sum(lines[2:11] ** 2)) / lines[1]
            assert step.thd_percent == pytest.approx(expected, rel=0.02)
    changes = [step.gain_change_db for step in original.steps]
    assert changes[-1] is not None
    assert changes[-1] < -3


def test_distortion_by_order_agrees_with_the_step_at_the_same_level(original: ReferenceFigures) -> None:
    """Two routes to the same: sweep and tone, both at the plan's level."""
    band = next(band for band in original.distortion if 190 < band.mid_hz < 210)
    loudest = original.steps[-1]
    for by_sweep, by_tone in zip(band.orders_db[:3], loudest.orders_db[:3], strict=True):
        assert by_sweep == pytest.approx(by_tone, abs=0.3)


def test_harmonics_under_the_noise_are_not_claimed(tmp_path: Path) -> None:
    figures = measured(0.5 * SENT + noise(-60), tmp_path)
    assert all(band.thd_percent is None for band in figures.distortion)
    assert why(figures, "distortion") == "No harmonic rises above the noise."
    assert all(order is None for step in figures.steps for order in step.orders_db)


def test_steps_that_drown_are_absent_with_the_reason(tmp_path: Path) -> None:
    figures = measured(0.05 * SENT + noise(-45), tmp_path)
    assert figures.steps[0].returned_dbfs is None
    assert "too near the noise" in why(figures, f"step at {figures.steps[0].sent_dbfs:g} dBFS")
    assert figures.steps[-1].returned_dbfs == pytest.approx(-6 - 26.02, abs=0.3)


def test_an_overloaded_return_is_no_measurement_of_the_chain(tmp_path: Path) -> None:
    figures = measured(np.clip(3 * SENT, -1, 1), tmp_path)
    assert figures.response == ()
    assert "overloaded" in why(figures, "response")
    assert figures.steps[-1].thd_percent is None
    assert figures.steps[0].returned_dbfs == pytest.approx(-42 + 9.54, abs=0.1)
    assert figures.delay_samples == pytest.approx(0, abs=0.1)


@pytest.mark.parametrize("kind", ["noise", "silence", "short"])
def test_a_file_without_the_signal_says_so(kind: str, tmp_path: Path) -> None:
    print_samples = {"noise": noise(-20), "silence": np.zeros(len(SENT)), "short": SENT[: 4 * RATE]}[kind]
    figures = measured(print_samples, tmp_path)
    assert figures.delay_samples is None
    assert "was not found" in why(figures, "all")


def test_a_chain_that_answers_at_other_frequencies_only_has_no_response(tmp_path: Path) -> None:
    figures = measured(np.abs(SENT) - 0.05 + noise(-80), tmp_path)
    assert figures.response == ()
    assert "other frequencies" in why(figures, "response")


def test_a_chain_that_moves_is_noted(tmp_path: Path) -> None:
    t = np.arange(len(SENT))
    moving = np.interp(t - 40 - 35 * np.sin(2 * np.pi * 0.73 * t / RATE), t, SENT)
    figures = measured(0.5 * (SENT + moving) + noise(-80), tmp_path)
    assert figures.drift_ppm is None
    assert "too unlike" in why(figures, "drift_ppm")
    assert any("moves" in note for note in figures.notes)


def test_figures_are_read_back_as_they_were_written(original: ReferenceFigures) -> None:
    assert reference_from_json(json.loads(json.dumps(reference_to_json(original)))) == original


@pytest.mark.parametrize(
    ("changed", "gain_db", "level", "drive", "verdict", "words"),
    [
        ({}, 0.0, 0.0, 0.0, "match", "Level, tone and drive agree."),
        ({}, -1.2, -1.2, 0.0, "close", "Level: 1.2 dB quieter behind the distortion."),
        ({"drive": 8.0}, 0.0, 0.0, 6.0, "different", "dB more sent"),
        ({"drive": 3.0}, 0.0, 0.0, -2.5, "close", "dB less sent"),
        ({"drive": 8.0}, -5.0, -5.0, 6.0, "different", "dB quieter behind the distortion"),
        ({"treble_db": -6.0}, 0.0, 0.0, 0.0, "different", "dB less from"),
        ({"treble_db": 2.5}, 0.0, 0.0, 0.0, "close", "dB more from"),
    ],
    ids=str,
)
def test_level_tone_and_drive_are_told_apart(
    changed: dict[str, float],
    gain_db: float,
    level: float,
    drive: float,
    verdict: str,
    words: str,
    original: ReferenceFigures,
    tmp_path: Path,
) -> None:
    print_samples = amp(SENT, **changed) * 10 ** (gain_db / 20) + noise(-85, 7)
    comparison = compare_references(original, measured(print_samples, tmp_path))
    assert comparison.level_db == pytest.approx(level, abs=0.4)
    assert comparison.drive_db == pytest.approx(drive, abs=0.4)
    assert comparison.verdict == verdict, comparison
    assert any(words in sentence for sentence in comparison.findings), comparison.findings


def test_another_kind_of_distortion_is_not_called_more_of_the_same(
    original: ReferenceFigures, tmp_path: Path
) -> None:
    fuzz = 0.1 * np.clip(40 * SENT, -1, 1) + noise(-85, 7)
    comparison = compare_references(original, measured(fuzz, tmp_path))
    assert (comparison.verdict, comparison.drive_db) == ("different", None)
    assert any("another manner" in sentence for sentence in comparison.findings)


def test_without_distortion_drive_and_level_cannot_be_told_apart(tmp_path: Path) -> None:
    clean, louder = (measured(gain * SENT + noise(-70, 7), tmp_path) for gain in (0.2, 0.3))
    comparison = compare_references(clean, louder)
    assert comparison.drive_db is None
    assert comparison.level_db == pytest.approx(3.52, abs=0.05)
    assert "cannot be told apart" in comparison.findings[0]


def test_polarity_and_delay_are_compared(original: ReferenceFigures, tmp_path: Path) -> None:
    comparison = compare_references(original, measured(-delayed(amp(SENT), 12.5) + noise(-85, 7), tmp_path))
    assert (comparison.verdict, comparison.polarity) == ("different", "inverted")
    assert comparison.delay_difference_samples == pytest.approx(12.5, abs=0.05)


def test_where_nothing_is_in_common_there_is_no_verdict(original: ReferenceFigures, tmp_path: Path) -> None:
    comparison = compare_references(original, measured(np.zeros(len(SENT)), tmp_path))
    assert comparison.verdict is None
    assert "cannot be compared" in comparison.findings[0]

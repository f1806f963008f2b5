"""Faults put into prints on purpose are found; prints without them raise no alarm."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.ndimage import uniform_filter1d

from app.desk.measuring.findings import find
from app.signal.figures import PrintFigures
from app.signal.measure import measure_print
from app.signal.survey import MOST_RUNS
from tests.corpus import gear, outcomes
from tests.corpus.cases import Made, play
from tests.corpus.conftest import Once
from tests.corpus.sources import RATE, Audio, loop, part

SOURCES = (
    "finger bass",
    "clean guitar",
    "drum kit",
    "drawbar organ",
    "spoken",
    "plucked low string",
    "trumpet",
    "pad",
)

Printed = Callable[[str, int], tuple[Audio, Audio]]
SINE_RMS_DB = 10 * np.log10(2)


def _print_of(source: Audio, seed: int, noise_db: float = -85) -> Audio:
    chain = (
        gear.high_pass(30),
        gear.overdrive(2 + seed % 3),
        gear.cabinet(100 + seed),
        gear.hiss(noise_db, seed),
    )
    print_samples = play(chain, gear.delayed(source, 200.0 + seed))
    return print_samples / np.abs(print_samples).max() * 0.5


def _measured(
    print_samples: Audio, source: Audio | None, folder: Path, subtype: str = "PCM_24"
) -> PrintFigures:
    soundfile.write(folder / "print.wav", print_samples, RATE, subtype=subtype)
    if source is None:
        return measure_print(folder / "print.wav")
    soundfile.write(folder / "source.wav", source, RATE, subtype="PCM_24")
    return measure_print(folder / "print.wav", folder / "source.wav")


def _loudest(print_samples: Audio) -> int:
    return int(np.argmax(uniform_filter1d(print_samples**2, 4800)[RATE:-RATE])) + RATE


@pytest.fixture(scope="module")
def printed(tracks: dict[str, Audio]) -> Printed:
    """The first seconds of a source, and a print of it to be spoilt."""

    @cache
    def made(name: str, seconds: int) -> tuple[Audio, Audio]:
        source = tracks[name][: seconds * RATE]
        return source, _print_of(source, SOURCES.index(name), -70)

    def of(name: str, seconds: int) -> tuple[Audio, Audio]:
        source, print_samples = made(name, seconds)
        return source, print_samples.copy()

    return of


def test_prints_of_the_corpus_raise_no_false_alarm(prints: list[Made], figures: list[PrintFigures]) -> None:
    alarms = []
    for made, found in zip(prints, figures, strict=True):
        faults = found.faults
        if faults.clipped_runs or faults.dropouts or faults.hum is not None or faults.silent:
            alarms.append((made.case.name, len(faults.clipped_runs), faults.dropouts[:2], faults.hum))
    assert not alarms


def test_clipping_is_found_at_any_level(
    tracks: dict[str, Audio], once: Once, tmp_path: Path, write_outcomes: bool
) -> None:
    """The converter clips 2 dB under the highest peak; what comes after turns it down. Of the runs of four samples and more
    at least 90 % are found in every print, and nothing is found that does not touch the ceiling."""
    asked = [
        (name, trim_db, subtype)
        for name in SOURCES[:6]
        for trim_db in (0.0, -7.3)
        for subtype in ("PCM_16", "PCM_24", "FLOAT")
    ]

    def counted() -> list[tuple[int, int, int, int]]:
        counts = []
        for name, trim_db, subtype in asked:
            print_samples = _print_of(tracks[name][: 8 * RATE], SOURCES.index(name))
            ceiling = np.abs(print_samples).max() * 10 ** (-2 / 20)
            clipped = np.clip(print_samples, -ceiling, ceiling) / ceiling * 10 ** (trim_db / 20)
            clipped = np.minimum(clipped, 1 - 2**-15)
            flat = np.abs(print_samples) > ceiling * 1.001
            edges = np.flatnonzero(np.diff(np.concatenate(([False], flat, [False])).astype(int)))
            true = [(a, b - a) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 4]
            runs = _measured(clipped, None, tmp_path, subtype).faults.clipped_runs
            hit = sum(any(abs(run.at_s * RATE - a) <= 3 for run in runs) for a, _ in true)
            near = np.abs(print_samples) > ceiling * 0.995
            astray = sum(not near[max(0, round(run.at_s * RATE) - 4) :][:12].any() for run in runs)
            counts.append((len(true), hit, len(runs), astray))
        return counts

    table = {}
    for (name, trim_db, subtype), (true, hit, runs, astray) in zip(
        asked, once("clipping", __file__, counted), strict=True
    ):
        case = f"{name}, {trim_db:g} dB, {subtype}"
        assert true, case
        assert hit >= 0.9 * true or runs == MOST_RUNS, case
        assert not astray, case
        table[case] = "every run found" if hit == true else f"{hit} of {true} runs found"
    outcomes.hold("clipping", table, write=write_outcomes)


@pytest.mark.parametrize("gain", [1.5, 3.0, 8.0])
def test_a_driven_amp_is_not_clipping(gain: float, tracks: dict[str, Audio], tmp_path: Path) -> None:
    driven = 0.8 * np.tanh(gain * tracks["clean guitar"][: 8 * RATE])
    for subtype in ("PCM_16", "PCM_24"):
        assert not _measured(driven, None, tmp_path, subtype).faults.clipped_runs


@pytest.mark.parametrize("samples", [64, 512, 2048])
@pytest.mark.parametrize("name", SOURCES[:6])
def test_a_hole_is_found(name: str, samples: int, printed: Printed, tmp_path: Path) -> None:
    source, print_samples = printed(name, 8)
    loud = _loudest(print_samples)
    print_samples[loud : loud + samples] = 0
    dropouts = _measured(print_samples, source, tmp_path).faults.dropouts
    assert [item.kind for item in dropouts] == ["gap"]
    assert dropouts[0].at_s == pytest.approx(loud / RATE, abs=0.001)
    assert dropouts[0].samples == pytest.approx(samples, abs=4)


@pytest.mark.parametrize("samples", [256, 512, 1024])
@pytest.mark.parametrize("name", SOURCES[:6])
def test_a_repeated_buffer_is_found(name: str, samples: int, printed: Printed, tmp_path: Path) -> None:
    _, print_samples = printed(name, 8)
    at = _loudest(print_samples) + 17
    print_samples[at : at + samples] = print_samples[at - samples : at]
    dropouts = _measured(print_samples, None, tmp_path).faults.dropouts
    assert [item.kind for item in dropouts] == ["repeat"]
    assert dropouts[0].at_s == pytest.approx(at / RATE, abs=0.001)
    assert dropouts[0].samples == pytest.approx(samples, abs=4)


@pytest.mark.parametrize("samples", [64, 480, 4096])
@pytest.mark.parametrize("name", ["finger bass", "clean guitar", "drum kit", "spoken"])
def test_skipped_samples_are_found_against_the_source(
    name: str, samples: int, printed: Printed, tmp_path: Path
) -> None:
    source, print_samples = printed(name, 16)
    at = 10 * RATE
    print_samples = np.concatenate((print_samples[:at], print_samples[at + samples :]))
    figures = _measured(print_samples, source, tmp_path)
    assert [item.kind for item in figures.faults.dropouts] == ["skip"]
    assert figures.faults.dropouts[0].samples == pytest.approx(samples, abs=3)
    assert figures.faults.dropouts[0].at_s == pytest.approx(10, abs=0.3)
    assert figures.alignment is not None
    assert figures.alignment.delay_samples == pytest.approx(200 + SOURCES.index(name), abs=8)


@pytest.mark.parametrize("name", ["drawbar organ", "choir"])
def test_a_chain_that_moves_loses_no_samples(name: str, folder: Path, tmp_path: Path) -> None:
    """Sustained chords that repeat, under two phasers or a vibrato: delays that seem to jump for a while."""
    source = part(name, folder, 40.0)
    moving = {
        "drawbar organ": (gear.phaser(0.9855), gear.phaser(0.6899), gear.overdrive(5.09), gear.cabinet(5)),
        "choir": (gear.vibrato(0.32, 1.15), gear.overdrive(3.0), gear.cabinet(10)),
    }
    print_samples = play((*moving[name], gear.hiss(-80, 5)), gear.delayed(source, 300))
    assert (
        _measured(print_samples / np.abs(print_samples).max() * 0.5, source, tmp_path).faults.dropouts == ()
    )


def test_hum_is_found_under_playing(
    tracks: dict[str, Audio], once: Once, tmp_path: Path, write_outcomes: bool
) -> None:
    """At least 95 % found, and where it is, loud or soft, under notes that rest and under those that never do."""
    names = [*SOURCES, "bass loop", "breakbeat loop"]
    asked = [
        (name, level_db, mains) for level_db in (-45.0, -56.0) for name in names for mains in (50.05, 59.95)
    ]

    def measured() -> list[tuple[float, float] | None]:
        hums = []
        for name, level_db, mains in asked:
            print_samples = gear.mains(level_db, mains).play(_print_of(tracks[name], names.index(name), -75))
            hum = _measured(print_samples, None, tmp_path).faults.hum
            hums.append(None if hum is None else (hum.mains_hz, hum.level_dbfs))
        return hums

    missed, errors, table = [], [], {}
    for (name, level_db, mains), hum in zip(asked, once("hum", __file__, measured), strict=True):
        is_found = hum is not None and abs(hum[0] - mains) <= 0.2
        table[f"{name}, {level_db:g} dB, {mains:g} Hz"] = "found" if is_found else "missed"
        if is_found:
            errors.append(hum[1] - (level_db + 1.31 - SINE_RMS_DB))
        else:
            missed.append((name, level_db, mains))
    print("hum missed", missed, "level errors", np.round(errors, 1))
    assert len(missed) <= 0.05 * len(asked), missed
    assert np.median(np.abs(errors)) <= 1.0
    outcomes.hold("hum", table, write=write_outcomes)


def test_a_late_start_and_an_early_end_are_measured(tracks: dict[str, Audio], tmp_path: Path) -> None:
    source = tracks["clean guitar"]
    print_samples = _print_of(source, 1)[round(2.5 * RATE) : -round(3.2 * RATE)]
    faults = _measured(print_samples, source, tmp_path).faults
    first_s = int(np.argmax(np.abs(source) > 0.01 * np.abs(source).max())) / RATE
    assert faults.starts_late_s == pytest.approx(2.5 - 0.004 - first_s, abs=0.15)
    assert faults.ends_early_s == pytest.approx(3.2 + 0.004, abs=0.15)
    whole = _measured(_print_of(source, 1), source, tmp_path).faults
    assert (whole.starts_late_s, whole.ends_early_s) == (0.0, 0.0)


CLEAN = (
    *(f"beats/break0{number}.ogg" for number in (1, 2, 3)),
    *(f"beats/rave_{what}.ogg" for what in ("hihat01", "hihat02", "kick01", "kick02", "snare01")),
    *(
        f"beats/{name}.ogg"
        for name in ("909beat01", "electro_beat01", "electro_beat02", "house_loop01", "jungle01")
    ),
    *(
        f"bassloops/{name}.ogg"
        for name in ("briff01", "rave_bass01", "rave_bass02", "techno_bass01", "techno_bass02")
    ),
    *(f"bassloops/techno_synth0{number}.ogg" for number in (1, 2, 3, 4)),
)
"""Recorded loops, some machine-played and exact, some of lopsided waves; in none of them is anything wrong."""


@pytest.mark.parametrize("name", CLEAN)
def test_a_clean_loop_and_its_clean_print_have_no_finding(name: str, tmp_path: Path) -> None:
    source = loop(name)
    source = source / np.abs(source).max() * 0.7
    print_samples = 0.8 * np.concatenate((np.zeros(37), source))
    of_the_print = _measured(print_samples, source, tmp_path)
    of_the_source = measure_print(tmp_path / "source.wav")
    assert [found.sentence for found in (*find(of_the_source), *find(of_the_print))] == []


def test_a_loop_with_an_offset_in_its_rests_has_that_finding(tmp_path: Path) -> None:
    found = find(_measured(loop("bassloops/tb303_01.ogg") * 0.68, None, tmp_path))
    assert [one.kind for one in found] == ["offset"]

"""Hum under music, on the low-rate signal the search is fed with: closed forms and invented lines."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from app.signal.faults.hum import HumSearch
from app.signal.figures import Hum

RATE = 3200.0
Low = NDArray[np.float32]


def _detected(low: Low) -> Hum | None:
    search = HumSearch(RATE, len(low) / RATE)
    for start in range(0, len(low), 6400):
        search.feed(low[start : start + 6400])
    return search.hum()


def _hum(seconds: float, hz: float, *levels_db: float) -> Low:
    """Lines at 1, 2, 3 … times `hz`, each a sine of that peak level."""
    t = np.arange(round(seconds * RATE)) / RATE
    lines = [10 ** (db / 20) * np.sin(2 * np.pi * hz * k * t + k) for k, db in enumerate(levels_db, 1)]
    return np.asarray(np.sum(lines, axis=0), dtype=np.float32)


def _hiss(seconds: float, seed: int = 1, level_db: float = -85) -> Low:
    noise = np.random.default_rng(seed).standard_normal(round(seconds * RATE))
    return (noise * 10 ** (level_db / 20)).astype(np.float32)


def _bass(seconds: float, seed: int, note_s: float = 0.6) -> Low:
    """Notes of a scale on E at 41.2 Hz, each with six partials, one after the other without a rest."""
    rng = np.random.default_rng(seed)
    out = np.zeros(round(seconds * RATE))
    t = np.arange(round(note_s * RATE)) / RATE
    shape = np.exp(-t / 0.5) * np.minimum(1, (note_s - t) / 0.02) * np.minimum(1, t / 0.004)
    for start in range(0, len(out) - len(t), len(t)):
        hz = 41.2 * 2 ** (rng.choice([0, 3, 5, 7, 10, 12, 15]) / 12)
        note = sum(np.sin(2 * np.pi * hz * k * t) / k for k in range(1, 7))
        out[start : start + len(t)] = 0.12 * note * shape
    return out.astype(np.float32)


@pytest.mark.parametrize("mains_hz", [49.6, 50.0, 50.05, 59.95, 60.4])
@pytest.mark.parametrize("level_db", [-45.0, -50.0])
def test_hum_under_a_bass_that_never_rests_is_found_at_its_level(mains_hz: float, level_db: float) -> None:
    levels = (level_db, level_db - 6, level_db - 10)
    detected = _detected(_bass(16, 3) + _hum(16, mains_hz, *levels) + _hiss(16))
    assert detected is not None
    assert detected.mains_hz == pytest.approx(mains_hz, abs=0.05)
    expected = 10 * math.log10(sum(10 ** (level / 10) / 2 for level in levels))
    assert detected.level_dbfs == pytest.approx(expected, abs=1.0)
    assert detected.confidence > 0.9


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_the_mains_own_line_is_hum_even_where_no_other_is_heard(mains_hz: float) -> None:
    detected = _detected(_bass(16, 3) + _hum(16, mains_hz, -56.0) + _hiss(16))
    assert detected is not None
    assert detected.mains_hz == pytest.approx(mains_hz, abs=0.05)
    assert detected.level_dbfs == pytest.approx(-56.0 - 3.01, abs=2.0)


@pytest.mark.parametrize("hz", [50.4, 59.5, 100.0, 120.0])
def test_a_line_as_faint_that_is_not_the_mains_own_is_no_hum(hz: float) -> None:
    assert _detected(_bass(16, 3) + _hum(16, hz, -56.0) + _hiss(16)) is None


@pytest.mark.parametrize("seed", range(6))
def test_a_bass_without_hum_has_none(seed: int) -> None:
    assert _detected(_bass(16, seed) + _hiss(16)) is None


@pytest.mark.parametrize("turn_s", [0.53, 1.875, 2.0])
def test_a_loop_that_repeats_exactly_is_not_hum_however_steady_its_lines(turn_s: float) -> None:
    turn = _bass(turn_s, 5, turn_s / 4.2)
    loop = np.tile(turn, math.ceil(16 / turn_s))[: round(16 * RATE)]
    assert _detected(loop + _hiss(16)) is None


def _machine(seconds: float, seed: int) -> Low:
    """The same short hit again and again, as a machine plays it: at odd places of a grid of 24 a second."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(0.08 * RATE)) / RATE
    hit = np.exp(-t / 0.012) * rng.standard_normal(len(t))
    out = np.zeros(round(seconds * RATE))
    step = 0
    while (at := round(step / 24 * RATE)) < len(out) - len(hit):
        out[at : at + len(hit)] += 0.3 * hit
        step += rng.choice([4, 6, 8, 10])
    return out.astype(np.float32)


@pytest.mark.parametrize("seed", range(12))
def test_the_comb_of_a_rhythm_is_not_hum(seed: int) -> None:
    assert _detected(_machine(2.7, seed) + _hiss(2.7)) is None


def test_hum_under_a_rhythm_is_found() -> None:
    detected = _detected(_machine(8, 3) + _hum(8, 59.95, -40, -46, -50) + _hiss(8))
    assert detected is not None
    assert detected.mains_hz == pytest.approx(59.95, abs=0.05)


def test_hum_under_such_a_loop_is_found() -> None:
    turn = _bass(1.875, 5, 0.44)
    loop = np.tile(turn, 9)[: round(16 * RATE)]
    detected = _detected(loop + _hum(16, 50.05, -56, -62, -66) + _hiss(16))
    assert detected is not None
    assert detected.mains_hz == pytest.approx(50.05, abs=0.05)
    assert detected.level_dbfs == pytest.approx(-54.7 - 3.01, abs=1.5)


@pytest.mark.parametrize("hz", [50.0, 100.0, 60.0, 120.0])
def test_a_note_on_the_mains_frequency_that_stops_is_not_hum(hz: float) -> None:
    t = np.arange(round(16 * RATE)) / RATE
    played = (t % 3.1) < 2.0
    note = sum(0.1 / k * np.sin(2 * np.pi * hz * k * t) for k in (1, 2, 3)) * played
    assert _detected(note.astype(np.float32) + _hiss(16)) is None


def test_mains_that_wander_by_a_hundredth_of_a_hertz_are_found() -> None:
    t = np.arange(round(64 * RATE)) / RATE
    hz = 50.02 + 0.01 * np.sin(2 * np.pi * t / 40)
    turns = 2 * np.pi * np.cumsum(hz) / RATE
    hum = (3e-3 * np.sin(turns) + 2e-3 * np.sin(2 * turns)).astype(np.float32)
    detected = _detected(_bass(64, 9) + hum + _hiss(64))
    assert detected is not None
    assert detected.mains_hz == pytest.approx(50.02, abs=0.03)


@pytest.mark.parametrize("seconds", [0.0, 0.5, 1.9])
def test_less_than_two_seconds_cannot_tell_hum_from_a_note(seconds: float) -> None:
    assert _detected(_hum(seconds, 50.0, -40, -46)) is None


def test_silence_has_no_hum() -> None:
    assert _detected(np.zeros(round(20 * RATE), dtype=np.float32)) is None

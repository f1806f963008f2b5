"""Mains hum against the tolerances of EN 50160 and closed forms; tolerances of levels are ours."""

import math
from pathlib import Path

import numpy as np
import pytest

from app.signal.hum import MAINS_HZ, TOLERANCE
from tests.standards.signals import measured

RATE = 48000


def test_the_search_reaches_one_per_cent_either_way() -> None:
    """EN 50160: ±1 % as 10 s means; 60 Hz by analogy (from memory)."""
    assert [(hz * (1 - TOLERANCE), hz * (1 + TOLERANCE)) for hz in MAINS_HZ] == [
        pytest.approx((49.5, 50.5)),
        pytest.approx((59.4, 60.6)),
    ]


@pytest.mark.parametrize("mains", [50.1, 49.55, 60.0, 60.45, 59.5])
def test_three_lines_in_noise_read_their_summed_level(mains: float, tmp_path: Path) -> None:
    """10 s, multiples of the mains at -60/-66/-70 dBFS in noise at -80: total -58.69 ±0.1."""
    t = np.arange(RATE * 10) / RATE
    lines = [(1, -60.0), (2, -66.0), (3, -70.0)]
    hum = sum(10 ** (level / 20) * np.sin(2 * np.pi * mains * k * t + k) for k, level in lines)
    noise = np.random.default_rng(1).standard_normal(len(t)) * 10 ** (-80 / 20)
    found = measured(hum + noise, tmp_path).faults.hum
    assert found is not None
    expected = 10 * math.log10(sum(10 ** (level / 10) for _, level in lines))
    assert expected == pytest.approx(-58.693, abs=0.001)
    assert found.level_dbfs == pytest.approx(expected, abs=0.1)
    assert found.mains_hz == pytest.approx(mains, abs=0.1)
    assert found.confidence > 0.9


def test_300_hz_alone_is_neither_50_nor_60(tmp_path: Path) -> None:
    """The 6th multiple of 50 is the 5th of 60, so nothing is decided on 300, 600 or 900 Hz."""
    t = np.arange(RATE * 10) / RATE
    noise = np.random.default_rng(1).standard_normal(len(t)) * 1e-4
    assert measured(0.01 * np.sin(2 * np.pi * 300 * t) + noise, tmp_path).faults.hum is None


@pytest.mark.parametrize("hz", [30.87, 41.2, 49.0, 61.74, 98.0])
def test_a_held_note_near_the_mains_is_not_hum(hz: float, tmp_path: Path) -> None:
    """B0, E1, G1, B1, G2: none lies within 1 % of 50 or 60 Hz or its multiples by their fundamentals."""
    t = np.arange(RATE * 10) / RATE
    note = sum(np.sin(2 * np.pi * hz * k * t) / k for k in range(1, 8)) * 0.1
    shape = np.exp(-((t % 2.0) / 0.8))
    noise = np.random.default_rng(1).standard_normal(len(t)) * 1e-4
    assert measured(note * shape + noise, tmp_path).faults.hum is None

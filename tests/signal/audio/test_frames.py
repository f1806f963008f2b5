"""What is kept of a spectrum over time in two bytes a value, and rows that arrive a few at a time."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.signal.audio.frames import BandFrames, coded
from app.signal.audio.rows import Rows


@given(st.floats(-155, 160))
def test_a_level_is_read_back_within_0_0026_db(level_db: float) -> None:
    frames = BandFrames(coded(np.array([[10 ** (level_db / 10)]], dtype=np.float32)))
    assert 10 * np.log10(frames.part(slice(None))[0, 0]) == pytest.approx(level_db, abs=0.0026)


def test_nothing_stays_nothing_and_what_is_beyond_the_scale_stays_at_its_ends() -> None:
    read = BandFrames(coded(np.array([[0.0, 1e-30, 1e30]], dtype=np.float32))).part(slice(None))[0]
    assert read[0] == read[1] == 0
    assert 1e16 < read[2] < np.inf


def test_bands_and_sums_are_those_of_the_frames() -> None:
    frames = BandFrames(coded(np.random.default_rng(1).random((20_000, 5)).astype(np.float32)))
    whole = frames.part(slice(None))
    assert np.array_equal(frames.bands(np.array([1, 3])), whole[:, [1, 3]].T)
    assert frames.summed() == pytest.approx(whole.sum(axis=1))
    assert frames.summed(slice(1, 4)) == pytest.approx(whole[:, 1:4].sum(axis=1))


@pytest.mark.parametrize("expected", [0, 7, 10_000])
def test_rows_grow_beyond_what_was_expected(expected: int) -> None:
    rows = Rows(np.float32, expected, 2)
    parts = [np.full((size, 2), size, dtype=np.float32) for size in (3, 1, 0, 500, 2)]
    for part in parts:
        rows.add(part)
    assert np.array_equal(rows.all, np.concatenate(parts))

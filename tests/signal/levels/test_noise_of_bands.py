"""What of each third octave is there while nobody plays."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from app.signal.figures import BandLevel
from app.signal.measure import measure_print

RATE = 48_000


def bands(folder: Path, *, rests: bool, hiss_db: float) -> dict[float, BandLevel]:
    """A low note, eight seconds of it, over white noise."""
    t = np.arange(8 * RATE) / RATE
    note = 0.3 * np.sin(2 * np.pi * 110 * t) * (np.where(t % 2 < 1.5, 1, 0) if rests else 1)
    noise = np.random.default_rng(3).standard_normal(len(t)) * 10 ** (hiss_db / 20)
    soundfile.write(folder / "print.wav", note + noise, RATE, subtype="PCM_24")
    return {round(band.mid_hz): band for band in measure_print(folder / "print.wav").bands}


def test_a_band_of_hiss_lies_at_its_floor_and_a_note_far_above(tmp_path: Path) -> None:
    found = bands(tmp_path, rests=True, hiss_db=-70)
    hiss, note = found[7943], found[126]
    assert hiss.level_dbfs is not None
    assert hiss.floor_dbfs == pytest.approx(hiss.level_dbfs, abs=1.5)
    played = found[100]
    assert played.level_dbfs is not None
    assert played.floor_dbfs is not None
    assert played.level_dbfs - played.floor_dbfs > 40
    assert note.floor_dbfs is not None


def test_what_never_rests_has_no_floor(tmp_path: Path) -> None:
    assert all(band.floor_dbfs is None for band in bands(tmp_path, rests=False, hiss_db=-70).values())

"""Loudness, range and true peak on real recorded loops beside two peers: ffmpeg's ebur128 filter and pyloudnorm.

Peers are references, not truths: pyloudnorm reads 0.04 LU below ffmpeg, and true peaks of good interpolators differ by
up to 0.15 dB. Loudness within 0.1 LU, range within 0.2 LU, true peak within 0.2 dB.
"""

import re
import shutil
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile

from app.signal.figures import PrintFigures
from app.signal.measure import measure_print

LOOPS = Path("/usr/share/lmms/samples")
NAMES = (
    "beats/jungle01.ogg",
    "beats/909beat01.ogg",
    "beats/electro_beat01.ogg",
    "bassloops/tb303_01.ogg",
    "bassloops/techno_synth01.ogg",
    "bassloops/techno_synth03.ogg",
    "latin/latin_guitar01.ogg",
    "latin/latin_brass01.ogg",
)
REPEATS = 4


@cache
def _loop(name: str, folder: Path) -> Path:
    """The loop four times over, so that all meters have enough, as a 24-bit file."""
    path = LOOPS / name
    if not path.exists():
        pytest.fail(f"{path} is missing: apt-get install lmms-common")
    samples, rate = soundfile.read(path, always_2d=True)
    out = folder / (path.stem + ".wav")
    soundfile.write(out, np.tile(samples, (REPEATS, 1)) * 0.7, rate, subtype="PCM_24")
    return out


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("loops")


@cache
def _ours(path: Path) -> PrintFigures:
    return measure_print(path)


@cache
def _ffmpeg(path: Path) -> tuple[float, float, float]:
    """Integrated loudness, loudness range, true peak."""
    program = shutil.which("ffmpeg")
    if program is None:
        pytest.fail("ffmpeg is missing: apt-get install ffmpeg")
    command = [
        program,
        "-hide_banner",
        "-nostats",
        "-i",
        str(path),
        "-af",
        "ebur128=peak=true",
        "-f",
        "null",
        "-",
    ]
    summary = subprocess.run(command, capture_output=True, text=True, check=True).stderr.rsplit(
        "Summary:", 1
    )[1]
    values = [re.search(rf"{label}:\s+(-?[\d.]+)", summary) for label in ("I", "LRA", "Peak")]
    assert all(values)
    return tuple(float(value[1]) for value in values if value)  # type: ignore[return-value]


@pytest.mark.parametrize("name", NAMES)
def test_beside_ffmpeg(name: str, folder: Path) -> None:
    path = _loop(name, folder)
    loudness, loudness_range, peak = _ffmpeg(path)
    level = _ours(path).level
    assert level.integrated_lufs == pytest.approx(loudness, abs=0.1)
    assert level.loudness_range_lu == pytest.approx(loudness_range, abs=0.2)
    assert level.true_peak_dbtp == pytest.approx(peak, abs=0.2)


@pytest.mark.parametrize("name", NAMES)
def test_beside_pyloudnorm(name: str, folder: Path) -> None:
    path = _loop(name, folder)
    samples, rate = soundfile.read(path, always_2d=True)
    peer = pyloudnorm.Meter(rate).integrated_loudness(samples)
    assert _ours(path).level.integrated_lufs == pytest.approx(peer, abs=0.1)

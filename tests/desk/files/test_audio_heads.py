"""What a header says, against files that a library of its own wrote."""

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_session import tone, wav

from app.desk.files.audio_heads import read_head

FORMATS = [("WAV", "PCM_16"), ("WAV", "FLOAT"), ("RF64", "PCM_24"), ("AIFF", "PCM_24"), ("FLAC", "PCM_16")]


def put(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(("kind", "subtype"), FORMATS)
@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_a_finished_file_says_how_long_it_is(tmp_path: Path, kind: str, subtype: str, rate: int) -> None:
    path = tmp_path / "take"
    soundfile.write(path, np.zeros((rate // 8, 2), np.float32), rate, format=kind, subtype=subtype)
    head = read_head(path)
    assert head is not None
    assert head.is_finished
    assert head.duration_s == pytest.approx((rate // 8) / rate, abs=1e-12)
    assert (head.sample_rate, head.channels) == (rate, 2)


@pytest.mark.parametrize(("kind", "subtype"), FORMATS[:4])
def test_a_file_cut_off_anywhere_in_its_samples_is_not_finished(
    tmp_path: Path, kind: str, subtype: str
) -> None:
    path = tmp_path / "take"
    soundfile.write(path, np.zeros(5000, np.float32), 48_000, format=kind, subtype=subtype)
    whole = path.read_bytes()
    for kept in (20, 60, len(whole) // 2, len(whole) - 4):
        head = read_head(put(path, whole[:kept]))
        assert head is not None
        assert not head.is_finished


@pytest.mark.parametrize("said", [0, 0xFFFFFFFF])
def test_a_size_that_stands_there_until_the_true_one_is_known_is_not_finished(
    tmp_path: Path, said: int
) -> None:
    audio = bytearray(tone(0.1))
    audio[40:44] = struct.pack("<I", said)
    head = read_head(put(tmp_path / "take.wav", bytes(audio)))
    assert head is not None
    assert not head.is_finished


def test_a_size_that_was_right_a_while_ago_is_not_finished(tmp_path: Path) -> None:
    """A header brought up to date during the take, with samples behind what it says."""
    early = wav(b"\x01\x90" * 8000, promised_bytes=4000)
    head = read_head(put(tmp_path / "take.wav", early))
    assert head is not None
    assert not head.is_finished


def test_a_chunk_behind_the_samples_is_no_unfinished_take(tmp_path: Path) -> None:
    data = wav(b"\0\0" * 100) + b"LIST" + struct.pack("<I", 4) + b"INFO"
    head = read_head(put(tmp_path / "take.wav", data))
    assert head is not None
    assert head.is_finished


def test_when_it_began_is_read_from_the_broadcast_extension(tmp_path: Path) -> None:
    from datetime import UTC, datetime

    from app.desk.files.broadcast_wave import Extension, header

    extension = Extension("", "", "", datetime(2026, 1, 1, tzinfo=UTC), 172_800_123_456, "")
    data = header(extension, sample_rate=48_000, channels=1, frames=100) + bytes(300)
    head = read_head(put(tmp_path / "take.wav", data))
    assert head is not None
    assert (head.time_reference, head.is_finished) == (172_800_123_456, True)


@given(
    start=st.sampled_from([b"", b"RIFF____WAVE", b"RF64____WAVE", b"FORM____AIFF", b"fLaC"]),
    rest=st.binary(max_size=400),
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_bytes_make_it_fail(tmp_path: Path, start: bytes, rest: bytes) -> None:
    head: Any = read_head(put(tmp_path / "take", start + rest))
    assert head is None or head.duration_s is None or head.duration_s >= 0

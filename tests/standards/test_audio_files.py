"""Containers against RFC 9639 (FLAC), EBU Tech 3306 (RF64), ITU-R BS.2088 (BW64) and the WAV size limit."""

import hashlib
from pathlib import Path

import numpy as np
import pytest
import soundfile

from app.signal.reading import Sound, probe


def _ten_ms(rate: int = 48000) -> np.ndarray:
    return (np.random.default_rng(1).standard_normal((rate // 100, 2)) * 0.1).astype(np.float32)


@pytest.mark.parametrize("magic", [b"RF64", b"BW64"])
def test_rf64_and_bw64_read_the_same(magic: bytes, tmp_path: Path) -> None:
    """Tech 3306: ds64 before fmt, a 32-bit size of 0xFFFFFFFF points there; BS.2088 keeps the layout."""
    path = tmp_path / "long.wav"
    soundfile.write(path, _ten_ms(), 48000, format="RF64", subtype="PCM_24")
    written = path.read_bytes()
    assert written[:8] == b"RF64\xff\xff\xff\xff"
    assert written[12:16] == b"ds64"
    assert int.from_bytes(written[16:20], "little") == 28
    path.write_bytes(magic + written[4:])
    found = probe(path)
    assert (found.format, found.frames, found.channels) == (magic.decode(), 480, 2)
    with Sound(path) as sound:
        assert not sound.notes
        np.testing.assert_allclose(sound.read(0, 480), _ten_ms(), atol=2**-23)


def test_an_odd_chunk_is_padded(tmp_path: Path) -> None:
    """RIFF: one pad byte, not counted in the size."""
    path = tmp_path / "odd.wav"
    soundfile.write(path, _ten_ms(), 48000, subtype="PCM_16")
    plain = path.read_bytes()
    odd = b"note" + (3).to_bytes(4, "little") + b"abc\x00"
    body = plain[12:36] + odd + plain[36:]
    path.write_bytes(b"RIFF" + (4 + len(body)).to_bytes(4, "little") + b"WAVE" + body)
    with Sound(path) as sound:
        assert sound.frames == 480
        assert not sound.notes


def test_an_extensible_header_reads_as_wav(tmp_path: Path) -> None:
    path = tmp_path / "extensible.wav"
    soundfile.write(path, _ten_ms(), 48000, format="WAVEX", subtype="PCM_24")
    assert path.read_bytes()[20:22] == b"\xfe\xff"
    assert probe(path).format == "WAV"


@pytest.mark.parametrize(
    ("rate", "channels", "hours"),
    [(48000, 1, 8.285), (48000, 2, 4.143), (96000, 2, 2.071), (192000, 2, 1.036)],
)
def test_how_long_a_plain_wav_of_24_bits_can_be(rate: int, channels: int, hours: float) -> None:
    """(2^32 - 1) bytes."""
    assert (2**32 - 1) / (rate * channels * 3) / 3600 == pytest.approx(hours, abs=0.001)


def test_flac_holds_the_md5_of_its_samples_and_the_same_take_as_wav_agrees(tmp_path: Path) -> None:
    """RFC 9639, 8.2: STREAMINFO's last 16 bytes are the MD5 of the unencoded samples, little-endian, interleaved."""
    samples = np.random.default_rng(2).integers(-20000, 20000, (480, 2)).astype(np.int16)
    soundfile.write(tmp_path / "take.flac", samples, 48000, subtype="PCM_16")
    soundfile.write(tmp_path / "take.wav", samples, 48000, subtype="PCM_16")
    head = (tmp_path / "take.flac").read_bytes()
    assert head[:4] == b"fLaC"
    assert int.from_bytes(head[5:8], "big") == 34
    assert head[26:42] == hashlib.md5(samples.astype("<i2").tobytes()).digest()
    with Sound(tmp_path / "take.flac") as one, Sound(tmp_path / "take.wav") as other:
        np.testing.assert_array_equal(one.read(0, 480), other.read(0, 480))

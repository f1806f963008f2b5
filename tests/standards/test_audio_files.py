"""Containers against RFC 9639 (FLAC), EBU Tech 3306 (RF64), ITU-R BS.2088 (BW64) and RIFF."""

import hashlib
from pathlib import Path

import numpy as np
import pytest
import soundfile

from app.signal.audio.reading import Sound, probe
from tests.standards.rows import FILES

RFC_9639 = "RFC 9639"


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
    FILES.hold(
        f"{magic.decode()} file: kind, frames",
        (found.format, str(found.frames)),
        (magic.decode(), "480"),
        source="EBU Tech 3306; BS.2088",
    )
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
        FILES.hold("frames behind a chunk of odd length", sound.frames, 480, source="RIFF")
        assert not sound.notes


def test_an_extensible_header_reads_as_wav(tmp_path: Path) -> None:
    path = tmp_path / "extensible.wav"
    soundfile.write(path, _ten_ms(), 48000, format="WAVEX", subtype="PCM_24")
    assert path.read_bytes()[20:22] == b"\xfe\xff"
    FILES.hold(
        "extensible header: kind", probe(path).format, "WAV", source="WAVE_FORMAT_EXTENSIBLE, structure"
    )


# The example files of RFC 9639, Appendix D, byte for byte; and what Appendix D says their samples are.
EXAMPLES = {
    "D.1": """
        664c6143 80000022 10001000 00000f00 000f0ac4 42f00000 00013e84 b41807dc 69030758 6a3dad1a
        2e0ffff8 69180000 bf0358fd 03128baa 9a""",
    "D.2": """
        664c6143 00000022 00100010 00001700 00440ac4 42f00000 0013d5b0 564975e9 8b8d8b93 0422757b
        81030300 00120000 00000000 00000000 00000000 00000010 0400003a 20000000 72656665 72656e63
        65206c69 62464c41 4320312e 332e3320 32303139 30383034 01000000 0e000000 5449544c 453dd7a9
        d79cd795 d79d8100 00060000 00000000 fff86998 000f9912 08670162 3d144299 8f5df70d 6fe00c17
        caeb2100 0ee7a77a 24a1590c 1217b603 097b784f aa9a33d2 85e070ad 5b1b4851 b4010d99 d2cd1a68
        f1e6b810 fff86918 0102a402 c382c40b c14a03ee 48dd03b6 7c1330""",
    "D.3": """
        664c6143 80000022 10001000 00001f00 001f07d0 00700000 0018f8f9 e396f5cb cfc6dc80 7f997790
        6b32fff8 68020017 e944004f 6f313d10 47d227cb 6d090831 452bdc28 22228057 a3""",
}
LEFT = (
    *(10372, 18041, 14942, 17876, 15627, 17899, 16242, 18077, 16824, 18263),
    *(17295, -14418, -15201, -14508, -15195, -14818, -15486, -15349, -16054),
)
RIGHT = (
    *(6070, 10545, 8743, 10449, 9143, 10463, 9502, 10569, 9840, 10680),
    *(10113, -8428, -8895, -8476, -8896, -8653, -9072, -8958, -9410),
)
FIRST_OF_D_3 = (0, 79, 111, 78, 8, -61, -90, -68, -13, 42, 67, 53, 13, -27, -46)


@pytest.mark.parametrize(
    ("example", "rate", "channels", "frames", "md5"),
    [
        ("D.1", 44100, 2, 1, "3e84b41807dc690307586a3dad1a2e0f"),
        ("D.2", 44100, 2, 19, "d5b0564975e98b8d8b930422757b8103"),
        ("D.3", 32000, 1, 24, "f8f9e396f5cbcfc6dc807f9977906b32"),
    ],
)
def test_the_example_files_of_rfc_9639(
    example: str, rate: int, channels: int, frames: int, md5: str, tmp_path: Path
) -> None:
    """8.2: STREAMINFO ends with the MD5 of the samples, signed, little-endian, interleaved, in whole bytes."""
    path = tmp_path / "example.flac"
    path.write_bytes(bytes.fromhex(EXAMPLES[example]))
    with Sound(path) as sound:
        found = (sound.sample_rate, sound.channels, sound.frames)
        samples = sound.read(0, frames).astype(np.float64)
    wide = example != "D.3"
    whole = np.round(samples * (2**15 if wide else 2**7)).astype("<i2" if wide else "i1")
    FILES.hold(
        f"example {example}: rate, channels, frames",
        found,
        (rate, channels, frames),
        source=f"{RFC_9639}, {example}",
    )
    FILES.hold(
        f"example {example}: MD5 of its samples",
        hashlib.md5(whole.tobytes()).hexdigest(),
        md5,
        source=f"{RFC_9639}, {example}",
    )
    assert path.read_bytes()[26:42].hex() == md5
    expected = {
        "D.1": [(25588, 10416)],
        "D.2": list(zip(LEFT, RIGHT, strict=True)),
        "D.3": [(value,) for value in FIRST_OF_D_3],
    }[example]
    assert [tuple(frame) for frame in whole[: len(expected)].tolist()] == expected


def test_flac_holds_the_md5_of_its_samples_and_the_same_take_as_wav_agrees(tmp_path: Path) -> None:
    samples = np.random.default_rng(2).integers(-20000, 20000, (480, 2)).astype(np.int16)
    soundfile.write(tmp_path / "take.flac", samples, 48000, subtype="PCM_16")
    soundfile.write(tmp_path / "take.wav", samples, 48000, subtype="PCM_16")
    head = (tmp_path / "take.flac").read_bytes()
    assert head[:4] == b"fLaC"
    FILES.hold("STREAMINFO, bytes", int.from_bytes(head[5:8], "big"), 34, source=f"{RFC_9639}, 8.2")
    with Sound(tmp_path / "take.flac") as one, Sound(tmp_path / "take.wav") as other:
        np.testing.assert_array_equal(one.read(0, 480), other.read(0, 480))
        as_read = np.round(other.read(0, 480).astype(np.float64) * 2**15).astype("<i2")
    FILES.hold(
        "MD5 of a take read from WAV, against that in its FLAC",
        hashlib.md5(as_read.tobytes()).hexdigest(),
        head[26:42].hex(),
        source=f"{RFC_9639}, 8.2",
    )

"""Broadcast Wave byte by byte: EBU Tech 3285 v2 (bext), EBU Tech 3306 (RF64), and ffprobe as a reader of its own."""

import json
import struct
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from app.desk.files import broadcast_wave
from app.desk.files.broadcast_wave import Extension, bext, header, padding, read_time_reference
from tests.standards.rows import FILES

TECH_3285 = "EBU Tech 3285 v2"
AT = datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC)
FIELDS = {  # EBU Tech 3285 v2: field, offset, bytes
    "description": (0, 256),
    "originator": (256, 32),
    "originator_reference": (288, 32),
    "date": (320, 10),
    "time": (330, 8),
    "time_reference_low": (338, 4),
    "time_reference_high": (342, 4),
    "version": (346, 2),
    "umid": (348, 64),
    "loudness_value": (412, 2),
    "loudness_range": (414, 2),
    "max_true_peak_level": (416, 2),
    "max_momentary_loudness": (418, 2),
    "max_short_term_loudness": (420, 2),
    "reserved": (422, 180),
}


KNOWN = {
    "description": b"Boathouse / bass DI".ljust(256, b"\0"),
    "originator": b"Dialback".ljust(32, b"\0"),
    "originator_reference": b"DIALBACK 0123456789abcdef".ljust(32, b"\0"),
    "date": b"2026-03-04",
    "time": b"05:06:07",
    "version": b"\x02\x00",
    "umid": bytes(64),
    "loudness_value": struct.pack("<h", -2300),
    "reserved": bytes(180),
}


def extension(
    time_reference: int = 0, loudness_lufs: float | None = None, description: str = "Boathouse / bass DI"
) -> Extension:
    return Extension(
        description, "Dialback", "DIALBACK 0123456789abcdef", AT, time_reference, "A=PCM\r\n", loudness_lufs
    )


def field(body: bytes, name: str) -> bytes:
    offset, size = FIELDS[name]
    return body[offset : offset + size]


def test_every_field_stands_where_tech_3285_puts_it() -> None:
    body = bext(extension(loudness_lufs=-23.0))
    assert body[602:] == b"A=PCM\r\n\0"
    for name in (
        "loudness_range",
        "max_true_peak_level",
        "max_momentary_loudness",
        "max_short_term_loudness",
    ):
        FILES.hold(f"{name}, unused", field(body, name).hex(" "), "ff 7f", source=TECH_3285)
    FILES.hold(
        "bext: fields of known content found at their places",
        [name for name, written in KNOWN.items() if field(body, name) == written],
        list(KNOWN),
        source=TECH_3285,
    )


@pytest.mark.parametrize(
    ("clock", "time_reference", "low", "high"),
    [
        ("10:00:00 at 48 kHz", 1_728_000_000, 0x66FF3000, 0),
        ("12:34:56 at 44.1 kHz", 1_997_553_600, 0x77103FC0, 0),
        ("23:59:59 at 192 kHz", 16_588_608_000, 0xDCC21200, 3),
    ],
)
def test_the_time_reference_is_two_little_endian_words(
    clock: str, time_reference: int, low: int, high: int
) -> None:
    body = bext(extension(time_reference))
    FILES.hold(
        f"time reference {clock}: low and high word",
        (field(body, "time_reference_low").hex(" "), field(body, "time_reference_high").hex(" ")),
        (struct.pack("<I", low).hex(" "), struct.pack("<I", high).hex(" ")),
        source=TECH_3285,
    )


@pytest.mark.parametrize(
    ("lufs", "word"), [(-23.0, 0xF704), (-14.25, 0xFA6F), (None, 0x7FFF), (-120.0, 0x7FFF)]
)
def test_loudness_is_written_in_hundredths_or_marked_unused(lufs: float | None, word: int) -> None:
    FILES.hold(
        f"loudness field of {lufs} LUFS, bytes",
        field(bext(extension(loudness_lufs=lufs)), "loudness_value").hex(" "),
        struct.pack("<H", word).hex(" "),
        source=TECH_3285,
    )


@pytest.mark.parametrize(("rate", "hours"), [(48_000, 24.86), (96_000, 12.43), (192_000, 6.21)])
def test_the_low_word_wraps_and_the_high_word_carries_on(rate: int, hours: float) -> None:
    """A sample before and a sample after 2^32."""
    before, after = (bext(extension(2**32 + n)) for n in (-1, 0))
    assert field(before, "time_reference_high") == bytes(4)
    wraps = int.from_bytes(field(before, "time_reference_low"), "little") + 1
    assert field(after, "time_reference_low") == bytes(4)
    assert field(after, "time_reference_high") == b"\x01\0\0\0"
    FILES.hold(f"low word wraps at {rate / 1000:g} kHz, h", wraps / rate / 3600, hours, 0.005, source="2^32")


@pytest.mark.parametrize(
    ("rate", "channels", "hours"),
    [(48_000, 1, 8.285), (48_000, 2, 4.143), (96_000, 2, 2.071), (192_000, 2, 1.036)],
)
def test_how_long_a_file_stays_a_plain_wav(rate: int, channels: int, hours: float) -> None:
    """The longest that `header` still writes as RIFF: (2^32 - 1) bytes of 24-bit samples, less some for the header."""
    low, high = 0, 2**32
    while high - low > 1:
        frames = (low + high) // 2
        is_plain = header(extension(), sample_rate=rate, channels=channels, frames=frames)[:4] == b"RIFF"
        low, high = (frames, high) if is_plain else (low, frames)
    FILES.hold(
        f"longest plain WAV, 24 bits, {channels} ch, {rate / 1000:g} kHz, h",
        low / rate / 3600,
        hours,
        0.001,
        source="2^32 - 1 bytes",
    )


def test_more_than_two_channels_have_an_extensible_header() -> None:
    """A `fmt ` chunk of 40 bytes: tag 0xFFFE, 22 more bytes, valid bits, channel mask, and PCM's sub-format."""
    written = header(extension(), sample_rate=48_000, channels=4, frames=100)
    at = written.index(b"fmt ")
    size, tag = struct.unpack("<IH", written[at + 4 : at + 10])
    more, valid_bits, mask = struct.unpack("<HHI", written[at + 24 : at + 32])
    FILES.hold(
        "extensible header: size, tag, extra bytes, valid bits, mask",
        (size, tag, more, valid_bits, mask),
        (40, 0xFFFE, 22, 24, 0),
        source="WAVE_FORMAT_EXTENSIBLE, structure",
    )
    FILES.hold(
        "extensible header: sub-format of PCM",
        written[at + 32 : at + 48].hex(),
        "0100000000001000800000aa00389b71",
        source="WAVE_FORMAT_EXTENSIBLE (from memory)",
    )


@given(st.text(max_size=400))
def test_any_words_fill_their_field_in_ascii_and_no_other(words: str) -> None:
    body = bext(extension(description=words))
    assert len(body) == 602 + 8
    assert max(field(body, "description"), default=0) < 128
    assert field(body, "originator") == b"Dialback".ljust(32, b"\0")


def test_letters_lose_their_marks() -> None:
    assert field(bext(extension(description="Bôathoùse ♪")), "description").rstrip(b"\0") == b"Boathouse ?"


@pytest.mark.parametrize(("channels", "frames"), [(1, 4801), (2, 480), (4, 100), (1, 1)])
@pytest.mark.parametrize("sample_rate", [44_100, 48_000, 192_000])
def test_the_file_is_read_by_others_as_it_was_meant(
    tmp_path: Path, channels: int, frames: int, sample_rate: int
) -> None:
    path = tmp_path / "copy.wav"
    head = header(extension(1_728_000_000), sample_rate=sample_rate, channels=channels, frames=frames)
    samples = bytes(range(256)) * (frames * channels * 3 // 256 + 1)
    path.write_bytes(head + samples[: frames * channels * 3] + b"\0" * padding(channels, frames))
    info = soundfile.info(path)
    assert (info.samplerate, info.channels, info.frames, info.subtype) == (
        sample_rate,
        channels,
        frames,
        "PCM_24",
    )
    assert int.from_bytes(head[4:8], "little") == path.stat().st_size - 8
    assert path.stat().st_size % 2 == 0
    assert read_time_reference(path) == 1_728_000_000


def test_ffprobe_reads_what_was_written(tmp_path: Path) -> None:
    path = tmp_path / "copy.wav"
    path.write_bytes(header(extension(1_728_000_000), sample_rate=48_000, channels=1, frames=48_000))
    with path.open("ab") as file:
        file.write(bytes(48_000 * 3))
    command = ["ffprobe", "-v", "error", "-of", "json", "-show_format", "-show_streams", str(path)]
    told = json.loads(subprocess.run(command, capture_output=True, check=True).stdout)
    tags = told["format"]["tags"]
    assert tags["time_reference"] == "1728000000"
    assert tags["comment"] == "Boathouse / bass DI"
    assert tags["encoded_by"] == "Dialback"
    assert tags["originator_reference"] == "DIALBACK 0123456789abcdef"
    assert tags["date"] == "2026-03-04"
    assert tags["creation_time"] == "05:06:07"
    assert tags["coding_history"].strip() == "A=PCM"
    assert told["streams"][0]["codec_name"] == "pcm_s24le"
    assert float(told["format"]["duration"]) == pytest.approx(1)


@pytest.mark.parametrize(("channels", "sample_rate"), [(1, 48_000), (2, 192_000)])
def test_beyond_32_bits_the_header_is_rf64_and_its_sizes_stand_in_ds64(
    channels: int, sample_rate: int
) -> None:
    """EBU Tech 3306: ds64 comes first, holding riffSize, dataSize and sampleCount as 64 bits each."""
    largest = (2**32 - 1) // (channels * 3)  # more than fits, with the header
    small = header(extension(), sample_rate=sample_rate, channels=channels, frames=largest - 1000)
    assert small[:4] == b"RIFF"
    big = header(extension(), sample_rate=sample_rate, channels=channels, frames=largest)
    assert big[:4] == b"RF64"
    assert big[4:8] == b"\xff\xff\xff\xff"
    assert big[8:16] == b"WAVEds64"
    size, riff_bytes, data_bytes, frames, table = struct.unpack("<IQQQI", big[16:48])
    assert (size, data_bytes, frames, table) == (28, largest * channels * 3, largest, 0)
    assert riff_bytes == len(big) - 8 + data_bytes + padding(channels, largest)
    assert big[-8:] == b"data\xff\xff\xff\xff"


def test_a_long_file_is_read_by_others(tmp_path: Path) -> None:
    """A file with a hole instead of 4.3 GB of samples."""
    frames = (2**32) // 3 + 48_000
    path = tmp_path / "long.wav"
    head = header(extension(77), sample_rate=48_000, channels=1, frames=frames)
    with path.open("wb") as file:
        file.write(head)
        file.truncate(len(head) + frames * 3 + padding(1, frames))
    assert soundfile.info(path).frames == frames
    assert soundfile.info(path).format == "RF64"
    assert read_time_reference(path) == 77


@pytest.mark.parametrize(
    "content",
    [b"", b"RIFF", b"no audio at all", b"RIFF\x00\x00\x00\x00WAVEbext\xff\xff\xff\x7f", b"fLaC" * 40],
)
def test_a_file_without_a_time_reference_has_none(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.wav"
    path.write_bytes(content)
    assert read_time_reference(path) is None
    assert read_time_reference(tmp_path / "missing.wav") is None


def test_the_smallest_extension_is_602_bytes() -> None:
    """Tech 3285: the fixed part, without any coding history."""
    assert broadcast_wave.BEXT_BYTES == 602
    FILES.hold("smallest bext, bytes", len(bext(Extension("", "", "", AT, 0, ""))), 602, source=TECH_3285)

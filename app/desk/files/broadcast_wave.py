"""Broadcast Wave files (EBU Tech 3285 v2): headers written and time references read, without the audio.

Above what 32-bit sizes hold the header is RF64 (EBU Tech 3306) instead of RIFF; the samples are 24-bit.
"""

import struct
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from app.signal.audio.containers import (
    HEAD_BYTES,
    LARGEST_32_BIT,
    chunk,
    chunk_head,
    chunks,
    container_of,
)

BEXT_BYTES = 602
TIME_REFERENCE = slice(338, 346)
VERSION = 2
UNUSED_LOUDNESS = 0x7FFF
BYTES_PER_SAMPLE = 3
PCM, EXTENSIBLE = 0x0001, 0xFFFE
PCM_SUB_FORMAT = bytes.fromhex("0100000000001000800000aa00389b71")
_BEXT = struct.Struct("<256s32s32s10s8sIIH64shhhhh180x")


@dataclass(frozen=True)
class Extension:
    """What the `bext` chunk says. `time_reference` counts samples from midnight to the file's first."""

    description: str
    originator: str
    originator_reference: str
    originated_at: datetime
    time_reference: int
    coding_history: str
    loudness_lufs: float | None = None


def header(extension: Extension, *, sample_rate: int, channels: int, frames: int) -> bytes:
    """Everything before the samples of a 24-bit file; `padding` says what comes after them."""
    data_bytes = frames * channels * BYTES_PER_SAMPLE
    said = chunk(b"bext", bext(extension)) + chunk(b"fmt ", pcm_format(sample_rate, channels))
    riff_bytes = 4 + len(said) + 8 + data_bytes + padding(channels, frames)
    if riff_bytes <= LARGEST_32_BIT:
        return chunk_head(b"RIFF", riff_bytes) + b"WAVE" + said + chunk_head(b"data", data_bytes)
    said = chunk(b"ds64", struct.pack("<QQQI", riff_bytes + 36, data_bytes, frames, 0)) + said
    return chunk_head(b"RF64", LARGEST_32_BIT) + b"WAVE" + said + chunk_head(b"data", LARGEST_32_BIT)


def padding(channels: int, frames: int) -> int:
    """The zero bytes after the samples: a chunk ends at an even place."""
    return frames * channels * BYTES_PER_SAMPLE % 2


def bext(extension: Extension) -> bytes:
    """The body of the `bext` chunk. Its fields are ASCII: other letters lose their marks or become "?"."""
    at = extension.originated_at
    loudness = extension.loudness_lufs
    usable = loudness is not None and -99.99 <= loudness <= 99.99
    fixed = _BEXT.pack(
        ascii_bytes(extension.description),
        ascii_bytes(extension.originator),
        ascii_bytes(extension.originator_reference),
        f"{at:%Y-%m-%d}".encode(),
        f"{at:%H:%M:%S}".encode(),
        extension.time_reference & 0xFFFFFFFF,
        extension.time_reference >> 32,
        VERSION,
        b"",
        round(100 * loudness) if loudness is not None and usable else UNUSED_LOUDNESS,
        *(UNUSED_LOUDNESS,) * 4,
    )
    history = ascii_bytes(extension.coding_history)
    return (
        fixed + history + b"\0" * (len(history) % 2)
    )  # some readers of RF64 know no pad byte between chunks


def ascii_bytes(text: str) -> bytes:
    plain = unicodedata.normalize("NFKD", text)
    return "".join(char for char in plain if not unicodedata.combining(char)).encode("ascii", "replace")


def time_reference_in(body: bytes) -> int | None:
    """Of the body of a `bext` chunk, as far as it was read; None where it breaks off before."""
    return int.from_bytes(body[TIME_REFERENCE], "little") if len(body) >= TIME_REFERENCE.stop else None


def read_time_reference(path: Path) -> int | None:
    """The time reference of a WAV, RF64 or BW64 file, in its own samples; None where it has none."""
    try:
        with path.open("rb") as file:
            if container_of(file.read(HEAD_BYTES)) != "WAV":
                return None
            for name, length in chunks(file, "little"):
                if name == b"bext" and length >= BEXT_BYTES:
                    return time_reference_in(file.read(TIME_REFERENCE.stop))
                if name == b"data" and length == LARGEST_32_BIT:
                    return None
    except OSError:
        return None
    return None


def pcm_format(sample_rate: int, channels: int) -> bytes:
    """The body of the `fmt ` chunk of 24-bit samples."""
    block = channels * BYTES_PER_SAMPLE
    tag = PCM if channels <= 2 else EXTENSIBLE
    plain = struct.pack(
        "<HHIIHH", tag, channels, sample_rate, sample_rate * block, block, 8 * BYTES_PER_SAMPLE
    )
    if tag == PCM:
        return plain
    return plain + struct.pack("<HHI", 22, 8 * BYTES_PER_SAMPLE, 0) + PCM_SUB_FORMAT

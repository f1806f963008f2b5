"""What the head of an audio file says of it, read without the audio: whether whoever wrote it has finished, how long it
is, and when it began. DAWs write the sizes in the header only when a take is over, some now and then before that.

WAV (RIFF, and RF64 as in EBU Tech 3306), AIFF and AIFF-C (Apple, 1989 and 1991), FLAC (RFC 9639, section 8.2).
"""

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from typing import BinaryIO, Literal

from app.desk.files.broadcast_wave import TIME_REFERENCE, time_reference_in
from app.signal.audio.containers import HEAD_BYTES, LARGEST_32_BIT, Container, chunks, container_of

NOT_SAID = (0, LARGEST_32_BIT)
"""Sizes that stand in a header before the true one is known."""
FLAC_STREAMINFO = 34
HIGHEST_RATE = 1 << 32
"""What WAV can say; AIFF's float could say more, and then it is damaged."""


@dataclass(frozen=True)
class AudioHead:
    """`time_reference` counts samples from midnight to the first one, where the header says so. `sample_rate` and
    `channels` are 0 where it does not say them."""

    container: Container
    is_finished: bool
    duration_s: float | None = None
    time_reference: int | None = None
    sample_rate: int = 0
    channels: int = 0


def read_head(path: Path) -> AudioHead | None:
    """None where the file is no audio of a kind that is taken in. Raises OSError."""
    with path.open("rb") as file:
        return read_open_head(file)


def read_open_head(file: BinaryIO) -> AudioHead | None:
    """The same of an open file."""
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    container = container_of(file.read(HEAD_BYTES))
    if container == "WAV":
        return _wav(file, size)
    if container == "AIFF":
        return _aiff(file, size)
    if container == "FLAC":
        return _flac(file)
    return None


def _wav(file: BinaryIO, size: int) -> AudioHead:
    rate = block = channels = 0
    time_reference = long_data = None
    for name, length in _named_chunks(file, "little"):
        if name == b"fmt " and length >= 16:
            _, channels, rate, _, block, _ = struct.unpack("<HHIIHH", _whole(file.read(16), 16))
        elif name == b"ds64" and length >= 16:
            long_data = int.from_bytes(file.read(16)[8:], "little")
        elif name == b"bext" and length >= TIME_REFERENCE.stop:
            time_reference = time_reference_in(file.read(TIME_REFERENCE.stop))
        elif name == b"data":
            start = file.tell()
            data = long_data if length == LARGEST_32_BIT and long_data else length
            finished = rate > 0 and block > 0 and data not in NOT_SAID and start + data <= size
            finished = finished and _ends_in_chunks(file, start + data + data % 2, size)
            duration_s = data / block / rate if finished else None
            return AudioHead("WAV", finished, duration_s, time_reference, rate, channels)
    return AudioHead("WAV", False, None, time_reference, rate, channels)


def _ends_in_chunks(file: BinaryIO, at: int, size: int) -> bool:
    """Whether a chunk begins behind the samples, if anything does: a header that was brought up to date during the
    take has more samples there instead."""
    if size - at < 8:
        return True
    file.seek(at)
    return _is_name(file.read(4))


def _aiff(file: BinaryIO, size: int) -> AudioHead:
    frames, rate, channels, has_samples = 0, 0.0, 0, False
    for name, length in _named_chunks(file, "big"):
        if name == b"COMM" and length >= 18:
            channels, frames, _, exponent, mantissa = struct.unpack(">hIhHQ", _whole(file.read(18), 18))
            rate = mantissa * 2.0 ** ((exponent & 0x7FFF) - 16383 - 63) if exponent < 0x7FFF else 0.0
        elif name == b"SSND":
            has_samples = length not in NOT_SAID and file.tell() + length <= size
    finished = has_samples and frames not in NOT_SAID and rate > 0
    duration_s = frames / rate if finished else None
    return AudioHead("AIFF", finished, duration_s, None, _whole_rate(rate), max(0, channels))


def _flac(file: BinaryIO) -> AudioHead:
    file.seek(8)  # after the marker and the head of the first block, which is always STREAMINFO
    info = file.read(FLAC_STREAMINFO)
    if len(info) < FLAC_STREAMINFO:
        return AudioHead("FLAC", False)
    rate_to_samples = int.from_bytes(info[10:18], "big")  # 20 bits rate, 3 channels, 5 depth, 36 samples
    rate, samples = rate_to_samples >> 44, rate_to_samples & ((1 << 36) - 1)
    channels = (rate_to_samples >> 41 & 7) + 1
    finished = rate > 0 and samples > 0
    return AudioHead("FLAC", finished, samples / rate if finished else None, None, rate, channels)


def _whole_rate(rate: float) -> int:
    """An 80-bit float may hold anything."""
    return round(rate) if 0 < rate < HIGHEST_RATE else 0


def _named_chunks(file: BinaryIO, order: Literal["little", "big"]) -> Iterator[tuple[bytes, int]]:
    """Up to where a take that is still written leads astray: what stands there is no name."""
    return takewhile(lambda chunk: _is_name(chunk[0]), chunks(file, order))


def _is_name(four: bytes) -> bool:
    return all(0x20 <= byte < 0x7F for byte in four)


def _whole(read: bytes, wanted: int) -> bytes:
    return read.ljust(wanted, b"\0")

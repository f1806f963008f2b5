"""Whether a stereo file holds the same twice, or one side of it nothing, told from its bytes: the server looks at a file
that comes in without measuring it. A finer look, which also tells a side that rests below the last bit of 16, is the
measuring room's.

PCM and float of WAV (RIFF, RF64) and uncompressed AIFF; of what is packed (FLAC) nothing is told.
"""

import struct
from pathlib import Path
from typing import BinaryIO, Literal

from app.signal.audio.containers import HEAD_BYTES, LARGEST_32_BIT, chunks, container_of

Alike = Literal["identical", "one silent"]
BLOCK_FRAMES = 1 << 16
PACKED_IN_FRAMES = (1, 3, 0xFFFE)
"""WAV's PCM, float, and either of them in the extensible form."""


def alike(path: Path) -> Alike | None:
    """None where both sides hold something of their own, or it cannot be told. Raises OSError."""
    with path.open("rb") as file:
        place = _samples_of(file)
        if place is None:
            return None
        start, length, width = place
        file.seek(start)
        return _look_through(file, length, width)


def _look_through(file: BinaryIO, length: int, width: int) -> Alike | None:
    """Stops at the first block that tells the sides apart, as nearly every one does."""
    same, left_silent, right_silent, left = True, True, True, length
    while left >= 2 * width and (same or left_silent or right_silent):
        block = file.read(min(left, BLOCK_FRAMES * 2 * width))
        left -= len(block)
        block = block[: len(block) // (2 * width) * 2 * width]
        if not block:
            break
        for byte in range(width):
            one, other = block[byte :: 2 * width], block[width + byte :: 2 * width]
            same = same and one == other
            left_silent = left_silent and one.count(0) == len(one)
            right_silent = right_silent and other.count(0) == len(other)
    if left_silent and right_silent:
        return None  # a silent file is told of as one
    if left_silent or right_silent:
        return "one silent"
    return "identical" if same else None


def _samples_of(file: BinaryIO) -> tuple[int, int, int] | None:
    """Where the samples of a stereo file begin, how many bytes they are, and how many one has."""
    container = container_of(file.read(HEAD_BYTES))
    if container == "WAV":
        return _of_wav(file)
    return _of_aiff(file) if container == "AIFF" else None


def _of_wav(file: BinaryIO) -> tuple[int, int, int] | None:
    width, long_data = 0, 0
    for name, length in chunks(file, "little"):
        if name == b"fmt " and length >= 16:
            form, channels, _, _, block, _ = struct.unpack("<HHIIHH", file.read(16).ljust(16, b"\0"))
            width = block // 2 if channels == 2 and form in PACKED_IN_FRAMES else 0
        elif name == b"ds64" and length >= 16:
            long_data = int.from_bytes(file.read(16)[8:], "little")
        elif name == b"data":
            size = long_data if length == LARGEST_32_BIT and long_data else length
            return (file.tell(), size, width) if width else None
    return None


def _of_aiff(file: BinaryIO) -> tuple[int, int, int] | None:
    width = 0
    for name, length in chunks(file, "big"):
        if name == b"COMM" and length >= 18:
            channels, _, bits = struct.unpack(">hIh", file.read(8).ljust(8, b"\0"))
            file.read(10)
            packing = file.read(4) if length >= 22 else b"NONE"
            plain = packing in (b"NONE", b"sowt", b"fl32", b"FL32", b"twos")
            width = (bits + 7) // 8 if channels == 2 and plain else 0
        elif name == b"SSND":
            return (file.tell() + 8, length - 8, width) if width else None
    return None

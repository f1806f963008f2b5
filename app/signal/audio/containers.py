"""The outside of an audio file: which container it is, and the chunks that RIFF (WAV, RF64, BW64) and IFF (AIFF) are made of.

Loads nothing: the web server looks at files too.
"""

from collections.abc import Iterator
from typing import BinaryIO, Literal

HEAD_BYTES = 12
"""A container's name, its length and its form; the chunks come after."""
LARGEST_32_BIT = 0xFFFFFFFF
"""Stands for a length that is not known yet, or is said in a chunk of RF64's own."""
Container = Literal["WAV", "AIFF", "FLAC"]


def container_of(head: bytes) -> Container | None:
    """Which audio container begins with these bytes: WAV (RIFF, RF64, BW64), AIFF, FLAC, or none of them."""
    if head[:4] in (b"RIFF", b"RF64", b"BW64") and head[8:12] == b"WAVE":
        return "WAV"
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return "AIFF"
    if head[:4] == b"fLaC":
        return "FLAC"
    return None


def chunks(file: BinaryIO, order: Literal["little", "big"]) -> Iterator[tuple[bytes, int]]:
    """Name and length of each chunk, the file standing at its body, as far as there is a whole head to read. A length
    that is not true yet leads anywhere: whoever reads of a file that may be unfinished stops in time."""
    at = HEAD_BYTES
    file.seek(at)
    while len(start := file.read(8)) == 8:
        length = int.from_bytes(start[4:], order)
        yield start[:4], length
        at += 8 + length + length % 2
        file.seek(at)


def chunk(name: bytes, body: bytes) -> bytes:
    """One chunk of a RIFF file, ending at an even place."""
    return chunk_head(name, len(body)) + body + b"\0" * (len(body) % 2)


def chunk_head(name: bytes, length: int) -> bytes:
    """What stands before a chunk's body."""
    return name + length.to_bytes(4, "little")

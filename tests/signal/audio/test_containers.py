"""Which container a file is, and its chunks, as they are written and found again."""

import io

import pytest

from app.signal.audio.containers import chunk, chunks, container_of


@pytest.mark.parametrize(
    ("head", "container"),
    [
        (b"RIFF\0\0\0\0WAVE", "WAV"),
        (b"RF64\xff\xff\xff\xffWAVE", "WAV"),
        (b"BW64\xff\xff\xff\xffWAVE", "WAV"),
        (b"FORM\0\0\0\0AIFF", "AIFF"),
        (b"FORM\0\0\0\0AIFC", "AIFF"),
        (b"fLaC\0\0\0\x22\0\0\0\0", "FLAC"),
        (b"RIFF\0\0\0\0WEBP", None),
        (b"FORM\0\0\0\x008SVX", None),
        (b"", None),
    ],
)
def test_a_container_is_known_by_its_first_bytes(head: bytes, container: str | None) -> None:
    assert container_of(head) == container


def test_chunks_are_found_as_they_were_written_at_even_places() -> None:
    written = [(b"fmt ", b"sixteen bytes..."), (b"odd ", b"abc"), (b"data", b""), (b"last", b"z")]
    file = io.BytesIO(chunk(b"RIFF", b"WAVE" + b"".join(chunk(name, body) for name, body in written)))
    assert [(name, file.read(length)) for name, length in chunks(file, "little")] == written


def test_a_length_beyond_the_end_and_half_a_head_end_the_chunks() -> None:
    beyond = io.BytesIO(b"RIFF\0\0\0\0WAVE" + b"data" + b"\xff\xff\xff\xff" + b"body")
    assert list(chunks(beyond, "little")) == [(b"data", 0xFFFFFFFF)]
    half = io.BytesIO(b"FORM\0\0\0\0AIFF" + b"COMM\0\0\0\x02" + b"xx" + b"SSN")
    assert list(chunks(half, "big")) == [(b"COMM", 2)]

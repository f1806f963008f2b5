"""What an audio file calls itself: the title and date in its own header, where whoever wrote it put one.

WAV: `bext` (EBU Tech 3285) and the `INAM` of a `LIST` of `INFO` (Multimedia Programming Interface 1.0, 1991). AIFF: the
`NAME` chunk (Apple, 1989).
"""

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from app.signal.audio.containers import HEAD_BYTES, chunks, container_of

DESCRIPTION = slice(0, 256)
DATE, TIME = slice(320, 330), slice(330, 338)
BEXT_READ = 338
MOST_CHUNKS = 64
MOST_TITLE_BYTES = 512


@dataclass(frozen=True)
class AudioTitle:
    """`title` is empty and `originated_at` None where the header says nothing."""

    title: str = ""
    originated_at: datetime | None = None


def read_title(path: Path) -> AudioTitle:
    """Raises OSError."""
    title, originated_at = "", None
    with path.open("rb") as file:
        container = container_of(file.read(HEAD_BYTES))
        if container not in ("WAV", "AIFF"):
            return AudioTitle()
        for count, (name, length) in enumerate(chunks(file, "little" if container == "WAV" else "big")):
            if count == MOST_CHUNKS:
                break
            if name == b"bext" and length >= BEXT_READ:
                body = file.read(BEXT_READ)
                title = title or _text(body[DESCRIPTION])
                with suppress(ValueError):
                    said = f"{body[DATE].decode('ascii')} {body[TIME].decode('ascii')}"
                    originated_at = datetime.strptime(said.replace("-", ":"), "%Y:%m:%d %H:%M:%S")
            elif name == b"LIST" and file.read(4) == b"INFO":
                title = title or _text(_inam(file.read(min(length, 1 << 16))))
            elif name == b"NAME":
                title = title or _text(file.read(min(length, MOST_TITLE_BYTES)))
    return AudioTitle(title, originated_at)


def _inam(info: bytes) -> bytes:
    at = info.find(b"INAM")
    if at < 0:
        return b""
    length = int.from_bytes(info[at + 4 : at + 8], "little")
    return info[at + 8 : at + 8 + min(length, MOST_TITLE_BYTES)]


def _text(said: bytes) -> str:
    words = said.split(b"\0")[0].decode("utf-8", "replace")
    return " ".join("".join(char if char.isprintable() else " " for char in words).split())

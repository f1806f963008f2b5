"""Files that came in, as rows, and where they lie."""

from pathlib import Path
from typing import BinaryIO

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.refusals import Refusal
from app.library import Library, Readable, TakenIn
from app.records import ReferredFile, StoredFile
from app.signal.audio.containers import HEAD_BYTES, container_of

MISSING = "The file is missing from the library folder. “dialback restore FOLDER --files” puts it back from a full copy."
AUDIO_TYPES = {"WAV": "audio/wav", "AIFF": "audio/aiff", "FLAC": "audio/flac"}


def record(session: Session, taken: TakenIn, media_type: str) -> int:
    """The id of the stored file of these bytes, new or already there."""
    row = session.scalars(select(StoredFile).where(col(StoredFile.sha256) == taken.sha256)).first()
    if row is None:
        row = StoredFile(sha256=taken.sha256, bytes=taken.bytes, media_type=media_type)
        session.add(row)
        session.flush()
    return row.id


class FileAway(Exception):
    """A stored file is not where it was, or no longer what it was; the message is a sentence for the person."""


def path_of(library: Readable, sha256: str) -> Path:
    """Where the bytes of a stored file can be read: in the library, or where they were left when it was taken in.
    Raises FileAway."""
    path = library.files.path(sha256)
    if path.exists():
        return path
    with library.reading() as session:
        of_these_bytes = select(ReferredFile).join(StoredFile).where(col(StoredFile.sha256) == sha256)
        referred = session.scalars(of_these_bytes).first()
    if referred is None:
        raise FileAway(MISSING)
    if trouble := trouble_of(referred):
        raise FileAway(trouble)
    return Path(referred.path)


def trouble_of(referred: ReferredFile) -> str:
    """What is wrong with a file that was left where it is, as far as size and date tell; empty where nothing is."""
    path = Path(referred.path)
    try:
        found = path.stat()
    except OSError:
        return f"“{path.name}” is not at {path.parent} any more, or that folder cannot be reached."
    if (found.st_size, found.st_mtime_ns) != (referred.bytes, referred.modified_ns):
        return f"“{path.name}” at {path.parent} was changed since it was taken in."
    return ""


def take_in(library: Library, field: str, stream: BinaryIO) -> TakenIn:
    """Put a stream into the file store; a full disk is told at `field`. Raises LibraryAway."""
    try:
        return library.files.take_in(stream)
    except OSError as error:
        library.refuse_if_unwritable()
        raise Refusal(
            {
                field: f"The file could not be written to the library ({error.strerror}). Nothing was kept of it. "
                "Make room on the disk and bring it in again."
            }
        ) from error


def forget_unless_used(library: Library, taken: TakenIn) -> None:
    """Take a file that turned out unusable out of the store again, unless a row knows it."""
    with library.writing() as session:  # as a writer, so that nobody begins to use it meanwhile
        known = select(col(StoredFile.id)).where(col(StoredFile.sha256) == taken.sha256)
        if session.scalars(known).first() is None:
            library.files.remove(taken.sha256)


def refuse_unless_audio(field: str, name: str, stream: BinaryIO) -> str:
    """The media type of an audio stream, judged by its first bytes. The stream is left at its start."""
    stream.seek(0)
    head = stream.read(HEAD_BYTES)
    stream.seek(0)
    if not head:
        raise Refusal({field: f"“{name}” is empty (0 bytes). Export it again from the DAW."})
    container = container_of(head)
    if container is None:
        raise Refusal(
            {
                field: f"“{name}” is not a WAV, AIFF or FLAC file, whatever its name says. "
                "Export the track as WAV, AIFF or FLAC and bring that in."
            }
        )
    return AUDIO_TYPES[container]

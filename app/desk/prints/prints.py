"""Prints: attach the audio of a pass, say which microphone or return it is."""

from dataclasses import dataclass
from typing import BinaryIO

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.files import stored_files
from app.desk.measuring import examinations, measurements
from app.desk.passes.passes import find_pass, step_of_pass
from app.desk.refusals import Complaints, NotThere
from app.desk.rows import row_of
from app.library import Library, Readable
from app.records import Arrival, Print, SourceTrack, StoredFile


@dataclass(frozen=True)
class AudioFile:
    """Where a served file lies, and what it is."""

    sha256: str
    media_type: str
    file_name: str


def attach_print(
    library: Library,
    pass_id: int,
    file_name: str,
    stream: BinaryIO,
    *,
    step_id: int | None = None,
    label: str = "",
) -> int:
    """Take a print in and have it measured against the pass's source. Returns the print's id."""
    complaints = Complaints()
    label = wording.line(complaints, "label", "The label", label)
    complaints.refuse_if_any()
    with library.reading() as session:
        find_pass(session, pass_id)
    name = wording.file_name(file_name)
    media_type = stored_files.refuse_unless_audio("file", name, stream)
    taken = stored_files.take_in(library, "file", stream)
    with library.writing() as session:
        file_id = stored_files.record(session, taken, media_type)
        return add_print(session, pass_id, file_id, name, label=label, step_id=step_id)


def add_print(
    session: Session, pass_id: int, file_id: int, file_name: str, *, label: str, step_id: int | None
) -> int:
    """Make a stored file a print of a pass, and have it measured against the pass's source. Returns the print's id."""
    row = find_pass(session, pass_id)
    source = session.get_one(SourceTrack, row.source_id)
    item = Print(
        pass_id=pass_id,
        step_id=step_of_pass(session, pass_id, step_id),
        label=label,
        file_id=file_id,
        file_name=file_name,
    )
    session.add(item)
    measurements.want(session, (file_id, source.file_id))
    session.flush()
    return item.id


def edit_print(library: Library, print_id: int, *, label: str, step_id: int | None) -> int:
    """Say anew what a print is of. Returns its pass."""
    complaints = Complaints()
    label = wording.line(complaints, "label", "The label", label)
    complaints.refuse_if_any()
    with library.writing() as session:
        item = find_print(session, print_id)
        item.label, item.step_id = label, step_of_pass(session, item.pass_id, step_id)
        return item.pass_id


def delete_print(library: Library, print_id: int) -> int:
    """Take a print off its pass. Returns the pass. Should it have come from a watched folder, it stands on the inbox
    again, so it is found out anew of which source it is."""
    with library.writing() as session:
        item = find_print(session, print_id)
        source = session.get_one(SourceTrack, find_pass(session, item.pass_id).source_id)
        arrived = select(col(Arrival.id)).where(col(Arrival.print_id) == print_id).limit(1)
        if session.scalar(arrived) is not None:
            want_recognised(session, item.file_id, source.project_id)
        session.delete(item)
        return item.pass_id


def want_recognised(session: Session, file_id: int, project_id: int) -> None:
    """Have it found out of which of a project's sources a file is a print."""
    files = session.scalars(
        select(col(SourceTrack.file_id)).where(
            col(SourceTrack.project_id) == project_id, col(SourceTrack.file_id).is_not(None)
        )
    )
    wanted = [file_id for file_id in files if file_id is not None]
    if wanted:
        examinations.want_identified(session, file_id, wanted)


def measure_print_again(library: Library, print_id: int) -> int:
    """Give a failed measurement another try. Returns the pass."""
    with library.reading() as session:
        item = find_print(session, print_id)
        source = session.get_one(SourceTrack, find_pass(session, item.pass_id).source_id)
        file_id, source_file_id, pass_id = item.file_id, source.file_id, item.pass_id
    measurements.measure_again(library, file_id, source_file_id)
    return pass_id


def read_print(library: Readable, print_id: int) -> Print:
    with library.reading() as session:
        return find_print(session, print_id)


def audio_of_print(library: Readable, print_id: int) -> AudioFile:
    with library.reading() as session:
        item = find_print(session, print_id)
        return audio_of(session, item.file_id, item.file_name)


def audio_of_source(library: Readable, source_id: int) -> AudioFile:
    with library.reading() as session:
        source = session.get(SourceTrack, source_id)
        if source is None or source.file_id is None:
            raise NotThere("source's audio file")
        return audio_of(session, source.file_id, source.file_name)


def find_print(session: Session, print_id: int) -> Print:
    return row_of(session, Print, print_id, "print")


def audio_of(session: Session, file_id: int, file_name: str) -> AudioFile:
    stored = session.get_one(StoredFile, file_id)
    return AudioFile(stored.sha256, stored.media_type, file_name)

"""Source tracks: bring one in, describe it, give it its file."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import BinaryIO

from sqlalchemy import func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.files import audio_heads, stored_files
from app.desk.measuring import findings, measurements
from app.desk.measuring.measurements import NOT_ASKED, Measured
from app.desk.projects.projects import SAMPLE_RATES, find_project
from app.desk.refusals import Complaints, Refusal
from app.desk.rows import row_of
from app.library import Library, Readable, TakenIn
from app.records import Draft, Pass, Print, Project, SourceTrack, StoredFile
from app.records.base import now


@dataclass(frozen=True)
class SourceEntry:
    """A source track's form as typed."""

    name: str = ""
    instrument: str = ""
    recorded_with: str = ""
    gain: str = ""
    tuning: str = ""
    notes: str = ""


@dataclass(frozen=True)
class SourceSheet:
    source_id: int
    project_id: int
    project_title: str
    entry: SourceEntry
    file_name: str
    file_bytes: int | None
    created_at: datetime
    measured: Measured

    @property
    def name(self) -> str:
        return self.entry.name


def read_source(library: Readable, source_id: int) -> SourceSheet:
    with library.reading() as session:
        source = find_source(session, source_id)
        project = session.get_one(Project, source.project_id)
        stored = None if source.file_id is None else session.get_one(StoredFile, source.file_id)
        measured = NOT_ASKED
        if source.file_id is not None:
            pair = (source.file_id, None)
            measured = measurements.read_measured(session, {pair})[pair]
            if measured.figures is not None:
                rate = findings.against_project(measured.figures.file.sample_rate, project.sample_rate)
                measured = replace(measured, findings=(*measured.findings, *rate))
        return SourceSheet(
            source_id,
            source.project_id,
            project.title,
            _entry(source),
            source.file_name,
            None if stored is None else stored.bytes,
            source.created_at,
            measured,
        )


def create_source(
    library: Library, project_id: int, entry: SourceEntry, audio: tuple[str, BinaryIO] | None = None
) -> int:
    """A new source track, with its audio (file name, stream) or still without."""
    if audio is not None and not entry.name.strip():
        entry = replace(entry, name=wording.file_name(audio[0]).rsplit(".", 1)[0])
    with library.reading() as session:
        find_project(session, project_id)
    checked = _checked(entry)
    stored = None if audio is None else _store(library, audio)
    with library.writing() as session:
        find_project(session, project_id)
        source = SourceTrack(project_id=project_id, name=checked.name)
        _set_words(source, checked)
        session.add(source)
        if audio is not None and stored is not None:
            _give_file(session, source, audio[0], stored)
        session.flush()
        return source.id


def begin_session(library: Library, audio: Sequence[tuple[str, BinaryIO]]) -> int:
    """A project at the first file's rate with a source track for each file (file name, stream), called by the day and by
    the files until the person calls them otherwise. Returns the first source. Raises Refusal at "file", leaving
    nothing."""
    if not audio:
        raise Refusal({"file": "Choose the source track's audio file first."})
    head = audio_heads.read_open_head(audio[0][1])
    stored = [(wording.file_name(name), _store(library, (name, stream))) for name, stream in audio]
    with library.writing() as session:
        project = Project(title=f"Session of {now().astimezone():%Y-%m-%d}")
        if head is not None and head.sample_rate in SAMPLE_RATES:
            project.sample_rate = head.sample_rate
        session.add(project)
        session.flush()
        sources = []
        for name, file in stored:
            source = SourceTrack(project_id=project.id, name=name.rsplit(".", 1)[0])
            session.add(source)
            _give_file(session, source, name, file)
            sources.append(source)
        session.flush()
        return sources[0].id


def edit_source(
    library: Library, source_id: int, entry: SourceEntry, audio: tuple[str, BinaryIO] | None = None
) -> None:
    """Change what is written of a source; with `audio`, its file too, and its prints are measured against it."""
    checked = _checked(entry)
    stored = None if audio is None else _store(library, audio)
    with library.writing() as session:
        source = find_source(session, source_id)
        _set_words(source, checked)
        if audio is not None and stored is not None:
            _give_file(session, source, audio[0], stored)


def delete_source(library: Library, source_id: int) -> int:
    """With its passes and prints. Returns the project it was in."""
    with library.writing() as session:
        source = find_source(session, source_id)
        session.delete(source)
        return source.project_id


def current_source(
    library: Readable,
    *,
    source_id: int | None = None,
    pass_id: int | None = None,
    project_id: int | None = None,
) -> int | None:
    """The source that a person is at: the one named, else that of the pass, else of all (or of the project's) the one
    worked on last. None where there is none."""
    latest_draft = select(func.max(col(Draft.edited_at))).where(
        col(Draft.source_id) == col(SourceTrack.id), col(Draft.revision) > 0
    )
    latest_pass = select(func.max(col(Pass.created_at))).where(col(Pass.source_id) == col(SourceTrack.id))
    begun = col(SourceTrack.created_at)
    worked_on = func.max(
        begun,
        func.coalesce(latest_draft.correlate(SourceTrack).scalar_subquery(), begun),
        func.coalesce(latest_pass.correlate(SourceTrack).scalar_subquery(), begun),
    )
    latest = select(col(SourceTrack.id)).order_by(worked_on.desc(), col(SourceTrack.id).desc()).limit(1)
    with library.reading() as session:
        if source_id is not None and session.get(SourceTrack, source_id) is not None:
            return source_id
        named = None if pass_id is None else session.get(Pass, pass_id)
        if named is not None:
            return named.source_id
        if project_id is not None and session.get(Project, project_id) is not None:
            return session.scalar(latest.where(col(SourceTrack.project_id) == project_id))
        return session.scalar(latest)


def find_source(session: Session, source_id: int) -> SourceTrack:
    return row_of(session, SourceTrack, source_id, "source track")


@dataclass(frozen=True)
class _Stored:
    taken: TakenIn
    media_type: str


def _store(library: Library, audio: tuple[str, BinaryIO]) -> _Stored:
    name, stream = audio
    media_type = stored_files.refuse_unless_audio("file", wording.file_name(name), stream)
    return _Stored(stored_files.take_in(library, "file", stream), media_type)


def _give_file(session: Session, source: SourceTrack, name: str, stored: _Stored) -> None:
    source.file_id = stored_files.record(session, stored.taken, stored.media_type)
    source.file_name = wording.file_name(name)
    measurements.want(session, (source.file_id, None))
    if source.id is not None:  # a new source has no passes yet
        prints = (
            select(col(Print.file_id))
            .join(Pass, col(Pass.id) == col(Print.pass_id))
            .where(col(Pass.source_id) == source.id)
        )
        for file_id in session.scalars(prints).all():
            measurements.want(session, (file_id, source.file_id))


def _checked(entry: SourceEntry) -> SourceEntry:
    complaints = Complaints()
    checked = SourceEntry(
        wording.line(complaints, "name", "The name", entry.name, required=True),
        wording.line(complaints, "instrument", "The instrument", entry.instrument),
        wording.line(complaints, "recorded_with", "What recorded it", entry.recorded_with),
        wording.line(complaints, "gain", "The gain", entry.gain),
        wording.line(complaints, "tuning", "The tuning", entry.tuning),
        wording.notes(complaints, "notes", "The notes", entry.notes),
    )
    complaints.refuse_if_any()
    return checked


def _entry(source: SourceTrack) -> SourceEntry:
    return SourceEntry(**{field.name: getattr(source, field.name) for field in fields(SourceEntry)})


def _set_words(source: SourceTrack, entry: SourceEntry) -> None:
    for field in fields(entry):
        setattr(source, field.name, getattr(entry, field.name))


def measure_source_again(library: Library, source_id: int) -> None:
    """Give a failed measurement another try."""
    with library.reading() as session:
        file_id = find_source(session, source_id).file_id
    if file_id is not None:
        measurements.measure_again(library, file_id, None)

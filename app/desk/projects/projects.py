"""Projects: begin one, rename it, see them all."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.refusals import Complaints
from app.desk.rows import row_of
from app.library import Library, Readable
from app.records import KeeperMark, Pass, Project, SourceTrack

SAMPLE_RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


@dataclass(frozen=True)
class ProjectEntry:
    """A project's form as typed."""

    title: str = ""
    artist: str = ""
    sample_rate: str = "48000"
    notes: str = ""


@dataclass(frozen=True)
class ProjectLine:
    project_id: int
    title: str
    artist: str
    sources: int
    passes: int
    keepers: int
    last_pass_at: datetime | None


@dataclass(frozen=True)
class KeeperLine:
    pass_id: int
    words: str


@dataclass(frozen=True)
class SourceLine:
    source_id: int
    name: str
    instrument: str
    has_audio: bool
    passes: int
    keepers: tuple[KeeperLine, ...]
    last_pass_at: datetime | None


@dataclass(frozen=True)
class ProjectSheet:
    project_id: int
    title: str
    artist: str
    sample_rate: int
    notes: str
    created_at: datetime
    sources: tuple[SourceLine, ...]


def list_projects(library: Readable) -> list[ProjectLine]:
    """All projects, the one worked on last first."""
    keepers = select(func.count()).select_from(KeeperMark).join(Pass).join(SourceTrack)
    query = (
        select(
            col(Project.id),
            col(Project.title),
            col(Project.artist),
            func.count(func.distinct(col(SourceTrack.id))),
            func.count(col(Pass.id)),
            keepers.where(col(SourceTrack.project_id) == col(Project.id))
            .correlate(Project)
            .scalar_subquery(),
            func.max(col(Pass.created_at)),
        )
        .select_from(Project)
        .outerjoin(SourceTrack)
        .outerjoin(Pass)
        .group_by(col(Project.id))
        .order_by(func.coalesce(func.max(col(Pass.created_at)), col(Project.created_at)).desc())
    )
    with library.reading() as session:
        return [ProjectLine(*row) for row in session.execute(query)]


def read_project(library: Readable, project_id: int) -> ProjectSheet:
    with library.reading() as session:
        project = find_project(session, project_id)
        keepers: dict[int, list[KeeperLine]] = {}
        marks = (
            select(col(SourceTrack.id), col(Pass.id), col(Pass.number), col(KeeperMark.part))
            .join(Pass, col(Pass.source_id) == col(SourceTrack.id))
            .join(KeeperMark)
            .where(col(SourceTrack.project_id) == project_id)
            .order_by(col(Pass.number))
        )
        for source_id, pass_id, number, part in session.execute(marks):
            words = f"pass {number}" + (f", {part}" if part else "")
            keepers.setdefault(source_id, []).append(KeeperLine(pass_id, words))
        lines = (
            select(SourceTrack, func.count(col(Pass.id)), func.max(col(Pass.created_at)))
            .outerjoin(Pass)
            .where(col(SourceTrack.project_id) == project_id)
            .group_by(col(SourceTrack.id))
            .order_by(col(SourceTrack.id))
        )
        sources = tuple(
            SourceLine(
                source.id,
                source.name,
                source.instrument,
                source.file_id is not None,
                passes,
                tuple(keepers.get(source.id, ())),
                last,
            )
            for source, passes, last in session.execute(lines)
        )
        return ProjectSheet(
            project_id,
            project.title,
            project.artist,
            project.sample_rate,
            project.notes,
            project.created_at,
            sources,
        )


def project_entry(library: Readable, project_id: int) -> ProjectEntry:
    with library.reading() as session:
        project = find_project(session, project_id)
        return ProjectEntry(project.title, project.artist, str(project.sample_rate), project.notes)


def create_project(library: Library, entry: ProjectEntry) -> int:
    with library.writing() as session:
        project = Project(title="")
        _fill(project, entry)
        session.add(project)
        session.flush()
        return project.id


def edit_project(library: Library, project_id: int, entry: ProjectEntry) -> None:
    with library.writing() as session:
        _fill(find_project(session, project_id), entry)


def delete_project(library: Library, project_id: int) -> None:
    """With its sources, passes and prints. The audio itself stays in the file store until it is tidied."""
    with library.writing() as session:
        session.delete(find_project(session, project_id))


def find_project(session: Session, project_id: int) -> Project:
    return row_of(session, Project, project_id, "project")


def _fill(project: Project, entry: ProjectEntry) -> None:
    complaints = Complaints()
    title = wording.line(complaints, "title", "The title", entry.title, required=True)
    artist = wording.line(complaints, "artist", "The artist", entry.artist)
    notes = wording.notes(complaints, "notes", "The notes", entry.notes)
    try:
        sample_rate = int(entry.sample_rate)
    except ValueError:
        sample_rate = 0
    if sample_rate not in SAMPLE_RATES:
        complaints.add("sample_rate", "Choose the project's sample rate from the list.")
    complaints.refuse_if_any()
    project.title, project.artist, project.sample_rate, project.notes = title, artist, sample_rate, notes

"""The session log of a project: every pass of every source."""

from dataclasses import dataclass
from itertools import groupby

from app.desk.pass_sheets import PassSheet, read_pass_sheets
from app.desk.projects import ProjectSheet, read_project
from app.library import Library
from app.records import SourceTrack


@dataclass(frozen=True)
class SourceLog:
    source_id: int
    name: str
    instrument: str
    passes: tuple[PassSheet, ...]


@dataclass(frozen=True)
class SessionLog:
    project: ProjectSheet
    sources: tuple[SourceLog, ...]


def read_session_log(library: Library, project_id: int) -> SessionLog:
    """All sources in the order they came in, also those without a pass; passes by number."""
    project = read_project(library, project_id)
    with library.reading() as session:
        sheets = read_pass_sheets(session, SourceTrack.project_id == project_id)
    passes = {
        source_id: tuple(group) for source_id, group in groupby(sheets, key=lambda sheet: sheet.source_id)
    }
    return SessionLog(
        project,
        tuple(
            SourceLog(line.source_id, line.name, line.instrument, passes.get(line.source_id, ()))
            for line in project.sources
        ),
    )

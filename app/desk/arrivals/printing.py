"""Printing a pass: it waits for its print while the DAW records it, and what the person set for that time."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select, update
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.arrivals import track_names
from app.desk.arrivals.track_names import TrackName
from app.desk.files import copy_names
from app.desk.passes.passes import find_pass
from app.desk.projects.projects import find_project
from app.desk.refusals import Complaints
from app.library import Library, Readable
from app.records import Pass, Project, SourceTrack, WatchedFolder
from app.records.base import now


@dataclass(frozen=True)
class PrintingEntry:
    """What a project says of its printing, as typed; `quiet` is "yes" or empty."""

    pattern: str = ""
    quiet: str = ""


@dataclass(frozen=True)
class WaitingPass:
    """The pass of a project that is being printed."""

    pass_id: int
    number: int
    source_name: str
    since: datetime


@dataclass(frozen=True)
class PassPrinting:
    """What stands at a pass while it is printed: the names for its tracks, and whether its print is waited for."""

    names: tuple[TrackName, ...]
    waiting_since: datetime | None
    is_watched: bool
    is_quiet: bool


def wait_for_print(library: Library, pass_id: int) -> None:
    """From now on the next file that arrives is this pass's print. One pass of a project waits at a time."""
    with library.writing() as session:
        row = find_pass(session, pass_id)
        source = session.get_one(SourceTrack, row.source_id)
        of_project = select(col(SourceTrack.id)).where(col(SourceTrack.project_id) == source.project_id)
        others = update(Pass).where(col(Pass.source_id).in_(of_project), col(Pass.id) != pass_id)
        session.execute(others.values(waiting_since=None))
        row.waiting_since = row.waiting_since or now()


def call_off(library: Library, pass_id: int) -> None:
    """The pass waits for no print any more."""
    with library.writing() as session:
        find_pass(session, pass_id).waiting_since = None


def waiting_pass(session: Session, project_id: int) -> WaitingPass | None:
    row = session.execute(
        select(col(Pass.id), col(Pass.number), col(SourceTrack.name), col(Pass.waiting_since))
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .where(col(SourceTrack.project_id) == project_id, col(Pass.waiting_since).is_not(None))
    ).first()
    if row is None or row[3] is None:
        return None
    return WaitingPass(row[0], row[1], row[2], row[3])


def read_pass_printing(library: Readable, pass_id: int) -> PassPrinting:
    with library.reading() as session:
        row = find_pass(session, pass_id)
        source = session.get_one(SourceTrack, row.source_id)
        project = session.get_one(Project, source.project_id)
        folder = select(col(WatchedFolder.id)).where(col(WatchedFolder.project_id) == project.id).limit(1)
        return PassPrinting(
            track_names.names_of_pass(session, pass_id),
            row.waiting_since,
            session.scalar(folder) is not None,
            project.quiet_while_printing,
        )


def printing_entry(library: Readable, project_id: int) -> PrintingEntry:
    with library.reading() as session:
        project = find_project(session, project_id)
        return PrintingEntry(
            project.print_name_pattern or track_names.STANDARD_PATTERN,
            "yes" if project.quiet_while_printing else "",
        )


def set_printing(library: Library, project_id: int, entry: PrintingEntry) -> None:
    """Raises Refusal where the pattern cannot name a track."""
    complaints = Complaints()
    pattern = wording.line(complaints, "pattern", "The pattern", entry.pattern)
    complaints.refuse_if_any()
    copy_names.refuse_unless_pattern(pattern, track_names.WORDS)
    with library.writing() as session:
        project = find_project(session, project_id)
        project.print_name_pattern = "" if pattern == track_names.STANDARD_PATTERN else pattern
        project.quiet_while_printing = entry.quiet == "yes"

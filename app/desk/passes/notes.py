"""Notes at any time, of a project or one of its passes; ratings and tags of the person's own."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk import wording
from app.desk.passes.passes import find_pass
from app.desk.projects.projects import find_project
from app.desk.refusals import Complaints
from app.desk.rows import row_of
from app.library import Library, Readable
from app.records import Note, Pass, PassTag, SourceTrack

RATINGS = ("1", "2", "3", "4", "5")
TAGS_LIMIT = 20
TAG_LIMIT = 40  # characters


@dataclass(frozen=True)
class NoteEntry:
    """A note's form as typed; `private` is anything where it was ticked."""

    words: str = ""
    private: str = ""


@dataclass(frozen=True)
class NoteLine:
    note_id: int
    words: str
    is_private: bool
    created_at: datetime
    pass_id: int | None


@dataclass(frozen=True)
class RatingEntry:
    """A rating from 1 to 5, or empty; tags with commas between."""

    rating: str = ""
    tags: str = ""


def note_project(library: Library, project_id: int, entry: NoteEntry) -> None:
    with library.writing() as session:
        find_project(session, project_id)
        _add(session, project_id, None, entry)


def note_pass(library: Library, pass_id: int, entry: NoteEntry) -> None:
    with library.writing() as session:
        source = session.get_one(SourceTrack, find_pass(session, pass_id).source_id)
        _add(session, source.project_id, pass_id, entry)


def read_notes_of_pass(library: Readable, pass_id: int) -> list[NoteLine]:
    """Oldest first."""
    with library.reading() as session:
        rows = session.scalars(select(Note).where(col(Note.pass_id) == pass_id).order_by(col(Note.id)))
        return [_line(row) for row in rows]


def read_notes_of_project(session: Session, project_id: int, *, with_private: bool) -> list[NoteLine]:
    """Of the project and of its passes, oldest first."""
    wanted = select(Note).where(col(Note.project_id) == project_id)
    if not with_private:
        wanted = wanted.where(col(Note.private).is_(False))
    return [_line(row) for row in session.scalars(wanted.order_by(col(Note.created_at), col(Note.id)))]


def delete_note(library: Library, note_id: int) -> tuple[int, int | None]:
    """Returns the project and the pass it was of."""
    with library.writing() as session:
        row = row_of(session, Note, note_id, "note")
        session.delete(row)
        return row.project_id, row.pass_id


def rate_pass(library: Library, pass_id: int, entry: RatingEntry) -> None:
    """Give a pass its rating and tags, in place of those it had. A tag is written once, however it is capitalised."""
    complaints = Complaints()
    if entry.rating and entry.rating not in RATINGS:
        complaints.add("rating", "A rating is a number from 1 to 5, or none.")
    tags: dict[str, str] = {}
    for part in entry.tags.split(","):
        tag = wording.line(complaints, "tags", "A tag", part)
        if len(tag) > TAG_LIMIT:
            complaints.add("tags", f"A tag has at most {TAG_LIMIT} characters; “{tag[:20]}…” has {len(tag)}.")
        if tag:
            tags.setdefault(tag.casefold(), tag)
    if len(tags) > TAGS_LIMIT:
        complaints.add("tags", f"A pass has at most {TAGS_LIMIT} tags.")
    complaints.refuse_if_any()
    with library.writing() as session:
        row = find_pass(session, pass_id)
        row.rating = int(entry.rating) if entry.rating else None
        session.execute(delete(PassTag).where(col(PassTag.pass_id) == pass_id))
        session.add_all(PassTag(pass_id=pass_id, tag=tag) for tag in tags.values())


def tags_in_use(library: Readable, project_id: int) -> tuple[str, ...]:
    """The tags of a project's passes, to be chosen again."""
    query = (
        select(col(PassTag.tag))
        .join(Pass, col(PassTag.pass_id) == col(Pass.id))
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .where(col(SourceTrack.project_id) == project_id)
        .distinct()
        .order_by(col(PassTag.tag))
    )
    with library.reading() as session:
        return tuple(session.scalars(query))


def _add(session: Session, project_id: int, pass_id: int | None, entry: NoteEntry) -> None:
    complaints = Complaints()
    words = wording.notes(complaints, "words", "The notes", entry.words)
    if not words:
        complaints.add("words", "The note is empty. Write at least a word.")
    complaints.refuse_if_any()
    session.add(Note(project_id=project_id, pass_id=pass_id, words=words, private=bool(entry.private)))


def _line(row: Note) -> NoteLine:
    return NoteLine(row.id, row.words, row.private, row.created_at, row.pass_id)

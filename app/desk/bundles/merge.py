"""Bringing a bundle in: what of it is new, the same, changed there, here or on both sides; and merging it.

Each row is compared with what both sides last agreed on, which `shared_row` keeps. What was changed on one side alone
is taken from there; what was changed on both is the person's choice, row by row, and their own stays unless they say
otherwise. Nothing is deleted, and what was deleted here does not come back by itself.
"""

import zipfile
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import select
from sqlalchemy.dialects.sqlite import insert
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.bundles.differences import Difference, differences
from app.desk.bundles.digests import digest, is_digest_of
from app.desk.bundles.document import (
    Document,
    GearRow,
    KeeperRow,
    LayoutRow,
    NoteRow,
    PassRow,
    PhotoRow,
    PrintRow,
    ProjectRow,
    Row,
    SourceRow,
)
from app.desk.bundles.reading import Bundle, UnreadableBundle
from app.desk.bundles.rows import known_rows
from app.desk.bundles.taking_over import TakingOver
from app.desk.files import stored_files
from app.library import Library, Readable, TakenIn
from app.records import Note, Pass, Project, SharedRow, SourceTrack
from app.records.base import now

State = Literal["new", "same", "changed there", "changed here", "changed on both sides", "deleted here"]


@dataclass(frozen=True)
class Change:
    """One row of the bundle beside what is here; `differences` where it is to be taken, or to be chosen."""

    uid: str
    noun: str
    name: str
    state: State
    differences: tuple[Difference, ...] = ()

    @property
    def is_a_choice(self) -> bool:
        return self.state in ("changed on both sides", "deleted here")


@dataclass(frozen=True)
class Preview:
    """`without_audio` counts the prints and sources whose audio the bundle does not hold, nor this library."""

    title: str
    is_new: bool
    changes: tuple[Change, ...]
    without_audio: int
    renumbered: tuple[str, ...]

    @property
    def brings_nothing(self) -> bool:
        """Whether bringing it in would change nothing here."""
        return all(change.state in ("same", "changed here") for change in self.changes)

    def of_state(self, state: str) -> tuple[Change, ...]:
        return tuple(change for change in self.changes if change.state == state)

    def count(self, state: str, noun: str) -> int:
        return sum(change.noun == noun for change in self.of_state(state))


@dataclass(frozen=True)
class Merged:
    project_id: int
    taken: int
    left_out: int


def preview(library: Readable, bundle: Bundle) -> Preview:
    document = bundle.document
    with library.reading() as session:
        changes = _changes(session, document)
        held = library.files.names()
        audio = [row.file.sha256 for row in document.sources if row.file] + [
            row.file.sha256 for row in document.prints
        ]
        new = {change.uid for change in changes if change.state == "new"}
        taken = _taken_numbers(session, document)
        renumbered = tuple(
            f"pass {row.number}" + (f": {row.title}" if row.title else "")
            for row in document.passes
            if row.uid in new and row.number in taken.get(row.source_uid, set())
        )
        return Preview(
            document.project.title,
            document.project.uid in new,
            tuple(changes),
            sum(sha256 not in bundle.audio and sha256 not in held for sha256 in audio),
            renumbered,
        )


def _changes(session: Session, document: Document) -> list[Change]:
    mine = known_rows(session, document)
    agreed = dict(session.execute(select(col(SharedRow.uid), col(SharedRow.digest))).all())
    private = set(session.scalars(select(col(Note.uid)).where(col(Note.private))))
    found = []
    for row in document.rows():
        if row.uid in private:
            continue
        here = mine.get(row.uid)
        state = _state(row, here, agreed.get(row.uid))
        told = state in ("changed there", "changed on both sides")
        differing = differences(here, row, document) if told and here is not None else ()
        found.append(Change(row.uid, row.noun, _name(row), state, differing))
    return found


def _state(theirs: Row, mine: Row | None, agreed: str | None) -> State:
    if mine is None:
        return "new" if agreed is None else "deleted here"
    if digest(mine) == digest(theirs):
        return "same"
    if is_digest_of(agreed, mine):
        return "changed there"
    if is_digest_of(agreed, theirs):
        return "changed here"
    return "changed on both sides"


def _name(row: Row) -> str:
    match row:
        case ProjectRow():
            return row.title
        case GearRow() | SourceRow():
            return row.name
        case LayoutRow():
            return f"{row.gear_name}, version {row.version}"
        case PassRow():
            return f"pass {row.number}" + (f": {row.title}" if row.title else "")
        case PrintRow():
            return row.label or row.file.file_name
        case KeeperRow():
            return row.part or row.reason or "keeper"
        case PhotoRow():
            return row.caption or "photo"
        case NoteRow():
            return row.words[:80]
        case _:
            return row.uid


def _taken_numbers(session: Session, document: Document) -> dict[str, set[int]]:
    rows = session.execute(
        select(col(SourceTrack.uid), col(Pass.number))
        .join(Pass, col(Pass.source_id) == col(SourceTrack.id))
        .where(col(SourceTrack.uid).in_([row.uid for row in document.sources]))
    )
    taken: dict[str, set[int]] = {}
    for uid, number in rows:
        taken.setdefault(uid, set()).add(number)
    return taken


def merge(library: Library, bundle: Bundle, theirs: Collection[str] = ()) -> Merged:
    """Bring the bundle in: files first, then all rows in one transaction. `theirs` are the rows that were changed on
    both sides, or deleted here, and are to be as they are there. Raises UnreadableBundle where a file is not what the
    document says; then nothing was changed."""
    taken = _take_files(library, bundle)
    try:
        with library.writing() as session:
            changes = _changes(session, bundle.document)
            wanted = {
                change.uid
                for change in changes
                if change.state in ("new", "changed there") or (change.is_a_choice and change.uid in theirs)
            }
            written = TakingOver(session, library, bundle.document, taken).write(wanted)
            agree(session, bundle.document, {change.uid for change in changes} - (wanted - written))
            project = session.scalars(
                select(Project).where(col(Project.uid) == bundle.document.project.uid)
            ).first()
            if project is None:
                raise UnreadableBundle(
                    "Its project was deleted here. Choose to have it back, or nothing of it can come."
                )
            return Merged(project.id, len(written), len(wanted - written))
    except BaseException:
        for item in taken.values():
            stored_files.forget_unless_used(library, item)
        raise


def _take_files(library: Library, bundle: Bundle) -> dict[str, TakenIn]:
    """Every audio file, photo and picture of a control of the bundle, in the store under the hash that the document says."""
    taken: dict[str, TakenIn] = {}
    held = library.files.names()
    with zipfile.ZipFile(bundle.path) as archive:
        for sha256, name in (*bundle.audio.items(), *bundle.photos.items(), *bundle.crops.items()):
            if sha256 in held or sha256 in taken:
                continue
            try:
                with archive.open(name) as stream:
                    item = library.files.take_in(stream)  # type: ignore[arg-type]
            except (zipfile.BadZipFile, EOFError) as error:
                _forget(library, taken)
                raise UnreadableBundle(f"“{name[:80]}” in it is damaged ({error}).") from error
            taken[item.sha256] = item
            if item.sha256 != sha256:
                _forget(library, taken)
                raise UnreadableBundle(f"“{name[:80]}” in it is not the file that its list says.")
    return taken


def _forget(library: Library, taken: dict[str, TakenIn]) -> None:
    for item in taken.values():
        stored_files.forget_unless_used(library, item)


def agree(session: Session, document: Document, uids: Collection[str]) -> None:
    """Keep what these rows of the document say as what both sides now agree on."""
    at = now()
    rows = [
        {"uid": row.uid, "noun": row.noun, "digest": digest(row), "shared_at": at}
        for row in document.rows()
        if row.uid in uids
    ]
    if rows:
        kept = insert(SharedRow)
        session.execute(
            kept.on_conflict_do_update(
                index_elements=["uid"], set_={name: kept.excluded[name] for name in ("digest", "shared_at")}
            ),
            rows,
        )

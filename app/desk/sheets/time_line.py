"""What happened when in a project: passes, prints, keepers, notes and recalls, day by day."""

from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Literal

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.passes.notes import read_notes_of_project
from app.desk.projects.projects import find_project
from app.library import Readable
from app.records import KeeperMark, Pass, Print, Recall, SourceTrack

What = Literal["source", "pass", "print", "keeper", "note", "recall", "recall done"]

FOLDED_FROM = 3


@dataclass(frozen=True)
class Moment:
    """Something that happened. `of` names the pass or source it belongs to, `words` are the person's own."""

    at: datetime
    what: What
    of: str
    words: str
    address: str
    note_id: int | None = None
    is_private: bool = False


@dataclass(frozen=True)
class Day:
    date: date
    moments: tuple[Moment, ...]

    @property
    def runs(self) -> tuple[tuple[Moment, ...], ...]:
        """The moments in their order, together where FOLDED_FROM or more of a kind follow each other. What a person wrote
        stands by itself."""
        found: list[tuple[Moment, ...]] = []
        for what, group in groupby(self.moments, key=lambda moment: moment.what):
            run = tuple(group)
            folds = what not in ("keeper", "note") and len(run) >= FOLDED_FROM
            found += [run] if folds else [(moment,) for moment in run]
        return tuple(found)


@dataclass(frozen=True)
class TimeLine:
    """`without_print` are the passes that have none, `without_keeper` the sources of which no pass is kept: both are
    normal, and said."""

    project_id: int
    title: str
    days: tuple[Day, ...]
    without_print: tuple[tuple[str, str], ...]
    without_keeper: tuple[tuple[str, str], ...]


def read_time_line(library: Readable, project_id: int) -> TimeLine:
    """The latest day first, each from its morning on."""
    with library.reading() as session:
        project = find_project(session, project_id)
        sources = session.scalars(
            select(SourceTrack).where(col(SourceTrack.project_id) == project_id).order_by(col(SourceTrack.id))
        ).all()
        names = {source.id: source.name for source in sources}
        rows = session.scalars(
            select(Pass).where(col(Pass.source_id).in_(list(names))).order_by(col(Pass.id))
        ).all()
        of = {row.id: f"{names[row.source_id]}, pass {row.number}" for row in rows}
        moments = [
            *(Moment(s.created_at, "source", s.name, "", f"/sources/{s.id}") for s in sources),
            *(Moment(p.created_at, "pass", of[p.id], p.title, f"/passes/{p.id}") for p in rows),
            *_of_passes(session, of),
            *(
                Moment(
                    note.created_at,
                    "note",
                    of.get(note.pass_id or 0, ""),
                    note.words,
                    "" if note.pass_id is None else f"/passes/{note.pass_id}",
                    note.note_id,
                    note.is_private,
                )
                for note in read_notes_of_project(session, project_id, with_private=True)
            ),
        ]
        printed = set(session.scalars(select(col(Print.pass_id)).where(col(Print.pass_id).in_(list(of)))))
        kept = select(col(KeeperMark.pass_id)).where(col(KeeperMark.pass_id).in_(list(of)))
        kept_passes = set(session.scalars(kept))
    kept_sources = {row.source_id for row in rows if row.id in kept_passes}
    tried = {row.source_id for row in rows}
    moments.sort(key=lambda moment: moment.at)
    by_day = groupby(moments, key=lambda moment: moment.at.astimezone().date())
    return TimeLine(
        project_id,
        project.title,
        tuple(Day(day, tuple(group)) for day, group in by_day)[::-1],
        tuple((of[row.id], f"/passes/{row.id}") for row in rows if row.id not in printed),
        tuple(
            (source.name, f"/sources/{source.id}") for source in sources if source.id in tried - kept_sources
        ),
    )


def _of_passes(session: Session, of: dict[int, str]) -> list[Moment]:
    """What came to the passes afterwards."""
    ids = list(of)
    found = [
        Moment(
            row.created_at,
            "print",
            of[row.pass_id],
            row.label or row.file_name,
            f"/passes/{row.pass_id}#prints",
        )
        for row in session.scalars(select(Print).where(col(Print.pass_id).in_(ids)))
    ]
    found += [
        Moment(
            row.created_at,
            "keeper",
            of[row.pass_id],
            ": ".join(filter(None, (row.part, row.reason))),
            f"/passes/{row.pass_id}#keeper",
        )
        for row in session.scalars(select(KeeperMark).where(col(KeeperMark.pass_id).in_(ids)))
    ]
    for row in session.scalars(select(Recall).where(col(Recall.pass_id).in_(ids))):
        address = f"/recalls/{row.id}"
        found.append(Moment(row.begun_at, "recall", of[row.pass_id], row.note, address))
        if row.finished_at is not None:
            found.append(Moment(row.finished_at, "recall done", of[row.pass_id], "", address))
    return found

"""Examinations: questions about a file beyond its own measurement, as rows that the measuring process answers, or that which reads
photos.

identify   of which of these sources is it a print, or of none
match      how close does it come to the original print of the same source
reference  what does this printed reference signal say of the chain
panel      how do the controls of a piece of gear stand in this photo
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from sqlalchemy import select, update
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.measuring import queued_work
from app.library import Library
from app.records import Examination, WorkState
from app.signal.figures import (
    ALGORITHM_VERSION,
    Identification,
    MatchFigures,
    identification_from_json,
    match_figures_from_json,
)
from app.signal.reference.figures import ReferenceFigures, reference_from_json

STAY_AS_ANSWERED = ("identify", "panel")
"""A recording was filed by the one, and the other is none of the algorithms that measure sound."""

_IS_PANEL = col(Examination.kind) == "panel"
"""Photos are read by a process of their own (`photos/panel_reader.py`)."""

Answer = TypeVar("Answer")

Comparison = tuple[int, int, int]
"""The files of a match: the recalled print, the original print, the source of both."""


@dataclass(frozen=True)
class Examined(Generic[Answer]):
    """Where an examination stands, with its answer once that is there. Nobody may have asked."""

    state: WorkState
    reason: str = ""
    answer: Answer | None = None

    @property
    def is_coming(self) -> bool:
        return self.state.is_coming


def want_identified(session: Session, file_id: int, source_file_ids: Iterable[int]) -> None:
    """Have it found out of which source a file is a print. In the answer a source's name is its file's id."""
    wanted = {"source_file_ids": sorted(set(source_file_ids))}
    want(session, "identify", file_id, wanted=wanted)


def want_matched(session: Session, files: Comparison) -> None:
    """Have a recalled print compared with the original."""
    file_id, other_file_id, source_file_id = files
    want(session, "match", file_id, other_file_id, source_file_id)


def want_reference(session: Session, file_id: int, plan: Mapping[str, Any]) -> None:
    """Have a printed reference signal measured; `plan` says what it holds, as JSON."""
    want(session, "reference", file_id, wanted=plan)


def want(
    session: Session,
    kind: str,
    file_id: int,
    other_file_id: int | None = None,
    source_file_id: int | None = None,
    wanted: Mapping[str, Any] | None = None,
) -> None:
    """Ask a question, unless just this one was asked before; one that failed is tried again."""
    asked = dict(wanted or {})
    for row in session.scalars(select(Examination).where(*_of(kind, file_id, other_file_id, source_file_id))):
        if row.wanted == asked:
            queued_work.try_again(session, Examination, col(Examination.id) == row.id)
            return
    session.add(
        Examination(
            kind=kind,
            file_id=file_id,
            other_file_id=other_file_id,
            source_file_id=source_file_id,
            wanted=asked,
            algorithm_version=ALGORITHM_VERSION,
        )
    )


def read_identified(session: Session, file_ids: Sequence[int]) -> dict[int, Examined[Identification]]:
    """What each file was last recognised as."""
    rows = _newest(session, "identify", file_ids)
    return {
        file_id: _examined(rows.get((file_id, None, None)), identification_from_json) for file_id in file_ids
    }


def read_matched(
    session: Session, comparisons: Sequence[Comparison]
) -> dict[Comparison, Examined[MatchFigures]]:
    rows = _newest(session, "match", [files[0] for files in comparisons])
    return {files: _examined(rows.get(files), match_figures_from_json) for files in comparisons}


def read_references(session: Session, file_ids: Sequence[int]) -> dict[int, Examined[ReferenceFigures]]:
    rows = _newest(session, "reference", file_ids)
    return {file_id: _examined(rows.get((file_id, None, None)), reference_from_json) for file_id in file_ids}


def claim(library: Library) -> Examination | None:
    """Take the oldest that waits for the measuring process, now running."""
    return queued_work.claim(library, Examination, which=(~_IS_PANEL,))


def panels_wait(library: Library) -> bool:
    with library.reading() as session:
        waiting = select(col(Examination.id)).where(_IS_PANEL, col(Examination.state) == WorkState.WAITING)
        return session.scalar(waiting.limit(1)) is not None


def claim_panels(library: Library) -> list[Examination]:
    """Take all that is asked of the photo that waits longest, now running. Nothing holds it back: somebody waits for it."""
    if not panels_wait(library):
        return []
    with library.writing() as session:
        waiting = select(Examination).where(_IS_PANEL, col(Examination.state) == WorkState.WAITING)
        rows = session.scalars(waiting.order_by(col(Examination.id))).all()
        of_one = [row for row in rows if row.file_id == rows[0].file_id]
        for row in of_one:
            row.state, row.tries = WorkState.RUNNING, row.tries + 1
        return of_one


def put_panels_back(library: Library, row_ids: Sequence[int], *, counted: bool) -> None:
    """What was being read waits again, unless it broke off too often; a stop is not `counted`."""
    with library.writing() as session:
        which = col(Examination.id).in_(row_ids)
        if not counted:
            session.execute(update(Examination).where(which).values(tries=col(Examination.tries) - 1))
        queued_work.put_back(session, Examination, "Reading this photo", which)


def resume_panels(library: Library) -> None:
    """After a start: what was being read waits again."""
    with library.writing() as session:
        queued_work.put_back(session, Examination, "Reading this photo", _IS_PANEL)


def finish(library: Library, examination_id: int, answer: dict[str, Any] | None, reason: str = "") -> None:
    """Write down the answer, or the reason there is none."""
    with library.writing() as session:
        queued_work.finish(session, Examination, examination_id, answer, reason)


def resume(library: Library) -> None:
    """After a start: what was running waits again, and a comparison that only an older algorithm made is made anew."""
    with library.writing() as session:
        queued_work.put_back(session, Examination, "Examining this file", ~_IS_PANEL)
        older = update(Examination).where(
            col(Examination.algorithm_version) < ALGORITHM_VERSION,
            col(Examination.kind).not_in(STAY_AS_ANSWERED),
        )
        session.execute(
            older.values(
                algorithm_version=ALGORITHM_VERSION, state=WorkState.WAITING, reason="", tries=0, figures=None
            )
        )


def _newest(
    session: Session, kind: str, file_ids: Sequence[int]
) -> dict[tuple[int, int | None, int | None], Examination]:
    rows = session.scalars(
        select(Examination)
        .where(col(Examination.file_id).in_(file_ids), col(Examination.kind) == kind)
        .order_by(col(Examination.id))
    )
    return {(row.file_id, row.other_file_id, row.source_file_id): row for row in rows}


def _examined(row: Examination | None, read: Callable[[Mapping[str, Any]], Answer]) -> Examined[Answer]:
    if row is None:
        return Examined(WorkState.NOT_ASKED)
    if row.state != WorkState.DONE or row.figures is None:
        return Examined(row.state, row.reason)
    return Examined(WorkState.DONE, "", read(row.figures))


def _of(kind: str, file_id: int, other_file_id: int | None, source_file_id: int | None) -> tuple[Any, ...]:
    return (
        col(Examination.kind) == kind,
        col(Examination.file_id) == file_id,
        col(Examination.other_file_id).is_not_distinct_from(other_file_id),
        col(Examination.source_file_id).is_not_distinct_from(source_file_id),
        col(Examination.algorithm_version) == ALGORITHM_VERSION,
    )

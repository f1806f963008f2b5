"""Work that waits in rows until the measuring process carries it out: measurements, auditions, examinations.

A row is asked for (waiting), claimed (running), and ends done or failed, with the reason. Rows survive whatever ends
the process: what was running waits again at the next start, unless it ended the process too often. An orderly stop is
nobody's fault.
"""

from collections.abc import Sequence
from typing import Any, TypeVar

from sqlalchemy import select, update
from sqlalchemy.orm import Session
from sqlmodel import col

from app.library import Library
from app.records import Audition, Examination, Measurement, Pass, Project, SourceTrack, WorkState
from app.records.base import now

TRIES = 3

Work = TypeVar("Work", Measurement, Audition, Examination)


def claim(library: Library, noun: type[Work], *first: Any, which: Sequence[Any] = ()) -> Work | None:
    """Take the oldest row that waits, now running; `first` are expressions that go before age, `which` those that hold of it.
    None also while all work is held back."""
    with library.reading() as session:  # no writer's turn is taken while nothing waits
        any_that_waits = select(col(noun.id)).where(col(noun.state) == WorkState.WAITING, *which)
        waits = session.scalar(any_that_waits.limit(1))
        if waits is None or is_held_back(session):
            return None
    with library.writing() as session:
        waiting = (
            select(noun).where(col(noun.state) == WorkState.WAITING, *which).order_by(*first, col(noun.id))
        )
        row = session.scalars(waiting.limit(1)).first()
        if row is not None:
            row.state, row.tries = WorkState.RUNNING, row.tries + 1
        return row


def is_held_back(session: Session) -> bool:
    """Whether a pass waits for its print in a project that wants the computer quiet meanwhile. What is being worked on
    when the pass begins to wait is finished first."""
    return session.scalar(_WAITING_IN_QUIET) is not None


_WAITING_IN_QUIET = (
    select(col(Pass.id))
    .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
    .join(Project, col(SourceTrack.project_id) == col(Project.id))
    .where(col(Pass.waiting_since).is_not(None), col(Project.quiet_while_printing))
    .limit(1)
)


def finish(
    session: Session,
    noun: type[Work],
    row_id: int,
    figures: dict[str, Any] | None,
    reason: str = "",
    **columns: Any,
) -> None:
    """Write down what came out: figures, or the reason there are none."""
    done = update(noun).where(col(noun.id) == row_id)
    state = WorkState.FAILED if figures is None else WorkState.DONE
    session.execute(done.values(state=state, figures=figures, reason=reason, finished_at=now(), **columns))


def let_go(library: Library) -> None:
    """After an orderly stop: what was running waits again, and the try does not count. Nothing but the stop ended it."""
    with library.writing() as session:
        for noun in (Measurement, Audition, Examination):
            running = update(noun).where(col(noun.state) == WorkState.RUNNING)
            session.execute(running.values(state=WorkState.WAITING, tries=col(noun.tries) - 1))


def put_back(session: Session, noun: type[Work], doing: str, *which: Any) -> None:
    """After a start: what was running waits again. `doing` begins the sentence of what is given up, as in
    "Measuring this file"."""
    stuck = update(noun).where(col(noun.state) == WorkState.RUNNING, *which)
    session.execute(
        stuck.where(col(noun.tries) >= TRIES).values(
            state=WorkState.FAILED,
            reason=f"{doing} ended its process {TRIES} times. It is left alone now.",
        )
    )
    session.execute(stuck.values(state=WorkState.WAITING))


def try_again(session: Session, noun: type[Work], *which: Any) -> None:
    """Give what failed another try."""
    failed = update(noun).where(*which, col(noun.state) == WorkState.FAILED)
    session.execute(failed.values(state=WorkState.WAITING, reason="", tries=0))

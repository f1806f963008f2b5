"""Prints made again with the settings untouched: how far two prints of an unchanged chain lie apart.

A difference no larger than that proves no change, so the verdicts of recalls use it.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlmodel import col

from app.desk.measuring import examinations
from app.desk.prints.prints import find_print
from app.desk.refusals import Refusal
from app.library import Library
from app.records import Pass, Print, PrintRepeat, SourceTrack
from app.signal.comparison.spread import Spread, spread_of


@dataclass(frozen=True)
class SpreadSheet:
    """What the repeats of a print tell. `repeats` counts them, `coming` those that are still being compared."""

    repeats: int = 0
    coming: int = 0
    spread: Spread | None = None


NO_REPEATS = SpreadSheet()


def mark_repeat(library: Library, print_id: int, first_id: int | None) -> int:
    """Say that a print was made with the same settings as another of its pass, or (None) that it was not. Returns the
    pass."""
    with library.writing() as session:
        item = find_print(session, print_id)
        there = session.get(PrintRepeat, print_id)
        if there is not None:
            session.delete(there)
            session.flush()
        if first_id is None:
            return item.pass_id
        first = find_print(session, _first_of(session, first_id))
        if first.pass_id != item.pass_id or first.id == item.id:
            raise Refusal({f"again-{print_id}": "Choose another print of this pass."})
        for other in session.scalars(select(PrintRepeat).where(col(PrintRepeat.first_id) == print_id)):
            other.first_id = first.id
        session.add(PrintRepeat(print_id=print_id, first_id=first.id))
        session.flush()
        for comparison in _comparisons(session, [first.id]).get(first.id, ()):
            examinations.want_matched(session, comparison)
        return item.pass_id


def read_spreads(session: Session, first_ids: Iterable[int]) -> dict[int, SpreadSheet]:
    """By the print that was repeated; what has no repeats is left out."""
    of_first = _comparisons(session, list(first_ids))
    asked = [files for comparisons in of_first.values() for files in comparisons]
    examined = examinations.read_matched(session, asked)
    found = {}
    for first_id, comparisons in of_first.items():
        answers = [examined[files] for files in comparisons]
        figures = [one.answer for one in answers if one.answer is not None]
        found[first_id] = SpreadSheet(
            len(comparisons), sum(one.is_coming for one in answers), spread_of(figures)
        )
    return found


def _comparisons(session: Session, first_ids: list[int]) -> dict[int, list[examinations.Comparison]]:
    first = Print.__table__.alias("first")  # type: ignore[attr-defined]
    rows = session.execute(
        select(first.c.id, col(Print.file_id), first.c.file_id, col(SourceTrack.file_id))
        .select_from(PrintRepeat)
        .join(Print, col(PrintRepeat.print_id) == col(Print.id))
        .join(first, col(PrintRepeat.first_id) == first.c.id)
        .join(Pass, col(Print.pass_id) == col(Pass.id))
        .join(SourceTrack, col(Pass.source_id) == col(SourceTrack.id))
        .where(first.c.id.in_(first_ids))
        .order_by(col(Print.id))
    )
    found: dict[int, list[examinations.Comparison]] = {}
    for first_id, again, once, source in rows:
        if source is not None:
            found.setdefault(first_id, []).append((again, once, source))
    return found


def _first_of(session: Session, print_id: int) -> int:
    """The print that others repeat: of a repeat, the one it repeats itself."""
    repeat = session.get(PrintRepeat, print_id)
    return print_id if repeat is None else repeat.first_id

"""Marking the keeper."""

from app.desk import wording
from app.desk.passes.passes import find_pass
from app.desk.refusals import Complaints
from app.desk.rows import row_of
from app.library import Library
from app.records import KeeperMark


def mark_keeper(library: Library, pass_id: int, *, part: str, reason: str) -> int:
    """Mark a pass as the one that stays, for a part if the source has several. Returns the source."""
    complaints = Complaints()
    part = wording.line(complaints, "part", "The part", part)
    reason = wording.notes(complaints, "reason", "The reason", reason)
    complaints.refuse_if_any()
    with library.writing() as session:
        row = find_pass(session, pass_id)
        session.add(KeeperMark(pass_id=pass_id, part=part, reason=reason))
        return row.source_id


def unmark_keeper(library: Library, keeper_id: int) -> int:
    """Take a mark back. Returns the pass."""
    with library.writing() as session:
        mark = row_of(session, KeeperMark, keeper_id, "keeper mark")
        session.delete(mark)
        return mark.pass_id

"""How much a page asks of the database: its statements, the transactions they stood in, and the pass sheets read."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import event

from app.library import Library


@dataclass
class Asked:
    """What was asked while one page was made. `statements` leaves out those that begin a transaction."""

    statements: list[str] = field(default_factory=list)
    transactions: int = 0

    @property
    def count(self) -> int:
        return len(self.statements)

    @property
    def pass_sheets(self) -> int:
        """How many times whole pass sheets were read: each reading asks once for the tags of its passes, in order."""
        return sum(
            "pass_tag.pass_id IN" in said and "lower(pass_tag.tag)" in said for said in self.statements
        )


@contextmanager
def counted(library: Library) -> Iterator[Asked]:
    asked = Asked()

    def heard(connection: Any, cursor: Any, statement: str, *others: Any) -> None:
        if statement.startswith("BEGIN"):
            asked.transactions += 1
        else:
            asked.statements.append(" ".join(statement.split()))

    event.listen(library.engine, "before_cursor_execute", heard)
    try:
        yield asked
    finally:
        event.remove(library.engine, "before_cursor_execute", heard)

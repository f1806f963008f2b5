"""A row by its id, as a person's address names it."""

from typing import TypeVar

from sqlalchemy.orm import Session
from sqlmodel import SQLModel

from app.desk.refusals import NotThere

Table = TypeVar("Table", bound=SQLModel)


def row_of(session: Session, table: type[Table], row_id: int, noun: str, *why: str) -> Table:
    """Raises NotThere, in the words given, where there is none."""
    row = session.get(table, row_id)
    if row is None:
        raise NotThere(noun, *why)
    return row

"""What every table shares. Imported before any table class exists, so that constraint names follow the convention."""

from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

from sqlalchemy import DateTime, MetaData
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import SQLModel

SQLModel.metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


NEVER_REUSED = {"sqlite_autoincrement": True}
"""For `__table_args__`: the id of a deleted row is not given out again, so that a page still open on the old row can
never act on a new one."""


class UtcDateTime(TypeDecorator[datetime]):
    """An aware moment, kept as UTC: SQLite itself knows no time zones."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        return None if value is None else value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        return None if value is None else value.replace(tzinfo=UTC)


def now() -> datetime:
    return datetime.now(UTC)


def new_uid() -> str:
    """A name for a row that stays the same in every library the row is handed on to."""
    return uuid4().hex

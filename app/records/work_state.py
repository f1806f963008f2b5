from enum import StrEnum
from typing import Any

from sqlalchemy import String
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator


class WorkState(StrEnum):
    """Where a piece of work stands: a measurement, an audition, an examination. A row knows the last four; the others are
    told of what has no row yet, or none any more."""

    NOT_ASKED = "none"
    UNMEASURED = "unmeasured"
    """What it is made from has not been measured."""
    ABSENT = "absent"
    """Not asked for yet, thrown away, or damaged: ask for it."""
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    """Then a reason says why."""

    @property
    def is_coming(self) -> bool:
        return self in (WorkState.WAITING, WorkState.RUNNING)


class WorkStateColumn(TypeDecorator[WorkState]):
    """A state, kept by its word."""

    impl = String
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return None if value is None else str(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> WorkState | None:
        return None if value is None else WorkState(value)

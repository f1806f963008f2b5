from datetime import datetime
from typing import Any

from sqlalchemy import JSON
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class BlindChoice(SQLModel, table=True):
    """Passes of a source heard under letters, and what was said of them before they were named.

    `pass_ids` stand in the order of their letters; `said` holds for each letter a note and a rank.
    """

    __tablename__ = "blind_choice"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    source_id: int = Field(foreign_key="source_track.id", ondelete="CASCADE", index=True)
    pass_ids: list[int] = Field(sa_type=JSON)
    said: list[dict[str, Any]] = Field(default_factory=list, sa_type=JSON)
    begun_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    revealed_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class HearingTest(SQLModel, table=True):
    """An A–B–X test between two passes: `trials` was fixed before it began, `xs` says which of the two X was in each
    trial, `answers` what was answered so far."""

    __tablename__ = "hearing_test"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    source_id: int = Field(foreign_key="source_track.id", ondelete="CASCADE", index=True)
    pass_a: int
    pass_b: int
    trials: int
    xs: list[str] = Field(sa_type=JSON)
    answers: list[str] = Field(default_factory=list, sa_type=JSON)
    begun_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

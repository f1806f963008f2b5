from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Index
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now
from app.records.work_state import WorkState, WorkStateColumn


class Examination(SQLModel, table=True):
    """A question about a file beyond its own measurement, answered by the measuring process. `kind` is identify (of
    which of the sources in `wanted`), match (against the original in `other_file_id`, both prints of
    `source_file_id`), reference (a printed reference signal, whose plan is `wanted`), or panel (a photo, read against those in
    `wanted`)."""

    __tablename__ = "examination"
    __table_args__ = (
        Index("ix_examination_of_file", "file_id", "kind", "other_file_id"),
        Index("ix_examination_state", "state"),
        NEVER_REUSED,
    )

    id: int = Field(default=None, primary_key=True)
    kind: str
    file_id: int = Field(foreign_key="stored_file.id", ondelete="CASCADE")
    other_file_id: int | None = Field(
        default=None, foreign_key="stored_file.id", ondelete="CASCADE", index=True
    )
    source_file_id: int | None = Field(
        default=None, foreign_key="stored_file.id", ondelete="CASCADE", index=True
    )
    wanted: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    algorithm_version: int
    state: WorkState = Field(default=WorkState.WAITING, sa_type=WorkStateColumn)
    reason: str = ""
    tries: int = 0
    figures: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    finished_at: datetime | None = Field(default=None, sa_type=UtcDateTime)

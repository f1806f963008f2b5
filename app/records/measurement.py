from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Index
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now
from app.records.work_state import WorkState, WorkStateColumn


class Measurement(SQLModel, table=True):
    """What was measured of a file, alone or against its source's file, kept apart from the file itself so that a
    better algorithm can measure again."""

    __tablename__ = "measurement"
    __table_args__ = (
        Index("ix_measurement_of_file", "file_id", "source_file_id", "algorithm_version"),
        Index("ix_measurement_state", "state"),
        NEVER_REUSED,
    )

    id: int = Field(default=None, primary_key=True)
    file_id: int = Field(foreign_key="stored_file.id", ondelete="CASCADE")
    source_file_id: int | None = Field(
        default=None, foreign_key="stored_file.id", ondelete="CASCADE", index=True
    )
    algorithm_version: int
    state: WorkState = Field(default=WorkState.WAITING, sa_type=WorkStateColumn)
    reason: str = ""
    tries: int = 0
    figures: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    finished_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class MeasuredFinding(SQLModel, table=True):
    """What kinds of findings a measurement gave, so that passes can be looked for by them."""

    __tablename__ = "measured_finding"

    measurement_id: int = Field(foreign_key="measurement.id", ondelete="CASCADE", primary_key=True)
    kind: str = Field(primary_key=True, index=True)

from datetime import datetime
from typing import Any

from sqlalchemy import JSON
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class ReferenceSignal(SQLModel, table=True):
    """A signal that was made to be sent through a chain; `plan` says where everything in it stands."""

    __tablename__ = "reference_signal"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    project_id: int = Field(foreign_key="project.id", ondelete="CASCADE", index=True)
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    plan: dict[str, Any] = Field(sa_type=JSON)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class ReferencePrint(SQLModel, table=True):
    """A reference signal as it came back through a pass's chain, or through a recall of it."""

    __tablename__ = "reference_print"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    reference_id: int = Field(foreign_key="reference_signal.id", ondelete="CASCADE", index=True)
    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", index=True)
    recall_id: int | None = Field(default=None, foreign_key="recall.id", ondelete="CASCADE", index=True)
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    file_name: str
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

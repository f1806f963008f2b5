from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class Note(SQLModel, table=True):
    """Something said of a project at a moment, perhaps of one of its passes. A private note is never handed on."""

    __tablename__ = "note"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    project_id: int = Field(foreign_key="project.id", ondelete="CASCADE", index=True)
    pass_id: int | None = Field(default=None, foreign_key="pass.id", ondelete="CASCADE", index=True)
    words: str
    private: bool = False
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

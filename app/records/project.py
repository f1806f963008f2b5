from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class Project(SQLModel, table=True):
    __tablename__ = "project"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    title: str
    artist: str = ""
    sample_rate: int = 48_000
    notes: str = ""
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

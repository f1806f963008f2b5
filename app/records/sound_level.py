from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class SoundLevel(SQLModel, table=True):
    """How loud it was in the room, and for how long."""

    __tablename__ = "sound_level"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    project_id: int = Field(foreign_key="project.id", ondelete="CASCADE", index=True)
    level_dba: float
    minutes: float
    note: str = ""
    at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

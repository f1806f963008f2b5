from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class SourceTrack(SQLModel, table=True):
    """A recorded track (DI) that is sent out to be re-amped. It may be planned before its file exists."""

    __tablename__ = "source_track"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    project_id: int = Field(foreign_key="project.id", ondelete="CASCADE", index=True)
    name: str
    instrument: str = ""
    recorded_with: str = ""
    gain: str = ""
    tuning: str = ""
    notes: str = ""
    file_id: int | None = Field(default=None, foreign_key="stored_file.id", index=True)
    file_name: str = ""
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

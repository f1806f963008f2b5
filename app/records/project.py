from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class Project(SQLModel, table=True):
    """`print_name_pattern` names the next print's track in the DAW, empty for the usual one; `quiet_while_printing`
    says that nothing is measured while a pass waits for its print."""

    __tablename__ = "project"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    title: str
    artist: str = ""
    sample_rate: int = 48_000
    notes: str = ""
    print_name_pattern: str = ""
    quiet_while_printing: bool = False
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

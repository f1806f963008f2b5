from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class KeeperMark(SQLModel, table=True):
    """A pass that stays, for one part of the arrangement (left, right, double), and why."""

    __tablename__ = "keeper_mark"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", index=True)
    part: str = ""
    reason: str = ""
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

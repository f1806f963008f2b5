from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class Device(SQLModel, table=True):
    """A phone that was paired. Only a hash of its token is kept."""

    __tablename__ = "device"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    name: str
    token_hash: str = Field(unique=True)
    paired_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    seen_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcDateTime)

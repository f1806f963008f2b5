from datetime import datetime

from sqlalchemy import BigInteger
from sqlmodel import Field, SQLModel

from app.records.base import UtcDateTime, now


class ReferredFile(SQLModel, table=True):
    """Where a stored file lies that was not copied in, and how it was when its hash was taken. `problem` says that it
    has vanished or changed since."""

    __tablename__ = "referred_file"

    file_id: int = Field(foreign_key="stored_file.id", ondelete="CASCADE", primary_key=True)
    path: str
    bytes: int = Field(sa_type=BigInteger)
    modified_ns: int = Field(sa_type=BigInteger)
    problem: str = ""
    checked_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

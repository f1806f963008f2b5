from datetime import datetime

from sqlalchemy import BigInteger
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class StoredFile(SQLModel, table=True):
    """The bytes behind a source, a print or a photo, found in the file store by their SHA-256."""

    __tablename__ = "stored_file"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    sha256: str = Field(unique=True)
    bytes: int = Field(sa_type=BigInteger)
    media_type: str
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import UtcDateTime, now


class SharedRow(SQLModel, table=True):
    """What a row said when it last went out in a bundle or came in with one, as a hash: so that a later bundle can
    tell what was changed here, there, or on both sides."""

    __tablename__ = "shared_row"

    uid: str = Field(primary_key=True)
    noun: str
    digest: str
    shared_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class Photo(SQLModel, table=True):
    """A photo of a pass (perhaps of one microphone's placement in it) or of a piece of gear.

    The original stays in the file store untouched and is never served: only the cleaned picture and its
    thumbnail are, which carry no location.
    """

    __tablename__ = "photo"
    __table_args__ = (
        CheckConstraint("(pass_id IS NULL) <> (gear_id IS NULL)", name="of_a_pass_or_gear"),
        NEVER_REUSED,
    )

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    pass_id: int | None = Field(default=None, foreign_key="pass.id", ondelete="CASCADE", index=True)
    step_id: int | None = Field(default=None, foreign_key="chain_step.id", ondelete="SET NULL", index=True)
    gear_id: int | None = Field(default=None, foreign_key="gear.id", ondelete="CASCADE", index=True)
    caption: str = ""
    width: int
    height: int
    original_file_id: int = Field(foreign_key="stored_file.id", index=True)
    shown_file_id: int = Field(foreign_key="stored_file.id", index=True)
    thumbnail_file_id: int = Field(foreign_key="stored_file.id", index=True)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

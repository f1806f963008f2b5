from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Index, text
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class Draft(SQLModel, table=True):
    """A pass being jotted: the next one of a source, or (`pass_id`) a correction of a logged one. Desk and phone
    write into the same draft. `at` is the state it stands at; those after it can be redone. `revision` counts every
    change, undo and redo among them."""

    __tablename__ = "draft"
    __table_args__ = (
        Index("ix_draft_next_of_source", "source_id", unique=True, sqlite_where=text("pass_id IS NULL")),
        NEVER_REUSED,
    )

    id: int = Field(default=None, primary_key=True)
    source_id: int = Field(foreign_key="source_track.id", ondelete="CASCADE")
    pass_id: int | None = Field(default=None, foreign_key="pass.id", ondelete="CASCADE", unique=True)
    at: int = 0
    revision: int = 0
    begun_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    edited_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class DraftState(SQLModel, table=True):
    """One state of a draft: the pass's form as typed, and what was done to come here. The first is 0; a later one bears
    the revision it was made at, so that a number never names two."""

    __tablename__ = "draft_state"

    draft_id: int = Field(foreign_key="draft.id", ondelete="CASCADE", primary_key=True)
    number: int = Field(primary_key=True)
    entry: dict[str, Any] = Field(sa_type=JSON)
    change: str = ""


class DraftPhoto(SQLModel, table=True):
    """A photo taken while its pass is still a draft; it becomes the pass's when that is saved."""

    __tablename__ = "draft_photo"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    draft_id: int = Field(foreign_key="draft.id", ondelete="CASCADE", index=True)
    caption: str = ""
    width: int
    height: int
    original_file_id: int = Field(foreign_key="stored_file.id", index=True)
    shown_file_id: int = Field(foreign_key="stored_file.id", index=True)
    thumbnail_file_id: int = Field(foreign_key="stored_file.id", index=True)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class ReceivedJotting(SQLModel, table=True):
    """A jotting that was taken in from a page's queue, by the name the page gave it, with what was answered: sent
    again, it gets the same answer and does nothing."""

    __tablename__ = "received_jotting"

    key: str = Field(primary_key=True)
    answer: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    received_at: datetime = Field(default_factory=now, sa_type=UtcDateTime, index=True)

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, Index
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class WatchedFolder(SQLModel, table=True):
    """The folder that a project's DAW records into. `keeps` is copy (files are copied in) or refer (they stay where
    they are, known by their hash). `problem` says why it cannot be watched just now."""

    __tablename__ = "watched_folder"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    project_id: int = Field(foreign_key="project.id", ondelete="CASCADE", index=True)
    path: str
    keeps: str = "copy"
    problem: str = ""
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class Arrival(SQLModel, table=True):
    """A file that turned up in a watched folder, as it was when it was last looked at; the newest row of a path is
    what lies there now. `path` is within the folder, with slashes. `state` is growing, offered, taken, left (not
    wanted, or there before the folder was watched) or failed; `reason` says more. `found` is what its header says and
    why it went where it is. Files recorded at once share their `together`. `missing_since` says that the file is not
    there any more."""

    __tablename__ = "arrival"
    __table_args__ = (
        Index("ix_arrival_of_folder", "folder_id", "path"),
        Index("ix_arrival_state", "state"),
        NEVER_REUSED,
    )

    id: int = Field(default=None, primary_key=True)
    folder_id: int = Field(foreign_key="watched_folder.id", ondelete="CASCADE")
    path: str
    bytes: int = Field(default=0, sa_type=BigInteger)
    modified_ns: int = Field(default=0, sa_type=BigInteger)
    state: str = "growing"
    reason: str = ""
    together: str = ""
    file_id: int | None = Field(default=None, foreign_key="stored_file.id", ondelete="SET NULL", index=True)
    print_id: int | None = Field(default=None, foreign_key="print.id", ondelete="SET NULL", index=True)
    found: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    missing_since: datetime | None = Field(default=None, sa_type=UtcDateTime)
    seen_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

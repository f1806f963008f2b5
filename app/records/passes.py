from datetime import datetime

from sqlalchemy import Index, UniqueConstraint
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class Pass(SQLModel, table=True):
    """One trip of a source through a chain. `revision` counts its edits, so that a stale page is noticed. `rating` is
    the person's own, 1 to 5. `chain_name` is the name under which its chain is kept, to begin others with; it stays in this
    library. `waiting_since` says that the pass is being printed: the next file that arrives is its
    print."""

    __tablename__ = "pass"
    __table_args__ = (UniqueConstraint("source_id", "number"), NEVER_REUSED)

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    source_id: int = Field(foreign_key="source_track.id", ondelete="CASCADE")
    number: int
    title: str = ""
    notes: str = ""
    hook_up: str = ""
    levels: str = ""
    rating: int | None = None
    chain_name: str = ""
    waiting_since: datetime | None = Field(default=None, sa_type=UtcDateTime)
    revision: int = 1
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime, index=True)
    edited_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class ChainStep(SQLModel, table=True):
    """Gear in its place in a pass's chain. `branch` is empty on the common path, else the branch's letter."""

    __tablename__ = "chain_step"
    __table_args__ = (UniqueConstraint("pass_id", "gear_id"), NEVER_REUSED)

    id: int = Field(default=None, primary_key=True)
    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE")
    position: int
    branch: str = ""
    gear_id: int = Field(foreign_key="gear.id", index=True)
    layout_id: int = Field(foreign_key="control_layout.id", index=True)


class Setting(SQLModel, table=True):
    """A control's position on one pass: what the person read, and where it stands as a fraction of travel."""

    __tablename__ = "setting"
    __table_args__ = (Index("ix_setting_control_id_position", "control_id", "position", "step_id"),)

    step_id: int = Field(foreign_key="chain_step.id", ondelete="CASCADE", primary_key=True)
    control_id: int = Field(foreign_key="control.id", primary_key=True)
    reading: str
    position: float | None = None
    value: float | None = None
    approximate: bool = False


class PassTag(SQLModel, table=True):
    """A word of the person's own on a pass."""

    __tablename__ = "pass_tag"

    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", primary_key=True)
    tag: str = Field(primary_key=True, index=True)

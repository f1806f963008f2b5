from datetime import datetime
from typing import Any

from sqlalchemy import JSON, UniqueConstraint
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class Gear(SQLModel, table=True):
    """A piece of the person's own gear as it is called today."""

    __tablename__ = "gear"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    kind: str
    name: str
    notes: str = ""
    retired_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class ControlLayout(SQLModel, table=True):
    """One frozen version of a piece of gear: its name, kind, controls and ports as a pass was logged with them.

    `ports` is NULL while nobody has looked at them: the starting ports of the kind then stand for it.
    """

    __tablename__ = "control_layout"
    __table_args__ = (UniqueConstraint("gear_id", "version"), NEVER_REUSED)

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    gear_id: int = Field(foreign_key="gear.id", ondelete="CASCADE")
    version: int
    gear_name: str
    kind: str
    ports: list[dict[str, Any]] | None = Field(default=None, sa_type=JSON)
    facts: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class Control(SQLModel, table=True):
    """A knob, switch, fader or selector of one layout version.

    `key` stays the same from version to version, so that a renamed knob is still one row of the ledger.
    """

    __tablename__ = "control"
    __table_args__ = (UniqueConstraint("layout_id", "key"), NEVER_REUSED)

    id: int = Field(default=None, primary_key=True)
    layout_id: int = Field(foreign_key="control_layout.id", ondelete="CASCADE")
    key: str
    position: int
    name: str
    spec: dict[str, Any] = Field(sa_type=JSON)

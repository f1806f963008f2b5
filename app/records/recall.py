from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class Recall(SQLModel, table=True):
    """One time that a pass is set up again. It stays open until the person says that it is done."""

    __tablename__ = "recall"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", index=True)
    note: str = ""
    begun_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    finished_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class RecallMark(SQLModel, table=True):
    """An item of a recall that was checked off, or what keeps it from being as it was. `item` names it:
    hook-up, levels, step-3, placement-3 or control-3-17 (a step's id, a control's id)."""

    __tablename__ = "recall_mark"

    recall_id: int = Field(foreign_key="recall.id", ondelete="CASCADE", primary_key=True)
    item: str = Field(primary_key=True)
    done: bool = False
    deviation: str = ""
    marked_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class RecallSubstitute(SQLModel, table=True):
    """Gear that stands in for that of a step, at a version of its layout."""

    __tablename__ = "recall_substitute"

    recall_id: int = Field(foreign_key="recall.id", ondelete="CASCADE", primary_key=True)
    step_id: int = Field(foreign_key="chain_step.id", ondelete="CASCADE", primary_key=True)
    gear_id: int = Field(foreign_key="gear.id", ondelete="CASCADE", index=True)
    layout_id: int = Field(foreign_key="control_layout.id")


class RecallPhoto(SQLModel, table=True):
    """A photo of the gear as it stands while a pass is set up again, to be held against what the pass says."""

    __tablename__ = "recall_photo"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    recall_id: int = Field(foreign_key="recall.id", ondelete="CASCADE", index=True)
    width: int
    height: int
    original_file_id: int = Field(foreign_key="stored_file.id", index=True)
    shown_file_id: int = Field(foreign_key="stored_file.id", index=True)
    thumbnail_file_id: int = Field(foreign_key="stored_file.id", index=True)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class RecallTry(SQLModel, table=True):
    """A print made to hear how close a recall is, beside the print it is compared with."""

    __tablename__ = "recall_try"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    recall_id: int = Field(foreign_key="recall.id", ondelete="CASCADE", index=True)
    original_print_id: int | None = Field(
        default=None, foreign_key="print.id", ondelete="SET NULL", index=True
    )
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    file_name: str
    note: str = ""
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

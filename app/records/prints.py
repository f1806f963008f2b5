from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, new_uid, now


class Print(SQLModel, table=True):
    """An audio file of a pass; a pass has one for each microphone or return. `balance_db` is its level beside the
    others when the pass is listened to; `delay_by_hand_samples` counts, in its own rate, instead of what is measured."""

    __tablename__ = "print"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    uid: str = Field(default_factory=new_uid, unique=True, index=True)
    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", index=True)
    step_id: int | None = Field(default=None, foreign_key="chain_step.id", ondelete="SET NULL", index=True)
    label: str = ""
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    file_name: str
    balance_db: float = 0.0
    delay_by_hand_samples: float | None = None
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class PrintRepeat(SQLModel, table=True):
    """A print that was made with the same settings as another of its pass, to learn how far two prints of an
    unchanged chain lie apart."""

    __tablename__ = "print_repeat"

    print_id: int = Field(foreign_key="print.id", ondelete="CASCADE", primary_key=True)
    first_id: int = Field(foreign_key="print.id", ondelete="CASCADE", index=True)

from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class Print(SQLModel, table=True):
    """An audio file of a pass; a pass has one for each microphone or return. `balance_db` is its level beside the
    others when the pass is listened to."""

    __tablename__ = "print"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", index=True)
    step_id: int | None = Field(default=None, foreign_key="chain_step.id", ondelete="SET NULL", index=True)
    label: str = ""
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    file_name: str
    balance_db: float = 0.0
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

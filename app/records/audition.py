from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, Index
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now
from app.records.work_state import WorkState, WorkStateColumn


class Audition(SQLModel, table=True):
    """Files made for listening, in the library's auditions folder under `key`, which names all they are made of.

    `kind` is print (a print on its source's time line) or together (how the prints of a pass add up); `wanted` says
    what to make. They may be thrown away and
    made again at will.
    """

    __tablename__ = "audition"
    __table_args__ = (Index("ix_audition_state", "state"), NEVER_REUSED)

    id: int = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    kind: str
    wanted: dict[str, Any] = Field(sa_type=JSON)
    state: WorkState = Field(default=WorkState.WAITING, sa_type=WorkStateColumn)
    reason: str = ""
    tries: int = 0
    figures: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    bytes: int = Field(default=0, sa_type=BigInteger)
    used_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)
    finished_at: datetime | None = Field(default=None, sa_type=UtcDateTime)

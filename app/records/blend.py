from typing import Any

from sqlalchemy import JSON
from sqlmodel import Field, SQLModel


class Blend(SQLModel, table=True):
    """The blend of a pass's prints that was chosen: for each print id its gain, nudge and polarity."""

    __tablename__ = "blend"

    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", primary_key=True)
    settings: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)

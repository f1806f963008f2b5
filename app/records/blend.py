from typing import Any

from sqlalchemy import JSON
from sqlmodel import Field, SQLModel

SOURCE_LANE = "source"


class Blend(SQLModel, table=True):
    """The blend of a pass that was chosen: by print id, or `SOURCE_LANE` for the source itself, the gain, nudge and
    polarity of what is in it. What is missing is not in it. Prints lie where their pass is lined up with the source;
    nudges come on top."""

    __tablename__ = "blend"

    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", primary_key=True)
    settings: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED


class PhotoPin(SQLModel, table=True):
    """The place in a photo where a control is to be seen, as fractions of its width and height."""

    __tablename__ = "photo_pin"
    __table_args__ = (UniqueConstraint("photo_id", "gear_id", "control_key"), NEVER_REUSED)

    id: int = Field(default=None, primary_key=True)
    photo_id: int = Field(foreign_key="photo.id", ondelete="CASCADE")
    gear_id: int = Field(foreign_key="gear.id", ondelete="CASCADE", index=True)
    control_key: str
    x: float
    y: float

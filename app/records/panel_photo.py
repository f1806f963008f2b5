from datetime import datetime
from typing import Any

from sqlalchemy import JSON
from sqlmodel import Field, SQLModel

from app.records.base import NEVER_REUSED, UtcDateTime, now


class PanelPhoto(SQLModel, table=True):
    """A photo of a piece of gear in which its controls are marked, at one version of its layout: what photos of passes are
    read against. Places are fractions of the picture that is shown.

    `corners` are the panel's, clockwise from its own top left. `marks` holds for each control's key how it looks, its centre and edge (of a
    fader its two ends), the reading at which it stands here, and what it was when it was marked.
    """

    __tablename__ = "panel_photo"
    __table_args__ = NEVER_REUSED

    id: int = Field(default=None, primary_key=True)
    photo_id: int = Field(foreign_key="photo.id", ondelete="CASCADE", unique=True)
    layout_id: int = Field(foreign_key="control_layout.id", ondelete="CASCADE", index=True)
    corners: list[list[float]] = Field(sa_type=JSON)
    marks: dict[str, Any] = Field(sa_type=JSON)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)

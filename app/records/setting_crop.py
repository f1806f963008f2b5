from datetime import datetime

from sqlmodel import Field, SQLModel

from app.records.base import UtcDateTime, now


class SettingCrop(SQLModel, table=True):
    """What a photo showed of a control when its reading was confirmed: the evidence of one setting of a pass.

    It is that of the reading it was confirmed with: a setting that is corrected later is shown without it, and with it again
    once the correction is taken back.
    """

    __tablename__ = "setting_crop"

    step_id: int = Field(foreign_key="chain_step.id", ondelete="CASCADE", primary_key=True)
    control_id: int = Field(foreign_key="control.id", ondelete="CASCADE", primary_key=True)
    reading: str
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    created_at: datetime = Field(default_factory=now, sa_type=UtcDateTime)


class DraftCrop(SQLModel, table=True):
    """The same while the pass is a draft. `reading` is as it was typed or taken."""

    __tablename__ = "draft_crop"

    draft_id: int = Field(foreign_key="draft.id", ondelete="CASCADE", primary_key=True)
    gear_id: int = Field(foreign_key="gear.id", ondelete="CASCADE", primary_key=True)
    control_key: str = Field(primary_key=True)
    reading: str
    file_id: int = Field(foreign_key="stored_file.id", index=True)

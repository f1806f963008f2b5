from sqlmodel import Field, SQLModel


class MicPlacement(SQLModel, table=True):
    """Where the microphone of a chain step stood. Absent knowledge is NULL."""

    __tablename__ = "mic_placement"

    step_id: int = Field(foreign_key="chain_step.id", ondelete="CASCADE", primary_key=True)
    speaker: str = ""
    distance_mm: float | None = None
    offset_mm: float | None = None
    angle_deg: float | None = None
    height_mm: float | None = None
    pattern: str = ""
    pad_db: float | None = None
    low_cut_hz: float | None = None
    preamp: str = ""
    gain: str = ""
    note: str = ""

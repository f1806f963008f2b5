from sqlmodel import Field, SQLModel


class SoundShape(SQLModel, table=True):
    """How loud a measured file is, and the shape of its spectrum as `signal/comparison/band_shape.py` packs it, kept apart from
    its figures so that a whole library can be searched by sound."""

    __tablename__ = "sound_shape"

    file_id: int = Field(foreign_key="stored_file.id", ondelete="CASCADE", primary_key=True)
    integrated_lufs: float | None = Field(default=None, index=True)
    shape: bytes

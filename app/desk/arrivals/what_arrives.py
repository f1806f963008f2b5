"""Which files of a watched folder are taken in, told by their first bytes."""

from pathlib import Path
from typing import Literal

from app.desk.files import audio_heads
from app.desk.files.pictures import is_picture

Arriving = Literal["audio", "picture"]


def kind_of(path: Path) -> Arriving | None:
    """Raises OSError."""
    if audio_heads.read_head(path) is not None:
        return "audio"
    return "picture" if is_picture(path) else None

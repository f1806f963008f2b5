"""What the measuring process measured of prints that sound together, read where it lies."""

import json
from functools import lru_cache
from pathlib import Path

from app.desk.refusals import NotThere
from app.library import Readable
from app.signal.listening.blend_figures import MeasuredTogether, measured_together_from_json


def folder_of(library: Readable, key: str) -> Path:
    return library.auditions / key


def read_measured_together(library: Readable, key: str) -> MeasuredTogether:
    """Raises NotThere."""
    path = folder_of(library, key) / "blend.json"
    try:
        return _read(path, path.stat().st_mtime_ns)
    except (OSError, ValueError, KeyError) as error:
        raise NotThere("blend") from error


@lru_cache(maxsize=8)
def _read(path: Path, changed_ns: int) -> MeasuredTogether:
    return measured_together_from_json(json.loads(path.read_text(encoding="utf-8")))

"""The prints of a pass as a blend: what their sum does at given levels, nudges and polarities, and how to line them up.

Answered at once from what the measuring process measured of them together (see `auditions`).
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from app.desk.listening.auditions import folder_of
from app.desk.refusals import NotThere
from app.library import Readable
from app.signal.listening.blend_figures import (
    BlendFigures,
    BlendSetting,
    MeasuredTogether,
    blend_of,
    measured_together_from_json,
)
from app.trade.microphones import distance_of_samples_mm


@dataclass(frozen=True)
class Nudge:
    """A move along the time line, and the length of air that makes the same difference. Below 0 is earlier."""

    samples: float
    ms: float
    cm: float


def read_blend(library: Readable, loudness_key: str, settings: Sequence[BlendSetting]) -> BlendFigures:
    """The blend of a lane's `heard` prints, in that order, at these settings. Raises NotThere where the lane has
    but one print, or is not ready."""
    measured = read_measured_together(library, loudness_key)
    if len(settings) != len(measured.spectra.powers):
        raise NotThere("blend")
    return blend_of(measured, settings)


def read_measured_together(library: Readable, loudness_key: str) -> MeasuredTogether:
    path = folder_of(library, loudness_key) / "blend.json"
    try:
        return _read(path, path.stat().st_mtime_ns)
    except (OSError, ValueError, KeyError) as error:
        raise NotThere("blend") from error


@lru_cache(maxsize=8)
def _read(path: Path, changed_ns: int) -> MeasuredTogether:
    return measured_together_from_json(json.loads(path.read_text(encoding="utf-8")))


def nudge_of(samples: float, sample_rate: int, temperature_celsius: float = 20.0) -> Nudge:
    """Raises ValueError for a temperature no session has."""
    mm = distance_of_samples_mm(samples, sample_rate, temperature_celsius)
    return Nudge(samples, 1000 * samples / sample_rate, mm / 10)

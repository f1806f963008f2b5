"""What is known of a chain from a printed reference signal, as plain values, without numpy.

It holds for the level the signal was sent at: a chain that compresses, gates or distorts answers otherwise at another.
What cannot be known is None, and `absent` says why.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from app.signal.figures import Polarity
from app.signal.stored_json import read_stored

REFERENCE_VERSION = 1
"""Raised whenever the same print would give other figures."""
ORDERS = (2, 3, 4, 5)
"""Common practice; those of TONE_HZ stay clear of the mains' multiples up to the fifth."""


@dataclass(frozen=True, slots=True)
class ResponseBand:
    """Gain from what was sent to what came back, the mean power over a third-octave of IEC 61260-1."""

    mid_hz: float
    gain_db: float | None


@dataclass(frozen=True, slots=True)
class ResponsePoint:
    """The same over a twenty-fourth of an octave."""

    hz: float
    gain_db: float


@dataclass(frozen=True, slots=True)
class DistortionBand:
    """Harmonics that a tone in this third-octave raises: levels against the fundamental as it came back, in dB, for
    orders 2 to 5; and their root sum of squares against it in percent (THD_F). An order is None where it lies beyond the
    sweep's end or under the noise."""

    mid_hz: float
    orders_db: tuple[float | None, float | None, float | None, float | None]
    thd_percent: float | None


@dataclass(frozen=True, slots=True)
class StepFigures:
    """The tone at one level. Levels are peak levels of its fundamental (a full-scale sine reads 0).

    `gain_change_db` is its gain against that of the quietest known step: below 0, the chain compresses. `thd_percent` is
    THD_F: harmonics 2 to 10 that rise above the noise, root sum of squares, against the fundamental.
    """

    sent_dbfs: float
    returned_dbfs: float | None
    gain_change_db: float | None
    orders_db: tuple[float | None, float | None, float | None, float | None]
    thd_percent: float | None


@dataclass(frozen=True, slots=True)
class NoiseBand:
    mid_hz: float
    level_dbfs: float


@dataclass(frozen=True, slots=True)
class Absent:
    """A figure that could not be known: which, and why, in a sentence."""

    figure: str
    reason: str


@dataclass(frozen=True, slots=True)
class ReferenceFigures:
    """`delay_samples` (in the print's rate) is how much later the print is than the signal's file, where the impulse
    response peaks; `polarity` its sign there (AES17-2015, 6.8.2 and 6.2.8). `likeness` of the two marks, 0 to 1: below
    1, the chain moves or is noisy. Noise levels are rms on the plain scale."""

    sample_rate: int
    sent_dbfs: float
    tone_hz: float
    delay_samples: float | None
    delay_ms: float | None
    polarity: Polarity
    drift_ppm: float | None
    likeness: float | None
    response: tuple[ResponseBand, ...]
    fine: tuple[ResponsePoint, ...]
    distortion: tuple[DistortionBand, ...]
    steps: tuple[StepFigures, ...]
    noise_floor_dbfs: float | None
    noise: tuple[NoiseBand, ...]
    absent: tuple[Absent, ...] = ()
    notes: tuple[str, ...] = ()
    version: int = REFERENCE_VERSION


def unknown(sample_rate: int, sent_dbfs: float, tone_hz: float, reason: str) -> ReferenceFigures:
    """Nothing is known, for one reason."""
    return ReferenceFigures(
        sample_rate=sample_rate,
        sent_dbfs=sent_dbfs,
        tone_hz=tone_hz,
        delay_samples=None,
        delay_ms=None,
        polarity="unclear",
        drift_ppm=None,
        likeness=None,
        response=(),
        fine=(),
        distortion=(),
        steps=(),
        noise_floor_dbfs=None,
        noise=(),
        absent=(Absent("all", reason),),
    )


def reference_to_json(figures: ReferenceFigures) -> dict[str, Any]:
    return asdict(figures)


def reference_from_json(document: Mapping[str, Any]) -> ReferenceFigures:
    """The inverse of `reference_to_json` after a journey through JSON. Without its version it is a KeyError."""
    return read_stored(ReferenceFigures, {**document, "version": document["version"]})

"""What is known of an audition, as plain values: nothing here imports numpy, so the web server may use it."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from app.signal.figures import AlignmentFigures
from app.signal.stored_json import read_stored

AUDITION_VERSION = 2
"""Raised whenever the same print would give other audition files, so that kept ones are made again."""

SEGMENT_S = 10
"""Of a file that a browser fetches at once: 1.4 MB of mono at 48 kHz before it is packed. Chosen; not measured."""
HOP_S = 0.1
"""BS.1770's gating blocks begin so far apart."""
AT_ONCE_S = 0.02
"""What a print lacks of its source for a shorter time is passed over, not heard as a silence. Chosen; not measured."""


@dataclass(frozen=True, slots=True)
class Moved:
    """From `from_s` of the source on, a print is read so much later than at its start; None where it does not hold the source."""

    from_s: float
    by_s: float | None


def moved_of(alignment: AlignmentFigures, sample_rate: int) -> tuple[Moved, ...]:
    """How the pieces after the first are read on the source's time line; empty where there is one alone."""
    moved: list[Moved] = []
    for before, after in pairwise(alignment.pieces):
        by_s = (after.delay_samples - alignment.pieces[0].delay_samples) / sample_rate
        lacking_s = after.source_from_s - before.source_to_s
        if lacking_s > AT_ONCE_S:
            moved += [Moved(before.source_to_s, None), Moved(after.source_from_s, by_s)]
        else:
            moved.append(Moved(max(after.source_from_s, before.source_to_s), by_s))
    return tuple(moved)


@dataclass(frozen=True, slots=True)
class AuditionFigures:
    """A print moved onto its source's time line, as files.

    `segment_bytes` are the sizes of the segments in order; every one holds exactly `segment_s` seconds but the
    last. `scale_db` (never above 0) is what the samples in the files were lowered by to fit below full scale, and
    `peak_dbfs` the highest sample before that. `is_exact` says that samples were copied, not interpolated.
    """

    sample_rate: int
    channels: int
    frames: int
    duration_s: float
    segment_s: int
    segment_bytes: tuple[int, ...]
    delay_samples: float
    drift_ppm: float
    is_exact: bool
    scale_db: float
    peak_dbfs: float | None
    notes: tuple[str, ...] = ()

    @property
    def segments(self) -> int:
        return len(self.segment_bytes)


def audition_figures_from_json(document: dict[str, Any]) -> AuditionFigures:
    """The inverse of `dataclasses.asdict` after a journey through JSON."""
    return read_stored(AuditionFigures, document)


@dataclass(frozen=True, slots=True)
class HopPowers:
    """K-weighted powers of prints that sound together, in hops of 100 ms from time zero.

    `powers[k][h]` belongs to the pair `pairs()[k]` of prints: the mean over hop h of the product of the two
    K-weighted signals, summed over a left and a right loudspeaker, a mono print coming from both. The power of
    any balance is therefore exact: the sum over all pairs of gain · gain · power, twice for unlike ones.
    `peaks` are the prints' highest samples (full scale is 1). `channels` is 2 if any print is stereo.
    """

    channels: int
    peaks: tuple[float, ...]
    powers: tuple[tuple[float, ...], ...]

    def pairs(self) -> list[tuple[int, int]]:
        """(0, 0), (0, 1), …, (1, 1), …: each pair of prints once."""
        prints = range(len(self.peaks))
        return [(first, second) for first in prints for second in prints if second >= first]


def hop_powers_from_json(document: dict[str, Any]) -> HopPowers:
    """The inverse of `dataclasses.asdict` after a journey through JSON."""
    return read_stored(HopPowers, document)

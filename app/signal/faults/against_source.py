"""Faults that show only beside the source: a late start, an early end, and holes the source does not have."""

import numpy as np

from app.signal.alignment.features import Features
from app.signal.audio.reading import Sound
from app.signal.figures import AlignmentFigures, Dropout
from app.signal.levels.spectrum import FRAMES_PER_S

# Below the loud passages (the 95th percentile of frames). Chosen by ear; not measured.
AUDIBLE_DB = -50.0
"""What is louder is sound."""
PLAYING_DB = -25.0
"""What is louder must be heard in the print as well, whatever its gate or noise."""

LEAST_SILENCE_S = 0.5
"""A gate opens sooner. Chosen; not measured."""
SMALLEST_S = 0.02
"""Half of what one frame tells."""
SOUNDS = 10 ** (-100 / 20)
"""A channel that stays below is silent there: a third of the last bit of 16."""
FLAT_SHARE = 1e-3
"""Of the loudest sample around, -60 dB: what moves less rests."""


def starts_late_s(source_features: Features, print_features: Features, delay_s: float) -> float:
    """How much of the sounding source the print lacks at its beginning; 0 when nothing."""
    first, _ = _sounding_s(source_features, AUDIBLE_DB)
    missing = -delay_s - first
    playing, _ = _sounding_s(source_features, PLAYING_DB)
    heard, _ = _sounding_s(print_features, AUDIBLE_DB)
    silent = heard - (playing + delay_s)
    return _rounded(max(missing, silent if silent > LEAST_SILENCE_S else 0.0))


def ends_early_s(source_features: Features, print_features: Features, delay_s: float) -> float:
    """How much of the sounding source the print lacks at its end; 0 when nothing."""
    _, last = _sounding_s(source_features, AUDIBLE_DB)
    missing = last + delay_s - print_features.duration_s
    _, playing = _sounding_s(source_features, PLAYING_DB)
    _, heard = _sounding_s(print_features, AUDIBLE_DB)
    silent = playing + delay_s - heard
    return _rounded(max(missing, silent if silent > LEAST_SILENCE_S else 0.0))


def without_rests(
    dropouts: tuple[Dropout, ...], source: Sound, rate: int, alignment: AlignmentFigures
) -> tuple[Dropout, ...]:
    """Leaves out the holes and repeats that the source has itself at that place."""
    return tuple(
        dropout
        for dropout in dropouts
        if not _in_source(dropout, source, rate, alignment.in_source_s(dropout.at_s))
    )


def _in_source(dropout: Dropout, source: Sound, rate: int, at_s: float) -> bool:
    """Whether any channel of the source has it: which of the print's it was lost in need not be the source's."""
    start = round(at_s * source.sample_rate)
    length = max(1, round(dropout.samples * source.sample_rate / rate))
    there = source.read(start, length)
    if dropout.kind == "gap":
        loudest = np.abs(source.read(start - 4 * length, 9 * length)).max(axis=0)
        sounds = loudest >= SOUNDS
        rests = np.ptp(there, axis=0) < FLAT_SHARE * loudest
        return bool((sounds & rests).any() or not sounds.any())
    if dropout.kind == "repeat":
        before = source.read(start - length, length)
        return bool(((before == there).all(axis=0) & (np.ptp(there, axis=0) > 0)).any())
    return False


def _sounding_s(features: Features, threshold_db: float) -> tuple[float, float]:
    """First and last moment louder than `threshold_db` relative to the loud passages; frames reach 40 ms each way."""
    power = features.frames.summed().astype(np.float64)
    loud = float(np.quantile(power, 0.95))
    above = np.flatnonzero(power > max(loud * 10 ** (threshold_db / 10), 1e-12))
    if not len(above):
        return 0.0, 0.0
    first, last = (float(above[0]) - 0.5) / FRAMES_PER_S, (float(above[-1]) + 0.5) / FRAMES_PER_S
    return max(0.0, first), min(last, features.duration_s)


def _rounded(seconds: float) -> float:
    return round(float(seconds), 3) if seconds >= SMALLEST_S else 0.0

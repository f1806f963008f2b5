"""Faults that show only beside the source: a late start, an early end, and holes the source does not have."""

from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.features import Features
from app.signal.audio.reading import Sound
from app.signal.figures import AlignmentFigures, Between, Dropout
from app.signal.levels.spectrum import FRAMES_PER_S

# Below the loud passages (the 95th percentile of frames). Chosen by ear; not measured.
AUDIBLE_DB = -50.0
"""What is louder is sound."""
PLAYING_DB = -25.0
"""What is louder must be heard in the print as well, whatever its gate or noise."""

LEAST_SILENCE_S, LEAST_MORE_S = 0.5, 2.0
"""A gate opens sooner; and an echo or a room has fallen so far. Chosen; not measured."""
PLAYED_SHARE = 0.3
"""Between notes nothing plays either. Chosen; not measured."""
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


@dataclass(frozen=True, slots=True)
class Unlike:
    """Stretches in which one of the two rests, to a frame of 40 ms."""

    silences: tuple[Dropout, ...]
    """The source plays, and the print says nothing for longer than a gate does. Not before the print's first sound, nor after
    its last: that is a late start, or an early end."""
    not_in_source: tuple[Between, ...]
    """The print plays, and the source rests for longer than an echo lasts."""


def unlike(source_features: Features, print_features: Features, alignment: AlignmentFigures) -> Unlike:
    rate = print_features.sample_rate
    heard, played = (
        features.frames.summed().astype(np.float64) for features in (print_features, source_features)
    )
    silent = ~_above(heard, AUDIBLE_DB)
    if silent.all():
        return Unlike((), ())
    sounds = np.flatnonzero(~silent)
    silent[: sounds[0]] = silent[sounds[-1] :] = False
    plays, rests = _above(played, PLAYING_DB), ~_above(played, AUDIBLE_DB)
    plays_there, rests_there = np.zeros(len(heard), dtype=bool), np.zeros(len(heard), dtype=bool)
    for piece in alignment.pieces:
        frames = np.arange(
            max(0, ceil(piece.print_from_s * FRAMES_PER_S)),
            min(len(heard), floor(piece.print_to_s * FRAMES_PER_S)),
        )
        if len(frames):
            first, last = (piece.in_source_s(float(at) / FRAMES_PER_S) for at in (frames[0], frames[-1]))
            there = np.round(np.linspace(first, last, len(frames)) * FRAMES_PER_S).astype(int)
            there = np.clip(there, 0, len(played) - 1)
            plays_there[frames], rests_there[frames] = plays[there], rests[there]
    lost = _runs(silent, plays_there, LEAST_SILENCE_S)
    more = _runs(rests_there, _above(heard, PLAYING_DB), LEAST_MORE_S)
    return Unlike(
        tuple(Dropout(at_s, "gap", round(long_s * rate)) for at_s, long_s in lost),
        tuple(
            Between(
                at_s, "not in the source", round(long_s * rate), "The source rests while the print plays."
            )
            for at_s, long_s in more
        ),
    )


def _runs(rests: NDArray[np.bool_], plays: NDArray[np.bool_], least_s: float) -> list[tuple[float, float]]:
    """Where one rests for so long and the other plays for a good part of it, and for how long."""
    edges = np.flatnonzero(np.diff(np.pad(rests, 1).astype(np.int8))).reshape(-1, 2)
    return [
        (first / FRAMES_PER_S, (stop - first) / FRAMES_PER_S)
        for first, stop in edges.tolist()
        if (stop - first) / FRAMES_PER_S >= least_s and plays[first:stop].mean() >= PLAYED_SHARE
    ]


def _above(power: NDArray[np.float64], threshold_db: float) -> NDArray[np.bool_]:
    """Which frames are louder than `threshold_db` relative to the loud passages."""
    loud = float(np.quantile(power, 0.95))
    return np.asarray(power > max(loud * 10 ** (threshold_db / 10), 1e-12))


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
    above = np.flatnonzero(_above(features.frames.summed().astype(np.float64), threshold_db))
    if not len(above):
        return 0.0, 0.0
    first, last = (float(above[0]) - 0.5) / FRAMES_PER_S, (float(above[-1]) + 0.5) / FRAMES_PER_S
    return max(0.0, first), min(last, features.duration_s)


def _rounded(seconds: float) -> float:
    return round(float(seconds), 3) if seconds >= SMALLEST_S else 0.0

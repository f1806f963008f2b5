"""How close a recalled print comes to the original, over the passages both hold."""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.align import Alignment, align
from app.signal.alignment.coarse import candidates
from app.signal.alignment.features import Features, features_of, read_features
from app.signal.alignment.fine import linear_share, null_depth_db
from app.signal.alignment.segments import Stretch, cross_spectra, read_stretches
from app.signal.audio.reading import Sound
from app.signal.comparison.spread import Spread
from app.signal.comparison.tolerances import HEARD_BELOW_LOUDEST_DB
from app.signal.comparison.verdict import judged
from app.signal.figures import BandDifference, MatchFigures, Polarity
from app.signal.levels.loudness import channel_weights, measure_loudness
from app.signal.levels.spectrum import FRAMES_PER_S
from app.signal.survey import Survey, survey

SHORTEST_S = 1.0
RADIUS_S = 0.01
ONE_WAVE_DB = -25.0
"""Waves that cancel so far tell their distance better than two arrivals do; where tone differs, their peak is no arrival."""
STEPS_PER_FRAME = 4
QUIET_SHARE = 0.02
RESTING_DB = 25.0
"""How far the quietest moments lie below the average before they are taken for noise."""


@dataclass(frozen=True, slots=True)
class _Print:
    path: Path
    found: Survey
    features: Features
    alignment: Alignment


@dataclass(frozen=True, slots=True)
class _Passage:
    """A print's part of what both hold, in its own seconds."""

    start_s: float
    stop_s: float


def match(
    original: Path,
    recalled: Path,
    source: Path,
    *,
    features_folder: Path | None = None,
    spread: Spread | None = None,
) -> MatchFigures:
    """Compares two prints of one source over the passages both hold, and judges (`app.signal.comparison.verdict`).

    With `spread`, what prints of unchanged settings differ by widens the tolerances. Raises UnreadableAudio for any of
    the three. The verdict is None where there is nothing in common to compare, or a print cannot be placed.

    `null_depth_db` is what is left of the recall after the original, with the best gain and fractional delay, is taken
    away, relative to the recall; a deep null proves likeness, a shallow one proves little.
    """
    known = read_features(source, features_folder)
    first, second = (_placed(path, source, known) for path in (original, recalled))
    if first.alignment.figures.delay_samples is None:
        return _unknown("The original does not look like a print of this source, so nothing can be compared.")
    if second.alignment.figures.delay_samples is None:
        if second.alignment.figures.confidence > 0.8:
            return _foreign(first, second)
        return _unknown(
            "Where the recall lies against the source cannot be told, so nothing can be compared."
        )
    passages = _common(first, second, known)
    if passages is None:
        return _unknown("Original and recall hold less than a second of the source in common.")
    return judged(_compared(first, second, passages, source, known), spread)


def _placed(path: Path, source: Path, known: Features) -> _Print:
    found = survey(path)
    taken = features_of(found.file.sample_rate, found.file.frames, found.band_mids, found.frames)
    return _Print(path, found, taken, align(path, taken, source, known, candidates(known, taken)))


def _unknown(note: str) -> MatchFigures:
    return MatchFigures(None, None, None, "unclear", None, (), (note,), notes=(note,))


def _foreign(first: _Print, second: _Print) -> MatchFigures:
    del first
    note = "The recall does not look like a print of this source."
    return MatchFigures("different", None, None, "unclear", None, (), (note,), notes=second.alignment.notes)


def _delay_s(one: _Print) -> float:
    assert one.alignment.figures.delay_samples is not None
    return one.alignment.figures.delay_samples / one.found.file.sample_rate


def _common(first: _Print, second: _Print, known: Features) -> tuple[_Passage, _Passage] | None:
    """The passages of both prints that hold the same stretch of the source."""
    delays = [_delay_s(one) for one in (first, second)]
    start = max(0.0, *(-delay for delay in delays))
    ends = [one.features.duration_s - delay for one, delay in zip((first, second), delays, strict=True)]
    stop = min(known.duration_s, *ends)
    if stop - start < SHORTEST_S:
        return None
    a, b = (_Passage(start + delay, stop + delay) for delay in delays)
    return a, b


def _compared(
    first: _Print, second: _Print, passages: tuple[_Passage, _Passage], source: Path, known: Features
) -> MatchFigures:
    level = _level_difference(first, second, passages)
    if level is None:
        return _unknown("One of the two is silent where they overlap, so nothing can be compared.")
    bands = _band_differences(first, second, passages, level)
    crest = _crest_db(second.found, passages[1]) - _crest_db(first.found, passages[0])
    rates = first.found.file.sample_rate, second.found.file.sample_rate
    delay_s = _delay_s(second) - _delay_s(first)
    null_db, apart = _null(first, second)
    if apart is not None and abs(apart - delay_s) < RADIUS_S:
        delay_s = apart
    hums = [one.found.quiet.hum() for one in (first, second)]
    return MatchFigures(
        verdict=None,
        level_difference_db=level,
        delay_difference_samples=delay_s * rates[1],
        polarity=_polarity(first, second),
        null_depth_db=null_db,
        bands=bands,
        findings=(),
        crest_difference_db=crest,
        drive_difference_db=_drive_difference(first, second, passages, source, known),
        compared_s=passages[0].stop_s - passages[0].start_s,
        notes=(*first.alignment.notes, *second.alignment.notes),
        delay_difference_ms=delay_s * 1000,
        noise_difference_db=_noise_difference(first, second, passages, level),
        original_hum_dbfs=None if hums[0] is None else hums[0].level_dbfs,
        recalled_hum_dbfs=None if hums[1] is None else hums[1].level_dbfs,
    )


def _level_difference(first: _Print, second: _Print, passages: tuple[_Passage, _Passage]) -> float | None:
    levels = []
    for one, passage in zip((first, second), passages, strict=True):
        steps = one.found.energies[_slice(passage, FRAMES_PER_S * STEPS_PER_FRAME)]
        levels.append(measure_loudness(steps, channel_weights(one.found.file.channels)).integrated_lufs)
    if levels[0] is None or levels[1] is None:
        return None
    return levels[1] - levels[0]


def _slice(passage: _Passage, per_second: int) -> slice:
    start = round(passage.start_s * per_second)
    return slice(start, start + max(1, round((passage.stop_s - passage.start_s) * per_second)))


def _band_differences(
    first: _Print, second: _Print, passages: tuple[_Passage, _Passage], level: float
) -> tuple[BandDifference, ...]:
    """Band by band, recalled minus original, less the difference in loudness; only bands that are heard."""
    powers = [
        one.features.frames.part(_slice(passage, FRAMES_PER_S)).sum(axis=0, dtype=np.float64)
        for one, passage in zip((first, second), passages, strict=True)
    ]
    count = min(len(powers[0]), len(powers[1]))
    a, b = powers[0][:count], powers[1][:count] * 10 ** (-level / 10)
    heard = np.maximum(a, b) > max(a.max(), b.max()) * 10 ** (-HEARD_BELOW_LOUDEST_DB / 10)
    floor = 1e-9 * max(a.max(), b.max())
    difference = 10 * np.log10((b + floor) / (a + floor))
    mids = first.features.mids_hz[:count]
    return tuple(
        BandDifference(mid, change)
        for mid, change, kept in zip(mids.tolist(), difference.tolist(), heard.tolist(), strict=True)
        if kept
    )


def _crest_db(found: Survey, passage: _Passage) -> float:
    steps = _slice(passage, FRAMES_PER_S * STEPS_PER_FRAME)
    peak = max(float(found.highs[steps].max()), -float(found.lows[steps].min()))
    power = float(found.powers[steps].mean(dtype=np.float64))
    return 20 * math.log10(peak + 1e-12) - 10 * math.log10(power + 1e-24)


def _noise_difference(
    first: _Print, second: _Print, passages: tuple[_Passage, _Passage], level: float
) -> float | None:
    """Change of the quietest moments of the passage, the same ones in both; None where the source never rests."""
    tenths = [_tenths(one.found, passage) for one, passage in zip((first, second), passages, strict=True)]
    count = min(len(tenths[0]), len(tenths[1]))
    a, b = tenths[0][:count], tenths[1][:count] * 10 ** (-level / 10)
    quiet = np.argsort(a + b)[: max(3, round(QUIET_SHARE * count))]
    floors = float(a[quiet].mean()), float(b[quiet].mean())
    means = float(a.mean()), float(b.mean())
    if min(floors) < 1e-14:
        return None
    if not any(mean > floor * 10 ** (RESTING_DB / 10) for floor, mean in zip(floors, means, strict=True)):
        return None
    return 10 * math.log10(floors[1] / floors[0])


def _tenths(found: Survey, passage: _Passage) -> NDArray[np.float64]:
    """Mean squares of 100 ms."""
    powers = found.powers[_slice(passage, FRAMES_PER_S * STEPS_PER_FRAME)].astype(np.float64)
    return np.asarray(powers[: len(powers) // 10 * 10].reshape(-1, 10).mean(axis=1), dtype=np.float64)


def _null(first: _Print, second: _Print) -> tuple[float | None, float | None]:
    """Null depth of the recall against the original, and their distance in seconds by direct comparison."""
    lag_s = _delay_s(second) - _delay_s(first)
    stretches = _stretches(first.path, second.path, first.features, second.features, lag_s)
    if not stretches:
        return None, None
    rate = second.features.sample_rate
    depth, lag = null_depth_db(stretches, rate)
    return depth, (lag / rate if depth < ONE_WAVE_DB else None)


def _drive_difference(
    first: _Print, second: _Print, passages: tuple[_Passage, _Passage], source: Path, known: Features
) -> float | None:
    """Change in what of the print the source does not explain linearly, in dB: more drive, more of it."""
    shares = []
    for one, passage in zip((first, second), passages, strict=True):
        delay_s = _delay_s(one)
        of_source = passage.start_s - delay_s, passage.stop_s - delay_s
        stretches = _stretches(source, one.path, known, one.features, delay_s, of_source)
        if not stretches or one.alignment.fit is None or one.alignment.kind != "wave":
            return None
        segments = cross_spectra(stretches, one.features.sample_rate, "wave")
        shares.append(1 - linear_share(segments, one.alignment.fit))
    floor = 10**-3.5
    return 10 * math.log10((shares[1] + floor) / (shares[0] + floor))


def _stretches(
    a: Path,
    b: Path,
    first: Features,
    second: Features,
    lag_s: float,
    between_s: tuple[float, float] | None = None,
) -> list[Stretch]:
    with Sound(a) as source_sound, Sound(b) as taken_sound:
        return read_stretches(source_sound, taken_sound, first, second, lag_s, RADIUS_S, between_s=between_s)


def _polarity(first: _Print, second: _Print) -> Polarity:
    one, other = first.alignment.figures.polarity, second.alignment.figures.polarity
    if "unclear" in (one, other):
        return "unclear"
    return "same" if one == other else "inverted"

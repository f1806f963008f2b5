"""How close a recalled print comes to the original, over the passages both hold."""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.align import Alignment, align, has_polarity
from app.signal.alignment.coarse import candidates
from app.signal.alignment.features import Features, features_of, read_features
from app.signal.alignment.fine import Null, best_fit, deepest_null, linear_share
from app.signal.alignment.segments import Stretch, cross_spectra, read_stretches
from app.signal.audio.reading import Sound
from app.signal.comparison.spread import Spread
from app.signal.comparison.tolerances import HEARD_BELOW_LOUDEST_DB
from app.signal.comparison.verdict import judged
from app.signal.figures import BandDifference, MatchFigures, Polarity
from app.signal.levels.loudness import STEPS_PER_S, channel_weights, measure_loudness
from app.signal.levels.spectrum import FRAMES_PER_S
from app.signal.survey import Survey, survey_of

# Set by hand; not measured singly.
SHORTEST_S = 1.0
"""The least that both must hold of the source."""
RADIUS_S = 0.01
"""How far the second may lie from where the delays of both put it."""
ONE_WAVE_DB = -25.0
"""Waves that cancel so far tell their distance better than two arrivals do; where tone differs, their peak is no arrival."""
STEPS_PER_FRAME = STEPS_PER_S // FRAMES_PER_S
"""Of loudness to those of spectra."""
QUIET_SHARE = 0.02
"""So many of the tenths of a second, the quietest, are taken for noise."""
RESTING_DB = 25.0
"""How far the quietest moments lie below the average before they are taken for noise."""


@dataclass(frozen=True, slots=True)
class _Placed:
    path: Path
    survey: Survey
    features: Features
    alignment: Alignment


@dataclass(frozen=True, slots=True)
class _Passage:
    """A print's part of what both hold, in its own seconds."""

    start_s: float
    stop_s: float


def match(
    original_path: Path,
    recalled_path: Path,
    source_path: Path,
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
    source_features = read_features(source_path, features_folder)
    original, recalled = (
        _placed(path, source_path, source_features) for path in (original_path, recalled_path)
    )
    if original.alignment.figures.delay_samples is None:
        return _unknown("The original does not look like a print of this source, so nothing can be compared.")
    if recalled.alignment.figures.delay_samples is None:
        if recalled.alignment.figures.confidence > 0.8:
            return _foreign(recalled)
        return _unknown(
            "Where the recall lies against the source cannot be told, so nothing can be compared."
        )
    passages = _common(original, recalled, source_features)
    if passages is None:
        return _unknown("Original and recall hold less than a second of the source in common.")
    return judged(_compared(original, recalled, passages, source_path, source_features), spread)


def _placed(print_path: Path, source_path: Path, source_features: Features) -> _Placed:
    survey = survey_of(print_path)
    print_features = features_of(survey.file.sample_rate, survey.file.frames, survey.band_mids, survey.frames)
    return _Placed(
        print_path,
        survey,
        print_features,
        align(
            print_path,
            print_features,
            source_path,
            source_features,
            candidates(source_features, print_features),
        ),
    )


def _unknown(note: str) -> MatchFigures:
    return MatchFigures(None, None, None, "unclear", None, (), (note,), notes=(note,))


def _foreign(recalled: _Placed) -> MatchFigures:
    note = "The recall does not look like a print of this source."
    return MatchFigures("different", None, None, "unclear", None, (), (note,), notes=recalled.alignment.notes)


def _delay_s(placed: _Placed) -> float:
    assert placed.alignment.figures.delay_samples is not None
    return placed.alignment.figures.delay_samples / placed.survey.file.sample_rate


def _common(
    original: _Placed, recalled: _Placed, source_features: Features
) -> tuple[_Passage, _Passage] | None:
    """The passages of both prints that hold the same stretch of the source."""
    delays = [_delay_s(placed) for placed in (original, recalled)]
    start = max(0.0, *(-delay for delay in delays))
    ends = [
        placed.features.duration_s - delay for placed, delay in zip((original, recalled), delays, strict=True)
    ]
    stop = min(source_features.duration_s, *ends)
    if stop - start < SHORTEST_S:
        return None
    a, b = (_Passage(start + delay, stop + delay) for delay in delays)
    return a, b


def _compared(
    original: _Placed,
    recalled: _Placed,
    passages: tuple[_Passage, _Passage],
    source_path: Path,
    source_features: Features,
) -> MatchFigures:
    level = _level_difference(original, recalled, passages)
    if level is None:
        return _unknown("One of the two is silent where they overlap, so nothing can be compared.")
    bands = _band_differences(original, recalled, passages, level)
    crest = _crest_db(recalled.survey, passages[1]) - _crest_db(original.survey, passages[0])
    rates = original.survey.file.sample_rate, recalled.survey.file.sample_rate
    delay_s = _delay_s(recalled) - _delay_s(original)
    stretches = _stretches(original.path, recalled.path, original.features, recalled.features, delay_s)
    null = deepest_null(stretches, rates[1]) if stretches else None
    if null is not None and null.depth_db < ONE_WAVE_DB and abs(null.lag / rates[1] - delay_s) < RADIUS_S:
        delay_s = null.lag / rates[1]
    hums = [placed.survey.quiet.hum() for placed in (original, recalled)]
    return MatchFigures(
        verdict=None,
        level_difference_db=level,
        delay_difference_samples=delay_s * rates[1],
        polarity=_polarity(original, recalled, stretches, null),
        null_depth_db=None if null is None else null.depth_db,
        bands=bands,
        findings=(),
        crest_difference_db=crest,
        drive_difference_db=_drive_difference(original, recalled, passages, source_path, source_features),
        compared_s=passages[0].stop_s - passages[0].start_s,
        notes=(*original.alignment.notes, *recalled.alignment.notes),
        delay_difference_ms=delay_s * 1000,
        noise_difference_db=_noise_difference(original, recalled, passages, level),
        original_hum_dbfs=None if hums[0] is None else hums[0].level_dbfs,
        recalled_hum_dbfs=None if hums[1] is None else hums[1].level_dbfs,
    )


def _level_difference(
    original: _Placed, recalled: _Placed, passages: tuple[_Passage, _Passage]
) -> float | None:
    levels = []
    for placed, passage in zip((original, recalled), passages, strict=True):
        steps = placed.survey.energies[_slice(passage, FRAMES_PER_S * STEPS_PER_FRAME)]
        levels.append(measure_loudness(steps, channel_weights(placed.survey.file.channels)).integrated_lufs)
    if levels[0] is None or levels[1] is None:
        return None
    return levels[1] - levels[0]


def _slice(passage: _Passage, per_second: int) -> slice:
    start = round(passage.start_s * per_second)
    return slice(start, start + max(1, round((passage.stop_s - passage.start_s) * per_second)))


def _band_differences(
    original: _Placed, recalled: _Placed, passages: tuple[_Passage, _Passage], level: float
) -> tuple[BandDifference, ...]:
    """Band by band, recalled minus original, less the difference in loudness; only bands that are heard."""
    powers = [
        placed.features.frames.part(_slice(passage, FRAMES_PER_S)).sum(axis=0, dtype=np.float64)
        for placed, passage in zip((original, recalled), passages, strict=True)
    ]
    count = min(len(powers[0]), len(powers[1]))
    a, b = powers[0][:count], powers[1][:count] * 10 ** (-level / 10)
    heard = np.maximum(a, b) > max(a.max(), b.max()) * 10 ** (-HEARD_BELOW_LOUDEST_DB / 10)
    floor = 1e-9 * max(a.max(), b.max())
    difference = 10 * np.log10((b + floor) / (a + floor))
    mids = original.features.mids_hz[:count]
    return tuple(
        BandDifference(mid, change)
        for mid, change, kept in zip(mids.tolist(), difference.tolist(), heard.tolist(), strict=True)
        if kept
    )


def _crest_db(survey: Survey, passage: _Passage) -> float:
    steps = _slice(passage, FRAMES_PER_S * STEPS_PER_FRAME)
    peak = max(float(survey.highs[steps].max()), -float(survey.lows[steps].min()))
    power = float(survey.powers[steps].mean(dtype=np.float64))
    return 20 * math.log10(peak + 1e-12) - 10 * math.log10(power + 1e-24)


def _noise_difference(
    original: _Placed, recalled: _Placed, passages: tuple[_Passage, _Passage], level: float
) -> float | None:
    """Change of the quietest moments of the passage, the same ones in both; None where the source never rests."""
    tenths = [
        _tenths(placed.survey, passage)
        for placed, passage in zip((original, recalled), passages, strict=True)
    ]
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


def _tenths(survey: Survey, passage: _Passage) -> NDArray[np.float64]:
    """Mean squares of 100 ms."""
    powers = survey.powers[_slice(passage, FRAMES_PER_S * STEPS_PER_FRAME)].astype(np.float64)
    return np.asarray(powers[: len(powers) // 10 * 10].reshape(-1, 10).mean(axis=1), dtype=np.float64)


def _drive_difference(
    original: _Placed,
    recalled: _Placed,
    passages: tuple[_Passage, _Passage],
    source_path: Path,
    source_features: Features,
) -> float | None:
    """Change in what of the print the source does not explain linearly, in dB: more drive, more of it."""
    shares = []
    for placed, passage in zip((original, recalled), passages, strict=True):
        delay_s = _delay_s(placed)
        of_source = passage.start_s - delay_s, passage.stop_s - delay_s
        stretches = _stretches(source_path, placed.path, source_features, placed.features, delay_s, of_source)
        if not stretches or placed.alignment.fit is None or placed.alignment.kind != "wave":
            return None
        segments = cross_spectra(stretches, placed.features.sample_rate, "wave")
        shares.append(1 - linear_share(segments, placed.alignment.fit))
    floor = 10**-3.5
    return 10 * math.log10((shares[1] + floor) / (shares[0] + floor))


def _stretches(
    source_path: Path,
    print_path: Path,
    source_features: Features,
    print_features: Features,
    lag_s: float,
    between_s: tuple[float, float] | None = None,
) -> list[Stretch]:
    with Sound(source_path) as source_sound, Sound(print_path) as print_sound:
        return read_stretches(
            source_sound, print_sound, source_features, print_features, lag_s, RADIUS_S, between_s=between_s
        )


def _polarity(original: _Placed, recalled: _Placed, stretches: list[Stretch], null: Null | None) -> Polarity:
    """As both stand to the source; where that leaves one unclear, as they stand to one another: by the null, where it is
    deep enough to tell, else by their arrivals."""
    before, now = original.alignment.figures.polarity, recalled.alignment.figures.polarity
    if "unclear" not in (before, now):
        return "same" if before == now else "inverted"
    if null is None:
        return "unclear"
    if null.depth_db < ONE_WAVE_DB:
        return "same" if null.sign > 0 else "inverted"
    fit = best_fit(cross_spectra(stretches, recalled.features.sample_rate, "wave"))
    if not has_polarity(fit):
        return "unclear"
    return "same" if fit.sign > 0 else "inverted"

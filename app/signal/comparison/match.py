"""How close a recalled print comes to the original, over what both play."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from app.signal.alignment.align import Alignment, align, has_polarity
from app.signal.alignment.coarse import Candidate, candidates
from app.signal.alignment.features import Features, features_of, read_features
from app.signal.audio.reading import Sound
from app.signal.comparison import likeness
from app.signal.comparison.beside import STRETCH_S, Beside, Lag, lay_beside
from app.signal.comparison.followed import followed
from app.signal.comparison.likeness import Null
from app.signal.comparison.spread import Spread
from app.signal.comparison.verdict import judged
from app.signal.figures import MatchFigures, Piece, Polarity
from app.signal.survey import Survey, survey_of

# Set by hand; not measured singly.
SHORTEST_S = 1.0
"""The least that both must hold of the source."""
PAIRED = 0.9
"""How likely one print must be the other's before their own delay is taken, which is finer than that of either to the source."""
ALIKE_PATTERN, ALIKE_SHARE = 0.6, 0.7
"""Correlation of the bands' rise and fall, far above what foreign pairs have (0.23); and the share of it that the lag must have."""
SAME_PLACE_S = 0.05
"""And it lies no further from the difference of those; unless neither, or only one, could be placed."""
TELLING_NULL_DB = -10.0
"""Waves that cancel so far can only be the same way up, or upside down: which, the gain's sign says."""


@dataclass(frozen=True, slots=True)
class _Placed:
    path: Path
    survey: Survey
    features: Features
    alignment: Alignment

    @property
    def delay_s(self) -> float | None:
        delay = self.alignment.figures.delay_samples
        return None if delay is None else delay / self.survey.file.sample_rate

    @property
    def drift(self) -> float:
        return 1e-6 * (self.alignment.figures.drift_ppm or 0.0)

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return self.alignment.figures.pieces

    def delay_of(self, piece: Piece) -> float:
        return piece.delay_samples / self.survey.file.sample_rate


@dataclass(frozen=True, slots=True)
class _Pair:
    """Where the recall lies against the original: behind it by the first of `lags`, and after a jump of either by the next;
    `between` is the alignment of one with the other, None where it says nothing."""

    lags: tuple[Lag, ...]
    between: Alignment | None

    @property
    def lag(self) -> Lag:
        return self.lags[0]


def match(
    original_path: Path,
    recalled_path: Path,
    source_path: Path,
    *,
    features_folder: Path | None = None,
    spread: Spread | None = None,
) -> MatchFigures:
    """Compares two prints of one source over what both play, and judges (`app.signal.comparison.verdict`).

    With `spread`, what prints of unchanged settings differ by widens the tolerances. Raises UnreadableAudio for any of
    the three. The verdict is None where there is nothing in common to compare, or a print cannot be placed.

    `null_depth_db` is what is left of the recall after the original, with the best gain and fractional delay, is taken
    away, relative to the recall; a deep null proves likeness, a shallow one proves little.
    """
    source_features = read_features(source_path, features_folder)
    original, recalled = (
        _placed(path, source_path, source_features) for path in (original_path, recalled_path)
    )
    pair = _paired(original, recalled)
    if pair is None:
        return _not_compared(original, recalled)
    first_s, last_s = _common(original, recalled, source_features, pair.lags)
    if last_s - first_s < SHORTEST_S:
        return _unknown("Original and recall hold less than a second of the source in common.")
    beside = _beside(original, recalled, source_path, pair.lags, first_s, last_s)
    if beside is None:
        return _unknown("Original and recall hold less than a second of the source in common.")
    return judged(_compared(original, recalled, pair, beside, last_s - first_s), spread)


def _placed(print_path: Path, source_path: Path, source_features: Features) -> _Placed:
    survey = survey_of(print_path)
    print_features = features_of(survey.file.sample_rate, survey.file.frames, survey.band_mids, survey.frames)
    lags = candidates(source_features, print_features)
    alignment = align(print_path, print_features, source_path, source_features, lags)
    return _Placed(print_path, survey.without_steps(), print_features, alignment)


def _paired(original: _Placed, recalled: _Placed) -> _Pair | None:
    """By the two prints' own alignment, where that is clear: it is the finest, and is there also where the chain hides the
    source. Else by the delays of both to the source."""
    coarse = candidates(original.features, recalled.features)
    between = align(recalled.path, recalled.features, original.path, original.features, coarse)
    delay = between.figures.delay_samples
    placed = original.delay_s is not None and recalled.delay_s is not None
    by_source = _by_source(original, recalled) if placed else None
    if delay is not None and between.kind == "wave" and between.probability > PAIRED:
        drift = 0.0 if between.fit is None else between.fit.drift
        rate = recalled.survey.file.sample_rate
        lags = _unbounded(
            [
                Lag(piece.delay_samples / rate, drift, piece.source_from_s, piece.source_to_s)
                for piece in between.figures.pieces
            ]
        )
        if by_source is None or abs(lags[0].start_s - by_source[0].start_s) < SAME_PLACE_S:
            return _Pair(lags, between)
    if by_source is None or _contradicted(coarse, by_source[0].start_s):
        return None
    return _Pair(by_source, None)


def _unbounded(lags: Sequence[Lag]) -> tuple[Lag, ...]:
    """The first holds before it begins, too, and the last after its end: what both files hold is judged elsewhere."""
    first, last = replace(lags[0], from_s=-math.inf), replace(lags[-1], to_s=math.inf)
    return (replace(first, to_s=math.inf),) if len(lags) == 1 else (first, *lags[1:-1], last)


def _by_source(original: _Placed, recalled: _Placed) -> tuple[Lag, ...]:
    """Where both play the same of the source, in their pieces."""
    drift = recalled.drift - original.drift
    lags = []
    for one in original.pieces:
        for other in recalled.pieces:
            first, last = (
                max(one.source_from_s, other.source_from_s),
                min(one.source_to_s, other.source_to_s),
            )
            if first < last:
                lag_s = recalled.delay_of(other) - original.delay_of(one)
                lags.append(Lag(lag_s, drift, one.in_print_s(first), one.in_print_s(last)))
    if not lags:
        return (Lag((recalled.delay_s or 0.0) - (original.delay_s or 0.0), drift),)
    return _unbounded(lags)


def _contradicted(lags: list[Candidate], lag_s: float) -> bool:
    """Whether the bands of both prints rise and fall together, but elsewhere than the source says: in a part that repeats itself
    one of them was placed a bar off."""
    if not lags:
        return False
    there = [lag.correlation for lag in lags if abs(lag.lag_s - lag_s) < SAME_PLACE_S]
    best = max(lag.correlation for lag in lags)
    return best > ALIKE_PATTERN and max(there, default=0.0) < ALIKE_SHARE * best


def _not_compared(original: _Placed, recalled: _Placed) -> MatchFigures:
    if original.delay_s is not None and recalled.delay_s is not None:
        return _unknown(
            "Original and recall lie elsewhere against each other than the source says: cannot be told."
        )
    if original.delay_s is None:
        return _unknown("The original does not look like a print of this source, so nothing can be compared.")
    if recalled.alignment.figures.is_of_source is not False:
        return _unknown(
            "Where the recall lies against the source cannot be told, so nothing can be compared."
        )
    note = "The recall does not look like a print of this source."
    return MatchFigures("different", None, None, "unclear", None, (), (note,), notes=recalled.alignment.notes)


def _unknown(note: str) -> MatchFigures:
    return MatchFigures(None, None, None, "unclear", None, (), (note,), notes=(note,))


def _common(
    original: _Placed, recalled: _Placed, source_features: Features, lags: Sequence[Lag]
) -> tuple[float, float]:
    """What both files hold of the source, in the original's seconds."""
    first = max(0.0, -lags[0].start_s)
    ends_s = recalled.features.duration_s - lags[-1].start_s
    last = min(original.features.duration_s, ends_s / (1 + lags[-1].drift))
    if original.delay_s is not None:
        first = max(first, original.delay_s)
        ends_late_s = original.delay_of(original.pieces[-1])
        last = min(last, source_features.duration_s * (1 + original.drift) + ends_late_s)
    return first, last


def _beside(
    original: _Placed,
    recalled: _Placed,
    source_path: Path,
    lags: Sequence[Lag],
    first_s: float,
    last_s: float,
) -> Beside | None:
    with Sound(original.path) as one, Sound(recalled.path) as other, Sound(source_path) as source:
        placed = original.delay_s is not None
        behind = [
            Lag(-original.delay_of(piece), -original.drift, piece.print_from_s, piece.print_to_s)
            for piece in original.pieces
        ]
        return lay_beside(
            one,
            other,
            source if placed else None,
            recall_lags=lags,
            source_lags=_unbounded(behind) if behind else (Lag(0.0),),
            first_s=first_s,
            last_s=last_s,
        )


def _compared(
    original: _Placed, recalled: _Placed, pair: _Pair, beside: Beside, held_s: float
) -> MatchFigures:
    kept = followed(beside)
    part = beside.only(kept)
    level = likeness.level_difference(part)
    if level is None:
        return _unknown("One of the two is silent where they overlap, so nothing can be compared.")
    part = likeness.steadied(part)
    null = likeness.null_of(part)
    bands = likeness.band_differences(part, level.db)
    crest, drive = likeness.crest_difference(part), likeness.drive_difference(part)
    gain_db, gain_share = likeness.common_gain(bands, level.db)
    hums = [placed.survey.quiet.hum() for placed in (original, recalled)]
    rate = recalled.survey.file.sample_rate
    return MatchFigures(
        verdict=None,
        level_difference_db=level.db,
        delay_difference_samples=pair.lag.start_s * rate,
        polarity=_polarity(original, recalled, pair, null),
        null_depth_db=null.depth_db,
        bands=bands,
        findings=(),
        crest_difference_db=None if crest is None else crest.db,
        drive_difference_db=None if drive is None else drive.db,
        compared_s=held_s * float(np.mean(kept)) if not kept.all() else held_s,
        notes=(*original.alignment.notes, *recalled.alignment.notes),
        delay_difference_ms=pair.lag.start_s * 1000,
        noise_difference_db=likeness.noise_difference(part, level.db, null),
        original_hum_dbfs=None if hums[0] is None else hums[0].level_dbfs,
        recalled_hum_dbfs=None if hums[1] is None else hums[1].level_dbfs,
        left_out_s=STRETCH_S * int((~kept).sum()),
        level_error_db=level.error_db,
        crest_error_db=0.0 if crest is None else crest.error_db,
        drive_error_db=0.0 if drive is None else drive.error_db,
        gain_difference_db=gain_db,
        gain_share=gain_share,
        filtered_null_db=null.filtered_db,
    )


def _polarity(original: _Placed, recalled: _Placed, pair: _Pair, null: Null) -> Polarity:
    """As the prints stand to one another: by the null where it is deep enough to tell, else by their arrivals; else as both
    stand to the source."""
    if null.depth_db < TELLING_NULL_DB:
        return "same" if null.sign > 0 else "inverted"
    if pair.between is not None and pair.between.fit is not None and has_polarity(pair.between.fit):
        return "same" if pair.between.fit.sign > 0 else "inverted"
    before, now = original.alignment.figures.polarity, recalled.alignment.figures.polarity
    if "unclear" in (before, now):
        return "unclear"
    return "same" if before == now else "inverted"

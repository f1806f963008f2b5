"""Where a print lies against its source: coarse, then fine, then judged."""

from dataclasses import dataclass
from pathlib import Path

from app.signal.coarse import Candidate, candidates
from app.signal.features import Features, features_of, read_features
from app.signal.figures import AlignmentFigures, Polarity
from app.signal.fine import FineFit, fit
from app.signal.reading import Sound
from app.signal.segments import cross_spectra, read_stretches
from app.signal.survey import Survey

RADIUS_S = 0.1


@dataclass(frozen=True, slots=True)
class Alignment:
    """Figures, and the fit they come from (None where there was nothing to fit)."""

    figures: AlignmentFigures
    fit: FineFit | None
    notes: tuple[str, ...]


def align(path: Path, found: Survey, source: Path, features_folder: Path | None) -> Alignment:
    """Aligns a surveyed print with its source. Raises UnreadableAudio for the source."""
    known = read_features(source, features_folder)
    taken = features_of(found.file.sample_rate, found.file.frames, found.band_mids, found.frames)
    return align_features(path, taken, source, known, candidates(known, taken))


def align_features(
    path: Path, taken: Features, source: Path, known: Features, lags: list[Candidate]
) -> Alignment:
    """The same from features and coarse candidates that are there already."""
    best: FineFit | None = None
    with Sound(source) as source_sound, Sound(path) as taken_sound:
        for candidate in lags[:3]:
            stretches = read_stretches(source_sound, taken_sound, known, taken, candidate.lag_s, RADIUS_S)
            if not stretches:
                continue
            fitted = fit(cross_spectra(stretches, taken.sample_rate, "wave"))
            if best is None or fitted.height > best.height:
                best = fitted
            if fitted.agreeing > 0.8:
                break
    return _judged(best, taken)


def _judged(best: FineFit | None, taken: Features) -> Alignment:
    if best is None:
        nothing = AlignmentFigures(None, None, "unclear", 0.0, None, False)
        return Alignment(nothing, None, ("Print and source hold too little in common to be aligned.",))
    confidence = min(0.99, best.agreeing)
    polarity: Polarity = "unclear"
    if best.opposite < 0.7 and confidence > 0.5:
        polarity = "same" if best.sign > 0 else "inverted"
    if confidence < 0.3:
        foreign = AlignmentFigures(None, None, "unclear", 1 - confidence, None, False)
        return Alignment(foreign, best, ("This does not look like a print of this source.",))
    figures = AlignmentFigures(
        delay_samples=float(best.delay),
        delay_ms=float(best.delay) / taken.sample_rate * 1000,
        polarity=polarity,
        confidence=confidence,
        drift_ppm=float(best.drift) * 1e6,
        is_of_source=True,
    )
    return Alignment(figures, best, ())

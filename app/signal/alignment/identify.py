"""Of which source is this a print, or of none."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from app.signal.alignment.align import RIVALS_AT_ONCE, align
from app.signal.alignment.coarse import Candidate, candidates
from app.signal.alignment.features import Features, compute_features, read_features
from app.signal.figures import Identification, RankedSource

TRIED, TRIED_HARDER = 8, 3
"""So many sources are compared by their waveforms; and where none is the print's, so many of these at more lags."""
UNDECIDED = 0.5


@dataclass(frozen=True, slots=True)
class _Likely:
    path: Path
    features: Features
    lags: list[Candidate]

    @property
    def score(self) -> float:
        return max((lag.score for lag in self.lags), default=0.0)

    @property
    def correlation(self) -> float:
        return max((lag.correlation for lag in self.lags), default=0.0)


def identify(
    print_path: Path, source_paths: Sequence[Path], *, features_folder: Path | None = None
) -> Identification:
    """Ranks the sources, best first. Raises UnreadableAudio.

    All are compared by the pattern of their bands, the most likely ones then by their waveforms. A score is the
    probability, as far as can be told, that the print is one of that source; `best` is None unless one is above 0.5.
    """
    taken = compute_features(print_path)
    likely = []
    for path in source_paths:
        source = read_features(path, features_folder)
        likely.append(_Likely(path, source, candidates(source, taken)))
    likely.sort(key=lambda one: (-one.score, str(one.path)))
    # an even pattern fits at many lags and stands out at none, but it correlates
    likely[TRIED // 2 :] = sorted(likely[TRIED // 2 :], key=lambda one: -one.correlation)

    def ranked(one: _Likely, most_lags: int) -> RankedSource:
        aligned = align(print_path, taken, one.path, one.features, one.lags[:most_lags])
        score = aligned.probability if aligned.figures.is_of_source else min(UNDECIDED, aligned.probability)
        return RankedSource(str(one.path), round(score, 4), aligned.figures.delay_samples)

    ranking = [ranked(one, RIVALS_AT_ONCE) for one in likely[:TRIED]]
    if all(one.score <= UNDECIDED for one in ranking):
        ranking[:TRIED_HARDER] = [ranked(one, len(one.lags)) for one in likely[:TRIED_HARDER]]
    ranking += [RankedSource(str(one.path), 0.0, None) for one in likely[TRIED:]]
    ranking.sort(key=lambda row: -row.score)
    best = ranking[0].source if ranking and ranking[0].score > UNDECIDED else None
    return Identification(best, tuple(ranking))

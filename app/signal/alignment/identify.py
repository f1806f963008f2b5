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
"""As likely as not."""


@dataclass(frozen=True, slots=True)
class _Contender:
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
    print_features = compute_features(print_path)
    contenders = []
    for path in source_paths:
        source_features = read_features(path, features_folder)
        contenders.append(_Contender(path, source_features, candidates(source_features, print_features)))
    contenders.sort(key=lambda contender: (-contender.score, str(contender.path)))
    # an even pattern fits at many lags and stands out at none, but it correlates
    contenders[TRIED // 2 :] = sorted(contenders[TRIED // 2 :], key=lambda contender: -contender.correlation)

    def ranked(contender: _Contender, most_lags: int) -> RankedSource:
        aligned = align(
            print_path, print_features, contender.path, contender.features, contender.lags[:most_lags]
        )
        score = aligned.probability if aligned.figures.is_of_source else min(UNDECIDED, aligned.probability)
        return RankedSource(str(contender.path), round(score, 4), aligned.figures.delay_samples)

    ranking = [ranked(contender, RIVALS_AT_ONCE) for contender in contenders[:TRIED]]
    if all(row.score <= UNDECIDED for row in ranking):
        ranking[:TRIED_HARDER] = [
            ranked(contender, len(contender.lags)) for contender in contenders[:TRIED_HARDER]
        ]
    ranking += [RankedSource(str(contender.path), 0.0, None) for contender in contenders[TRIED:]]
    ranking.sort(key=lambda row: -row.score)
    best = ranking[0].source if ranking and ranking[0].score > UNDECIDED else None
    return Identification(best, tuple(ranking))

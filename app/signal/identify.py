"""Of which source is this a print, or of none."""

from collections.abc import Sequence
from pathlib import Path

from app.signal.align import align_features
from app.signal.coarse import candidates
from app.signal.features import compute_features, read_features
from app.signal.figures import Identification, RankedSource

TRIED = 8
UNDECIDED = 0.5


def identify(
    print_path: Path, source_paths: Sequence[Path], *, features_folder: Path | None = None
) -> Identification:
    """Ranks the sources, best first. Raises UnreadableAudio.

    All are compared by the pattern of their bands, the most likely ones then by their waveforms. A score is the
    probability, as far as can be told, that the print is one of that source; `best` is None unless one is above 0.5.
    """
    taken = compute_features(print_path)
    coarse = []
    for path in source_paths:
        source = read_features(path, features_folder)
        found = candidates(source, taken)
        coarse.append(
            (max((candidate.score for candidate in found), default=0.0), str(path), path, source, found)
        )
    coarse.sort(key=lambda row: (-row[0], row[1]))
    ranking = []
    for place, (_, _, path, source, found) in enumerate(coarse):
        if place >= TRIED:
            ranking.append(RankedSource(str(path), 0.0, None))
            continue
        aligned = align_features(print_path, taken, path, source, found)
        score = aligned.probability if aligned.figures.is_of_source else min(UNDECIDED, aligned.probability)
        ranking.append(RankedSource(str(path), round(score, 4), aligned.figures.delay_samples))
    ranking.sort(key=lambda row: -row.score)
    best = ranking[0].source if ranking and ranking[0].score > UNDECIDED else None
    return Identification(best, tuple(ranking))

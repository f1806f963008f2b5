"""How close a recalled print comes to the original."""

import math
from pathlib import Path

from app.signal.figures import BandDifference, MatchFigures, Polarity, PrintFigures, Verdict
from app.signal.measure import measure_print

MATCH_BAND_DB, CLOSE_BAND_DB = 1.0, 3.0
MATCH_LEVEL_DB, CLOSE_LEVEL_DB = 0.5, 1.5
HEARD_BELOW_LOUDEST_DB = 40.0


def match(
    original: Path, recalled: Path, source: Path, *, features_folder: Path | None = None
) -> MatchFigures:
    """Compares two prints of one source. Raises UnreadableAudio for any of the three.

    "match": level within 0.5 dB and every audible band within 1 dB after level matching; "close": 1.5 dB and 3 dB;
    "different" otherwise, or when the polarity is turned.
    """
    first = measure_print(original, source, features_folder=features_folder)
    second = measure_print(recalled, source, features_folder=features_folder)
    findings: list[str] = []
    level = _difference(second.level.integrated_lufs, first.level.integrated_lufs)
    bands = _bands(first, second)
    worst = max((abs(band.difference_db) for band in bands), default=0.0)
    if level is not None and abs(level) >= MATCH_LEVEL_DB:
        findings.append(f"The recall is {abs(level):.1f} dB {'louder' if level > 0 else 'quieter'}.")
    if worst >= MATCH_BAND_DB:
        band = max(bands, key=lambda item: abs(item.difference_db))
        findings.append(
            f"Around {band.mid_hz:.0f} Hz the recall has {abs(band.difference_db):.1f} dB "
            f"{'more' if band.difference_db > 0 else 'less'}."
        )
    polarity: Polarity = "unclear"
    delay = None
    if first.alignment and second.alignment:
        delay = _difference(second.alignment.delay_samples, first.alignment.delay_samples)
        if "unclear" not in (first.alignment.polarity, second.alignment.polarity):
            polarity = "same" if first.alignment.polarity == second.alignment.polarity else "inverted"
    verdict: Verdict | None = None
    if level is not None:
        verdict = "different"
        if polarity != "inverted" and abs(level) < CLOSE_LEVEL_DB and worst < CLOSE_BAND_DB:
            verdict = "match" if abs(level) < MATCH_LEVEL_DB and worst < MATCH_BAND_DB else "close"
    return MatchFigures(
        verdict=verdict,
        level_difference_db=level,
        delay_difference_samples=delay,
        polarity=polarity,
        null_depth_db=None,
        bands=bands,
        findings=tuple(findings),
        crest_difference_db=_difference(second.level.crest_db, first.level.crest_db),
        notes=first.notes + second.notes,
    )


def _bands(first: PrintFigures, second: PrintFigures) -> tuple[BandDifference, ...]:
    pairs = [
        (a.mid_hz, a.level_dbfs, b.level_dbfs)
        for a, b in zip(first.bands, second.bands, strict=False)
        if a.level_dbfs is not None and b.level_dbfs is not None
    ]
    if not pairs:
        return ()
    loudest = max(level for _, level, _ in pairs)
    pairs = [pair for pair in pairs if pair[1] > loudest - HEARD_BELOW_LOUDEST_DB]
    shift = _power_db([b for _, _, b in pairs]) - _power_db([a for _, a, _ in pairs])
    return tuple(BandDifference(mid, b - a - shift) for mid, a, b in pairs)


def _power_db(levels: list[float]) -> float:
    return 10 * math.log10(sum(10 ** (level / 10) for level in levels))


def _difference(second: float | None, first: float | None) -> float | None:
    return None if second is None or first is None else second - first

"""What of a comparison lies outside the tolerances. Plain values.

The thresholds are common practice of the trade, not a standard's.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.signal.comparison.spread import Spread
from app.signal.figures import BandDifference, MatchFigures
from app.signal.levels.third_octaves import in_words

HEARD_BELOW_LOUDEST_DB = 40.0
"""What lies further below the loudest band is not compared: noise and leakage, not tone."""

# For a match, and for close: common practice of the trade, as above; not measured.
MATCH_LEVEL_DB, CLOSE_LEVEL_DB = 0.5, 2.0
MATCH_BAND_DB, CLOSE_BAND_DB = 1.0, 3.0
MATCH_CREST_DB, CLOSE_CREST_DB = 1.0, 3.0
MATCH_DRIVE_DB, CLOSE_DRIVE_DB = 1.5, 5.0
MATCH_DELAY_SAMPLES = 2.0
NOISE_DB = 6.0  # so much more noise, or hum, than before is told: twice the amplitude
HUM_DB = NOISE_DB
SPREAD_FACTOR = 2.0
"""Two prints of an unchanged chain seldom lie further apart than twice their root mean square difference."""


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Up to where a difference still counts as a match; `bands` are those of the comparison."""

    level_db: float
    crest_db: float
    drive_db: float
    delay_samples: float
    bands: tuple[BandDifference, ...]


def tolerances(figures: MatchFigures, spread: Spread | None = None) -> Tolerances:
    """The usual ones, or twice the spread where that is more; never beyond what counts as close."""
    learnt = spread or Spread(0, None, None, None, None, (), None)
    return Tolerances(
        level_db=_within(MATCH_LEVEL_DB, CLOSE_LEVEL_DB, learnt.level_db),
        crest_db=_within(MATCH_CREST_DB, CLOSE_CREST_DB, learnt.crest_db),
        drive_db=_within(MATCH_DRIVE_DB, CLOSE_DRIVE_DB, learnt.drive_db),
        delay_samples=_within(MATCH_DELAY_SAMPLES, float("inf"), learnt.delay_samples),
        bands=tuple(
            BandDifference(band.mid_hz, _within(MATCH_BAND_DB, CLOSE_BAND_DB, learnt.band_db(band.mid_hz)))
            for band in figures.bands
        ),
    )


def _within(usual: float, close: float, spread: float | None) -> float:
    return min(close, max(usual, SPREAD_FACTOR * (spread or 0.0)))


@dataclass(frozen=True, slots=True)
class Off:
    """Which figures are off; a figure that is not known is not off. `tone` holds runs of neighbouring bands that
    are off the same way."""

    figures: MatchFigures
    level: bool
    crest: bool
    drive: bool
    late: bool
    inverted: bool
    noisy: bool
    humming: bool
    tone: tuple[tuple[BandDifference, ...], ...]


def what_is_off(figures: MatchFigures, within: Tolerances) -> Off:
    noise_db = figures.noise_difference_db
    return Off(
        figures=figures,
        level=_beyond(figures.level_difference_db, within.level_db),
        crest=_beyond(figures.crest_difference_db, within.crest_db),
        drive=_beyond(figures.drive_difference_db, within.drive_db),
        late=not figures.is_excerpt and _beyond(figures.delay_difference_samples, within.delay_samples),
        inverted=figures.polarity == "inverted",
        noisy=noise_db is not None and noise_db > NOISE_DB,
        humming=_hums_more(figures),
        tone=runs_beyond(figures.bands, [band.difference_db for band in within.bands]),
    )


def _beyond(difference: float | None, within: float) -> bool:
    return difference is not None and abs(difference) > within


def _hums_more(figures: MatchFigures) -> bool:
    before, now = figures.original_hum_dbfs, figures.recalled_hum_dbfs
    if now is None:
        return False
    return before is None or now - (figures.level_difference_db or 0.0) - before > HUM_DB


def runs_beyond(
    bands: Sequence[BandDifference], within_db: Sequence[float]
) -> tuple[tuple[BandDifference, ...], ...]:
    """Runs of neighbouring bands whose difference goes beyond what is allowed, the same way."""
    runs: list[list[BandDifference]] = []
    going = False
    for band, allowed in zip(bands, within_db, strict=True):
        if not _beyond(band.difference_db, allowed):
            going = False
            continue
        if going and (band.difference_db > 0) == (runs[-1][-1].difference_db > 0):
            runs[-1].append(band)
        else:
            runs.append([band])
        going = True
    return tuple(tuple(run) for run in runs)


def band_range(run: Sequence[BandDifference]) -> str:
    """“at 1 kHz”, “from 2 kHz to 6.3 kHz”."""
    low, high = in_words(run[0].mid_hz), in_words(run[-1].mid_hz)
    return f"at {low}" if low == high else f"from {low} to {high}"


def worst_of(run: Sequence[BandDifference]) -> float:
    """The difference of the band that is furthest off."""
    return max(run, key=lambda band: abs(band.difference_db)).difference_db

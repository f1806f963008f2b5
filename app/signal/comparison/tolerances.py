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
ARRIVAL_SAMPLES = 2.0
"""What the arrival may move by before it is told; it is no part of the sound and never weighs."""
NOISE_DB = 6.0  # so much more noise, or hum, than before is told: twice the amplitude
HUM_DB = NOISE_DB
SPREAD_FACTOR = 2.0
"""Two prints of an unchanged chain seldom lie further apart than twice their root mean square difference."""
ERROR_FACTOR = 3.0
"""Of some twenty bands none should lie beyond by chance: three standard errors."""
LARGEST_DOUBT = 2.0
"""Up to so many tolerances a chain that moves may differ and still match; what is less sure than that cannot be told."""
FILTER_ALONE_DB = -30.0
"""A recall that some linear filter makes of the original, down to here, differs from it by that filter alone."""


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Up to where a difference still counts as a match; `bands` are those of the comparison."""

    level_db: float
    crest_db: float
    drive_db: float
    delay_samples: float
    bands: tuple[BandDifference, ...]


def tolerances(figures: MatchFigures, spread: Spread | None = None) -> Tolerances:
    """The usual ones, or twice the spread where that is more, never beyond what counts as close; or what the movement of a
    chain leaves unsure, up to twice the usual."""
    learnt = spread or Spread(0, None, None, None, None, (), None)
    return Tolerances(
        level_db=_within(MATCH_LEVEL_DB, CLOSE_LEVEL_DB, learnt.level_db, figures.level_error_db),
        crest_db=_within(MATCH_CREST_DB, CLOSE_CREST_DB, learnt.crest_db, figures.crest_error_db),
        drive_db=_within(MATCH_DRIVE_DB, CLOSE_DRIVE_DB, learnt.drive_db, figures.drive_error_db),
        delay_samples=_within(ARRIVAL_SAMPLES, float("inf"), learnt.delay_samples, 0.0),
        bands=tuple(
            BandDifference(
                band.mid_hz,
                _within(MATCH_BAND_DB, CLOSE_BAND_DB, learnt.band_db(band.mid_hz), band.error_db),
            )
            for band in figures.bands
        ),
    )


def _within(usual: float, close: float, spread: float | None, error: float) -> float:
    moving = min(LARGEST_DOUBT * usual, ERROR_FACTOR * error)
    return max(min(close, max(usual, SPREAD_FACTOR * (spread or 0.0))), moving)


@dataclass(frozen=True, slots=True)
class Off:
    """Which figures are off; a figure that is not known, or that its own error may explain, is not off. `tone` holds runs
    of neighbouring bands that are off the same way; `unsure` is how many times longer a part would tell what this one leaves open,
    0 where it leaves nothing open."""

    figures: MatchFigures
    level: bool
    crest: bool
    drive: bool
    late: bool
    inverted: bool
    noisy: bool
    humming: bool
    tone: tuple[tuple[BandDifference, ...], ...]
    unsure: float = 0.0


def what_is_off(figures: MatchFigures, within: Tolerances) -> Off:
    noise_db = figures.noise_difference_db
    measures = (
        (figures.level_difference_db, within.level_db, figures.level_error_db),
        (figures.crest_difference_db, within.crest_db, figures.crest_error_db),
        (figures.drive_difference_db, within.drive_db, figures.drive_error_db),
    )
    level, crest, drive = (
        _beyond(value, max(tolerance, ERROR_FACTOR * error)) for value, tolerance, error in measures
    )
    bands = [
        (band.difference_db, allowed.difference_db, band.error_db)
        for band, allowed in zip(figures.bands, within.bands, strict=True)
    ]
    return Off(
        figures=figures,
        level=level,
        crest=crest,
        drive=drive,
        late=not figures.is_excerpt and _beyond(figures.delay_difference_samples, within.delay_samples),
        inverted=figures.polarity == "inverted",
        noisy=noise_db is not None and noise_db > NOISE_DB,
        humming=_hums_more(figures),
        tone=runs_beyond(
            figures.bands, [max(tolerance, ERROR_FACTOR * error) for _, tolerance, error in bands]
        ),
        unsure=max((_unsure(*measure) for measure in (*measures, *bands)), default=0.0),
    )


def _beyond(difference: float | None, within: float) -> bool:
    return difference is not None and abs(difference) > within


def _unsure(difference: float | None, tolerance: float, error: float) -> float:
    """How many times as long a part would tell; 0 where this one does: a mean of n times as much has an n-th of the error's
    square."""
    if difference is None or not tolerance < abs(difference) <= ERROR_FACTOR * error:
        return 0.0
    return (ERROR_FACTOR * error / tolerance) ** 2


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

"""From differences to a verdict: does a recall match, and what is off.

Plain arithmetic on `MatchFigures`, so that the web server can judge again at once, with a spread learnt since.
"""

from collections.abc import Sequence
from dataclasses import replace

from app.signal.comparison.spread import Spread
from app.signal.comparison.tolerances import (
    CLOSE_BAND_DB,
    CLOSE_CREST_DB,
    CLOSE_DRIVE_DB,
    CLOSE_LEVEL_DB,
    Off,
    band_range,
    off,
    tolerances,
    worst_of,
)
from app.signal.comparison.where_to_look import where_to_look
from app.signal.figures import BandDifference, MatchFigures, Verdict

NULL_SHORT_DB = 6.0


def judged(figures: MatchFigures, spread: Spread | None = None) -> MatchFigures:
    """The same figures with verdict, findings, and where to look first. What could not be compared stays as it is.

    Verdict, by the worst of what is found:

    - "match": loudness within 0.5 dB, every third-octave band that is heard within 1 dB once the loudness is matched,
      crest factor within 1 dB, distortion within 1.5 dB, arrival within 2 samples (an excerpt's offset aside); where a
      spread is known, within twice the spread, if that is more;
    - "close": 2 dB, 3 dB, 3 dB, 5 dB; any arrival;
    - "different": beyond, or polarity turned.

    Noise and hum are told, but do not weigh: they are no part of the sound that was set.
    """
    if figures.level_difference_db is None:
        return figures
    found = off(figures, tolerances(figures, spread))
    return replace(
        figures,
        verdict=_verdict(found),
        findings=tuple(_findings(found, spread)) or ("Nothing that matters is off.",),
        look_first=tuple(where_to_look(found)),
    )


def _verdict(found: Off) -> Verdict:
    figures = found.figures
    measures = (
        (figures.level_difference_db, CLOSE_LEVEL_DB),
        (figures.crest_difference_db, CLOSE_CREST_DB),
        (figures.drive_difference_db, CLOSE_DRIVE_DB),
        *((band.difference_db, CLOSE_BAND_DB) for band in figures.bands),
    )
    if found.inverted or any(value is not None and abs(value) > close for value, close in measures):
        return "different"
    return "close" if found.level or found.crest or found.drive or found.late or found.tone else "match"


def _findings(found: Off, spread: Spread | None) -> list[str]:
    figures = found.figures
    level_db = figures.level_difference_db or 0.0
    said: list[str] = []
    if found.level:
        said.append(f"The recall is {abs(level_db):.1f} dB {'louder' if level_db > 0 else 'quieter'}.")
    said += [_tone(run) for run in found.tone]
    if found.inverted:
        said.append("The recall is upside down against the original.")
    said += _arrival(found)
    if found.drive and figures.drive_difference_db is not None:
        more = "more" if figures.drive_difference_db > 0 else "less"
        said.append(f"The recall is {more} distorted ({figures.drive_difference_db:+.1f} dB).")
    if found.crest and figures.crest_difference_db is not None:
        where = "higher" if figures.crest_difference_db > 0 else "lower"
        said.append(f"Its peaks stand {abs(figures.crest_difference_db):.1f} dB {where} above its average.")
    return [*said, *_noise(found), *_null(figures, spread)]


def _arrival(found: Off) -> list[str]:
    figures = found.figures
    ms, samples = figures.delay_difference_ms, figures.delay_difference_samples
    if ms is None or samples is None:
        return []
    where = "later" if ms > 0 else "earlier"
    if figures.is_excerpt:
        begun = "earlier" if ms > 0 else "later"
        return [f"The recall's file begins {abs(ms) / 1000:.2f} s {begun} in the source."]
    return (
        [f"The recall arrives {abs(samples):.1f} samples ({abs(ms):.2f} ms) {where}."] if found.late else []
    )


def _noise(found: Off) -> list[str]:
    figures = found.figures
    said = []
    if found.noisy and figures.noise_difference_db is not None:
        said.append(f"In the quiet moments the recall is {figures.noise_difference_db:.0f} dB noisier.")
    if found.humming and figures.original_hum_dbfs is None:
        said.append(
            f"The recall hums ({figures.recalled_hum_dbfs:.0f} dBFS); in the original no hum was found."
        )
    elif found.humming and figures.recalled_hum_dbfs is not None and figures.original_hum_dbfs is not None:
        more = figures.recalled_hum_dbfs - figures.original_hum_dbfs - (figures.level_difference_db or 0.0)
        said.append(f"The recall hums {more:.0f} dB more.")
    return said


def _null(figures: MatchFigures, spread: Spread | None) -> list[str]:
    """Said only where what unchanged settings null to is known: a shallow null alone proves little."""
    depth = figures.null_depth_db
    if spread is None or spread.null_depth_db is None or depth is None:
        return []
    if depth <= spread.null_depth_db + NULL_SHORT_DB:
        return []
    usual = f"prints of unchanged settings came to {spread.null_depth_db:.0f} dB."
    return [f"It cancels the original down to {depth:.0f} dB; {usual}"]


def _tone(run: Sequence[BandDifference]) -> str:
    where = band_range(run)
    worst = worst_of(run)
    up_to = "up to " if len(run) > 1 else ""
    return f"{where[0].upper()}{where[1:]} the recall has {up_to}{abs(worst):.1f} dB {'more' if worst > 0 else 'less'}."

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
    tolerances,
    what_is_off,
    worst_of,
)
from app.signal.comparison.where_to_look import where_to_look
from app.signal.figures import BandDifference, MatchFigures, Verdict

NULL_SHORT_DB = 6.0
"""A null may be so much shallower than an unchanged chain's shallowest. Set by hand: its rest twice as high; not measured."""


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
    off = what_is_off(figures, tolerances(figures, spread))
    return replace(
        figures,
        verdict=_verdict(off),
        findings=tuple(_findings(off, spread)) or ("Nothing that matters is off.",),
        look_first=tuple(where_to_look(off)),
    )


def _verdict(off: Off) -> Verdict:
    figures = off.figures
    measures = (
        (figures.level_difference_db, CLOSE_LEVEL_DB),
        (figures.crest_difference_db, CLOSE_CREST_DB),
        (figures.drive_difference_db, CLOSE_DRIVE_DB),
        *((band.difference_db, CLOSE_BAND_DB) for band in figures.bands),
    )
    if off.inverted or any(value is not None and abs(value) > close for value, close in measures):
        return "different"
    return "close" if off.level or off.crest or off.drive or off.late or off.tone else "match"


def _findings(off: Off, spread: Spread | None) -> list[str]:
    figures = off.figures
    level_db = figures.level_difference_db or 0.0
    sentences: list[str] = []
    if off.level:
        sentences.append(f"The recall is {abs(level_db):.1f} dB {'louder' if level_db > 0 else 'quieter'}.")
    sentences += [_tone(run) for run in off.tone]
    if off.inverted:
        sentences.append("The recall is upside down against the original.")
    sentences += _arrival(off)
    if off.drive and figures.drive_difference_db is not None:
        more = "more" if figures.drive_difference_db > 0 else "less"
        sentences.append(f"The recall is {more} distorted ({figures.drive_difference_db:+.1f} dB).")
    if off.crest and figures.crest_difference_db is not None:
        where = "higher" if figures.crest_difference_db > 0 else "lower"
        sentences.append(
            f"Its peaks stand {abs(figures.crest_difference_db):.1f} dB {where} above its average."
        )
    return [*sentences, *_noise(off), *_null(figures, spread)]


def _arrival(off: Off) -> list[str]:
    figures = off.figures
    ms, samples = figures.delay_difference_ms, figures.delay_difference_samples
    if ms is None or samples is None:
        return []
    where = "later" if ms > 0 else "earlier"
    if figures.is_excerpt:
        begun = "earlier" if ms > 0 else "later"
        return [f"The recall's file begins {abs(ms) / 1000:.2f} s {begun} in the source."]
    return [f"The recall arrives {abs(samples):.1f} samples ({abs(ms):.2f} ms) {where}."] if off.late else []


def _noise(off: Off) -> list[str]:
    figures = off.figures
    sentences = []
    if off.noisy and figures.noise_difference_db is not None:
        sentences.append(f"In the quiet moments the recall is {figures.noise_difference_db:.0f} dB noisier.")
    if off.humming and figures.original_hum_dbfs is None:
        sentences.append(
            f"The recall hums ({figures.recalled_hum_dbfs:.0f} dBFS); in the original no hum was found."
        )
    elif off.humming and figures.recalled_hum_dbfs is not None and figures.original_hum_dbfs is not None:
        more = figures.recalled_hum_dbfs - figures.original_hum_dbfs - (figures.level_difference_db or 0.0)
        sentences.append(f"The recall hums {more:.0f} dB more.")
    return sentences


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

"""From differences to a verdict: does a recall match, and what is off.

Plain arithmetic on `MatchFigures`, so that the web server can judge again at once, with a spread learnt since.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from app.signal.comparison.causes import LARGEST_MOVE_MM, SPEED_OF_SOUND_M_S, causes_of, rounded_mm
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
from app.signal.figures import BandDifference, MatchFigures, Verdict

NULL_SHORT_DB = 6.0
"""A null may be so much shallower than an unchanged chain's shallowest. Set by hand: its rest twice as high; not measured."""
LONGEST_PART_S = 240
"""Nobody prints more than this to learn one thing."""
CANNOT_TELL = "Whether it matches cannot be told: the sound moves by itself, and so short a part leaves open which of it was set."


def judged(figures: MatchFigures, spread: Spread | None = None) -> MatchFigures:
    """The same figures with verdict, findings, and causes. What could not be compared stays as it is.

    The verdict is of the sound: level, tone, drive and polarity, by the worst of what is found:

    - "match": loudness within 0.5 dB, every third-octave band that is heard within 1 dB once the loudness is matched,
      crest factor within 1 dB, distortion within 1.5 dB; where a spread is known, within twice the spread, if that is more;
      where the chain moves by itself, within three standard errors, if that is more, up to twice the usual;
    - "close": 2 dB, 3 dB, 3 dB, 5 dB;
    - "different": beyond, or polarity turned;
    - None: where something beyond the tolerances may be the chain's own movement.

    Arrival, noise and hum are told, but do not weigh: they are no part of the sound that was set.
    """
    if figures.level_difference_db is None:
        return figures
    off = what_is_off(figures, tolerances(figures, spread))
    verdict = _verdict(off)
    causes = () if verdict is None else causes_of(off)
    findings = (*_doubt(off, verdict), *_findings(off, spread))
    return replace(
        figures,
        verdict=verdict,
        findings=findings or ("Nothing that matters is off.",),
        causes=causes,
        look_first=tuple(cause.look for cause in causes),
    )


def _verdict(off: Off) -> Verdict | None:
    figures = off.figures
    measures = (
        (off.level, figures.level_difference_db, CLOSE_LEVEL_DB),
        (off.crest, figures.crest_difference_db, CLOSE_CREST_DB),
        (off.drive, figures.drive_difference_db, CLOSE_DRIVE_DB),
        *((True, worst_of(run), CLOSE_BAND_DB) for run in off.tone),
    )
    if off.inverted or any(is_off and abs(value or 0.0) > close for is_off, value, close in measures):
        return "different"
    if off.level or off.crest or off.drive or off.tone:
        return "close"
    return None if off.unsure else "match"


def _doubt(off: Off, verdict: Verdict | None) -> list[str]:
    if verdict is not None:
        return []
    seconds = math.ceil(off.figures.compared_s * off.unsure / 5) * 5
    if seconds > LONGEST_PART_S:
        return [CANNOT_TELL, "Even minutes of the same part would hardly tell."]
    return [CANNOT_TELL, f"About {seconds} s of the same part would tell."]


def _findings(off: Off, spread: Spread | None) -> list[str]:
    figures = off.figures
    level_db = figures.level_difference_db or 0.0
    sentences: list[str] = []
    if off.level:
        sentences.append(f"The recall is {abs(level_db):.1f} dB {'louder' if level_db > 0 else 'quieter'}.")
    sentences += [_tone(run) for run in off.tone]
    if off.inverted:
        sentences.append("The recall is upside down against the original.")
    if off.drive and figures.drive_difference_db is not None:
        more = "more" if figures.drive_difference_db > 0 else "less"
        sentences.append(f"The recall is {more} distorted ({figures.drive_difference_db:+.1f} dB).")
    if off.crest and figures.crest_difference_db is not None:
        where = "higher" if figures.crest_difference_db > 0 else "lower"
        sentences.append(
            f"Its peaks stand {abs(figures.crest_difference_db):.1f} dB {where} above its average."
        )
    return [*sentences, *_noise(off), *_null(figures, spread), *_arrival(off), *_left_out(figures)]


def _arrival(off: Off) -> list[str]:
    """A finding of its own: another buffer moves the arrival and nothing that is heard."""
    figures = off.figures
    ms, samples = figures.delay_difference_ms, figures.delay_difference_samples
    if ms is None or samples is None:
        return []
    if figures.is_excerpt:
        begun = "earlier" if ms > 0 else "later"
        return [f"The recall's file begins {abs(ms) / 1000:.2f} s {begun} in the source."]
    if not off.late:
        return []
    moved = f"It arrives {abs(ms):.2f} ms ({abs(samples):.1f} samples) {'later' if ms > 0 else 'earlier'}"
    away_mm = abs(ms) * SPEED_OF_SOUND_M_S
    if away_mm > LARGEST_MOVE_MM:
        return [
            f"{moved}: the DAW's delay compensation, its buffer or the converters; the sound is not changed by it."
        ]
    return [
        f"{moved}: the DAW's delay or buffer, or {rounded_mm(away_mm)} mm of air if the microphone moved."
    ]


def _left_out(figures: MatchFigures) -> list[str]:
    if not figures.left_out_s:
        return []
    left = f"{figures.left_out_s:.1f} s were left out, in which one of the two does not play the part."
    return [f"Compared were {figures.compared_s:.1f} s; {left}"]


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

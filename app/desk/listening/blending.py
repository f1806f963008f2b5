"""Lanes as a blend: what their sum does at given levels, nudges and polarities, in figures and in words.

Answered at once from what the measuring process measured of them together (see `auditions`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite

from app.drawings.wording import hertz
from app.signal.listening.blend_figures import (
    BlendSetting,
    MeasuredTogether,
    PairFigures,
    Sum,
    sum_of,
)
from app.trade.levels import power_sum_db
from app.trade.microphones import comb, distance_of_samples_mm

LOW_END_HZ = 200.0
LEAST_LOW_END_DB = -40.0
"""A lane with less than this of its level down there has no low end to speak of."""
HEARD_CHANGE_DB = 1.0
"""What changes less than this goes unsaid."""
NAMED_NOTCHES = 3
IN_STEP_SAMPLES = 0.5


@dataclass(frozen=True)
class Nudge:
    """A move along the time line, and the length of air that makes the same difference. Below 0 is earlier."""

    samples: float
    ms: float
    cm: float


def nudge_of(samples: float, sample_rate: int, temperature_celsius: float = 20.0) -> Nudge:
    """Raises ValueError for a temperature no session has."""
    mm = distance_of_samples_mm(samples, sample_rate, temperature_celsius)
    return Nudge(samples, 1000 * samples / sample_rate, mm / 10)


def sum_in_words(
    names: Sequence[str], measured: MeasuredTogether, settings: Sequence[BlendSetting]
) -> tuple[str, ...]:
    """What the sum of these lanes does: where each two of them comb, and what becomes of the low end."""
    alone = [sum_of(measured.only((index,)).spectra, (setting,)) for index, setting in enumerate(settings)]
    said = [
        _pair_in_words(names, measured.spectra.sample_rate, pair, settings, alone) for pair in measured.pairs
    ]
    low = low_end_db(sum_of(measured.spectra, settings), alone)
    if low is not None:
        said.append(_low_end_in_words(names, *low))
    return tuple(sentence for sentence in said if sentence)


def low_end_db(total: Sum, alone: Sequence[Sum]) -> tuple[int, float] | None:
    """The lane that has most below `LOW_END_HZ`, and how far the sum lies above it there, in dB; None where there is
    nothing that low."""
    levels = [_level_db(each, LOW_END_HZ) for each in alone]
    most = max(range(len(levels)), key=levels.__getitem__)
    summed = _level_db(total, LOW_END_HZ)
    if levels[most] <= _level_db(alone[most]) + LEAST_LOW_END_DB or not isfinite(summed):
        return None
    return most, summed - levels[most]


def _pair_in_words(
    names: Sequence[str],
    rate: int,
    pair: PairFigures,
    settings: Sequence[BlendSetting],
    alone: Sequence[Sum],
) -> str:
    first, second = f"“{names[pair.first]}”", f"“{names[pair.second]}”"
    if pair.delay_samples is None:
        return f"How {first} and {second} lie to one another could not be told from their audio."
    apart = pair.delay_samples + settings[pair.second].nudge_samples - settings[pair.first].nudge_samples
    levels = [_level_db(alone[index]) for index in (pair.first, pair.second)]
    if not all(isfinite(level) for level in levels):
        return ""
    difference = levels[1] - levels[0]
    if pair.polarity == "unclear":
        opposite = None
    else:
        opposite = (pair.polarity == "inverted") != (
            settings[pair.first].inverted != settings[pair.second].inverted
        )
    if abs(apart) < IN_STEP_SAMPLES:
        if opposite:
            return f"{first} and {second} arrive together but upside down to one another: what they share cancels."
        together = f"{first} and {second} arrive together"
        return f"{together}." if opposite is None else f"{together}, the same way up."
    later, earlier = (second, first) if apart > 0 else (first, second)
    delay_s = abs(apart) / rate
    when = f"{later} arrives {_samples(abs(apart))} ({1000 * delay_s:.2f} ms) after {earlier}"
    if opposite is None:
        return f"{when}; which way up they are to one another is unclear, so where they comb is not known."
    found = comb(delay_s, level_difference_db=difference, inverted=opposite)
    if found.notch_db > -HEARD_CHANGE_DB:
        return f"{when}; their levels lie too far apart to comb."
    places = [hz for hz in found.notches_hz if hz > 0][:NAMED_NOTCHES]
    way = ", upside down" if opposite else ""
    if not places:
        return f"{when}{way}: no notch that can be heard."
    deep = "as deep as they agree" if found.notch_db < -30 else f"at most {-found.notch_db:.0f} dB deep"
    low = " and the lowest notes cancel" if opposite else ""
    return f"{when}{way}: notches at {', '.join(_hz(hz) for hz in places)} and on, {deep}{low}."


def _low_end_in_words(names: Sequence[str], most: int, change_db: float) -> str:
    against = f"“{names[most]}” alone"
    where = f"Below {LOW_END_HZ:.0f} Hz the sum"
    if change_db <= -HEARD_CHANGE_DB:
        return f"{where} has {-change_db:.1f} dB less than {against}: the low end thins out."
    if change_db >= HEARD_CHANGE_DB:
        return f"{where} has {change_db:.1f} dB more than {against}."
    return f"{where} is as full as {against}."


def _level_db(total: Sum, below_hz: float = inf) -> float:
    return power_sum_db(
        band.sum_dbfs for band in total.bands if band.sum_dbfs is not None and band.mid_hz < below_hz
    )


def _samples(count: float) -> str:
    return f"{count:.1f}".removesuffix(".0") + (" sample" if count == 1 else " samples")


def _hz(hz: float) -> str:
    return hertz(round(hz) if hz < 1000 else float(f"{hz:.2g}"))

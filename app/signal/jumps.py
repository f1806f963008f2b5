"""Places where a print's delay jumps: samples lost or added on the way.

Lags that several stretches share are candidates; the likeliest sequence of them, in which every change must pay for
itself, tells where the lag changes (dynamic programming). The place is then narrowed down to where the print stops
fitting the source at the first lag and begins to fit it at the second.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from app.signal.features import Features
from app.signal.figures import Dropout
from app.signal.fine import FineFit, about_the_line, fit
from app.signal.reading import Sound
from app.signal.segments import Stretch, cross_spectra, mono, read_stretches

REACH_S = 0.1
RADIUS_S = 0.15
COUNT = 60
LENGTH_S = 0.4
LEAST_STRETCHES = 4
LEAST_SAMPLES = 3
MOST_LAGS = 6
PRICE = 2.5
"""What a change of lag must bring: as much as two and a half stretches that fit instead of not."""
ABSORBED_SAMPLES = 10.0
CLOSER_COUNT, CLOSER_LENGTH_S = 48, 0.2
CLOSER_SPACINGS, CLOSER_LEAST_S = 2.5, 2.5
"""A change is looked at again in so many short stretches, from so many spacings of the long ones before it, or seconds,
to as many after it."""
LEAST_BORNE_OUT = 0.6
"""Of those at either side, so many fit better there than at the other side's lag."""
SMALL_S, CLEAR_GAIN = 0.001, 0.4
_LONGEST_LOOK_S = 20.0


@dataclass(frozen=True, slots=True)
class Jumps:
    """The fit as it holds at the print's start, and the jumps after it."""

    fit: FineFit
    dropouts: tuple[Dropout, ...]


@dataclass(frozen=True, slots=True)
class _Plateau:
    lag: float
    first_s: float
    last_s: float


@dataclass(frozen=True, slots=True)
class _Sequence:
    fit: FineFit
    plateaus: list[_Plateau]
    worth: float


def find_jumps(
    source_sound: Sound, taken_sound: Sound, source: Features, taken: Features, found: FineFit
) -> Jumps:
    rate = taken.sample_rate
    stretches = read_stretches(
        *(source_sound, taken_sound, source, taken, found.delay / rate, RADIUS_S),
        count=COUNT,
        length_s=LENGTH_S,
    )
    if len(stretches) < 2 * LEAST_STRETCHES:
        return Jumps(found, ())
    segments = cross_spectra(stretches, rate, "wave")
    fits = [found]
    if abs(found.drift) * float(np.ptp(segments.times_s)) * rate > ABSORBED_SAMPLES:
        fits.append(fit(segments, drifting=False))
    reach = round(REACH_S * rate)
    sequences = [_sequence(about_the_line(segments, one, reach), segments.times_s, one) for one in fits]
    best = max(sequences, key=lambda sequence: sequence.worth - (sequence.fit is not found))
    apart_s = float(np.ptp(segments.times_s)) / len(segments.times_s)
    around_s = max(CLOSER_SPACINGS * apart_s, CLOSER_LEAST_S)
    plateaus = best.plateaus[:1]
    for after in best.plateaus[1:]:
        before = plateaus[-1]
        closer = read_stretches(
            *(source_sound, taken_sound, source, taken, found.delay / rate, RADIUS_S),
            count=CLOSER_COUNT,
            length_s=CLOSER_LENGTH_S,
            between_s=(
                max(before.first_s, before.last_s - around_s),
                min(after.last_s, after.first_s + around_s),
            ),
        )
        plateaus[-1:] = _seen_closer(closer, before, after, best.fit, rate)
    dropouts = []
    for before, after in pairwise(plateaus):
        change = round(after.lag - before.lag)
        at_s = _place(source_sound, taken_sound, best.fit, before, after)
        dropouts.append(Dropout(at_s, "skip" if change < 0 else "repeat", abs(change)))
    if not dropouts:
        return Jumps(found, ())
    return Jumps(replace(best.fit, delay=best.fit.delay + plateaus[0].lag), tuple(dropouts))


def _seen_closer(
    stretches: list[Stretch], before: _Plateau, after: _Plateau, found: FineFit, rate: int
) -> list[_Plateau]:
    """Two plateaus from one to the next, by many short stretches about the change; there may be others in between.

    One plateau alone where these stretches do not bear the change out.
    """
    if len(stretches) < 2 * LEAST_STRETCHES:
        return [before, after]
    segments = cross_spectra(stretches, rate, "wave")
    near = about_the_line(segments, found, round(REACH_S * rate))
    times_s = segments.times_s
    first, *between = _sequence(near, times_s, found).plateaus
    gains = _at_lag(near, after.lag) - _at_lag(near, before.lag)
    ends_meet = (
        bool(between) and max(abs(first.lag - before.lag), abs(between[-1].lag - after.lag)) < LEAST_SAMPLES
    )
    if ends_meet:
        before, after = replace(before, last_s=first.last_s), replace(after, first_s=between[-1].first_s)
    else:
        last = LEAST_STRETCHES - 1 + int(np.argmin(np.cumsum(gains)[LEAST_STRETCHES - 1 : -LEAST_STRETCHES]))
        before, after = (
            replace(before, last_s=float(times_s[last])),
            replace(after, first_s=float(times_s[last + 1])),
        )
    sides = -gains[times_s <= before.last_s], gains[times_s >= after.first_s]
    if any(
        len(side) >= LEAST_STRETCHES and not _bears_out(side, abs(after.lag - before.lag) / rate)
        for side in sides
    ):
        longer = max(before, after, key=lambda plateau: plateau.last_s - plateau.first_s)
        return [_Plateau(longer.lag, before.first_s, after.last_s)]
    return [before, *(between[:-1] if ends_meet else ()), after]


def _bears_out(gains: NDArray[np.float32], change_s: float) -> bool:
    """Whether stretches at one side of a change gain by its lag: nearly all do; moving chains and chance gain here and there.

    A change of less than a millisecond is within what a moving or starved chain does to a wave, and must be clear as well.
    """
    clear = change_s >= SMALL_S or float(np.median(gains)) >= CLEAR_GAIN
    return clear and float(np.mean(gains > 0)) >= LEAST_BORNE_OUT


def _at_lag(near: NDArray[np.float32], lag: float) -> NDArray[np.float32]:
    """(S,): how well each stretch fits at a lag, give or take two samples."""
    reach = (near.shape[1] - 1) // 2
    columns = np.clip(round(lag) + np.arange(-2, 3) + reach, 0, 2 * reach)
    return np.asarray(near[:, columns].max(axis=1))


def _sequence(near: NDArray[np.float32], times_s: NDArray[np.float64], found: FineFit) -> _Sequence:
    """The likeliest sequence of shared lags through the stretches."""
    reach = (near.shape[1] - 1) // 2
    lags = _shared_lags(np.argmax(near, axis=1) - reach)
    fits = np.stack([_at_lag(near, lag) for lag in lags], axis=1)
    scores, came_from = [fits[0]], []
    for row in fits[1:]:
        stay, change = scores[-1], float(scores[-1].max()) - PRICE
        came_from.append(np.where(stay >= change, np.arange(len(lags)), int(np.argmax(stay))))
        scores.append(np.maximum(stay, change) + row)
    state = int(np.argmax(scores[-1]))
    path = [state]
    for previous in reversed(came_from):
        state = int(previous[state])
        path.append(state)
    path.reverse()
    plateaus: list[_Plateau] = []
    for index, state in enumerate(path):
        lag, at_s = float(lags[state]), float(times_s[index])
        if plateaus and plateaus[-1].lag == lag:
            plateaus[-1] = replace(plateaus[-1], last_s=at_s)
        else:
            plateaus.append(_Plateau(lag, at_s, at_s))
    return _Sequence(found, plateaus, float(scores[-1].max()))


def _shared_lags(own: NDArray[np.int64]) -> NDArray[np.int64]:
    """Lag 0 and those that at least four stretches find on their own, to the sample or so."""
    kept = [0]
    left = own[np.abs(own) >= LEAST_SAMPLES]
    while len(left) and len(kept) < MOST_LAGS:
        votes = [int(np.count_nonzero(np.abs(left - lag) < LEAST_SAMPLES)) for lag in left]
        best = int(np.argmax(votes))
        if votes[best] < LEAST_STRETCHES:
            break
        together = np.abs(left - left[best]) < LEAST_SAMPLES
        kept.append(int(np.median(left[together])))
        left = left[np.abs(left - left[best]) >= 2 * LEAST_SAMPLES]
    return np.array(kept)


def _place(
    source_sound: Sound, taken_sound: Sound, found: FineFit, before: _Plateau, after: _Plateau
) -> float:
    """Print time in seconds at which the lag changes; the middle of the gap where source and print differ in rate."""
    rate = taken_sound.sample_rate
    first_s, last_s = before.last_s - CLOSER_LENGTH_S / 2, after.first_s + CLOSER_LENGTH_S / 2
    lag = found.delay + found.drift * first_s * rate
    if source_sound.sample_rate != rate or last_s - first_s > _LONGEST_LOOK_S:
        return (first_s + last_s) / 2 + lag / rate
    start, count = round(first_s * rate + lag), round((last_s - first_s) * rate)
    heard = mono(taken_sound.read(start, count)).astype(np.float64)
    fits = []
    for plateau in (before, after):
        reference = mono(source_sound.read(round(start - lag - plateau.lag), count)).astype(np.float64)
        fits.append(_whitened(heard) * _whitened(reference) * found.sign)
    gained = np.cumsum(fits[0] - fits[1])
    return (start + int(np.argmax(gained))) / rate


def _whitened(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    spectrum = np.fft.rfft(samples)
    magnitude = np.abs(spectrum)
    return np.asarray(
        np.fft.irfft(spectrum / np.sqrt(magnitude + 1e-3 * magnitude.max() + 1e-20), len(samples)),
        dtype=np.float64,
    )

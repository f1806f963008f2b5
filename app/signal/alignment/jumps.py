"""Places where a print's delay jumps: samples lost or added on the way.

Lags that several stretches share are candidates; the likeliest sequence of them, in which every change must pay for
itself, tells where the lag changes (dynamic programming). The place is then narrowed down to where the print stops
fitting the source at the first lag and begins to fit it at the second.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.features import Features
from app.signal.alignment.fine import FineFit, about_the_line, best_fit
from app.signal.alignment.jump_places import Plateau, place_of_change
from app.signal.alignment.pieces import Change
from app.signal.alignment.segments import Stretch, cross_spectra, read_stretches
from app.signal.audio.reading import Sound

# Set by hand on prints with lost, repeated and no buffers; not measured singly.
REACH_S = 0.1
"""The largest jump looked for: 4,800 samples at 48 kHz, more than the largest usual buffers (2,048) lost twice."""
RADIUS_S = 0.15
"""How far stretches reach, half as far again, so that a jump at the edge still has something beside it."""
COUNT = 60
LENGTH_S = 0.4
"""More stretches than the fit has, and shorter: each should lie on one side of a jump."""
LEAST_STRETCHES = 4
"""A lag must be shared by so many: one, two or three agree by chance where notes repeat."""
LEAST_SAMPLES = 3
"""Lags nearer than this are one: the peak of a single stretch is good to a sample or two."""
MOST_LAGS = 6
"""More are a chain that moves, not a stream that broke."""
PRICE = 2.5
"""What a change of lag must bring: as much as two and a half stretches that fit instead of not."""
ABSORBED_SAMPLES = 10.0
"""A drift that moves the lag further than this over the print may be jumps that the line has absorbed."""
CLOSER_COUNT, CLOSER_LENGTH_S = 48, 0.2
CLOSER_SPACINGS, CLOSER_LEAST_S, MOST_LOOKS = 2.5, 1.0, 12
"""A change is looked at again in so many short stretches, from so many spacings of the long ones before it (of a second
or more) to as many after it; and so are those that this finds beside it, up to so many looks."""
LEAST_BORNE_OUT = 0.6
"""Of those at either side, so many fit better there than at the other side's lag."""
SMALL_S, CLEAR_GAIN = 0.001, 0.4
"""A change smaller than the one must fit better by the other, of 1, in half the stretches."""


@dataclass(frozen=True, slots=True)
class Jumps:
    """The fit as it holds at the print's start, the jumps after it, and how many of the stretches keep to them, 0 … 1."""

    fit: FineFit
    changes: tuple[Change, ...]
    agreement: float


@dataclass(frozen=True, slots=True)
class _Sequence:
    fit: FineFit
    near: NDArray[np.float32]
    plateaus: list[Plateau]
    worth: float


def without_jumps(fit: FineFit) -> Jumps:
    return Jumps(fit, (), fit.agreement)


def find_jumps(
    source_sound: Sound, print_sound: Sound, source_features: Features, print_features: Features, fit: FineFit
) -> Jumps:
    rate = print_features.sample_rate
    stretches = read_stretches(
        *(source_sound, print_sound, source_features, print_features, fit.delay / rate, RADIUS_S),
        count=COUNT,
        length_s=LENGTH_S,
    )
    if len(stretches) < 2 * LEAST_STRETCHES:
        return without_jumps(fit)
    segments = cross_spectra(stretches, rate, "wave")
    fits = [fit]
    if abs(fit.drift) * float(np.ptp(segments.times_s)) * rate > ABSORBED_SAMPLES:
        fits.append(best_fit(segments, drifting=False))
    reach = round(REACH_S * rate)
    sequences = [_sequence(about_the_line(segments, tried, reach), segments.times_s, tried) for tried in fits]
    best = max(sequences, key=lambda sequence: sequence.worth - (sequence.fit is not fit))
    apart_s = max(float(np.ptp(segments.times_s)) / len(segments.times_s), CLOSER_LEAST_S)

    around_s = CLOSER_SPACINGS * apart_s
    plateaus, settled = _borne_out(best.plateaus, best.near, segments.times_s, rate), 0
    for _ in range(MOST_LOOKS):
        if settled + 1 == len(plateaus):
            break
        before, after = plateaus[settled : settled + 2]
        closer = read_stretches(
            *(source_sound, print_sound, source_features, print_features, fit.delay / rate, RADIUS_S),
            count=CLOSER_COUNT,
            length_s=CLOSER_LENGTH_S,
            between_s=(
                max(before.first_s, before.last_s - around_s),
                min(after.last_s, after.first_s + around_s),
            ),
        )
        seen, done = _seen_closer(closer, before, after, best.fit, rate)
        plateaus[settled : settled + 2] = seen
        settled += done
    changes = []
    for before, after in pairwise(plateaus):
        change = round(after.lag - before.lag)
        at_s = place_of_change(source_sound, print_sound, best.fit, before, after)
        changes.append(Change(at_s, change))
    if not changes:
        return without_jumps(fit)
    begins = np.searchsorted([plateau.first_s for plateau in plateaus[1:]], segments.times_s, "right")
    due = np.array([plateau.lag for plateau in plateaus])[begins]
    own = np.argmax(best.near, axis=1) - reach
    agreement = float(np.mean(np.abs(own - due) < LEAST_SAMPLES))
    return Jumps(replace(best.fit, delay=best.fit.delay + plateaus[0].lag), tuple(changes), agreement)


def _seen_closer(
    stretches: list[Stretch], before: Plateau, after: Plateau, fit: FineFit, rate: int
) -> tuple[list[Plateau], int]:
    """Plateaus from one to the next, by many short stretches about the change, and how many changes of these are settled.

    There may be others in between, which reach beyond the stretches looked at where these do not begin or end with
    the lag that is due; and one alone where the stretches do not bear the change out.
    """
    if len(stretches) < 2 * LEAST_STRETCHES:
        return [before, after], 1
    segments = cross_spectra(stretches, rate, "wave")
    near = about_the_line(segments, fit, round(REACH_S * rate))
    times_s = segments.times_s
    inner = _sequence(near, times_s, fit).plateaus
    begins = len(inner) > 1 and abs(inner[0].lag - before.lag) < LEAST_SAMPLES
    ends = len(inner) > 1 and abs(inner[-1].lag - after.lag) < LEAST_SAMPLES
    if not (begins or ends):
        gains = _at_lag(near, after.lag) - _at_lag(near, before.lag)
        last = LEAST_STRETCHES - 1 + int(np.argmin(np.cumsum(gains)[LEAST_STRETCHES - 1 : -LEAST_STRETCHES]))
        inner = [
            Plateau(before.lag, 0, float(times_s[last])),
            Plateau(after.lag, float(times_s[last + 1]), 0),
        ]
    if begins or not ends:
        before = replace(before, last_s=inner.pop(0).last_s)
    if ends or not begins:
        after = replace(after, first_s=inner.pop().first_s)
    else:
        after = replace(after, first_s=max(after.first_s, inner[-1].last_s))
    seen = _borne_out([before, *inner, after], near, times_s, rate)
    unsettled = 1 if begins and not ends else len(seen) if ends and not begins else 0
    return seen, max(0, len(seen) - 1 - unsettled)


def _borne_out(
    plateaus: list[Plateau], near: NDArray[np.float32], times_s: NDArray[np.float64], rate: int
) -> list[Plateau]:
    """Plateaus between which the stretches bear the change out; where they do not, the longer stands for both."""
    kept = plateaus[:1]
    for plateau in plateaus[1:]:
        latest = kept[-1]
        if _bears_out(near, times_s, latest, plateau, rate):
            kept.append(plateau)
        else:
            longer = max(latest, plateau, key=lambda either: either.last_s - either.first_s)
            kept[-1] = Plateau(longer.lag, latest.first_s, plateau.last_s)
    return kept


def _bears_out(
    near: NDArray[np.float32], times_s: NDArray[np.float64], before: Plateau, after: Plateau, rate: int
) -> bool:
    """Whether the stretches at either side of a change fit better there than at the other side's lag.

    Nearly all do where samples were lost; where a chain moves, or by chance, some do here and some there. A change of less
    than a millisecond is within what a moving or starved chain does to a wave, and must be clear as well.
    """
    if abs(after.lag - before.lag) < LEAST_SAMPLES:
        return False
    gains = _at_lag(near, after.lag) - _at_lag(near, before.lag)
    small = abs(after.lag - before.lag) < SMALL_S * rate
    for plateau, gained in ((before, -gains), (after, gains)):
        there = gained[(times_s >= plateau.first_s) & (times_s <= plateau.last_s)]
        if len(there) < LEAST_STRETCHES:
            continue
        if np.mean(there > 0) < LEAST_BORNE_OUT or (small and np.median(there) < CLEAR_GAIN):
            return False
    return True


def _at_lag(near: NDArray[np.float32], lag: float) -> NDArray[np.float32]:
    """(S,): how well each stretch fits at a lag, give or take two samples."""
    reach = (near.shape[1] - 1) // 2
    columns = np.clip(round(lag) + np.arange(-2, 3) + reach, 0, 2 * reach)
    return np.asarray(near[:, columns].max(axis=1))


def _sequence(near: NDArray[np.float32], times_s: NDArray[np.float64], fit: FineFit) -> _Sequence:
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
    plateaus: list[Plateau] = []
    for index, state in enumerate(path):
        lag, at_s = float(lags[state]), float(times_s[index])
        if plateaus and plateaus[-1].lag == lag:
            plateaus[-1] = replace(plateaus[-1], last_s=at_s)
        else:
            plateaus.append(Plateau(lag, at_s, at_s))
    return _Sequence(fit, near, plateaus, float(scores[-1].max()))


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

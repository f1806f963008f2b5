"""The path of a print's delay along its source, found by one search for the cheapest.

Each of many short stretches says how well it fits at every lag about the line fitted; the likeliest path takes the best of
them, and every change of lag must pay for itself (dynamic programming). Where it changes is looked at again in more and
shorter stretches, from the lag before to the lag after. Laid along the path, all stretches fit together, and so tell delay,
drift and polarity as those of a print without a change do. What looked like a change and was not taken for one keeps its reason.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from app.signal.alignment.fine import FineFit, about_the_line, best_fit
from app.signal.alignment.pieces import Change, between_of
from app.signal.alignment.place_of_change import Plateau, place_of_change
from app.signal.alignment.segments import Pair, Segments, cross_spectra, read_stretches, straightened
from app.signal.audio.parabola import parabola_peak
from app.signal.figures import Between

# Set by hand on prints with lost, repeated and no buffers; not measured singly.
REACH_S = 0.1
"""The largest change looked for: 4,800 samples at 48 kHz, more than the largest usual buffers (2,048) lost twice."""
RADIUS_S = 0.15
"""How far stretches reach, half as far again, so that a change at the edge still has something beside it."""
COUNT, LENGTH_S = 60, 0.4
"""More stretches than the fit has, and shorter: each should lie on one side of a change."""
CLOSER_COUNT, CLOSER_LENGTH_S = 48, 0.2
CLOSER_SPACINGS, CLOSER_LEAST_S = 2.5, 1.0
"""A change is looked at again in so many short stretches, from so many spacings of the long ones before it (of a second
or more) to as many after it."""
FEWEST = 8
"""Of fewer stretches no path is told."""
LEAST_STRETCHES = 4
"""In fewer, a lag may agree by chance where notes repeat."""
LEAST_SAMPLES = 3
"""Lags nearer than this are one: the peak of a single stretch is good to a sample or two."""
PRICE = 2.5
"""What a change of lag must bring: as much as two and a half stretches that fit instead of not."""
ABSORBED_SAMPLES = 10.0
"""A drift that moves the lag further than this over the print may be changes that the line has absorbed."""
LEAST_BORNE_OUT = 0.6
"""Of the stretches at either side, so many fit better there than at the other side's lag."""
SMALL_S, CLEAR_GAIN = 0.001, 0.4
"""A change smaller than the one must fit better by the other, of 1, in half the stretches."""

NOT_BORNE_OUT = (
    "The stretches on one side of it fit as well at the other side's delay: the chain moves, or notes repeat."
)

Near = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class DelayPath:
    """The fit of all stretches along the path, its delay that of the first; the changes after it; how many of the stretches
    keep to them, 0 … 1; and what was not taken for a change."""

    fit: FineFit
    changes: tuple[Change, ...]
    agreement: float
    set_aside: tuple[Between, ...] = ()


def steady(fit: FineFit) -> DelayPath:
    return DelayPath(fit, (), fit.agreement)


def find_path(pair: Pair, fit: FineFit, between_s: tuple[float, float] | None = None) -> DelayPath:
    """Along the whole source, or between two times of it."""
    rate = pair.print_features.sample_rate
    stretches = read_stretches(
        pair, fit.delay / rate, RADIUS_S, count=COUNT, length_s=LENGTH_S, between_s=between_s
    )
    if len(stretches) < FEWEST:
        return steady(fit)
    segments = cross_spectra(stretches, rate, "wave")
    lines = [fit]
    if abs(fit.drift) * float(np.ptp(segments.times_s)) * rate > ABSORBED_SAMPLES:
        lines.append(best_fit(segments, drifting=False))
    reach = round(REACH_S * rate)
    searched = [_searched(_weighed(segments, line, reach), segments.times_s) for line in lines]
    worths = [worth - (line is not fit) for line, (_, worth) in zip(lines, searched, strict=True)]
    best = int(np.argmax(worths))
    line, plateaus = lines[best], searched[best][0]
    near = _weighed(segments, line, reach, _due(plateaus, segments.times_s))
    told = _Told(pair, line, rate)
    plateaus = told.borne_out(_searched(near, segments.times_s)[0], near, segments.times_s)
    apart_s = max(float(np.ptp(segments.times_s)) / len(segments.times_s), CLOSER_LEAST_S)
    plateaus = told.seen_closer(plateaus, CLOSER_SPACINGS * apart_s)
    changes = tuple(
        Change(told.place(before, after), round(after.lag - before.lag))
        for before, after in pairwise(plateaus)
    )
    if not changes:
        return DelayPath(fit, (), fit.agreement, tuple(told.set_aside))
    due = _due(plateaus, segments.times_s)
    own = np.argmax(about_the_line(segments, line, reach, due), axis=1) - reach
    agreement = float(np.average(np.abs(own - due) < LEAST_SAMPLES, weights=segments.weights))
    along = best_fit(straightened(segments, due - plateaus[0].lag))
    return DelayPath(along, changes, agreement, tuple(told.set_aside))


def _weighed(segments: Segments, line: FineFit, reach: int, along: NDArray[np.float64] | None = None) -> Near:
    """What each stretch says for every lag: as much as it weighs, at the one it fits best."""
    return about_the_line(segments, line, reach, along) * segments.weights[:, None]


def joined(paths: Sequence[DelayPath], places_s: Sequence[float]) -> DelayPath:
    """Paths one after the other, of which each begins at its place in the print, where the source was edited. What one of them
    tells beyond its own stretch is left out."""
    changes: list[Change] = []
    delay = 0.0
    for path, (first_s, last_s) in zip(paths, pairwise([-math.inf, *places_s, math.inf]), strict=True):
        before = [change for change in path.changes if change.at_s < first_s]
        within = [change for change in path.changes if first_s <= change.at_s < last_s]
        begins = path.fit.delay + sum(change.samples for change in before)
        if path is not paths[0]:
            changes.append(Change(first_s, round(begins - delay)))
        changes += within
        delay = begins + sum(change.samples for change in within)
    return DelayPath(
        paths[0].fit,
        tuple(changes),
        min(path.agreement for path in paths),
        tuple(one for path in paths for one in path.set_aside),
    )


def _exact(plateau: Plateau, near: Near, times_s: NDArray[np.float64]) -> Plateau:
    """With the lag at which its stretches together fit best, between samples."""
    reach = (near.shape[1] - 1) // 2
    summed = near[(times_s >= plateau.first_s) & (times_s <= plateau.last_s)].sum(axis=0)
    middle = min(max(round(plateau.lag) + reach, LEAST_SAMPLES), 2 * reach - LEAST_SAMPLES)
    around = summed[middle - LEAST_SAMPLES : middle + LEAST_SAMPLES + 1]
    best = int(np.argmax(around))
    if not around.any() or not 0 < best < len(around) - 1:
        return plateau
    offset, _ = parabola_peak(*around[best - 1 : best + 2].tolist())
    return replace(plateau, lag=middle - LEAST_SAMPLES + best + offset - reach)


def _due(plateaus: list[Plateau], times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """The lag that holds at each time."""
    begins = np.searchsorted([plateau.first_s for plateau in plateaus[1:]], times_s, "right")
    return np.array([plateau.lag for plateau in plateaus])[begins]


class _Told:
    """Which changes are told of a print, about the line fitted."""

    def __init__(self, pair: Pair, line: FineFit, rate: int) -> None:
        self._pair, self._line, self._rate = pair, line, rate
        self.set_aside: list[Between] = []

    def place(self, before: Plateau, after: Plateau) -> float:
        return place_of_change(self._pair, self._line, before, after)

    def borne_out(self, plateaus: list[Plateau], near: Near, times_s: NDArray[np.float64]) -> list[Plateau]:
        """Plateaus between which the stretches bear the change out; where they do not, the longer stands for both."""
        kept = plateaus[:1]
        for plateau in plateaus[1:]:
            latest = kept[-1]
            if _bears_out(near, times_s, latest, plateau, self._rate):
                kept.append(plateau)
                continue
            if abs(plateau.lag - latest.lag) >= LEAST_SAMPLES:
                at_s = plateau.first_s + (self._line.delay + latest.lag) / self._rate
                change = Change(at_s, round(plateau.lag - latest.lag))
                self.set_aside.append(between_of(change, self._rate, NOT_BORNE_OUT))
            longer = max(latest, plateau, key=lambda either: either.last_s - either.first_s)
            kept[-1] = Plateau(longer.lag, latest.first_s, plateau.last_s)
        return kept

    def seen_closer(self, plateaus: list[Plateau], around_s: float) -> list[Plateau]:
        """The plateaus by many short stretches about each change, with those that show in between."""
        seen = plateaus[:1]
        for after in plateaus[1:]:
            before = seen[-1]
            stretches = read_stretches(
                self._pair,
                self._line.delay / self._rate,
                RADIUS_S,
                count=CLOSER_COUNT,
                length_s=CLOSER_LENGTH_S,
                between_s=(
                    max(before.first_s, before.last_s - around_s),
                    min(after.last_s, after.first_s + around_s),
                ),
            )
            if len(stretches) < FEWEST:
                seen.append(after)
                continue
            segments = cross_spectra(stretches, self._rate, "wave")
            near = _weighed(segments, self._line, round(REACH_S * self._rate))
            inner, _ = _searched(near, segments.times_s, before.lag, after.lag)
            inner[0] = replace(inner[0], lag=before.lag, first_s=before.first_s)
            inner[-1] = replace(inner[-1], last_s=after.last_s)
            seen[-1:] = self.borne_out(inner, near, segments.times_s)
        return seen


def _bears_out(near: Near, times_s: NDArray[np.float64], before: Plateau, after: Plateau, rate: int) -> bool:
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


def _at_lag(near: Near, lag: float) -> Near:
    """(S,): how well each stretch fits at a lag, give or take two samples."""
    reach = (near.shape[1] - 1) // 2
    columns = np.clip(round(lag) + np.arange(-2, 3) + reach, 0, 2 * reach)
    return np.asarray(near[:, columns].max(axis=1))


def _searched(
    near: Near, times_s: NDArray[np.float64], first: float | None = None, last: float | None = None
) -> tuple[list[Plateau], float]:
    """The likeliest path through the lags of all stretches as plateaus, and what it is worth; from one lag to another where
    they are given."""
    reach = (near.shape[1] - 1) // 2
    padded = np.pad(near, ((0, 0), (2, 2)), constant_values=-1.0)
    wide = np.asarray(sliding_window_view(padded, 5, axis=1).max(axis=2))
    score = wide[0].copy()
    if first is not None:
        score = score - _away(reach, first)
    came_from = np.empty(near.shape, dtype=np.int32)
    stays = np.arange(near.shape[1], dtype=np.int32)
    for index in range(1, len(near)):
        best = int(np.argmax(score))
        changed = score[best] - np.float32(PRICE)
        came_from[index] = np.where(score >= changed, stays, np.int32(best))
        score = np.maximum(score, changed) + wide[index]
    if last is not None:
        score = score - _away(reach, last)
    state = int(np.argmax(score))
    states = [state]
    for index in range(len(near) - 1, 0, -1):
        state = int(came_from[index, state])
        states.append(state)
    states.reverse()
    bounds = [0, *(np.flatnonzero(np.diff(states)) + 1).tolist(), len(states)]
    plateaus = []
    for begin, end in pairwise(bounds):
        around = np.clip(states[begin] + np.arange(-2, 3), 0, 2 * reach)
        lag = around[int(np.argmax(near[begin:end, around].sum(axis=0)))] - reach
        plateaus.append(Plateau(float(lag), float(times_s[begin]), float(times_s[end - 1])))
    return plateaus, float(score.max())


def _away(reach: int, lag: float) -> Near:
    """The price of a change for every lag but one, give or take two samples."""
    lags = np.arange(-reach, reach + 1)
    return np.where(np.abs(lags - round(lag)) <= 2, 0.0, PRICE).astype(np.float32)

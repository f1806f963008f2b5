"""Where a source was edited after it was printed: stretches of it that lie at other lags, by the rise and fall of the bands.

The path through the coarse lags that fits best is found as that of the delay is (`path`): each lag says in steps how well the
bands of both rise and fall together, so a struck note counts for more than a held one, and every change of lag must pay.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.coarse import Candidate, candidates, changes_of, shared_bands
from app.signal.alignment.features import Features
from app.signal.audio.frames import BandFrames
from app.signal.levels.spectrum import FRAMES_PER_S

# Set by hand on prints whose source was cut, or put something into, by half a second to four; not measured singly.
STEP = 5
"""Frames: 0.2 s."""
STEP_S = STEP / FRAMES_PER_S
"""Derived."""
APART_S = 0.12
"""Lags nearer than this are one: smaller changes are the finer path's."""
PRICE_S = 1.6
"""What a change of lag must bring: as much as this long a part that fits instead of not."""
PARTS, LAGS_A_PART = 3, 2
"""An edited source has a third without an edit, nearly always."""
SHORTEST_S = 1.2
"""A shorter stretch is none: a bar that comes again fits by itself."""


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the source, in its own seconds, and the lag that its print lies at."""

    candidate: Candidate
    from_s: float
    to_s: float


def lags_of_parts(source_features: Features, print_features: Features) -> list[Candidate]:
    """The best lags of each part of the source for itself: one that was edited may fit nowhere as a whole."""
    count = len(source_features.frames) // PARTS
    found = []
    for first in range(0, PARTS * count, max(1, count)):
        codes = source_features.frames.codes[first : first + count]
        samples = round(count / FRAMES_PER_S * source_features.sample_rate)
        part = replace(source_features, samples=samples, frames=BandFrames(codes))
        found += [
            replace(lag, lag_s=lag.lag_s - first / FRAMES_PER_S)
            for lag in candidates(part, print_features, LAGS_A_PART)
        ]
    return found


def sections_of(
    source_features: Features, print_features: Features, lags: Sequence[Candidate]
) -> list[Section]:
    """The stretches in their order; one where no other lag pays."""
    apart: list[Candidate] = []
    for lag in lags:
        if all(abs(lag.lag_s - other.lag_s) >= APART_S for other in apart):
            apart.append(lag)
    steps = len(source_features.frames) // STEP
    evidence = _evidence(source_features, print_features, [lag.lag_s for lag in apart], steps)
    held = [_steps_held(source_features, print_features, lag.lag_s) for lag in apart]
    own = float(np.max(evidence.sum(axis=1) / np.maximum(held, 1)))
    price = PRICE_S * FRAMES_PER_S / STEP * own
    if own <= 0 or not _could_pay(evidence, price):
        return [Section(lags[0], 0.0, source_features.duration_s)]
    found: list[Section] = []
    for row, begin, end in _cheapest(evidence, [lag.lag_s for lag in apart], price):
        if (end - begin) * STEP_S < SHORTEST_S:
            continue
        if found and found[-1].candidate is apart[row]:
            found[-1] = replace(found[-1], to_s=end * STEP_S)
        else:
            found.append(Section(apart[row], begin * STEP_S, end * STEP_S))
    return found


def _steps_held(source_features: Features, print_features: Features, lag_s: float) -> float:
    first_s, last_s = max(0.0, -lag_s), min(source_features.duration_s, print_features.duration_s - lag_s)
    return max(0.0, last_s - first_s) / STEP_S


def _could_pay(evidence: NDArray[np.float64], price: float) -> bool:
    """Whether any stretch of any lag brings half a price more than the best lag does: of a path that pays, one does."""
    gains = np.cumsum(evidence - evidence[int(np.argmax(evidence.sum(axis=1)))], axis=1)
    lowest = np.minimum.accumulate(np.pad(gains, ((0, 0), (1, 0)))[:, :-1], axis=1)
    return bool((gains - lowest).max() > price / 2)


def _evidence(
    source_features: Features, print_features: Features, lags_s: Sequence[float], steps: int
) -> NDArray[np.float64]:
    """(lags, steps): sums over bands and frames of the products of both changes, an ordinary step that agrees being 1."""
    count, other = len(source_features.frames), len(print_features.frames)
    evidence = np.zeros((len(lags_s), steps))
    product = np.zeros(count, dtype=np.float32)
    energy_a, energy_b = 0.0, 0.0
    for band in shared_bands(source_features, print_features):
        a, b = (changes_of(features, band) for features in (source_features, print_features))
        energy_a += float(a @ a) / count
        energy_b += float(b @ b) / other
        for row, lag_s in enumerate(lags_s):
            low = math.floor(lag_s * FRAMES_PER_S)
            share = np.float32(lag_s * FRAMES_PER_S - low)
            first, last = max(0, -low), min(count, other - 1 - low)
            if first >= last:
                continue
            later = b[first + low : last + low] * (1 - share) + b[first + low + 1 : last + low + 1] * share
            product[:] = 0
            product[first:last] = a[first:last] * later
            evidence[row] += product[: steps * STEP].reshape(steps, STEP).sum(axis=1)
    usual = STEP * math.sqrt(energy_a * energy_b) + 1e-9
    return np.asarray(evidence / usual)


def _cheapest(
    evidence: NDArray[np.float64], lags_s: Sequence[float], price: float
) -> list[tuple[int, int, int]]:
    """The path that fits best as (lag, first step, last step) of each of its stretches.

    A print goes on: from one lag to an earlier one it leaves out as much of its source as lies between them, for what it
    played it does not play again.
    """
    lags, steps = evidence.shape
    places = np.arange(lags)
    left_out = np.maximum(0, np.round(np.subtract.outer(lags_s, lags_s) / STEP_S)).astype(np.int64)
    scores = np.full((lags, steps), -np.inf)
    came_from = np.zeros((lags, steps), dtype=np.int64)
    scores[:, 0] = evidence[:, 0]
    for step in range(1, steps):
        at = step - 1 - left_out
        changed = np.where(at >= 0, scores[places[:, None], np.maximum(at, 0)], -np.inf) - price
        changed[places, places] = scores[:, step - 1]
        came_from[:, step] = np.argmax(changed, axis=0)
        scores[:, step] = changed[came_from[:, step], places] + evidence[:, step]
    row, end, step = int(np.argmax(scores[:, -1])), steps, steps - 1
    found: list[tuple[int, int, int]] = []
    while step > 0:
        before = int(came_from[row, step])
        if before != row:
            found.append((row, step, end))
            end = step - int(left_out[before, row])
            step = end - 1
            row = before
        else:
            step -= 1
    return [*reversed([*found, (row, 0, end)])]

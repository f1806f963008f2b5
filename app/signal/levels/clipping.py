"""Clipping: flat tops with sharp corners, at any level.

A converter or a digital stage that runs out of range holds one value for three samples or more and leaves it at full
slope. A driven amp rounds its tops: the way into the top is a curve. So a run counts when its samples agree to the
file's own resolution, nothing nearby is higher, and on one side at least the signal leaves at once and
straight.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.signal.audio.reading import Samples

# Set by hand on clipped and driven sounds, to raise no alarm on the latter; not measured singly.
SHORTEST_RUN = 3
"""Two alike are any slow wave's top."""
LOWEST_LEVEL = 0.01
"""Nothing under -40 dBFS is looked at."""
CORNER_SHARPNESS = 0.5
"""The first step away from a flat, as a share of the second: a straight line's is 1, a parabola's less."""
CORNER_STEPS = 4.0
"""The least first step, in tolerances of flatness."""
CREST_MARGIN = 1.6
"""How much steeper than the parabola that would look as flat."""
LONG_RUN, LONG_RUN_16_BIT = 6, 16
"""Samples of a flat that needs no other at its level; more where the coarser steps of 16 bits flatten crests."""
LONE_PEAK_RUN, FULL_SCALE = 5, 0.985
"""At 16 bits, three or four samples at the file's highest crest agree by chance now and then: a lone run there must be as long as
the one, or stand at the end of the scale."""
LONE_SHARE = 0.25
"""Flats lower than this share of the peak are far down."""
SHARED_RUNS, SHARED_RUNS_FAR_DOWN = 4, 30
"""So many share a ceiling; far below the peak (`LONE_SHARE`), where chance has more room, it takes more."""
MARGIN = 4
"""Samples a caller should give before and after the stretch it asks about."""


@dataclass(frozen=True, slots=True)
class FlatTops:
    starts: NDArray[np.int64]
    lengths: NDArray[np.int64]
    levels: NDArray[np.float64]


FINEST_STEP = 2.0**-18
"""Of 19 bits: finer than a converter's noise, so that a flat with some of it counts. Set by hand; not measured."""


def flatness(step: float) -> float:
    """How far apart samples of a flat top may lie: one and a half of the file's true steps, and of 19 bits at least."""
    return 1.5 * max(step, FINEST_STEP)


def may_clip(rows: Samples, lowest: Samples, highest: Samples, tolerance: float) -> NDArray[np.int64]:
    """Rows of samples whose highest or lowest value, both given, is held long enough to be looked at."""
    loud = np.maximum(highest, -lowest) > LOWEST_LEVEL
    if not loud.any():
        return np.empty(0, dtype=np.int64)
    index = np.flatnonzero(loud & _flat_near(rows, tolerance))
    if not len(index):
        return index
    chosen = rows[index]
    above = np.count_nonzero(chosen >= (highest[index] - np.float32(tolerance))[:, None], axis=1)
    below = np.count_nonzero(chosen <= (lowest[index] + np.float32(tolerance))[:, None], axis=1)
    return np.asarray(index[np.maximum(above, below) >= SHORTEST_RUN], dtype=np.int64)


def _flat_near(rows: Samples, tolerance: float) -> NDArray[np.bool_]:
    """Rows that hold three samples in a row that agree, or lie beside one that does."""
    samples = rows.reshape(-1)
    steps = samples[1:] - samples[:-1]
    level = np.abs(steps, out=steps) <= tolerance
    held = np.flatnonzero(level[1:] & level[:-1]) // rows.shape[1]
    near = np.zeros(len(rows) + 2, dtype=np.bool_)
    near[held] = near[held + 1] = near[held + 2] = True
    return near[1:-1]


def flat_tops(samples: Samples, tolerance: float) -> FlatTops:
    """Runs of clipped samples in a stretch of one channel; runs that touch its first or last samples are left out."""
    magnitude = np.abs(samples).astype(np.float64)
    level = np.abs(np.diff(samples)) <= tolerance
    edges = np.flatnonzero(np.diff(np.concatenate(([False], level, [False])).astype(np.int8)))
    starts, stops = edges[::2], edges[1::2]
    fits = (stops - starts + 1 >= SHORTEST_RUN) & (starts >= MARGIN) & (stops < len(samples) - MARGIN)
    starts, stops = starts[fits], stops[fits]
    top = np.minimum(magnitude[starts], magnitude[stops])
    fits = (top > LOWEST_LEVEL) & (np.abs(samples[stops] - samples[starts]) <= 2 * tolerance)
    starts, stops, top = starts[fits], stops[fits], top[fits]
    sign = np.sign(samples[starts])
    half = (stops - starts) / 2
    left = _leaves_straight([top - sign * samples[starts - n] for n in (1, 2, 3)], half, tolerance)
    right = _leaves_straight([top - sign * samples[stops + n] for n in (1, 2, 3)], half, tolerance)
    below = (sign * samples[starts - 1] <= top + tolerance) & (sign * samples[stops + 1] <= top + tolerance)
    kept = below & (left | right)
    return FlatTops(starts[kept], (stops - starts + 1)[kept], top[kept])


def really_clipped(tops: FlatTops, peak: float, tolerance: float) -> NDArray[np.bool_]:
    """Which runs are clipping and not chance: long ones, those at the file's peak, those that share a ceiling.

    In noise, three samples agree now and then, but at any level; a stage out of range always stops at the same one.
    Channels that hold the same sound share their chances too, so a place counts once. A long run far below the peak is a
    slow wave's crest, unless others share its level.
    """
    ranked = np.sort(tops.levels[np.unique(tops.starts, return_index=True)[1]])

    def alike(within: float) -> NDArray[np.int64]:
        above = np.searchsorted(ranked, tops.levels + within, "right")
        return np.asarray(above - np.searchsorted(ranked, tops.levels - within, "left"), dtype=np.int64)

    close, wide = alike(2 * tolerance), alike(60 * tolerance)
    far_down = tops.levels < LONE_SHARE * peak
    shared = (close >= np.where(far_down, SHARED_RUNS_FAR_DOWN, SHARED_RUNS)) & (close >= 0.5 * wide)
    coarse = tolerance > 1e-5
    long = (tops.lengths >= (LONG_RUN_16_BIT if coarse else LONG_RUN)) & ~far_down
    at_peak = tops.levels >= peak - 2 * tolerance
    if coarse:
        at_peak &= (close >= 2) | (tops.lengths >= LONE_PEAK_RUN) | (tops.levels >= FULL_SCALE)
    return np.asarray(long | at_peak | shared, dtype=np.bool_)


def _leaves_straight(
    drops: list[NDArray[np.float64]], half: NDArray[np.float64], tolerance: float
) -> NDArray[np.bool_]:
    """Whether the first steps away from a flat, `half` its length, are steep at once, instead of easing in.

    A slow crest may be as flat as the file can tell: the parabola c·n² falls by c·(2·half + 3) at the first of these
    steps. Where a parabola of the bend seen outside would look as flat, the fall must be steeper than its.
    """
    first, second = drops[1] - drops[0], drops[2] - drops[1]
    leaves = (drops[0] > 0) & (first >= CORNER_STEPS * tolerance)
    bend = np.maximum(second - first, 0.0) / 2
    crest = (bend * half**2 <= 2 * tolerance) & (first <= CREST_MARGIN * bend * (2 * half + 3))
    return np.asarray(leaves & ~crest & (first >= CORNER_SHARPNESS * second), dtype=bool)

"""Dropouts that show in the print itself: holes with torn edges, and buffers played twice.

Gates and rests fade; a lost buffer does not. A repeated buffer is found by its samples being equal, bit for bit, to
those one buffer before, which no recording of a moving thing does by chance.
"""

import numpy as np

from app.signal.audio.reading import Samples
from app.signal.figures import Dropout

# Set by hand on prints with and without lost buffers; not measured singly.
SHORTEST_GAP = 16
"""Samples: half the smallest usual buffer."""
LONGEST_BUFFER_S = 0.175
"""8,192 samples, the largest usual buffer, at 48 kHz and a little more."""
QUIETEST = 10 ** (-60 / 20)
"""What swings less is no signal that could break off."""
MARGIN_S = 0.02
"""What is looked at on either side: a turn of 50 Hz."""
MARK_BITS = 6
"""Every 64th sample is marked: of a buffer of 64, one or so."""
MOST_TIMES, CROWDED = 8.2, 64
"""A buffer may be heard so many times over; where more places than that are alike in a block, once."""
MOST_LAGS = 64
"""Of as many distances in one block, none is a buffer's: the sound itself is made of a table that is read over and over."""

# Multiplicative hashing: 2^32 over the golden ratio (Knuth, from memory), so that like values are marked or not as by lot.
_MULTIPLIER = np.uint32(2654435761)
_MARKED_BELOW = np.uint32(1 << (32 - MARK_BITS))


def held_runs(samples: Samples) -> list[tuple[int, int]]:
    """(start, length) of stretches where one value is held for SHORTEST_GAP samples or more."""
    stride = SHORTEST_GAP // 2
    sparse = samples[::stride]
    seeds = np.flatnonzero(sparse[1:] == sparse[:-1]) * stride
    runs: list[tuple[int, int]] = []
    reached = -1
    for seed in seeds.tolist():
        if seed < reached:
            continue
        value = samples[seed]
        if not (samples[seed : seed + stride + 1] == value).all():
            continue
        before = np.flatnonzero(samples[max(0, seed - stride) : seed] != value)
        start = max(0, seed - stride) + (int(before[-1]) + 1 if len(before) else 0)
        after = samples[seed:] != value
        stop = seed + int(np.argmax(after)) if after.any() else len(samples)
        reached = stop
        if stop - start >= SHORTEST_GAP:
            runs.append((start, stop - start))
    return runs


def is_torn(before: Samples, held: float, after: Samples, step: float = 0.0) -> bool:
    """Whether a held stretch breaks off a sounding signal: `before` and `after` are 20 ms at its sides.

    A value that nothing around it exceeds is a flat top, not a hole; and a wave that leaves it by one of the file's true
    steps, `step`, is only slow.
    """
    if len(before) and len(after):
        top = max(float((np.sign(held) * side).max()) for side in (before, after))
        if held and abs(held) >= top:
            return False
    sides = []
    for side in (before[::-1], after):
        if len(side) < 64:
            return False
        swing = np.abs(side - held)
        loudest = float(swing.max())
        near = float(swing[: max(16, len(side) // 8)].max())
        if loudest < QUIETEST or near < 0.2 * loudest:
            return False
        sides.append(max(0.0, float(swing[0]) - 1.5 * step) / loudest)
    return max(sides) > 0.05


class RepeatSearch:
    """Finds stretches of one channel that equal what came shortly before.

    Every 64th sample or so is marked, by its value alone, so the same sound is marked at the same places each
    time; equal marks at a short distance are then compared sample by sample.
    """

    def __init__(self, sample_rate: int) -> None:
        self._longest = round(LONGEST_BUFFER_S * sample_rate)
        self._tail: Samples = np.zeros(0, dtype=np.float32)
        self._tail_start = 0
        self.repeats: list[Dropout] = []
        self._rate = sample_rate
        self._covered = 0

    def feed(self, start: int, samples: Samples) -> None:
        joined = np.concatenate((self._tail, samples)) if len(self._tail) else samples
        origin = start - len(self._tail)
        self._search(origin, joined, start)
        keep = 3 * self._longest
        self._tail = joined[-keep:].copy()

    def _search(self, origin: int, samples: Samples, fresh: int) -> None:
        bits = samples.view(np.uint32)
        marked = np.flatnonzero(bits * _MULTIPLIER < _MARKED_BELOW)
        marked = marked[(marked < len(samples) - 4)]
        marked = marked[bits[marked] << np.uint32(1) != 0]
        if len(marked) < 2:
            return
        keys = bits[marked].astype(np.uint64)
        for n in (1, 2, 3):
            keys = keys * np.uint64(0x9E3779B97F4A7C15) + bits[marked + n]
        place_bits = np.uint64(len(marked).bit_length())
        keys = np.sort(keys >> place_bits << place_bits | np.arange(len(marked), dtype=np.uint64))
        order = (keys & ((np.uint64(1) << place_bits) - np.uint64(1))).astype(np.int64)
        keys >>= place_bits
        same = np.flatnonzero(keys[1:] == keys[:-1])
        earlier, later = marked[order[same]], marked[order[same + 1]]
        near = (later - earlier <= self._longest) & (later - earlier >= 16) & (later >= fresh - origin)
        most_times = MOST_TIMES if np.count_nonzero(near) <= CROWDED else 1.5
        tried: dict[int, int] = {}
        for first, second in sorted(zip(earlier[near].tolist(), later[near].tolist(), strict=True)):
            lag = second - first
            if second < tried.get(lag, -1) or len(tried) > MOST_LAGS:
                continue
            tried[lag] = self._verify(origin, samples, first, second, most_times)

    def _verify(self, origin: int, samples: Samples, first: int, second: int, most_times: float) -> int:
        """Keeps the repeat around two equal places, if it is one; returns where the equal samples end."""
        if origin + second < self._covered:
            return self._covered - origin
        lag = second - first
        back = samples[max(0, first - 3 * self._longest) : first + 1][::-1]
        back_later = samples[max(lag, second - 3 * self._longest) : second + 1][::-1]
        span = min(len(back), len(back_later))
        reach = int(np.argmin(np.append(back[:span] == back_later[:span], False)))
        ahead = samples[first : len(samples) - lag]
        ahead_later = samples[second:]
        forward = int(np.argmin(np.append(ahead == ahead_later, False)))
        start, length = second - reach + 1, reach - 1 + forward
        stop = start + length
        if length < max(16, 0.98 * lag) or length > most_times * lag:
            return stop
        if float(np.ptp(samples[start:stop])) < 4 * QUIETEST:
            return stop
        if abs(length / lag - round(length / lag)) * lag > max(4.0, 0.03 * lag):
            return stop
        self._covered = origin + stop
        self.repeats.append(Dropout((origin + start) / self._rate, "repeat", length))
        return stop

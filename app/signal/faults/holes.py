"""Holes: stretches where the signal breaks off at once, nearly nothing sounds, and it is back at once.

What fills a hole need not be digital silence: a converter, a plug-in or dither leaves a little noise. So a hole is told
by its edges. Decays, gates and rests fade, which takes longer than the three samples in which a lost buffer falls;
and the flats that some waveforms have between their pulses come in rows, where a lost buffer is alone.
Thresholds are ours, set on prints with and without holes.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from app.signal.audio.reading import Samples
from app.signal.figures import Dropout

STEP_S, LOOKS_PER_STEP = 0.01, 60
"""Only some samples of each step are looked at first; what is shorter than five of them (0.8 ms) is not found."""
SHORTEST_LOOKS = 5  # see above

# Set by hand on prints with and without holes; not measured singly.
NEAR_STEPS, FAR_STEPS = 2, 50
"""How far about a step the loudest sample is looked for: 20 ms, and half a second."""
LONGEST_S = 0.5
"""What is longer is a rest, or shows against the source."""
MARGIN_S = 0.01
"""What is looked at on either side."""
LOUD = 10 ** (-46 / 20)
"""Where nothing around is louder, no hole is looked for."""
QUIET_SHARE = 0.02
"""Of the loudest sample in the steps around; near ones for short holes, far ones for those longer than these reach."""
EDGE_SAMPLES = 3
"""In so many a lost buffer falls or is back; fades take longer."""
EDGE_OVER_HOLE, EDGE_SHARE = 10.0, 0.06
"""The edge must rise to so many times the hole on both sides, and on one to this share of the loudest there."""
LOOK_OVER_HOLE = 5.0
"""The same for the first looks, which may miss the edge."""
DEEPEST_SHARE = 0.03
"""The hole may be no louder than this share of what is near it."""
NEARBY_SHARE = 0.1
"""The nearest quarter of either side must be as loud as this share of the whole: otherwise it had faded."""
ROW_S, ROW = 0.1, 3
"""So many holes so near together are a row of flats."""
FLATS_WITHIN_S, FLAT_SHARE, FLAT_OVER_HOLE, FLAT_OF_LOUDEST = 0.05, 1 / 3, 2.0, 0.02
"""A hole among more than `ROW` stretches at least a third as long, and at most twice as loud or a fiftieth of the loudest
there, is one of a waveform's flats."""
MANY_FLATS = 10
"""In a file with so many flats as long as a hole, it is one of them, however lonely."""


class HoleSearch:
    """Fed with one channel block by block; holes that cross from block to block are found whole. No hole is told from less
    than what the file's true step lets be told."""

    def __init__(self, sample_rate: int, true_step: float = 0.0) -> None:
        self._rate = sample_rate
        self._true_step = true_step
        self._step = round(STEP_S * sample_rate)
        self._margin = round(MARGIN_S * sample_rate)
        self._keep = round((LONGEST_S + 0.1) * sample_rate)
        self._tail: Samples = np.zeros(0, dtype=np.float32)
        self._found: list[tuple[int, int]] = []
        self._flats: list[int] = []

    def feed(self, start: int, samples: Samples) -> None:
        joined = np.concatenate((self._tail, samples))
        seen, origin = len(self._tail), start - len(self._tail)
        for first, stop in self._holes(joined):
            if not seen < stop + self._margin <= len(joined):
                continue
            if self._is_a_flat(joined, first, stop):
                self._flats.append(stop - first)
            else:
                self._found.append((origin + first, stop - first))
        self._tail = joined[-self._keep :].copy()

    @property
    def holes(self) -> list[Dropout]:
        """In the order they begin; left out are those in rows, and what could be a flat of a wave that has many as long."""
        at = np.array([first for first, _ in self._found])
        flats = np.array(self._flats)
        return [
            Dropout(first / self._rate, "gap", length)
            for first, length in sorted(self._found)
            if np.count_nonzero(np.abs(at - first) < ROW_S * self._rate) < ROW
            and np.count_nonzero(flats >= length) < MANY_FLATS
        ]

    def _holes(self, samples: Samples) -> list[tuple[int, int]]:
        """(first, stop) of every hole in a stretch."""
        steps = len(samples) // self._step
        if steps < 2:
            return []
        stride = max(1, self._step // LOOKS_PER_STEP)
        looks = np.abs(samples[: steps * self._step].reshape(steps, self._step)[:, ::stride])
        per_step = looks.shape[1]
        peaks = looks.max(axis=1)
        near, far = _quiet_below(peaks, NEAR_STEPS), _quiet_below(peaks, FAR_STEPS)
        most = int(LONGEST_S / STEP_S) * per_step
        runs = _runs((looks < near[:, None]).ravel(), SHORTEST_LOOKS, most)
        looks = looks.ravel()
        for first, stop in _runs(peaks < far, NEAR_STEPS + 1, int(LONGEST_S / STEP_S)):
            begin, end = max(0, first - 1) * per_step, min(steps, stop + 1) * per_step
            middle = (first + stop) // 2 * per_step
            quiet = _runs(looks[begin:end] < far[first], SHORTEST_LOOKS, most) + begin
            runs = np.concatenate((runs, quiet[(quiet[:, 0] <= middle) & (middle < quiet[:, 1])]))
        holes: list[tuple[int, int]] = []
        for a, b in sorted(_breaking_off(looks, runs).tolist()):
            first, last = (look // per_step * self._step + look % per_step * stride for look in (a, b - 1))
            edges = self._edges(samples, first, last, stride)
            if edges is not None and (not holes or edges[0] > holes[-1][0] + stride):
                holes.append(edges)
        return holes

    def _edges(self, samples: Samples, first: int, last: int, stride: int) -> tuple[int, int] | None:
        """The hole's exact first sample and the one after its last; None where it does not break off at both ends."""
        inner = (
            samples[first + stride : last - stride + 1]
            if last - first > 3 * stride
            else samples[first : last + 1]
        )
        level = max(float(np.abs(inner).max()), self._true_step) + 1e-9
        begin = max(0, first - 2 * stride)
        before = np.flatnonzero(np.abs(samples[begin : first + stride]) > 2 * level)
        start = begin + int(before[-1]) + 1 if len(before) else first
        after = np.flatnonzero(np.abs(samples[last - stride + 1 : last + 2 * stride]) > 2 * level)
        stop = last - stride + 1 + int(after[0]) if len(after) else last
        if start < self._margin // 2 or stop > len(samples) - self._margin // 2:
            return None
        strongest = 0.0
        for side in (
            samples[max(0, start - self._margin) : start][::-1],
            samples[stop : stop + self._margin],
        ):
            swing = np.abs(side)
            loudest, nearby = float(swing.max()), float(swing[: self._margin // 4].max())
            edge = float(swing[:EDGE_SAMPLES].max())
            if (
                nearby < NEARBY_SHARE * loudest
                or level > DEEPEST_SHARE * nearby
                or edge < EDGE_OVER_HOLE * level
            ):
                return None
            strongest = max(strongest, edge / loudest)
        return (start, stop) if strongest >= EDGE_SHARE else None

    def _is_a_flat(self, samples: Samples, start: int, stop: int) -> bool:
        """Whether the wave has such flats all about: crossover distortion rests at every zero crossing."""
        within, shortest = round(FLATS_WITHIN_S * self._rate), round(FLAT_SHARE * (stop - start))
        level = float(np.abs(samples[start + 1 : stop - 1]).max())
        around = np.abs(samples[max(0, start - within) : stop + within])
        flat = around <= max(FLAT_OVER_HOLE * level, FLAT_OF_LOUDEST * float(around.max()))
        return len(_runs(flat, shortest, len(flat))) > ROW


def _quiet_below(peaks: NDArray[np.float32], reach: int) -> NDArray[np.float32]:
    """Per step: what counts as quiet there, by the loudest of the steps up to `reach` away; 0 where none is loud."""
    loudest = sliding_window_view(np.pad(peaks, reach), 2 * reach + 1).max(axis=1)
    return np.where(loudest > LOUD, QUIET_SHARE * loudest, 0).astype(np.float32)


def _runs(flags: NDArray[np.bool_], shortest: int, longest: int) -> NDArray[np.int64]:
    """(first, stop) of the runs of True that are neither shorter nor longer, (R, 2)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    runs = np.stack((edges[::2], edges[1::2]), axis=1)
    lengths = runs[:, 1] - runs[:, 0]
    return runs[(lengths >= shortest) & (lengths <= longest)]


def _breaking_off(looks: NDArray[np.float32], runs: NDArray[np.int64]) -> NDArray[np.int64]:
    """The runs at both of whose sides one of the two nearest looks stands clear of what the run itself holds.

    Most quiet runs are the zero crossings and decays of slow waves, which this leaves out at once.
    """
    runs = runs[(runs[:, 0] >= 2) & (runs[:, 1] + 2 <= len(looks))]
    if not len(runs):
        return runs
    inner = np.stack((runs[:, 0] + 1, runs[:, 1] - 1), axis=1)
    level = np.maximum.reduceat(looks, inner.ravel())[::2]
    before = np.maximum(looks[runs[:, 0] - 1], looks[runs[:, 0] - 2])
    after = np.maximum(looks[runs[:, 1]], looks[runs[:, 1] + 1])
    return runs[np.minimum(before, after) > LOOK_OVER_HOLE * level]

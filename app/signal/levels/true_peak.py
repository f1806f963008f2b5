"""True peak after ITU-R BS.1770-5 Annex 2: the highest absolute value of the oversampled signal.

The interpolator is a Kaiser-windowed sinc of 32 taps a phase, four phases (two above 100 kHz). Most of the signal
need not be interpolated at all: between two samples it leaves the straight line through them by no more than the
signal bends nearby, so rows whose samples and bends are too small cannot hold the peak. Leaving them out is exact for
this filter.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from app.signal.audio.reading import Samples

TAPS, KAISER_BETA = 32, 7.0
"""Ours: BS.1770 Annex 2 leaves the interpolator open. Tests hold it to the tolerances of EBU Tech 3341, cases 15 to 23."""

# For speed alone: rows are bounded and left out, or searched by one product. No result depends on them.
_ROW = 32
_ROWS = 15
_SPAN = _ROW * _ROWS
_SPANS_AT_ONCE = 8
_ROUNDING = 1 + 1e-5
"""What float32 may add to a value; the bounds allow for it."""


class TruePeak:
    """The running true peak of one channel."""

    def __init__(self, sample_rate: int) -> None:
        self.peak = 0.0
        phases = interpolation_phases(oversampling(sample_rate))
        self._gain = float(np.abs(phases).sum(axis=1).max()) * _ROUNDING
        self._bend_gain = np.float32(_bend_gain(phases))
        matrix = np.zeros((_ROW + TAPS - 1, _ROW * len(phases)), dtype=np.float32)
        for n in range(_ROW):
            matrix[n : n + TAPS, n * len(phases) : (n + 1) * len(phases)] = phases.T
        self._matrix = matrix
        self._pending = np.zeros(TAPS, dtype=np.float32)

    def feed(self, samples: Samples) -> None:
        """The next samples of the channel; call `finish` after the last."""
        joined = np.concatenate((self._pending, samples))
        spans = (len(joined) - TAPS) // _SPAN
        self._pending = joined[spans * _SPAN :].copy()
        if spans:
            self._search(joined[: spans * _SPAN + TAPS], spans)

    def finish(self) -> float:
        self.feed(np.zeros(_SPAN + TAPS, dtype=np.float32))
        return self.peak

    def _search(self, samples: Samples, spans: int) -> None:
        highest = _by_span(samples, spans)
        self.peak = max(self.peak, float(highest.max()))
        if float(highest.max()) * self._gain <= self.peak:
            return
        bends = np.zeros_like(samples)
        np.subtract(samples[1:], samples[:-1], out=bends[1:])
        np.subtract(bends[2:], bends[1:-1], out=bends[1:-1])
        bends[-1] = 0
        bound = (highest + self._bend_gain * _by_span(bends, spans)) * np.float32(_ROUNDING)
        hopeful = np.flatnonzero(bound > self.peak)
        order = hopeful[np.argsort(bound[hopeful])[::-1]]
        rows = sliding_window_view(samples, _ROW + TAPS - 1)[::_ROW]
        while len(order) and bound[order[0]] > self.peak:
            chosen = order[:_SPANS_AT_ONCE, None] * _ROWS + np.arange(_ROWS)
            interpolated = rows[chosen.ravel()] @ self._matrix
            self.peak = max(self.peak, float(interpolated.max()), -float(interpolated.min()))
            order = order[_SPANS_AT_ONCE:]


def _by_span(samples: Samples, spans: int) -> Samples:
    """The largest absolute value among all samples that a span's points are made of: its own and the next few."""
    blocks = samples[: spans * _SPAN].reshape(spans, _SPAN)
    largest = np.empty(spans + 1, dtype=np.float32)
    np.maximum(blocks.max(axis=1), -blocks.min(axis=1), out=largest[:-1])
    largest[-1] = np.abs(samples[spans * _SPAN :]).max()
    return np.maximum(largest[:-1], largest[1:])


def _bend_gain(phases: NDArray[np.float32]) -> float:
    """How far an interpolated point may lie from the line between two samples, per bend (second difference).

    A phase less the weights of that line has neither sum nor first moment, so it is a filter of second differences;
    the sum of that filter's absolute taps bounds what comes out of it.
    """
    taps = phases.astype(np.float64)
    rest = taps / taps.sum(axis=1, keepdims=True)
    between = rest @ np.arange(TAPS) - (TAPS / 2 - 1)
    rest[:, TAPS // 2 - 1] -= 1 - between
    rest[:, TAPS // 2] -= between
    return float(np.abs(np.cumsum(np.cumsum(rest, axis=1), axis=1)).sum(axis=1).max())


def oversampling(sample_rate: int) -> int:
    """Four times, as BS.1770 asks at 48 kHz; twice above 100 kHz, where sound leaves room enough."""
    return 4 if sample_rate <= 100000 else 2


def interpolation_phases(factor: int) -> NDArray[np.float32]:
    """Taps for the points between two samples, shape (factor - 1, TAPS); the samples themselves need none."""
    offsets = np.arange(1, factor)[:, None] / factor
    distance = np.arange(TAPS)[None, :] - (TAPS / 2 - 1) - offsets
    inside = np.sqrt(np.maximum(0.0, 1 - (distance / (TAPS / 2)) ** 2))
    taps = np.sinc(distance) * np.i0(KAISER_BETA * inside) / np.i0(KAISER_BETA)
    return np.asarray((taps / taps.sum(axis=1, keepdims=True)), dtype=np.float32)

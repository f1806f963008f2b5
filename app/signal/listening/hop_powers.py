"""K-weighted powers (ITU-R BS.1770-5) of prints that sound together, so that any balance's loudness follows."""

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from app.signal.audio.reading import Samples
from app.signal.levels.loudness import k_weighting
from app.signal.listening.figures import HOP_S, HopPowers


class TogetherMeter:
    """Fed with the prints' aligned samples block by block, gathers what `HopPowers` holds.

    A hop is 100 ms; where that is no whole number of samples, its edges are rounded to the nearest.
    """

    def __init__(self, sample_rate: int, channels: tuple[int, ...]) -> None:
        self._hop_samples = sample_rate * HOP_S
        self._channels = channels
        stages = k_weighting(sample_rate)
        self._sections = np.array([np.concatenate((b, a)) for b, a in stages])
        self._states = [np.zeros((len(stages), 2, count)) for count in channels]
        self._peaks = np.zeros(len(channels))
        self._left_over = [np.empty((0, count)) for count in channels]
        self._seen = 0
        self._hops: list[NDArray[np.float64]] = []

    def feed(self, blocks: list[Samples]) -> None:
        """The next samples of every print, (frames, channels) each, all equally long."""
        weighted = []
        for index, block in enumerate(blocks):
            self._peaks[index] = max(self._peaks[index], float(np.abs(block).max(initial=0.0)))
            filtered, self._states[index] = scipy.signal.sosfilt(
                self._sections, block.astype(np.float64), axis=0, zi=self._states[index]
            )
            weighted.append(np.concatenate((self._left_over[index], filtered)))
        edges = self._edges(len(weighted[0]))
        if len(edges) > 1:
            self._hops.append(self._powers([samples[: edges[-1]] for samples in weighted], edges))
        self._left_over = [samples[edges[-1] :] for samples in weighted]
        self._seen += int(edges[-1])

    def figures(self) -> HopPowers:
        """A hop that was not filled is dropped."""
        pairs = len(self._peaks) * (len(self._peaks) + 1) // 2
        powers = np.concatenate(self._hops, axis=1) if self._hops else np.empty((pairs, 0))
        rounded = [tuple(float(f"{power:.6g}") for power in row) for row in powers.tolist()]
        return HopPowers(max(self._channels), tuple(self._peaks.tolist()), tuple(rounded))

    def _edges(self, available: int) -> NDArray[np.int64]:
        """Where hops begin and end in the samples at hand, the first of which begins one."""
        first = round(self._seen / self._hop_samples)
        count = int((available + 1) / self._hop_samples) + 1
        edges = np.rint((first + np.arange(count + 1)) * self._hop_samples).astype(np.int64) - self._seen
        return np.asarray(edges[edges <= available], dtype=np.int64)

    def _powers(self, weighted: list[NDArray[np.float64]], edges: NDArray[np.int64]) -> NDArray[np.float64]:
        """(pairs, hops): products of the prints, a mono one on both loudspeakers."""
        rows = []
        for first, one in enumerate(weighted):
            for other in weighted[first:]:
                product = one * other  # a mono print's one column meets both of a stereo print's
                both = product.sum(axis=1) * (2 / product.shape[1])
                rows.append(np.add.reduceat(both, edges[:-1]) / np.diff(edges))
        return np.array(rows)

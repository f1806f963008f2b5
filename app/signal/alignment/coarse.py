"""Coarse alignment: where the rise and fall of the bands in a print fits that of a source.

Works on 25 frames a second, so it costs next to nothing, and on changes of level in decibels, so that drive,
filters and compression leave the pattern standing.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.features import Features
from app.signal.audio.parabola import parabola_peak
from app.signal.audio.transforms import fast_length, irfft, rfft
from app.signal.levels.spectrum import FRAMES_PER_S

# Set by hand on earlier corpora; not measured singly.
LOWEST_HZ, HIGHEST_HZ = 75.0, 10500.0
"""Bands from 80 Hz to 10 kHz: what passes an instrument's loudspeaker, and what 80 ms resolve."""
RANGE_DB = 60.0
"""Below a band's loudest moment; what lies lower is noise."""
BANDS_AT_ONCE = 4
LONG_FRAMES = 100_000
"""With more frames, one band at a time: four together are quicker, but so many take too much memory."""
LAGS_AT_ONCE = 65536
"""For memory alone."""
LARGEST_CHANGE_DB = 12.0
"""Within two frames; a gate's or a drum's leap counts for no more than this, so that a few do not decide."""
SHORTEST_OVERLAP_S = 1.0
"""Or half the shorter of both."""
FAR_S, FAR_COST = 5.0, 0.1
"""Of lags that fit about as well, the nearer ones come first: prints start near their source."""
LOUD_DB = -40.0
"""Frames within this of the loudest sound."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A lag of the print behind the source, and how well it fits: as a z-score among all lags, and as a correlation."""

    lag_s: float
    score: float
    correlation: float
    explained: float
    """Share of the print's sounding frames that fall within the source."""


def candidates(source_features: Features, print_features: Features, most: int = 9) -> list[Candidate]:
    """The best lags, best first; empty when nothing can be compared.

    Compared are level changes per band in dB over two frames, limited, and those of all bands together.
    """
    count_a, count_b = len(source_features.frames), len(print_features.frames)
    if count_a < 3 or count_b < 3:
        return []
    bands = shared_bands(source_features, print_features)
    size = fast_length(count_a + count_b)
    summed = np.zeros(size // 2 + 1, dtype=np.complex64)
    energy_a, energy_b = np.zeros(count_a), np.zeros(count_b)
    at_once = BANDS_AT_ONCE if size <= LONG_FRAMES else 1
    groups = [bands[n : n + at_once] for n in range(0, len(bands), at_once)]
    for group in [*groups, None]:
        a, b = (_changes(_levels(features, bands, group)) for features in (source_features, print_features))
        energy_a += np.einsum("ij,ij->j", a, a)
        energy_b += np.einsum("ij,ij->j", b, b)
        spectra = rfft(a, size)
        np.conj(spectra, out=spectra)
        spectra *= rfft(b, size)
        summed += spectra.sum(axis=0)
        del a, b, spectra
    together = irfft(summed, size)
    del summed
    lags = np.arange(-(count_a - 1), count_b, dtype=np.int32)
    loud = print_features.frames.summed()
    loud = (loud > loud.max() * 10 ** (LOUD_DB / 10)).astype(np.float32)
    summed_a, summed_b, summed_loud = (_sums(values) for values in (energy_a, energy_b, loud))
    del energy_a, energy_b, loud
    score, explained = np.empty(len(lags), dtype=np.float32), np.empty(len(lags), dtype=np.float32)
    usable = np.empty(len(lags), dtype=bool)
    longest = min(count_a, count_b)
    need = min(SHORTEST_OVERLAP_S * FRAMES_PER_S, 0.5 * longest)
    for first in range(0, len(lags), LAGS_AT_ONCE):
        part = slice(first, first + LAGS_AT_ONCE)
        lag = lags[part]
        overlap_a = _overlap(summed_a, count_b, lag)
        overlap_b = _overlap(summed_b, count_a, -lag)
        fit = together[lag] / np.sqrt(overlap_a * overlap_b + 1e-9 * (summed_a[-1] * summed_b[-1]) + 1e-9)
        shared = np.minimum(np.minimum(count_a, count_b - lag), np.minimum(count_b, count_a + lag))
        usable[part] = shared >= need
        score[part] = np.where(usable[part], fit * np.sqrt(np.maximum(shared, 1) / longest), 0.0)
        explained[part] = _overlap(summed_loud, count_a, -lag) / max(1.0, float(summed_loud[-1]))
    away = score[usable]
    away -= np.median(away)
    np.abs(away, out=away)
    spread = 1.4826 * float(np.median(away, overwrite_input=True)) + 1e-9
    del away
    score /= np.float32(spread)
    return _peaks(lags, score, spread, explained, most)


def shared_bands(source_features: Features, print_features: Features) -> NDArray[np.int64]:
    """The bands that are compared."""
    mids = source_features.mids_hz[: min(len(source_features.mids_hz), len(print_features.mids_hz))]
    return np.flatnonzero((mids > LOWEST_HZ) & (mids < HIGHEST_HZ))


def changes_of(features: Features, band: int) -> NDArray[np.float32]:
    """Changes of level of one band in dB over two frames, (frames,)."""
    return np.asarray(_changes(features.frames.bands(np.array([band])))[0])


def rises_of(features: Features) -> NDArray[np.float32]:
    """By how much the bands that are compared rise over two frames, in dB, their mean, (frames,)."""
    bands = np.flatnonzero((features.mids_hz > LOWEST_HZ) & (features.mids_hz < HIGHEST_HZ))
    rises = np.zeros(len(features.frames), dtype=np.float32)
    for band in bands.tolist():
        rises += np.maximum(changes_of(features, band), 0)
    return rises / np.float32(max(1, len(bands)))


def _levels(
    features: Features, bands: NDArray[np.int64], group: NDArray[np.int64] | None
) -> NDArray[np.float32]:
    """Energies of a group of bands, or of all together where None, (bands, frames)."""
    if group is None:
        return features.frames.summed(slice(bands[0], bands[-1] + 1))[None, :]
    return features.frames.bands(group)


def _changes(energies: NDArray[np.float32]) -> NDArray[np.float32]:
    floor = np.maximum(energies.max(axis=1, keepdims=True) * np.float32(10 ** (-RANGE_DB / 10)), 1e-12)
    level = 10 * np.log10(energies + floor)
    change = np.zeros_like(level)
    np.subtract(level[:, 2:], level[:, :-2], out=change[:, 1:-1])
    return np.asarray(np.clip(change, -LARGEST_CHANGE_DB, LARGEST_CHANGE_DB), dtype=np.float32)


def _sums(values: NDArray[np.floating]) -> NDArray[np.float64]:
    return np.concatenate(([0.0], np.cumsum(values, dtype=np.float64)))


def _overlap(summed: NDArray[np.float64], other: int, lags: NDArray[np.int32]) -> NDArray[np.float64]:
    """What a signal of these running sums holds within `other` frames that begin at each of the lags before it."""
    count = len(summed) - 1
    first = np.clip(-lags, 0, count)
    last = np.clip(other - lags, 0, count)
    return np.asarray(np.maximum(summed[last] - summed[first], 0.0), dtype=np.float64)


def _peaks(
    lags: NDArray[np.int32],
    score: NDArray[np.float32],
    spread: float,
    explained: NDArray[np.float32],
    most: int,
) -> list[Candidate]:
    inner = np.flatnonzero((score[1:-1] >= score[:-2]) & (score[1:-1] > score[2:])) + 1
    far = np.minimum(np.abs(lags[inner]) / FRAMES_PER_S, FAR_S) / FAR_S
    # a lag between two frames is seen half in each: with the higher neighbour it stands as high as one that is on a frame
    height = (score[inner] + np.maximum(score[inner - 1], score[inner + 1])) / 1.5
    rank = height * (1 - FAR_COST * far) * np.sqrt(explained[inner])
    peaks = []
    for place in np.argsort(rank)[::-1][:most].tolist():
        index = int(inner[place])
        offset, _ = parabola_peak(*score[index - 1 : index + 2].tolist())
        peaks.append(
            Candidate(
                float(lags[index] + offset) / FRAMES_PER_S,
                max(0.0, float(height[place])),
                max(0.0, float(height[place]) * spread),
                float(explained[index]),
            )
        )
    return peaks

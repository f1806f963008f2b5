"""What prints of one pass do together, measured from their audio: delay and polarity between each two, and the
cross-spectra from which any blend of them follows (`app.signal.listening.blend_figures`)."""

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from app.signal.alignment.fine import best_fit
from app.signal.alignment.segments import COUNT, SEGMENT_S, Stretch, cross_spectra, mono
from app.signal.audio.reading import Samples
from app.signal.figures import Polarity
from app.signal.listening.blend_figures import (
    BlendFigures,
    BlendSetting,
    CrossSpectra,
    MeasuredTogether,
    PairFigures,
    blend_of,
)

RADIUS_S = 0.05
"""How far apart two prints of one pass may arrive: 17 m of air."""

# Set by hand; not measured singly.
WINDOW_S = 0.34
"""Rounded to a power of two samples: 3 Hz a bin, one and a half of them in the lowest third octave."""
MOST_WINDOWS = 800
"""For time: of a longer file some are left out, evenly."""
LOWEST_HZ, HIGHEST_HZ = 15.0, 23_000.0
"""A little beyond the third octaves from 20 Hz to 20 kHz."""
SHORTEST = 64
"""Samples without which nothing is compared."""
SURE_HEIGHT, SURE_AGREEMENT, CLEAR_SIGN = 9.0, 0.5, 0.7
"""Two prints have a delay where the peak stands out so far and the stretches agree so well on it; a polarity where no peak of
the other sign comes nearer than this share."""

Blocks = Callable[[], Iterator[list[Samples]]]
"""Begins anew at each call: the prints' samples side by side, (frames, channels) each, stretch by stretch."""


def blend(prints: Sequence[tuple[Samples, float, float, bool]], rate: int) -> BlendFigures:
    """Blend whole prints that lie in memory: (samples, gain_db, nudge_samples, inverted) each.

    Samples are (frames,) or (frames, channels), all from the same moment on and equally long.
    """
    samples = [np.asarray(item[0], dtype=np.float32) for item in prints]
    shaped = [item[:, None] if item.ndim == 1 else item for item in samples]
    settings = [BlendSetting(gain_db, nudge, inverted) for _, gain_db, nudge, inverted in prints]
    return blend_of(measure_together(lambda: iter([shaped]), rate, len(shaped[0])), settings)


def measure_together(blocks: Blocks, rate: int, frames: int) -> MeasuredTogether:
    """Measure prints that are read block by block, twice: once for their delays, once for their spectra.

    `frames` is how long they are altogether. Needs the memory of a few blocks.
    """
    pairs = _measure_pairs(blocks, rate, frames)
    return MeasuredTogether(_cross_spectra(blocks, rate, frames, pairs), pairs)


def _measure_pairs(blocks: Blocks, rate: int, frames: int) -> tuple[PairFigures, ...]:
    stretches: dict[tuple[int, int], list[Stretch]] = {}
    every = max(1, math.floor(frames / (COUNT * rate * SEGMENT_S)))
    radius = round(RADIUS_S * rate)
    length = min(round(SEGMENT_S * rate), frames - 2 * radius)
    count, seen = 0, 0
    for block in blocks():
        channels = [mono(samples) for samples in block]
        count = len(channels)
        last = len(channels[0]) - radius - length
        for at in range(radius, last + 1, length) if length >= SHORTEST else ():
            seen += 1
            if seen % every:
                continue
            for first in range(count):
                for second in range(first + 1, count):
                    of_first = channels[first][at : at + length]
                    of_second = channels[second][at - radius : at + length + radius]
                    if of_first.any() and of_second.any():
                        stretches.setdefault((first, second), []).append(
                            Stretch(0.0, 0.0, of_first, of_second)
                        )
    return tuple(
        _pair(first, second, stretches.get((first, second), []), rate)
        for first in range(count)
        for second in range(first + 1, count)
    )


def _pair(first: int, second: int, stretches: list[Stretch], rate: int) -> PairFigures:
    """Every stretch is given the same moment, since one clock recorded both: there is no drift to look for."""
    if not stretches:
        return PairFigures(first, second, None, "unclear", 0.0)
    loudest = sorted(stretches, key=lambda stretch: -float(stretch.source @ stretch.source))[:COUNT]
    fit = best_fit(cross_spectra(loudest, rate, "wave"))
    if fit.height < SURE_HEIGHT or fit.agreement < SURE_AGREEMENT:
        return PairFigures(first, second, None, "unclear", min(0.99, max(0.0, fit.agreement)))
    polarity: Polarity = "unclear"
    if fit.opposite < CLEAR_SIGN:
        polarity = "same" if fit.sign > 0 else "inverted"
    return PairFigures(first, second, float(fit.delay), polarity, min(0.99, fit.agreement))


def _cross_spectra(blocks: Blocks, rate: int, frames: int, pairs: Sequence[PairFigures]) -> CrossSpectra:
    """By Welch's method (Hann windows, half overlapping). The later print of a pair is windowed later by its delay,
    and turned back afterwards: otherwise a delay would pass for want of correlation."""
    size = 2 ** round(math.log2(WINDOW_S * rate))
    while size > max(SHORTEST, frames):
        size //= 2
    hop = max(size // 2, frames // MOST_WINDOWS)
    window = np.sqrt(2 / 3) * (1 - np.cos(2 * np.pi * np.arange(size) / size))
    window = (window / np.sqrt(np.mean(window**2))).astype(np.float32)
    bins = min(size // 2 + 1, math.ceil(HIGHEST_HZ * size / rate))
    shifts = [round(pair.delay_samples or 0.0) for pair in pairs]
    count = 1 + max((pair.second for pair in pairs), default=0)
    powers = np.zeros((count, bins))
    crosses = np.zeros((len(pairs), bins), dtype=np.complex128)
    own_windows, pair_windows = 0, np.zeros(len(pairs))
    for block in blocks():
        both = [_two_loudspeakers(samples) for samples in block]
        for at in range(0, len(block[0]) - size + 1, hop):
            spectra = [_spectrum(samples[at : at + size], window, bins) for samples in both]
            own_windows += 1
            for index, spectrum in enumerate(spectra):
                powers[index] += (spectrum.real**2 + spectrum.imag**2).sum(axis=1)
            for index, (pair, shift) in enumerate(zip(pairs, shifts, strict=True)):
                if not 0 <= at + shift <= len(block[0]) - size:
                    continue
                later = both[pair.second][at + shift : at + shift + size]
                other = _spectrum(later, window, bins) if shift else spectra[pair.second]
                crosses[index] += (spectra[pair.first] * np.conj(other)).sum(axis=1)
                pair_windows[index] += 1
    turns = 2j * np.pi * np.arange(bins) / size
    for index, shift in enumerate(shifts):
        crosses[index] *= np.exp(turns * shift) / max(1.0, pair_windows[index])
    scale = np.where(np.arange(bins) * rate / size < LOWEST_HZ, 0.0, 2 / size**2)
    powers *= scale / max(1, own_windows)
    crosses *= scale
    return CrossSpectra(
        sample_rate=rate,
        bin_hz=rate / size,
        powers=_rows(powers),
        real=_rows(crosses.real),
        imaginary=_rows(crosses.imag),
    )


def _two_loudspeakers(samples: Samples) -> Samples:
    return samples if samples.shape[1] == 2 else np.repeat(samples, 2, axis=1)


def _spectrum(samples: Samples, window: NDArray[np.float32], bins: int) -> NDArray[np.complex64]:
    """(bins, 2)"""
    spectrum = scipy.fft.rfft(samples * window[:, None], axis=0)[:bins]
    return np.asarray(spectrum, dtype=np.complex64)


def _rows(values: NDArray[np.float64]) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(f"{value:.5g}") for value in row) for row in values.tolist())

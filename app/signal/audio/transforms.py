"""Fourier transforms along the last axis, in the precision of what they are given.

numpy and scipy bring the same library for them (pocketfft) and are equally quick, but importing scipy's takes longer than
measuring a minute of sound. Two things numpy (2.4, `fft/_pocketfft.py`) must be asked for: a forward transform of float32
is computed in double precision, seven times slower, unless the factor it multiplies with is a float32, as it is under
`norm="forward"`; and filling up with zeros is quicker done beforehand.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray


def rfft(signals: NDArray[np.floating[Any]], size: int) -> NDArray[Any]:
    """The spectra (..., size // 2 + 1) of real signals, filled up with zeros to `size`."""
    spectra = np.fft.rfft(_filled(signals, size), norm="forward")
    spectra *= spectra.real.dtype.type(size)
    return spectra


def scaled_rfft(signals: NDArray[np.floating[Any]]) -> NDArray[Any]:
    """The spectra divided by the signals' length, for those in a hurry."""
    return np.fft.rfft(signals, norm="forward")


def irfft(spectra: NDArray[np.inexact[Any]], size: int) -> NDArray[Any]:
    """The real signals (..., size) that have these spectra."""
    return np.fft.irfft(spectra, size)


def fft(signals: NDArray[np.complexfloating[Any, Any]], size: int) -> NDArray[Any]:
    """The spectra (..., size) of complex signals, filled up with zeros to `size`."""
    spectra = np.fft.fft(_filled(signals, size), norm="forward")
    spectra *= spectra.real.dtype.type(size)
    return spectra


def fast_length(least: int) -> int:
    """The smallest length from `least` on that has no prime factor above 5."""
    best = 1 << max(0, least - 1).bit_length()
    fives = 1
    while fives < best:
        threes = fives
        while threes < best:
            twos = -(-least // threes)
            best = min(best, threes << max(0, twos - 1).bit_length())
            threes *= 3
        fives *= 5
    return best


def _filled(signals: NDArray[Any], size: int) -> NDArray[Any]:
    length = signals.shape[-1]
    if length == size:
        return signals
    filled = np.zeros((*signals.shape[:-1], size), dtype=signals.dtype)
    filled[..., :length] = signals
    return filled

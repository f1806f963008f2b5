"""Where in a print the lag changes: it stops fitting the source at the first lag and begins to fit it at the second."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.fine import FineFit
from app.signal.alignment.segments import Pair, mono, resampled
from app.signal.audio.reading import Samples

EDIT_MARGIN_S, WIDEST_EDIT_S = 0.7, 4.0
"""To either side of where the bands say that the source was edited: they say it in steps of 0.2 s, a held note may hide it for
longer, and what was put in may be the same notes once more; for memory, of no more than so much. Chosen; not measured."""
MARGIN_S, AROUND_S, LONGEST_S = 0.1, 0.01, 20.0
"""Looked at beyond the plateaus' ends; summed about each sample; and the longest gap that is looked at wave by wave, for memory.
Set by hand; not measured singly."""


@dataclass(frozen=True, slots=True)
class Plateau:
    """A lag in samples beside the line fitted, and the source times of the first and last stretch that hold it."""

    lag: float
    first_s: float
    last_s: float


def place_of_change(pair: Pair, fit: FineFit, before: Plateau, after: Plateau) -> float:
    """Print time in seconds at which the lag changes; the middle of the gap where source and print differ in rate.

    Plateaus may overlap, as stretches do that hold both lags: then it lies within what they share.
    """
    source_sound, print_sound = pair.source_sound, pair.print_sound
    rate = print_sound.sample_rate
    first_s = min(before.last_s, after.first_s) - MARGIN_S
    last_s = max(before.last_s, after.first_s) + MARGIN_S
    lag = fit.delay + fit.drift * first_s * rate
    if source_sound.sample_rate != rate or last_s - first_s > LONGEST_S:
        return (first_s + last_s) / 2 + lag / rate
    start, count = round(first_s * rate + lag), round((last_s - first_s) * rate)
    heard = mono(print_sound.read(start, count))
    references = [
        mono(source_sound.read(round(start - lag - plateau.lag), count)) for plateau in (before, after)
    ]
    return (start + _parting([heard, heard], references, rate)) / rate


def place_of_edit(pair: Pair, ends_s: float, before_lag: float, after_lag: float) -> float:
    """Print time in seconds at which it stops playing its source at one lag, in samples, before it goes on at another: near
    where it plays the source's `ends_s`."""
    source_sound, print_sound = pair.source_sound, pair.print_sound
    rate, source_rate = print_sound.sample_rate, source_sound.sample_rate
    change = round(after_lag - before_lag)
    margin_s = EDIT_MARGIN_S + min(abs(change) / rate, WIDEST_EDIT_S)
    start = round(max(0.0, ends_s - margin_s) * rate + before_lag)
    count = round(2 * margin_s * rate)
    # what the print holds more is passed over in the print, what it holds less in the source
    heard = [mono(print_sound.read(start + late, count)) for late in (0, max(0, change))]
    references = [
        resampled(source_sound, round((start - before_lag + late) / rate * source_rate), count, rate)
        for late in (0, max(0, -change))
    ]
    return (start + _parting(heard, references, rate)) / rate


def _parting(heard: list[Samples], references: list[Samples], rate: int) -> int:
    """Up to which sample the first two are alike, and from which on the second two."""
    likeness = []
    for one, other in zip(map(_analytic, heard), map(_analytic, references), strict=True):
        energies = _around(np.abs(one) ** 2, rate) * _around(np.abs(other) ** 2, rate)
        likeness.append(np.abs(_around(one * other.conj(), rate)) / np.sqrt(energies + 1e-20))
    return int(np.argmax(np.cumsum(likeness[0] - likeness[1])))


def _analytic(samples: Samples) -> NDArray[np.complex128]:
    """The analytic signal, its spectrum half evened out: a chain's turning of phases leaves its size alone."""
    spectrum = np.fft.rfft(samples.astype(np.float64))
    magnitude = np.abs(spectrum)
    evened = spectrum / np.sqrt(magnitude + 1e-3 * float(magnitude.max()) + 1e-20)
    return np.asarray(np.fft.ifft(evened, len(samples)))


def _around(values: NDArray[Any], rate: int) -> NDArray[Any]:
    """Sums over the 10 ms around each value."""
    half = round(AROUND_S * rate / 2)
    summed = np.cumsum(np.pad(values, (half + 1, half)))
    return np.asarray(summed[2 * half + 1 :] - summed[: -2 * half - 1])

"""Places where a print's delay jumps: samples lost or added on the way.

Found as plateaus in the stretches' own lags, each several stretches long; the place is then narrowed down to where the
print stops fitting the source at the first lag and begins to fit it at the second.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from app.signal.features import Features
from app.signal.figures import Dropout
from app.signal.fine import FineFit, own_lags
from app.signal.reading import Sound
from app.signal.segments import cross_spectra, mono, read_stretches

RADIUS_S = 0.25
COUNT = 60
LENGTH_S = 0.4
LEAST_STRETCHES = 3
LEAST_SAMPLES = 3
CLEARLY_BETTER = 1.5
_LONGEST_LOOK_S = 20.0


@dataclass(frozen=True, slots=True)
class Jumps:
    """The fit as it holds at the print's start, and the jumps after it."""

    fit: FineFit
    dropouts: tuple[Dropout, ...]


@dataclass(frozen=True, slots=True)
class _Plateau:
    lag: float
    first_s: float
    last_s: float
    count: int


def find_jumps(
    source_sound: Sound, taken_sound: Sound, source: Features, taken: Features, found: FineFit
) -> Jumps:
    rate = taken.sample_rate
    stretches = read_stretches(
        *(source_sound, taken_sound, source, taken, found.delay / rate, RADIUS_S),
        count=COUNT,
        length_s=LENGTH_S,
    )
    if len(stretches) < 2 * LEAST_STRETCHES:
        return Jumps(found, ())
    lags, gains = own_lags(cross_spectra(stretches, rate, "wave"), found)
    plateaus = _plateaus(np.array([stretch.time_s for stretch in stretches]), lags, gains)
    dropouts = []
    for before, after in pairwise(plateaus):
        change = round(after.lag - before.lag)
        if abs(change) < LEAST_SAMPLES:
            continue
        at_s = _place(source_sound, taken_sound, found, before, after)
        dropouts.append(Dropout(at_s, "skip" if change < 0 else "repeat", abs(change)))
    if not dropouts:
        return Jumps(found, ())
    return Jumps(replace(found, delay=found.delay + plateaus[0].lag), tuple(dropouts))


def _plateaus(
    times_s: NDArray[np.float64], lags: NDArray[np.float64], gains: NDArray[np.float64]
) -> list[_Plateau]:
    """Runs of stretches with one lag; those on the line count as lag 0, stray ones are passed over."""
    settled = np.where(gains < CLEARLY_BETTER, 0.0, lags)
    runs: list[list[int]] = []
    for index, lag in enumerate(settled.tolist()):
        if runs and abs(lag - float(np.median(settled[runs[-1]]))) < LEAST_SAMPLES:
            runs[-1].append(index)
        else:
            runs.append([index])
    plateaus: list[_Plateau] = []
    for run in runs:
        if len(run) < LEAST_STRETCHES:
            continue
        lag = float(np.median(settled[run]))
        if plateaus and abs(plateaus[-1].lag - lag) < LEAST_SAMPLES:
            last = plateaus.pop()
            plateaus.append(_Plateau(last.lag, last.first_s, float(times_s[run[-1]]), last.count + len(run)))
        else:
            plateaus.append(_Plateau(lag, float(times_s[run[0]]), float(times_s[run[-1]]), len(run)))
    return plateaus


def _place(
    source_sound: Sound, taken_sound: Sound, found: FineFit, before: _Plateau, after: _Plateau
) -> float:
    """Print time in seconds at which the lag changes; the middle of the gap where source and print differ in rate."""
    rate = taken_sound.sample_rate
    first_s, last_s = before.last_s, after.first_s
    lag = found.delay + found.drift * first_s * rate
    if source_sound.sample_rate != rate or last_s - first_s > _LONGEST_LOOK_S:
        return (first_s + last_s) / 2 + lag / rate
    start, count = round(first_s * rate + lag), round((last_s - first_s) * rate)
    heard = mono(taken_sound.read(start, count)).astype(np.float64)
    fits = []
    for plateau in (before, after):
        reference = mono(source_sound.read(round(start - lag - plateau.lag), count)).astype(np.float64)
        fits.append(_whitened(heard) * _whitened(reference) * found.sign)
    gained = np.cumsum(fits[0] - fits[1])
    return (start + int(np.argmax(gained))) / rate


def _whitened(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    spectrum = np.fft.rfft(samples)
    magnitude = np.abs(spectrum)
    return np.asarray(
        np.fft.irfft(spectrum / np.sqrt(magnitude + 1e-3 * magnitude.max() + 1e-20), len(samples)),
        dtype=np.float64,
    )

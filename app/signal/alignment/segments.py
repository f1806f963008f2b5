"""Short stretches of a source and of its print, side by side, as cross-spectra.

Some forty stretches spread over the overlap stand for the whole file: they cost little, and they cannot be smeared
by a clock that drifts.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import soxr
from numpy.typing import NDArray

from app.signal.alignment.coarse import rises_of
from app.signal.alignment.features import Features
from app.signal.audio.reading import Samples, Sound
from app.signal.audio.transforms import fast_length, irfft, rfft
from app.signal.levels.spectrum import FRAMES_PER_S

# Set by hand for time and on earlier corpora; not measured singly. 36 stretches of 0.68 s are 24 s of a file.
SEGMENT_S = 0.68
COUNT = 36
_FADE = 0.1  # of a stretch, at either end
EVEN_RISE_DB = 2.5
"""What the bands rise by within a stretch in which nothing begins: noise and beating."""

Kind = Literal["wave", "rectified", "envelope"]
"""What is compared: the waves; the rectified source with the print (an octave up); both rectified."""


@dataclass(frozen=True, slots=True)
class Segments:
    """Cross-spectra of M stretches, in the print's rate.

    Lag 0 of segment m is `base[m]` samples of print behind source; lags reach ±`radius` samples. `times_s` are the
    stretches' middles in source time.
    """

    rate: int
    size: int
    radius: int
    times_s: NDArray[np.float64]
    base: NDArray[np.float64]
    cross: NDArray[np.complex64]
    source_power: NDArray[np.float32]
    print_power: NDArray[np.float32]
    cross_power: NDArray[np.float32]
    """Mean over the stretches of the squared magnitude of `cross`."""
    weights: NDArray[np.float32]
    """(M,): see Stretch."""

    def correlate(self, weights: NDArray[np.float32]) -> NDArray[np.float32]:
        """Weighted correlations, (M, 2·radius + 1), lag -radius first."""
        return self.in_reach(irfft(self.cross * weights, self.size))

    def in_reach(self, full: NDArray[np.float32]) -> NDArray[np.float32]:
        """The lags from -radius to radius, in their order, of correlations (..., size)."""
        return np.concatenate((full[..., -self.radius :], full[..., : self.radius + 1]), axis=-1)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Source and print samples of one stretch: the print's reach `radius` further on both sides."""

    time_s: float
    base: float
    source: Samples
    printed: Samples
    weight: float = 1.0
    """What it says of the lag, of 1: a note that begins says when, one that rings on only says so to a whole turn of its wave."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A print and a source it is held against."""

    source_sound: Sound
    print_sound: Sound
    source_features: Features
    print_features: Features


def overlap_s(source_features: Features, print_features: Features, lag_s: float) -> tuple[float, float]:
    """The part of the source, in its own time, that a print `lag_s` behind it can hold."""
    return max(0.0, -lag_s), min(source_features.duration_s, print_features.duration_s - lag_s)


def read_stretches(
    pair: Pair,
    lag_s: float,
    radius_s: float,
    *,
    count: int = COUNT,
    length_s: float = SEGMENT_S,
    between_s: tuple[float, float] | None = None,
) -> list[Stretch]:
    """The loudest stretches, spread over the overlap, or over what of it lies between two times of the source; none where
    nothing overlaps."""
    source_sound, print_sound = pair.source_sound, pair.print_sound
    source_features, print_features = pair.source_features, pair.print_features
    first, last = overlap_s(source_features, print_features, lag_s)
    if between_s is not None:
        first, last = max(first, between_s[0]), min(last, between_s[1])
    length_s = min(length_s, last - first)
    if length_s * print_features.sample_rate < 64:
        return []
    rate = print_features.sample_rate
    length, radius = round(length_s * rate), round(radius_s * rate)
    starts = _starts(source_features, print_features, lag_s, first, last, length_s, count)
    stretches = []
    weights = _weights(source_features, starts, length_s)
    for start_s, weight in zip(starts, weights, strict=True):
        at = round(start_s * source_sound.sample_rate)
        exact_s = at / source_sound.sample_rate
        reference = resampled(source_sound, at, length, rate)
        print_at = round((exact_s + lag_s) * rate)
        window = mono(print_sound.read(print_at - radius, length + 2 * radius))
        stretches.append(
            Stretch(exact_s + length_s / 2, print_at - exact_s * rate, reference, window, weight)
        )
    return stretches


def _starts(
    source_features: Features,
    print_features: Features,
    lag_s: float,
    first: float,
    last: float,
    length_s: float,
    count: int,
) -> list[float]:
    """One start in each slot of the overlap, where source and print together are loudest."""
    slots = max(1, min(count, int((last - first) / (0.5 * length_s)) - 1))
    frames = max(1, round(length_s * FRAMES_PER_S))
    loud_source = _sliding(source_features.frames.summed(), frames)
    loud_print = _sliding(print_features.frames.summed(), frames)
    room = last - first - length_s
    starts = []
    for slot in range(slots):
        options = first + room * (slot + np.linspace(0, 1, 9)[:-1]) / slots
        a = loud_source[np.clip((options * FRAMES_PER_S).astype(int), 0, len(loud_source) - 1)]
        b = loud_print[np.clip(((options + lag_s) * FRAMES_PER_S).astype(int), 0, len(loud_print) - 1)]
        both = np.sqrt(a.astype(np.float64) * b)
        if both.max() > 0:
            starts.append(float(options[int(np.argmax(both))]))
    return starts


def _weights(features: Features, starts: list[float], length_s: float) -> list[float]:
    """By how much the bands rise at once, where they rise most within each stretch."""
    rises = rises_of(features)
    count = max(1, round(length_s * FRAMES_PER_S))
    firsts = [min(max(0, round(start_s * FRAMES_PER_S)), len(rises) - 1) for start_s in starts]
    highest = np.array([rises[first : first + count].max() for first in firsts]) + EVEN_RISE_DB
    return (highest / highest.max()).tolist() if len(highest) else []


def _sliding(power: NDArray[np.float32], width: int) -> NDArray[np.float64]:
    summed = np.concatenate(([0.0], np.cumsum(power, dtype=np.float64)))
    width = min(width, len(power))
    return summed[width:] - summed[:-width]


def mono(samples: Samples) -> Samples:
    """One channel of several: their mean, or the loudest where they cancel."""
    if samples.shape[1] == 1:
        return samples[:, 0]
    middle = samples.mean(axis=1)
    powers = np.einsum("ij,ij->j", samples, samples)
    if float(middle @ middle) < 0.1 * float(powers.max()):
        return np.ascontiguousarray(samples[:, int(np.argmax(powers))])
    return np.asarray(middle, dtype=np.float32)


def resampled(sound: Sound, at: int, length: int, rate: int) -> Samples:
    """One channel from a sample of the file on, so many at another rate."""
    if sound.sample_rate == rate:
        return mono(sound.read(at, length))
    margin = round(0.02 * sound.sample_rate)
    needed = int(np.ceil(length * sound.sample_rate / rate)) + 2 * margin
    samples = soxr.resample(mono(sound.read(at - margin, needed)), sound.sample_rate, rate, quality="HQ")
    exact = margin * rate / sound.sample_rate
    start = round(exact)
    return np.asarray(samples[start : start + length], dtype=np.float32)


def cross_spectra(stretches: list[Stretch], rate: int, kind: Kind) -> Segments:
    """Windows and transforms the stretches."""
    length, reach = len(stretches[0].source), len(stretches[0].printed)
    radius = (reach - length) // 2
    size = fast_length(reach)
    fade = max(1, round(_FADE * length))
    window = np.ones(length, dtype=np.float32)
    window[:fade] = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
    window[-fade:] = window[:fade][::-1]
    a = np.array([stretch.source for stretch in stretches])
    b = np.array([stretch.printed for stretch in stretches])
    if kind != "wave":
        a = np.abs(a)
    if kind == "envelope":
        b = np.abs(b)
    a -= a.mean(axis=1, keepdims=True)
    b -= b.mean(axis=1, keepdims=True)
    middle = b[:, radius : radius + length]
    gains_a, gains_b = _levelled(a), _levelled(middle)
    weights = np.array([stretch.weight for stretch in stretches], dtype=np.float32)
    roots = np.sqrt(weights)[:, None]
    gains_a, gains_b = gains_a * roots, gains_b * roots
    a *= window
    cross, print_spectra = rfft(a, size), rfft(b, size)
    del a, b, middle
    cross *= gains_a
    print_spectra *= gains_b
    source_power, print_power = _mean_power(cross), _mean_power(print_spectra)
    np.conj(cross, out=cross)
    cross *= print_spectra
    del print_spectra
    turns = np.arange(size // 2 + 1) * (2 * np.pi * radius / size)
    cross *= np.exp(1j * turns).astype(np.complex64)
    return Segments(
        rate=rate,
        size=size,
        radius=radius,
        times_s=np.array([stretch.time_s for stretch in stretches]),
        base=np.array([stretch.base for stretch in stretches]),
        cross=cross,
        source_power=source_power,
        print_power=print_power,
        cross_power=_mean_power(cross),
        weights=weights,
    )


def straightened(segments: Segments, lags: NDArray[np.float64]) -> Segments:
    """The same with each stretch of the print moved earlier by its lag, in samples, (M,)."""
    turns = lags[:, None] * (np.arange(segments.cross.shape[1]) * (2j * np.pi / segments.size))
    cross = segments.cross * np.exp(turns).astype(np.complex64)
    return replace(segments, cross=cross)


def _mean_power(spectra: NDArray[np.complex64]) -> NDArray[np.float32]:
    power = spectra.real**2
    power += spectra.imag**2
    return np.asarray(power.mean(axis=0), dtype=np.float32)


def _levelled(samples: Samples) -> Samples:
    """A gain per stretch that lets quiet stretches speak too, though not as loudly, and mere noise not at all."""
    power = np.einsum("ij,ij->i", samples, samples)[:, None]
    usual = np.float32(np.median(power) + 1e-12)
    return np.asarray(np.maximum(power, 0.1 * usual) ** np.float32(-0.35), dtype=np.float32)

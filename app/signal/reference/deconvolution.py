"""From a swept print to impulse responses: the linear one, and one for each order of harmonic.

Farina (AES preprint 5093, 2000; ISO 18233:2006 Annex B): dividing by the sweep's spectrum leaves the linear impulse
response at the arrival and that of harmonic n earlier by L·ln(n). Division and not the time-reversed sweep, as both agree
within the band and the division needs no correction of its 6 dB per octave.
"""

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from app.signal.reference.make import sweep_samples
from app.signal.reference.plan import ExponentialSweep

# Set by hand; not measured singly.
PRE_S = 0.05
LINEAR_PRE_S = 0.2
"""An order's response, and the linear one, is taken from this long before its arrival: band limits ring on both sides."""
LONGEST_S = 0.5
"""Of the response after its arrival: a cabinet and a room, not a hall."""
FADE_SHARE = 0.3
"""Of the length, at its end."""

Signal = NDArray[np.float64]
Spectrum = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Deconvolved:
    """`response` holds lag k at index k, negative lags from the end; in the band the spectrum is print over sweep."""

    sweep: ExponentialSweep
    rate: float
    response: Signal
    spectrum: Spectrum
    sweep_power: Signal

    @property
    def size(self) -> int:
        return len(self.response)


@dataclass(frozen=True, slots=True)
class OrderResponse:
    """The windowed response of one order: `powers[k]` = |H(k·bin_hz)|², against the amplitude that was sent.

    `window_energy` is the sum of the window's squares, so that noise of density S counts S·`window_energy`.
    """

    order: int
    bin_hz: float
    powers: Signal
    window_energy: float


def deconvolve(print_samples: Signal, sweep: ExponentialSweep, rate: float) -> Deconvolved:
    """Divides a print, that begins with the sweep or earlier, by the sweep. `rate` is the print's, by the clock of the
    signal that was sent."""
    sent = sweep_samples(sweep, rate)
    size = scipy.fft.next_fast_len(len(print_samples) + len(sent), real=True)
    spectrum = scipy.fft.rfft(sent, size)
    power = spectrum.real**2 + spectrum.imag**2
    hz = np.arange(len(power)) * rate / size
    weight = _band(hz, sweep)
    inside = weight > 0
    quotient = np.zeros(len(power), dtype=np.complex128)
    quotient[inside] = scipy.fft.rfft(print_samples, size)[inside] * np.conj(spectrum[inside]) / power[inside]
    quotient *= weight
    return Deconvolved(sweep, rate, scipy.fft.irfft(quotient, size), quotient, power)


def _band(hz: Signal, sweep: ExponentialSweep) -> Signal:
    """1 within the sweep's band, raised cosines (in octaves) at its edges."""
    octaves = np.log2(np.maximum(hz, 1e-3))
    low, high = np.log2(sweep.from_hz), np.log2(sweep.to_hz)
    rising = np.clip((octaves - low + 0.15) / 0.2, 0, 1)
    falling = np.clip((high - octaves) / 0.04, 0, 1)
    return np.asarray((0.5 - 0.5 * np.cos(np.pi * rising)) * (0.5 - 0.5 * np.cos(np.pi * falling)))


def order_response(deconvolved: Deconvolved, arrival: float, order: int) -> OrderResponse:
    """Cuts out the response of `order`, given the lag of the linear arrival in samples.

    The window ends before that of the order below begins, L·ln(n/(n-1)) later: a chain that rings on longer (a room, a
    spring, an echo) spills from each order into the next lower one.
    """
    sweep = deconvolved.sweep
    before_s = LINEAR_PRE_S if order == 1 else PRE_S
    length_s = LONGEST_S + before_s
    if order > 1:
        below_s = sweep.harmonic_advance_s(order) - sweep.harmonic_advance_s(order - 1)
        length_s = min(length_s, below_s + before_s - (LINEAR_PRE_S if order == 2 else PRE_S))
    length = int(length_s * deconvolved.rate)
    start = round(arrival - (sweep.harmonic_advance_s(order) + before_s) * deconvolved.rate)
    window = _window(length, round(before_s * deconvolved.rate))
    piece = np.take(deconvolved.response, np.arange(start, start + length), mode="wrap") * window
    size = scipy.fft.next_fast_len(max(length, round(deconvolved.rate)), real=True)
    spectrum = scipy.fft.rfft(piece, size)
    powers = spectrum.real**2 + spectrum.imag**2
    return OrderResponse(order, deconvolved.rate / size, powers, float(np.sum(window**2)))


def _window(length: int, before: int) -> Signal:
    """Flat, with a raised cosine on each side: over most of what lies before the arrival, and over the end."""
    window = np.ones(length)
    rise, fall = int(0.6 * before), int(FADE_SHARE * length)
    window[:rise] = 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)
    window[length - fall :] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fall) + 1) / fall)
    return window


def mean_power(response: OrderResponse, low_hz: float, high_hz: float) -> float:
    """Mean of |H|² between two frequencies, by share of the bins at the edges."""
    return mean_between(response.powers, response.bin_hz, low_hz, high_hz)


def mean_between(values: Signal, bin_hz: float, low_hz: float, high_hz: float) -> float:
    """Mean of a spectrum between two frequencies; bin k reaches from k-½ to k+½ spacings."""
    first, last = int(low_hz / bin_hz + 0.5), int(high_hz / bin_hz + 0.5)
    edges = (np.arange(first, last + 2) - 0.5) * bin_hz
    shares = np.clip(np.minimum(edges[1:], high_hz) - np.maximum(edges[:-1], low_hz), 0, None)
    return float(values[first : last + 1] @ shares[: len(values[first : last + 1])] / shares.sum())

"""Fundamental, harmonics and noise of a steady tone of known frequency."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

HIGHEST_ORDER = 10
"""Common practice for distortion figures; not every harmonic is heard so high."""
ROUNDING = 1e-8
"""-160 dBFS: below, single precision speaks."""
ABOVE_NOISE = 5.0
"""The amplitude of noise at one frequency is Rayleigh's: it exceeds five times its median once in 30 million times; the
margin is for the median itself being read from some fifty frequencies."""
FUNDAMENTAL_ABOVE_NOISE = 10.0
"""So that its level is known to a decibel."""
BETWEEN = (0.23, 0.3, 0.37, 0.63, 0.7, 0.77)
"""Where, between two harmonics, the noise is read: away from halves (an octave pedal)."""


@dataclass(frozen=True, slots=True)
class ToneHarmonics:
    """Peak amplitudes of orders 1 to at most 10, None where not surely above `noise`, the median amplitude that noise
    alone shows at one frequency."""

    amplitudes: tuple[float | None, ...]
    noise: float

    def level_db(self, order: int) -> float | None:
        """Of one harmonic against the fundamental."""
        if order > len(self.amplitudes):
            return None
        own, fundamental = self.amplitudes[order - 1], self.amplitudes[0]
        return None if own is None or fundamental is None else 20 * math.log10(own / fundamental)

    def thd_fundamental(self) -> float | None:
        """THD_F: root sum of squares of the harmonics over the fundamental (data-sheet practice); None where no
        harmonic rises above the noise."""
        harmonics = [own for own in self.amplitudes[1:] if own is not None]
        if self.amplitudes[0] is None or not harmonics:
            return None
        return math.sqrt(sum(own * own for own in harmonics)) / self.amplitudes[0]


def tone_harmonics(samples: NDArray[np.float64], tone_hz: float, rate: float) -> ToneHarmonics:
    """From (frames,) of a steady tone, by a Hann window of at least a dozen periods."""
    count = len(samples)
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(count) + 0.5) / count)
    weighted = samples * window
    time_s = np.arange(count) / rate
    orders = [order for order in range(1, HIGHEST_ORDER + 1) if order * tone_hz < 0.49 * rate]

    def amplitude(hz: float) -> float:
        return 2 * abs(complex(weighted @ np.exp(-2j * np.pi * hz * time_s))) / float(window.sum())

    spectrum = 2 * np.abs(scipy.fft.rfft(weighted)) / float(window.sum())
    between = [round((order + share) * tone_hz * count / rate) for order in orders[:-1] for share in BETWEEN]
    noise = float(np.median(spectrum[between])) if between else 0.0
    amplitudes = [amplitude(order * tone_hz) for order in orders]
    least = [FUNDAMENTAL_ABOVE_NOISE * noise, *(ABOVE_NOISE * noise for _ in orders[1:])]
    return ToneHarmonics(
        tuple(
            own if own > lowest + ROUNDING else None for own, lowest in zip(amplitudes, least, strict=True)
        ),
        noise,
    )

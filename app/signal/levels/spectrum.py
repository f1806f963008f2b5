"""One short-time spectrum of a file for all that needs one: bands, features, and a signal at 3.2 kHz.

Frames are 80 ms long and 40 ms apart at every sample rate, under a sine window, whose squares add up to one: the
energies of all frames add up to the energy of the signal, whatever its shape in time.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from app.signal.audio.reading import Samples
from app.signal.audio.transforms import irfft, rfft, scaled_rfft
from app.signal.levels.bands import band_matrix, band_mids_hz, skirt_matrix

FRAMES_PER_S = 25
"""Chosen: 80 ms resolve 12.5 Hz, which parts third octaves from 63 Hz up; not measured against others."""
HOPS_PER_BLOCK = 96
"""Nearly four seconds; a multiple of 16, as many frames as one vector of float32 transforms at once."""
LOW_BINS = 128
"""Derived: 128 bins of 12.5 Hz hold what lies below 1.6 kHz, so the signal runs at 3.2 kHz."""
LOW_FFT = 4096
"""1.28 s of that: 0.8 Hz a bin, a sixth of the lowest third octave (4.6 Hz at 20 Hz)."""
_CROSSOVER_HZ = 800.0
"""Bands up to here are taken from the long spectra. Chosen: above, a third octave (231 Hz) holds eighteen bins of the short
ones, which then blur no skirt."""
_TAPER_FROM, _TAPER_TO = 96, 126
"""From 1.2 kHz on the low signal fades out, and ends a little below its half rate, so that nothing folds back."""


def hop_samples(sample_rate: int) -> int:
    return max(2, round(sample_rate / FRAMES_PER_S))


class Frames:
    """Spectra of frames that begin at every hop, and their third-octave energies. It keeps nothing of what it is given."""

    def __init__(self, sample_rate: int) -> None:
        self.hop = hop_samples(sample_rate)
        self.mids = band_mids_hz(sample_rate)
        self.bin_hz = sample_rate / (2 * self.hop)
        self._bands = band_matrix(self.mids, self.hop + 1, self.bin_hz)
        self._window = np.sin((np.arange(2 * self.hop) + 0.5) * np.pi / (2 * self.hop)).astype(np.float32)

    def spectra(self, samples: Samples) -> NDArray[np.complex64]:
        """(hops - 1, bins) of whole hops of samples, divided by the frame's length."""
        return self.spectra_of(sliding_window_view(samples, 2 * self.hop)[:: self.hop])

    def spectra_of(self, frames: Samples) -> NDArray[np.complex64]:
        """(frames, bins) of frames (frames, 2·hop), wherever they were cut."""
        return np.asarray(scaled_rfft(frames * self._window), dtype=np.complex64)

    def powers(self, spectra: NDArray[np.complex64]) -> NDArray[np.float32]:
        """Mean squares, (frames, bins)."""
        power = spectra.real**2
        power += spectra.imag**2
        power *= np.float32(4)
        return power

    def energies(self, powers: NDArray[np.float32]) -> NDArray[np.float32]:
        """Mean squares between the bands' edges, (frames, bands)."""
        return np.asarray(powers @ self._bands)


class ShortTimeSpectrum:
    """Third-octave energies of one channel over time, and the signal below 1.2 kHz at `low_rate`."""

    def __init__(self, sample_rate: int) -> None:
        self.frames = Frames(sample_rate)
        self.low_rate = 2 * LOW_BINS * self.frames.bin_hz
        turn = (np.arange(LOW_BINS + 1) - _TAPER_FROM) / (_TAPER_TO - _TAPER_FROM)
        self._taper = (0.5 + 0.5 * np.cos(np.pi * np.clip(turn, 0, 1))).astype(np.float32)
        self._taper *= 2 * LOW_BINS
        self._low_window = np.sin((np.arange(2 * LOW_BINS) + 0.5) * np.pi / (2 * LOW_BINS)).astype(np.float32)
        self.power = np.zeros(self.frames.hop + 1)
        """Summed over all frames so far, (bins,)."""
        self._tail = np.zeros(self.frames.hop, dtype=np.float32)
        self._low_tail = np.zeros(LOW_BINS, dtype=np.float32)

    def feed(self, samples: Samples) -> tuple[NDArray[np.float32], Samples]:
        """The next whole hops of samples. Returns (hops, bands) mean squares per frame, and low-rate samples.

        Frame k is centred at sample k·hop; low-rate samples come out one hop late, so the first hop is dropped by
        whoever collects them.
        """
        spectra = self.frames.spectra(np.concatenate((self._tail, samples)))
        self._tail = samples[-self.frames.hop :].copy()
        low = spectra[:, : LOW_BINS + 1] * self._taper[: spectra.shape[1]]
        parts = irfft(low, 2 * LOW_BINS) * self._low_window
        parts[1:, :LOW_BINS] += parts[:-1, LOW_BINS:]
        parts[0, :LOW_BINS] += self._low_tail
        self._low_tail = parts[-1, LOW_BINS:].copy()
        powers = self.frames.powers(spectra)
        self.power += powers.sum(axis=0)
        return self.frames.energies(powers), parts[:, :LOW_BINS].reshape(-1)


class LowSpectrum:
    """Long-term energy of the lowest bands, from the low-rate signal with a resolution under 0.8 Hz."""

    def __init__(self, low_rate: float, mids: list[float]) -> None:
        self.count = sum(1 for mid in mids if mid < _CROSSOVER_HZ * 10**0.05)
        self.energy = np.zeros(self.count)
        self._skirts = skirt_matrix(mids[: self.count], LOW_FFT // 2 + 1, low_rate / LOW_FFT)
        self._window = np.sin((np.arange(LOW_FFT) + 0.5) * np.pi / LOW_FFT).astype(np.float32)
        self._pending = np.zeros(LOW_FFT // 2, dtype=np.float32)

    def feed(self, low: Samples) -> None:
        joined = np.concatenate((self._pending, low))
        half = LOW_FFT // 2
        if len(joined) < LOW_FFT:
            self._pending = joined
            return
        frames = sliding_window_view(joined, LOW_FFT)[::half]
        self._pending = joined[len(frames) * half :].copy()
        spectra = rfft(frames * self._window, LOW_FFT)
        power = (spectra.real**2 + spectra.imag**2).sum(axis=0, dtype=np.float64)
        self.energy += power @ self._skirts * (2 / LOW_FFT)

    def finish(self) -> NDArray[np.float64]:
        """Summed squares per band, in low-rate samples."""
        self.feed(np.zeros(LOW_FFT, dtype=np.float32))
        return self.energy

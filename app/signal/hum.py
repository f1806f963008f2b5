"""Mains hum: steady lines at 50 or 60 Hz and multiples, against their neighbours, in the quiet moments first.

A note may sit on a mains frequency, but it comes and goes; hum is always there. So a line counts only if it stands
above its neighbours in the quietest windows and keeps its level, within some decibels, in nearly all windows.
The ±1 % search range is that of EN 50160 for 10 s means; 60 Hz by analogy.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from app.signal.figures import Hum
from app.signal.reading import Samples

WINDOW_S = 4.0
HOP_S = 1.0
SHORTEST_S = 1.0
MAINS_HZ = (50.0, 60.0)
TOLERANCE = 0.01
HARMONICS = 10
QUIET_WINDOWS = 24
TRACKED_HZ = 202.0
MOST_TRACKS = 1024
"""Past this many windows every second one is dropped: what is asked of them is only how steady a line is."""
SILENCE = 1e-12
LINE_HALF_WIDTH_HZ = 0.6
NEIGHBOURS_HZ = (1.5, 6.0)
ALONE_HZ = 1.3
LEAST_SNR_DB = 10.0
ANCHOR_SNR_DB = 15.0
"""Of the first or second line: a loop that repeats exactly has steady lines too, but so have its neighbours."""
LOWEST_DBFS = -100.0
LASTING_QUANTILE = 0.25
"""Of each frequency over the quiet windows: notes come and go, so most windows are without any one of them."""


@dataclass(frozen=True, slots=True)
class _Window:
    power: float
    spectrum: NDArray[np.float32]


class HumSearch:
    """Collects spectra of the low-rate signal; the quietest ones whole, all of them up to 200 Hz."""

    def __init__(self, low_rate: float, duration_s: float) -> None:
        self._rate = low_rate
        self._length = round(min(WINDOW_S, max(duration_s, 0.01)) * low_rate)
        self._hop = max(1, round(HOP_S * low_rate))
        self._fft = 1 << (2 * self._length - 1).bit_length()
        turns = np.arange(self._length) / self._length
        self._window = (0.5 - 0.5 * np.cos(2 * np.pi * turns)).astype(np.float32)
        self._scale = 4 / (self._fft * float(np.sum(self._window**2, dtype=np.float64)))
        self._pending = np.zeros(0, dtype=np.float32)
        self._quiet: list[_Window] = []
        self._tracks: list[NDArray[np.float32]] = []
        self._track_every = 1
        self._windows = 0
        self._known = duration_s >= SHORTEST_S

    def feed(self, low: Samples) -> None:
        if not self._known:
            return
        self._pending = np.concatenate((self._pending, low))
        while len(self._pending) >= self._length:
            self._take(self._pending[: self._length])
            self._pending = self._pending[self._hop :]

    def _take(self, samples: Samples) -> None:
        total = float(np.mean(samples.astype(np.float64) ** 2))
        if total < SILENCE:
            return
        highest = self._bin(TOLERANCE * 2 + 1 + MAINS_HZ[1] * HARMONICS + NEIGHBOURS_HZ[1] + 10)
        spectrum = scipy.fft.rfft(samples * self._window, self._fft)[:highest]
        power = ((spectrum.real**2 + spectrum.imag**2) * np.float32(self._scale)).astype(np.float32)
        self._track(power[: self._bin(TRACKED_HZ)])
        self._quiet.append(_Window(total, power))
        if len(self._quiet) > QUIET_WINDOWS:
            self._quiet.remove(max(self._quiet, key=lambda window: window.power))

    def _track(self, power: NDArray[np.float32]) -> None:
        if self._windows % self._track_every == 0:
            self._tracks.append(power.copy())
            if len(self._tracks) > MOST_TRACKS:
                del self._tracks[1::2]
                self._track_every *= 2
        self._windows += 1

    def _bin(self, hz: float) -> int:
        return round(hz * self._fft / self._rate)

    def finish(self) -> Hum | None:
        """The hum found, or None; its level is the power sum of the lines found, AES17 scale."""
        if not self._tracks:
            return None
        windows = sorted(self._quiet, key=lambda window: window.power)
        quiet = windows[: max(1, min(QUIET_WINDOWS, self._windows // 2))]
        spectra = np.array([window.spectrum for window in quiet])
        lasting = np.asarray(np.quantile(spectra, LASTING_QUANTILE, axis=0), dtype=np.float32)
        usual = np.asarray(spectra.mean(axis=0), dtype=np.float32)
        tracks = np.array(self._tracks)
        found = [
            hum
            for spectrum in (usual, lasting)
            for mains in MAINS_HZ
            if (hum := self._lines(spectrum, tracks, mains)) is not None
        ]
        return max(found, key=lambda hum: (hum.confidence, hum.level_dbfs), default=None)

    def _lines(
        self, spectrum: NDArray[np.float32], tracks: NDArray[np.float32], mains_hz: float
    ) -> Hum | None:
        grid = mains_hz * np.linspace(1 - TOLERANCE, 1 + TOLERANCE, 101)
        fundamental = self._fundamental(spectrum, grid)
        lines, steady, anchored = [], [], False
        for k in range(1, HARMONICS + 1):
            snr = self._snr_db(spectrum, k * fundamental)
            if snr < LEAST_SNR_DB or not self._stands_alone(spectrum, k * fundamental):
                continue
            level = self._line_power(spectrum, k * fundamental)
            lines.append((k, snr, level))
            if k * fundamental < TRACKED_HZ - LINE_HALF_WIDTH_HZ - 1:
                over_time = self._line_power(tracks, k * fundamental)
                low, high = (float(value) for value in np.quantile(over_time, (0.1, 0.9)))
                steady.append(bool(low > level * 10**-0.4 and high < level * 10**0.5))
                anchored = anchored or (steady[-1] and k <= 2 and snr >= ANCHOR_SNR_DB)
        if not anchored:
            return None
        total = sum(level for _, _, level in lines)
        own = [k for k, _, _ in lines if (k * mains_hz) % 300]
        if not own:
            return None
        evidence = sum(min(snr, 25) - 8 for _, snr, _ in lines) / 10 + 2 * (
            sum(steady) - sum(not s for s in steady)
        )
        confidence = 1 / (1 + math.exp(-(evidence - 3)))
        if confidence < 0.5 or 2 * total < 10 ** (LOWEST_DBFS / 10):
            return None
        return Hum(fundamental, 10 * math.log10(2 * total), round(confidence, 3))

    def _fundamental(self, spectrum: NDArray[np.float32], grid: NDArray[np.float64]) -> float:
        """The frequency of whose multiples most stand out, each counting up to 20 dB; then the clearest one's peak."""
        orders = np.arange(1, 6)[:, None]
        at = orders * grid * (self._fft / self._rate)
        around = int(self._bin(NEIGHBOURS_HZ[1]))
        middles = np.round(at[:, len(grid) // 2]).astype(int)
        floors = np.array([np.median(spectrum[m - around : m + around]) for m in middles])[:, None] + 1e-30
        snr_db = 10 * np.log10(np.interp(at, np.arange(len(spectrum)), spectrum) / floors + 1e-9)
        best = int(np.argmax(np.clip(snr_db, 0, 20).sum(axis=0) + 0.01 * snr_db.sum(axis=0)))
        order = int(orders[int(np.argmax(snr_db[:, best])), 0])
        centre, half = self._bin(order * float(grid[best])), max(1, self._bin(0.1 * order))
        peak = centre - half + int(np.argmax(spectrum[centre - half : centre + half + 1]))
        before, here, after = np.log(spectrum[peak - 1 : peak + 2] + 1e-30)
        bend = before - 2 * here + after
        offset = float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend else 0.0
        exact = (peak + offset) * self._rate / self._fft / order
        return float(np.clip(exact, grid[0], grid[-1]))

    def _stands_alone(self, spectrum: NDArray[np.float32], hz: float) -> bool:
        """Whether nothing close by is as strong: the side of a note that is not quite the mains is no hum."""
        centre, half, reach = self._bin(hz), max(1, self._bin(0.15)), self._bin(ALONE_HZ)
        around = spectrum[centre - reach : centre + reach + 1]
        peak = spectrum[centre - half : centre + half + 1].max()
        return bool(peak >= around.max())

    def _snr_db(self, spectrum: NDArray[np.float32], hz: float) -> float:
        near, far = (self._bin(width) for width in NEIGHBOURS_HZ)
        centre, half = self._bin(hz), max(1, self._bin(0.15))
        peak = float(spectrum[centre - half : centre + half + 1].max())
        around = np.concatenate(
            (spectrum[max(0, centre - far) : centre - near], spectrum[centre + near : centre + far])
        )
        return 10 * math.log10((peak + 1e-30) / (float(np.median(around)) + 1e-30))

    def _line_power(self, spectrum: NDArray[np.float32], hz: float) -> NDArray[np.float64]:
        """Mean square of a line: its bins summed, less what the neighbours would put there."""
        centre, half = self._bin(hz), self._bin(LINE_HALF_WIDTH_HZ)
        near, far = (self._bin(width) for width in NEIGHBOURS_HZ)
        line = spectrum[..., centre - half : centre + half + 1].sum(axis=-1, dtype=np.float64)
        around = np.concatenate(
            (spectrum[..., centre - far : centre - near], spectrum[..., centre + near : centre + far]),
            axis=-1,
        )
        noise = np.median(around, axis=-1) * (2 * half + 1)
        return np.asarray(np.maximum(line - noise, 0.0) / 2, dtype=np.float64)

"""Band energies over time, kept in two bytes each: a long file has millions of them.

A code is a level in steps of 0.005 dB from -160 dB (re full scale, squared) up, so what is read back is within
0.0025 dB; 0 is nothing at all.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

# Derived: 65,535 codes of a two-hundredth of a decibel from below what single precision holds beside full scale (-150 dB) reach
# to +167 dB.
CODES_PER_DB = 200
LOWEST_DB = -160.0

_FRAMES_AT_ONCE = 8192  # for memory alone: no result depends on it

Codes = NDArray[np.uint16]


def coded(energies: NDArray[np.float32]) -> Codes:
    """Codes of mean squares of any shape."""
    with np.errstate(divide="ignore"):
        steps = np.log10(energies)
    steps *= 10 * CODES_PER_DB
    steps -= LOWEST_DB * CODES_PER_DB
    return np.rint(np.clip(steps, 0, 65535, out=steps), out=steps).astype(np.uint16)


@dataclass(frozen=True, slots=True)
class BandFrames:
    """Band energies over time, (frames, bands)."""

    codes: Codes

    def __len__(self) -> int:
        return len(self.codes)

    def part(self, frames: slice) -> NDArray[np.float32]:
        """Mean squares of some frames, (frames, bands)."""
        return _energies()[self.codes[frames]]

    def bands(self, chosen: NDArray[np.int64]) -> NDArray[np.float32]:
        """Mean squares of some bands over all frames, (bands, frames)."""
        return _energies()[np.ascontiguousarray(self.codes[:, chosen].T)]

    def chosen(self, frames: NDArray[np.int64]) -> NDArray[np.float32]:
        """Mean squares of single frames, (frames, bands)."""
        return _energies()[self.codes[frames]]

    def mean(self) -> NDArray[np.float64]:
        """Mean squares of all frames, (bands,)."""
        total = np.zeros(self.codes.shape[1])
        for first in range(0, len(self.codes), _FRAMES_AT_ONCE):
            total += _energies()[self.codes[first : first + _FRAMES_AT_ONCE]].sum(axis=0, dtype=np.float64)
        return total / max(1, len(self.codes))

    def summed(self, bands: slice = slice(None)) -> NDArray[np.float32]:
        """Mean squares of all bands, or of neighbouring ones, together, (frames,)."""
        total = np.empty(len(self.codes), dtype=np.float32)
        for first in range(0, len(total), _FRAMES_AT_ONCE):
            some = slice(first, first + _FRAMES_AT_ONCE)
            _energies()[self.codes[some, bands]].sum(axis=1, out=total[some])
        return total


@cache
def _energies() -> NDArray[np.float32]:
    """The mean square of every code."""
    levels_db = np.arange(65536) / CODES_PER_DB + LOWEST_DB
    energies = (10 ** (levels_db / 10)).astype(np.float32)
    energies[0] = 0
    return energies

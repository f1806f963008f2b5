"""One-third-octave bands of IEC 61260-1 (base ten), from power spectra.

Method: a band's level is the sum of the power spectrum under the skirts of a filter of IEC 61260-1 class 1, as a filter
bank would read it: where a spectrum falls steeply, or holds a tone near an edge, the skirts hold most of the band. What
is compared over time is shared between sharp edges instead, so that neighbouring bands say different things.
"""

import math

import numpy as np
from numpy.typing import NDArray

from app.signal.audio.frames import BandFrames
from app.signal.figures import BandLevel
from app.signal.levels.third_octaves import FIRST_INDEX, NOMINAL_HZ, edges_hz, mid_hz

RELATIVE_BANDWIDTH = 10**0.05 - 10**-0.05
"""Derived: between the edges of a third of a base-ten octave (IEC 61260-1:2014)."""
SKIRT_ORDER = 3
"""Of the low-pass filter that the band-pass is made of: the least whose skirts lie within class 1."""
LEAST_BANDWIDTH_TIME = 1.0
"""Below B·T = 1 a band's level is no estimate of anything."""
SURE_BANDWIDTH_TIME = 19.0
"""From here on the random error of a noise band, 4.34/√(B·T) dB, is within 1 dB (Bendat and Piersol)."""

QUIET_SHARE, FEWEST_FRAMES = 0.02, 8
"""So many of a file's frames of 40 ms, the quietest that hold anything, are taken for rest; a third of a second at least."""
RESTING_DB = 25.0
"""How far these lie below the average, at least, as where two prints are matched."""
SILENCE = 1e-14
"""In power: -140 dBFS, a digital nothing."""


def band_mids_hz(sample_rate: float) -> list[float]:
    """The mid-bands from 20 Hz to 20 kHz that lie wholly below half the sample rate."""
    mids = [mid_hz(FIRST_INDEX + n) for n in range(len(NOMINAL_HZ))]
    return [mid for mid in mids if edges_hz(mid)[1] <= sample_rate / 2]


def band_matrix(mids: list[float], bins: int, bin_hz: float) -> NDArray[np.float32]:
    """Shares of each spectrum bin in each band, shape (bins, bands); bin k reaches from k-½ to k+½ spacings."""
    lower = (np.arange(bins) - 0.5) * bin_hz
    shares = np.zeros((bins, len(mids)), dtype=np.float32)
    for band, mid in enumerate(mids):
        low, high = edges_hz(mid)
        overlap = np.minimum(lower + bin_hz, high) - np.maximum(lower, low)
        shares[:, band] = np.clip(overlap / bin_hz, 0, 1)
    return shares


def skirt_matrix(mids: list[float], bins: int, bin_hz: float) -> NDArray[np.float64]:
    """Power gains of each band's filter at each spectrum bin, shape (bins, bands).

    Butterworth band-pass filters of six poles, 0 dB in the middle and -3 dB at the exact edges, the usual filter of class 1.
    They overlap: of noise each reads 0.2 dB more than lies between its edges, and so do all together.
    """
    hz = np.maximum(np.arange(bins) * bin_hz, 1e-3)[:, None]
    middle = np.array(mids)[None, :]
    turned = (hz / middle - middle / hz) / RELATIVE_BANDWIDTH
    return np.asarray(1 / (1 + turned ** (2 * SKIRT_ORDER)))


def band_levels(
    mids: list[float],
    mean_squares: NDArray[np.float64],
    duration_s: float,
    resting: NDArray[np.float64] | None = None,
) -> tuple[BandLevel, ...]:
    """Levels from mean squares per band; None where there is nothing, or the material is too short to tell. `resting` is
    the share of each band's that is there at rest."""
    shares = [0.0] * len(mids) if resting is None else resting.tolist()
    levels = []
    for nominal, mid, power, share in zip(NOMINAL_HZ, mids, mean_squares.tolist(), shares, strict=False):
        known = power > 1e-20 and duration_s * mid * RELATIVE_BANDWIDTH >= LEAST_BANDWIDTH_TIME
        level = 10 * math.log10(power) if known else None
        floor = None if level is None or share <= 0 else level + 10 * math.log10(share)
        levels.append(BandLevel(nominal, mid, level, floor))
    return tuple(levels)


def share_at_rest(frames: BandFrames) -> NDArray[np.float64] | None:
    """Of each band, the share of its mean square that the quietest moments of a file hold; None where these lie less than
    RESTING_DB below the average, for then somebody plays in them, too."""
    together = frames.summed()
    sounding = np.flatnonzero(together > SILENCE)
    if len(sounding) < FEWEST_FRAMES:
        return None
    fewest = max(FEWEST_FRAMES, round(QUIET_SHARE * len(sounding)))
    quietest = sounding[np.argsort(together[sounding])[:fewest]]
    at_rest = frames.chosen(quietest).mean(axis=0, dtype=np.float64)
    whole = frames.mean()
    if at_rest.sum() * 10 ** (RESTING_DB / 10) > whole.sum():
        return None
    return np.asarray(np.minimum(at_rest / np.maximum(whole, 1e-30), 1.0), dtype=np.float64)


def shortness_note(mids: list[float], duration_s: float) -> str | None:
    """A sentence where the lowest bands cannot be trusted for want of time."""
    unsure = [mid for mid in mids if duration_s * mid * RELATIVE_BANDWIDTH < SURE_BANDWIDTH_TIME]
    if not unsure:
        return None
    nominal = NOMINAL_HZ[len(unsure) - 1]
    return (
        f"With {duration_s:.1f} s of audio, the bands up to {nominal:g} Hz are uncertain by more than 1 dB; "
        "those that cannot be known at all are left out."
    )

"""Fine alignment: delay to a fraction of a sample, drift and polarity from whitened correlations of many stretches.

The delay meant is the arrival: where the chain's linear impulse response peaks. Whitening finds it, as it takes the
source's own colour out (generalised cross-correlation; Knapp and Carter 1976), and weighting by coherence leaves
out frequencies that the chain does not pass or buries in products of its own.
"""

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from app.signal.segments import Segments

POOL = 16
LARGEST_DRIFT_PPM = 300.0
AGREEMENT_SAMPLES = 3.0
_UPSAMPLING = 32
_HALF_TAPS = 16


@dataclass(frozen=True, slots=True)
class FineFit:
    """`delay` and `drift` give the print's lag at source time t as delay + drift·t·rate, in print samples."""

    delay: float
    drift: float
    sign: int
    height: float
    """Of the peak, in standard deviations of the correlation elsewhere."""
    second: float
    """The next highest peak away from it, as a share of it."""
    opposite: float
    """The highest value of the other sign near the peak, as a share of it."""
    agreeing: float
    """Share of the stretches that find the same delay on their own."""
    spread: float
    """Median distance of the stretches' own delays from the line, in samples."""
    coherence: float


def fit(segments: Segments) -> FineFit:
    """The best line through the stretches' delays."""
    weights = _whitening(segments)
    correlations = _normalised(segments.correlate(weights))
    times = segments.times_s - segments.times_s.mean()
    offset, drift = _straight_line(segments, correlations, times)
    for _ in range(2):
        predicted = offset + drift * times * segments.rate - (segments.base - segments.base.mean())
        weights, coherence = _coherent_weights(segments, predicted)
        correlations = _normalised(segments.correlate(weights))
        offset, drift = _refine(segments, correlations, times, offset, drift)
    predicted = offset + drift * times * segments.rate - (segments.base - segments.base.mean())
    together = _summed(segments, weights, predicted)
    return _judge(segments, correlations, together, predicted, times, offset, drift, coherence)


def _whitening(segments: Segments) -> NDArray[np.float32]:
    a = segments.source_power + 1e-6 * segments.source_power.max()
    b = segments.print_power + 1e-6 * segments.print_power.max()
    return np.asarray(1 / np.sqrt(a * b + 1e-30), dtype=np.float32)


def _coherent_weights(
    segments: Segments, predicted: NDArray[np.float64]
) -> tuple[NDArray[np.float32], float]:
    """Whitening times what the coherence says each frequency is worth; and the mean coherence, bias removed."""
    count = len(segments.times_s)
    turns = np.arange(segments.cross.shape[1]) * (2 * np.pi / segments.size)
    aligned = segments.cross * np.exp(1j * predicted[:, None] * turns).astype(np.complex64)
    mean = aligned.mean(axis=0)
    width = max(3, segments.size // 800)
    power = _smooth(segments.source_power * segments.print_power, width)
    coherence = _smooth(np.abs(mean) ** 2, width) / (power + 1e-30)
    coherence = np.clip((coherence - 1 / count) / (1 - 1 / count + 1e-9), 0, 0.98)
    weight = np.sqrt(coherence) / (1 - coherence)
    energy = segments.source_power / (segments.source_power + 1e-7 * segments.source_power.max() + 1e-30)
    return np.asarray(_whitening(segments) * weight * energy, dtype=np.float32), float(coherence.mean())


def _smooth(values: NDArray[np.float32], width: int) -> NDArray[np.float64]:
    summed = np.concatenate(([0.0], np.cumsum(values, dtype=np.float64)))
    index = np.arange(len(values))
    low, high = np.maximum(index - width // 2, 0), np.minimum(index + width // 2 + 1, len(values))
    return np.asarray((summed[high] - summed[low]) / (high - low), dtype=np.float64)


def _normalised(correlations: NDArray[np.float32]) -> NDArray[np.float32]:
    rms = np.sqrt(np.einsum("ij,ij->i", correlations, correlations) / correlations.shape[1])
    return np.asarray(correlations / (rms[:, None] + np.float32(1e-20)), dtype=np.float32)


def _straight_line(
    segments: Segments, correlations: NDArray[np.float32], times: NDArray[np.float64]
) -> tuple[float, float]:
    """Offset and drift of the line along which the stretches' correlations are largest together."""
    shifts = np.round(segments.base - segments.base.mean()).astype(int)
    bins = correlations.shape[1] // POOL
    pooled = np.abs(correlations[:, : bins * POOL]).reshape(len(times), bins, POOL).max(axis=2)
    pooled = np.clip(pooled - np.median(pooled, axis=1, keepdims=True), 0, 12)
    span = float(np.ptp(times)) * segments.rate
    steps = 0 if span == 0 else int(min(LARGEST_DRIFT_PPM * 1e-6 * span, segments.radius) / POOL * 2)
    best = (-1.0, 0.0, 0.0)
    for step in range(-steps, steps + 1):
        drift = step * POOL / span if span else 0.0
        moves = np.round((drift * times * segments.rate - shifts) / POOL).astype(int)
        total = np.zeros(bins)
        for row, move in zip(pooled, moves.tolist(), strict=True):
            if move >= 0:
                total[: bins - move] += row[move:]
            else:
                total[-move:] += row[:move]
        favour = 1.1 if step == 0 else 1.0
        peak = int(np.argmax(total))
        if total[peak] * favour > best[0]:
            best = (float(total[peak]) * favour, peak * POOL + POOL / 2 - segments.radius, drift)
    return best[1], best[2]


def _refine(
    segments: Segments,
    correlations: NDArray[np.float32],
    times: NDArray[np.float64],
    offset: float,
    drift: float,
) -> tuple[float, float]:
    """Local peaks near the line, then a robust line through them; keeps to what most stretches say."""
    base = segments.base - segments.base.mean()
    for reach in (48, 12):
        predicted = offset + drift * times * segments.rate - base
        peaks, heights = _peaks_near(segments, correlations, predicted, reach)
        delays = peaks + base
        keep = heights > max(3.0, 0.3 * float(np.median(heights)))
        if keep.sum() < 3:
            keep = heights >= np.sort(heights)[-min(3, len(heights))]
        offset, drift = _robust_line(times[keep] * segments.rate, delays[keep], heights[keep], drift)
    return offset, drift


def _peaks_near(
    segments: Segments, correlations: NDArray[np.float32], predicted: NDArray[np.float64], reach: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Position and height of the largest absolute value within ±reach of each prediction, interpolated."""
    peaks, heights = np.empty(len(predicted)), np.empty(len(predicted))
    for m, at in enumerate(predicted.tolist()):
        centre = round(at) + segments.radius
        low = max(0, centre - reach)
        part = np.abs(correlations[m, low : centre + reach + 1])
        if not len(part):
            peaks[m], heights[m] = at, 0.0
            continue
        position, height = interpolated_peak(correlations[m], low + int(np.argmax(part)))
        peaks[m], heights[m] = position - segments.radius, abs(height)
    return peaks, heights


def interpolated_peak(values: NDArray[np.float32], index: int) -> tuple[float, float]:
    """Position and value of the extreme near `index`: 32 times oversampled, then a parabola."""
    low, high = index - _HALF_TAPS, index + _HALF_TAPS + 1
    if low < 0 or high > len(values):
        return float(index), float(values[index])
    fine = _FINE @ values[low:high].astype(np.float64)
    peak = int(np.argmax(np.abs(fine)))
    offset = 0.0
    if 0 < peak < len(fine) - 1:
        before, here, after = fine[peak - 1 : peak + 2]
        bend = before - 2 * here + after
        offset = 0.5 * (before - after) / bend if bend else 0.0
    return index + (peak + offset) / _UPSAMPLING - 1, float(fine[peak])


def _interpolator() -> NDArray[np.float64]:
    """Windowed-sinc values at 1/32 sample from -1 to +1 around the middle of 2·16 + 1 samples."""
    at = np.arange(-_UPSAMPLING, _UPSAMPLING + 1)[:, None] / _UPSAMPLING
    distance = at - np.arange(-_HALF_TAPS, _HALF_TAPS + 1)[None, :]
    inside = np.sqrt(np.maximum(0, 1 - (distance / (_HALF_TAPS + 1)) ** 2))
    return np.asarray(np.sinc(distance) * np.i0(6.0 * inside) / np.i0(6.0), dtype=np.float64)


_FINE = _interpolator()


def _robust_line(
    at: NDArray[np.float64], delays: NDArray[np.float64], heights: NDArray[np.float64], drift: float
) -> tuple[float, float]:
    """Weighted line by iteratively re-weighted least squares (Cauchy weights), started at the median."""
    slope = drift
    offset = float(np.median(delays - slope * at))
    if len(at) < 3 or float(np.ptp(at)) == 0:
        return offset, slope
    for _ in range(12):
        residuals = delays - offset - slope * at
        scale = max(0.05, 1.4826 * float(np.median(np.abs(residuals))))
        weights = heights / (1 + (residuals / (2 * scale)) ** 2)
        total = weights.sum()
        centre = float((weights * at).sum() / total)
        middle = float((weights * delays).sum() / total)
        slope = float(
            (weights * (at - centre) * (delays - middle)).sum() / (weights * (at - centre) ** 2).sum()
        )
        offset = middle - slope * centre
    return offset, slope


def _summed(
    segments: Segments, weights: NDArray[np.float32], predicted: NDArray[np.float64]
) -> NDArray[np.float32]:
    """The stretches' correlations laid over one another along the line, lag 0 in the middle."""
    turns = np.arange(segments.cross.shape[1]) * (2 * np.pi / segments.size)
    aligned = segments.cross * np.exp(1j * predicted[:, None] * turns).astype(np.complex64)
    full = scipy.fft.irfft(aligned.mean(axis=0) * weights, segments.size)
    return np.concatenate((full[-segments.radius :], full[: segments.radius + 1]))


def _judge(
    segments: Segments,
    correlations: NDArray[np.float32],
    together: NDArray[np.float32],
    predicted: NDArray[np.float64],
    times: NDArray[np.float64],
    offset: float,
    drift: float,
    coherence: float,
) -> FineFit:
    middle = segments.radius
    near = round(0.001 * segments.rate)
    around = together[middle - near : middle + near + 1]
    index = middle - near + int(np.argmax(np.abs(around)))
    position, height = interpolated_peak(together, index)
    sign = 1 if height > 0 else -1
    away = np.abs(np.concatenate((together[: index - near], together[index + near + 1 :])))
    noise = 1.4826 * float(np.median(away)) + 1e-20
    other = float((-sign * together[max(0, index - near) : index + near + 1]).max())
    own = np.argmax(np.abs(correlations), axis=1) - segments.radius
    distance = np.abs(own - predicted - (position - middle))
    shift = position - middle
    base = segments.base.mean()
    return FineFit(
        delay=base + offset + shift - drift * segments.times_s.mean() * segments.rate,
        drift=drift,
        sign=sign,
        height=abs(height) / noise,
        second=float(away.max()) / abs(height) if height else 1.0,
        opposite=max(0.0, other) / abs(height) if height else 1.0,
        agreeing=float(np.mean(distance <= AGREEMENT_SAMPLES)),
        spread=float(np.median(distance)),
        coherence=coherence,
    )

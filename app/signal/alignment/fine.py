"""Fine alignment: delay to a fraction of a sample, drift and polarity from whitened correlations of many stretches.

The delay meant is the arrival: where the chain's linear impulse response peaks. Whitening finds it, as it takes the
source's own colour out (generalised cross-correlation; Knapp and Carter 1976), and weighting by coherence leaves
out frequencies that the chain does not pass or buries in products of its own.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.segments import Segments
from app.signal.audio.parabola import parabola_peak
from app.signal.audio.transforms import fast_length, irfft

LARGEST_DRIFT_PPM = 300.0
"""Common practice: two quartz clocks of ±100 ppm each, and half as much again."""

# Set by hand on earlier corpora; not measured singly.
LOWEST_HZ = 30.0
"""Below, a chain's coupling capacitors and rumble speak, not the part."""
LOW_TOP_HZ, TOP_HZ = 1000.0, 16000.0
"""Drift is first looked for below the one, where a peak is broad and the steps few, then below the other."""
MOST_DRIFTS = 240
"""For time: of a long file the first search reaches less far than LARGEST_DRIFT_PPM."""
FINE_STEPS = 4
"""To either side, when drift is looked for again with more of the band."""
PHASORS_A_LEAP = 128
"""For speed alone."""
CAUTION = 1.5
"""So many times what chance shows is taken from a coherence."""
NO_DRIFT_FAVOUR = 1.03
"""Two devices on one clock are the rule: a drift must make the stretches more coherent by this."""
SAME_DRIFT = 0.02e-6
"""Derived: over an hour of 48 kHz it moves the lag by 3.5 samples, over five minutes by 0.3."""


@dataclass(frozen=True, slots=True)
class FineFit:
    """The print's lag at source time t (seconds) is delay + drift·t·rate, in print samples."""

    delay: float
    drift: float
    sign: int
    height: float
    """Of the peak, in standard deviations of the correlation elsewhere."""
    second: float
    """The next highest peak away from it, as a share of it."""
    opposite: float
    """The highest value of the other sign within a millisecond, as a share of the peak."""
    agreement: float
    """Mean over the stretches of their own correlation at this lag, as a share of its highest anywhere."""
    steadiest: float
    """The same over the best half of the stretches that follow one another: an edited source agrees in parts."""
    coherence: float
    stretches: float
    """How many of equal weight would say as much."""
    shared: float
    """Share of the print's power that goes along with the source at this lag, through whatever filter."""


def best_fit(segments: Segments, *, drifting: bool = True) -> FineFit:
    """The lag and drift at which all stretches together correlate best.

    First over all drifts with the low frequencies; then, from the best of them and from no drift at all, with all, each
    time with the weights that the coherence at the best lag so far suggests; a coherence does not depend on the lag, so
    nothing is presumed. The stretches are most coherent at the true drift. Unless `drifting`, the clocks are taken to agree.
    """
    times = (segments.times_s - segments.times_s.mean()) * segments.rate
    base = segments.base - segments.base.mean()
    drifts = {0.0}
    if drifting:
        first = _search_drift(segments, _whitening(segments), times, base, LOW_TOP_HZ, None)
        refined = [_refined(segments, start, times, base) for start in {0.0, first}]
        drifts.update(refined if np.ptp(refined) > SAME_DRIFT else refined[:1])
    fits = []
    for drift in drifts:
        coherence = _coherence(segments, drift * times - base)
        fits.append(_judge(segments, coherence, drift, times, base))
    return max(fits, key=lambda fit: fit.coherence * (NO_DRIFT_FAVOUR if fit.drift == 0 else 1))


def _refined(
    segments: Segments, drift: float, times: NDArray[np.float64], base: NDArray[np.float64]
) -> float:
    for top_hz in (4000.0, TOP_HZ):
        weights = _coherent_weights(segments, _coherence(segments, drift * times - base))
        drift = _search_drift(segments, weights, times, base, top_hz, drift)
    return drift


def _whitening(segments: Segments) -> NDArray[np.float32]:
    a = segments.source_power + 1e-6 * segments.source_power.max()
    b = segments.print_power + 1e-6 * segments.print_power.max()
    weights = np.asarray(1 / np.sqrt(a * b + 1e-30), dtype=np.float32)
    weights[: int(np.ceil(LOWEST_HZ * segments.size / segments.rate))] = 0
    return weights


def _coherent_weights(segments: Segments, coherence: NDArray[np.float64]) -> NDArray[np.float32]:
    """Whitening times what the coherence says each frequency is worth."""
    weight = np.sqrt(coherence) / (1.2 - coherence)
    return np.asarray(_whitening(segments) * weight, dtype=np.float32)


def _coherence(segments: Segments, shifts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Magnitude-squared coherence over frequency, less what chance alone would show."""
    mean = _mean_turned(segments, shifts)
    width = max(3, segments.size // 800)
    power = _smooth(segments.source_power * segments.print_power, width) + 1e-30
    coherence = _smooth(np.abs(mean) ** 2, width) / power
    chance = _smooth(segments.cross_power, width) / power / len(segments.times_s)
    return np.clip((coherence - CAUTION * chance) / np.maximum(1 - chance, 1e-3), 1e-4, 0.98)


def _mean_turned(segments: Segments, shifts: NDArray[np.float64]) -> NDArray[np.complex64]:
    """The mean of the cross-spectra, each stretch moved earlier by its shift, in samples."""
    phasors = _phasors(shifts, segments.cross.shape[1], segments.size)
    total = np.einsum("ij,ij->j", segments.cross, phasors)
    return np.asarray(total / np.float32(len(shifts)), dtype=np.complex64)


def _phasors(shifts: NDArray[np.float64], bins: int, size: int) -> NDArray[np.complex64]:
    """exp(j·2π·k·shift/size), (shifts, bins): every bin is so many leaps of PHASORS_A_LEAP bins and some single ones."""
    turns = shifts[:, None] * (2j * np.pi / size)
    leaps = np.exp(turns * np.arange(0, bins, PHASORS_A_LEAP)).astype(np.complex64)
    single = np.exp(turns * np.arange(PHASORS_A_LEAP)).astype(np.complex64)
    phasors: NDArray[np.complex64] = leaps[:, :, None] * single[:, None, :]
    return phasors.reshape(len(shifts), -1)[:, :bins]


def _search_drift(
    segments: Segments,
    weights: NDArray[np.float32],
    times: NDArray[np.float64],
    base: NDArray[np.float64],
    top_hz: float,
    around: float | None,
) -> float:
    """The drift whose summed correlation has the highest peak, from frequencies below `top_hz` alone."""
    span = float(np.ptp(times))
    bins = min(segments.cross.shape[1], int(top_hz * segments.size / segments.rate) + 1)
    if span == 0 or len(times) < 3:
        return 0.0
    step = segments.rate / (np.pi * top_hz * span) * 0.7
    if around is None:
        reach = min(LARGEST_DRIFT_PPM * 1e-6, MOST_DRIFTS / 2 * step)
        count = int(reach / step)
        drifts = np.arange(-count, count + 1) * step
    else:
        drifts = around + np.arange(-FINE_STEPS, FINE_STEPS + 1) * step
    size = 4 * fast_length(bins)
    weighted = segments.cross[:, :bins] * weights[:bins]
    cross = weighted * _phasors(drifts[0] * times - base, bins, segments.size)
    turn = _phasors(step * times, bins, segments.size)
    summed = np.empty((len(drifts), bins), dtype=np.complex64)
    for index in range(len(drifts)):
        if index:
            cross *= turn
        np.sum(cross, axis=0, out=summed[index])
    curves = np.abs(irfft(summed, size))
    reach = int(np.ceil(segments.radius * size / segments.size))
    scores = np.maximum(curves[:, : reach + 1].max(axis=1), curves[:, -reach:].max(axis=1))
    best = int(np.argmax(scores))
    if around is None or not 0 < best < 2 * FINE_STEPS:
        return float(drifts[best])
    offset, _ = parabola_peak(*scores[best - 1 : best + 2].tolist())
    return float(drifts[best] + offset * step)


def _smooth(values: NDArray[np.float32], width: int) -> NDArray[np.float64]:
    summed = np.concatenate(([0.0], np.cumsum(values, dtype=np.float64)))
    index = np.arange(len(values))
    low, high = np.maximum(index - width // 2, 0), np.minimum(index + width // 2 + 1, len(values))
    return np.asarray((summed[high] - summed[low]) / (high - low), dtype=np.float64)


def exact_peak(spectrum: NDArray[np.complex64], size: int, near: int) -> tuple[float, float]:
    """Lag and value of the extreme of a correlation within a sample of lag `near`, straight from its spectrum.

    Evaluated at the lags themselves, which is exact where a parabola through samples is not; the last step is one.
    """
    turns = np.arange(len(spectrum)) * (2 * np.pi / size)

    def value(lag: float) -> float:
        return float(np.vdot(np.exp(-1j * turns * lag), spectrum).real) * 2 / size

    lag = float(near)
    for step in (0.5, 0.25, 0.125):
        here, before, after = value(lag), abs(value(lag - step)), abs(value(lag + step))
        if max(before, after) > abs(here):
            lag += step if after > before else -step
    step = 0.0625
    here = value(lag)
    offset, _ = parabola_peak(value(lag - step), here, value(lag + step))
    return lag + min(max(offset, -2.0), 2.0) * step, here


def _judge(
    segments: Segments,
    coherence: NDArray[np.float64],
    drift: float,
    times: NDArray[np.float64],
    base: NDArray[np.float64],
) -> FineFit:
    weights = _coherent_weights(segments, coherence)
    near = round(0.001 * segments.rate)
    spectrum = _mean_turned(segments, drift * times - base) * weights
    together = segments.in_reach(irfft(spectrum, segments.size))
    index = int(np.argmax(np.abs(together)))
    lag, height = exact_peak(spectrum, segments.size, index - segments.radius)
    sign = 1 if height > 0 else -1
    away = np.abs(np.concatenate((together[: max(0, index - near)], together[index + near + 1 :])))
    noise = 1.4826 * float(np.median(away)) + 1e-20
    opposite = float((-sign * together[max(0, index - near) : index + near + 1]).max())
    agreements = _agreements(segments, weights, lag + drift * times - base, sign)
    shares = segments.weights / segments.weights.sum()
    return FineFit(
        delay=float(segments.base.mean() + lag - drift * segments.times_s.mean() * segments.rate),
        drift=drift,
        sign=sign,
        height=abs(height) / noise,
        second=float(away.max()) / abs(height) if height else 1.0,
        opposite=max(0.0, opposite) / abs(height) if height else 1.0,
        agreement=float(agreements @ shares),
        steadiest=_of_best_half(agreements, shares),
        coherence=float(coherence.mean()),
        stretches=float(1 / (shares @ shares)),
        shared=float(coherence @ segments.print_power / (segments.print_power.sum() + 1e-20)),
    )


def _of_best_half(agreements: NDArray[np.float64], shares: NDArray[np.float32]) -> float:
    """Mean over those that follow one another and hold half of the weight, where that is highest."""
    begins = np.concatenate(([0.0], np.cumsum(shares, dtype=np.float64)))
    summed = np.concatenate(([0.0], np.cumsum(agreements * shares)))
    firsts = begins[begins <= 0.5 + 1e-9]
    within = np.interp(firsts + 0.5, begins, summed) - summed[: len(firsts)]
    return float(within.max()) / 0.5


def about_the_line(
    segments: Segments, fit: FineFit, reach: int, along: NDArray[np.float64] | None = None
) -> NDArray[np.float32]:
    """Each stretch's own correlation at ±reach about the common line, its highest value being 1. What each frequency is worth
    is told by the stretches laid along the line, or `along` lags beside it, (M,)."""
    expected = fit.delay + fit.drift * segments.times_s * segments.rate - segments.base
    due = expected if along is None else expected + along
    weights = _coherent_weights(segments, _coherence(segments, due))
    correlations = fit.sign * segments.correlate(weights)
    middle = np.round(expected).astype(int) + segments.radius
    columns = np.clip(middle[:, None] + np.arange(-reach, reach + 1), 0, correlations.shape[1] - 1)
    near = correlations[np.arange(len(middle))[:, None], columns]
    return np.asarray(near / (near.max(axis=1, keepdims=True) + 1e-20), dtype=np.float32)


def _agreements(
    segments: Segments, weights: NDArray[np.float32], lags: NDArray[np.float64], sign: int
) -> NDArray[np.float64]:
    """How near each stretch's own correlation comes to its highest at the common lag."""
    correlations = segments.correlate(weights)
    highest = np.abs(correlations).max(axis=1) + 1e-20
    middle = np.clip(np.round(lags).astype(int) + segments.radius, 2, correlations.shape[1] - 3)
    rows = np.arange(len(lags))[:, None]
    there = (sign * correlations[rows, middle[:, None] + np.arange(-2, 3)[None, :]]).max(axis=1)
    return np.asarray(there / highest, dtype=np.float64)

"""Loudness by ITU-R BS.1770-5, with the meters of EBU Tech 3341 and the range of EBU Tech 3342.

The K-weighting runs as a state-space filter over short blocks, so that the work is one matrix product; it is the
recursive filter itself, not an approximation. What is kept of the audio is one energy per 10 ms and channel.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.signal.audio.reading import Samples

# The analogue prototype of open meters; bilinear, it gives the tables of BS.1770 Annex 1 at 48 kHz (tests/standards).
SHELF_HZ, SHELF_GAIN_DB, SHELF_Q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
SHELF_MID_GAIN_EXPONENT = 0.4996667741545416
HIGH_PASS_HZ, HIGH_PASS_Q = 38.13547087602444, 0.5003270373238773

ABSOLUTE_GATE_LUFS = -70.0  # BS.1770 Annex 1; also EBU Tech 3342
RELATIVE_GATE_LU = -10.0  # BS.1770 Annex 1
RANGE_GATE_LU = -20.0  # EBU Tech 3342

SURROUND_WEIGHT = 1.41  # BS.1770 Annex 1, Table 3
STEPS_PER_S = 100
"""Ours: with a hop of 20 ms or less the maximum momentary loudness holds in EBU Tech 3341's case 13."""
MOMENTARY_STEPS = STEPS_PER_S * 4 // 10  # 0.4 s: BS.1770's gating block and EBU Tech 3341's momentary window
GATING_HOP_STEPS = MOMENTARY_STEPS // 4  # 75 % overlap: BS.1770 Annex 1
SHORT_TERM_STEPS = STEPS_PER_S * 3  # 3 s: EBU Tech 3341

Coefficients = tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Loudness:
    """None where the standard gives no value: under 400 ms, or nothing above the absolute gate."""

    integrated_lufs: float | None
    range_lu: float | None
    max_momentary_lufs: float | None
    max_momentary_100ms_lufs: float | None
    max_short_term_lufs: float | None


def k_weighting(sample_rate: float) -> tuple[Coefficients, Coefficients]:
    """The two stages as (b, a), from the analogue prototype that gives BS.1770's tables at 48 kHz."""
    k = math.tan(math.pi * SHELF_HZ / sample_rate)
    high = 10 ** (SHELF_GAIN_DB / 20)
    middle = high**SHELF_MID_GAIN_EXPONENT
    norm = 1 + k / SHELF_Q + k * k
    shelf_b = np.array(
        [high + middle * k / SHELF_Q + k * k, 2 * (k * k - high), high - middle * k / SHELF_Q + k * k]
    )
    shelf_a = np.array([norm, 2 * (k * k - 1), 1 - k / SHELF_Q + k * k])
    k = math.tan(math.pi * HIGH_PASS_HZ / sample_rate)
    norm_pass = 1 + k / HIGH_PASS_Q + k * k
    pass_a = np.array([norm_pass, 2 * (k * k - 1), 1 - k / HIGH_PASS_Q + k * k])
    return (shelf_b / norm, shelf_a / norm), (np.array([1.0, -2.0, 1.0]), pass_a / norm_pass)


def channel_weights(channels: int) -> NDArray[np.float64]:
    """BS.1770 Annex 1, Table 3: five channels are L R C Ls Rs, six are L R C LFE Ls Rs; others weigh 1."""
    if channels == 5:
        return np.array([1, 1, 1, SURROUND_WEIGHT, SURROUND_WEIGHT])
    if channels == 6:
        return np.array([1, 1, 1, 0, SURROUND_WEIGHT, SURROUND_WEIGHT])
    return np.ones(channels)


def step_samples(sample_rate: int) -> int:
    """The samples of one 10 ms step."""
    return max(1, round(sample_rate / STEPS_PER_S))


class KWeightedEnergy:
    """K-weighted energy of one channel in steps of 10 ms."""

    def __init__(self, sample_rate: int) -> None:
        self._step = step_samples(sample_rate)
        self._row = _row_length(self._step)
        self._filter = _BlockFilter(k_weighting(sample_rate), self._row)

    def feed(self, samples: Samples) -> NDArray[np.float64]:
        """Mean squares of the whole steps in `samples`, whose length should be a multiple of the step.

        The remainder of a last block is filtered no further: no loudness block may use it.
        """
        steps = len(samples) // self._step
        if steps == 0:
            return np.empty(0)
        rows = samples[: steps * self._step].reshape(-1, self._row)
        filtered = self._filter.filtered(rows).reshape(steps, self._step)
        return np.asarray(np.vecdot(filtered, filtered) / np.float64(self._step))


def measure_loudness(energies: NDArray[np.floating], weights: NDArray[np.float64]) -> Loudness:
    """The meters from K-weighted mean squares of 10 ms steps, shape (steps, channels)."""
    power = energies @ weights
    momentary = _sliding_mean(power, MOMENTARY_STEPS)
    integrated, max_momentary = _integrated(momentary[::GATING_HOP_STEPS]), _highest(momentary)
    max_at_10_hz = _highest(momentary[::GATING_HOP_STEPS])
    del momentary  # as large as all the rest for a long file
    short_term = _sliding_mean(power, SHORT_TERM_STEPS)
    return Loudness(
        integrated_lufs=integrated,
        range_lu=_range(short_term[::GATING_HOP_STEPS]),
        max_momentary_lufs=max_momentary,
        max_momentary_100ms_lufs=max_at_10_hz,
        max_short_term_lufs=_highest(short_term),
    )


def short_term_lufs(energies: NDArray[np.floating], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Short-term loudness for every window start, 10 ms apart; -inf in silence."""
    power = _sliding_mean(energies @ weights, SHORT_TERM_STEPS)
    with np.errstate(divide="ignore"):
        levels = np.log10(power, out=power)
    levels *= 10
    levels -= 0.691
    return levels


def _lufs(power: float) -> float:
    return -0.691 + 10 * math.log10(power)


def _power(lufs: float) -> float:
    return float(10 ** ((lufs + 0.691) / 10))


def _sliding_mean(power: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    if len(power) < width:
        return np.empty(0)
    summed = np.zeros(len(power) + 1)
    np.cumsum(power, out=summed[1:])
    mean = summed[width:] - summed[:-width]
    np.maximum(mean, 0.0, out=mean)
    mean /= width
    return mean


def _integrated(blocks: NDArray[np.float64]) -> float | None:
    loud = blocks[blocks > _power(ABSOLUTE_GATE_LUFS)]
    if not len(loud):
        return None
    kept = loud[loud > loud.mean() * 10 ** (RELATIVE_GATE_LU / 10)]
    return _lufs(float(kept.mean()))


def _range(short_term: NDArray[np.float64]) -> float | None:
    loud = short_term[short_term > _power(ABSOLUTE_GATE_LUFS)]
    if not len(loud):
        return None
    kept = np.sort(loud[loud >= loud.mean() * 10 ** (RANGE_GATE_LU / 10)])
    low, high = kept[[round((len(kept) - 1) * part) for part in (0.10, 0.95)]]
    return 10 * math.log10(high / low)


def _highest(powers: NDArray[np.float64]) -> float | None:
    highest = float(powers.max(initial=0.0))
    return _lufs(highest) if highest > _power(-120.0) else None


def _row_length(step: int) -> int:
    """A divisor of the step near 64, where the matrix product is quickest."""
    divisors = [n for n in range(1, step + 1) if step % n == 0]
    return min(divisors, key=lambda n: abs(math.log(n / 64)))


class _BlockFilter:
    """A cascade of biquads as a state-space filter whose step is a row of N samples.

    y = x T + s O and s' = s A + x B; the state's basis is chosen so that O has orthonormal rows, which keeps float32
    rounding of the state at the level of the samples' own.
    """

    def __init__(self, stages: tuple[Coefficients, ...], row: int) -> None:
        a, b, c, d = _state_space(stages)
        states = len(a)
        free = np.empty((states, row + 1))
        entry = np.empty((row, states))
        power = np.eye(states)
        for n in range(row + 1):
            free[:, n] = power @ c
            if n < row:
                entry[row - 1 - n] = b @ power
                power = power @ a
        response = np.concatenate(([d], b @ free))[:row]
        lag = np.arange(row)[None, :] - np.arange(row)[:, None]
        through = np.where(lag >= 0, response[np.maximum(lag, 0)], 0.0)
        basis = np.linalg.cholesky(_observability(a, c))
        to_old = np.linalg.inv(basis)
        self._row = row
        self._output = np.vstack([through, to_old @ free[:, :row]]).astype(np.float32)
        self._entry = (entry @ basis).astype(np.float32)
        powers = [to_old @ power @ basis]
        while np.abs(powers[-1]).max() > 1e-12 and len(powers) < 24:
            powers.append(powers[-1] @ powers[-1])
        self._advance = powers
        self._state = np.zeros(states)
        self._joined = np.empty((0, row + states), dtype=np.float32)
        self._filtered = np.empty((0, row), dtype=np.float32)

    def filtered(self, rows: Samples) -> Samples:
        """Filters (rows, N) samples; what is returned holds until the next call."""
        count = len(rows)
        if len(self._joined) < count:
            self._joined = np.empty((count, self._output.shape[0]), dtype=np.float32)
            self._filtered = np.empty((count, self._row), dtype=np.float32)
        joined, filtered = self._joined[:count], self._filtered[:count]
        joined[:, : self._row] = rows
        joined[:, self._row :] = self._states(rows)
        return np.matmul(joined, self._output, out=filtered)

    def _states(self, rows: Samples) -> NDArray[np.float64]:
        """The state before each row: a prefix sum of x B, each term carried forward by powers of A."""
        carried = np.empty((len(rows) + 1, len(self._state)))
        carried[0] = self._state
        np.matmul(rows, self._entry, out=carried[1:], casting="same_kind")
        reach = 1
        for advance in self._advance:
            if reach > len(rows):
                break
            carried[reach:] += carried[:-reach] @ advance
            reach *= 2
        self._state = carried[-1].copy()
        return carried[:-1]


def _state_space(
    stages: tuple[Coefficients, ...],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], float]:
    """A cascade of biquads in transposed direct form II as s' = s A + x b, y = s c + d x."""
    states = 2 * len(stages)
    a, b, c, d = np.zeros((states, states)), np.zeros(states), np.zeros(states), 1.0
    for index, ((b0, b1, b2), (_, a1, a2)) in enumerate(stages):
        first, second = 2 * index, 2 * index + 1
        into = np.array([b1 - a1 * b0, b2 - a2 * b0])
        a[:, first : second + 1] += np.outer(c, into)
        a[first, first] -= a1
        a[first, second] -= a2
        a[second, first] += 1
        b[first : second + 1] = d * into
        c = c * b0
        c[first] += 1
        d = d * b0
    return a, b, c, d


def _observability(a: NDArray[np.float64], c: NDArray[np.float64]) -> NDArray[np.float64]:
    """The sum of A^n c cᵀ A^nᵀ over all n, by doubling."""
    total, power = np.outer(c, c), a
    for _ in range(24):
        total = total + power @ total @ power.T
        power = power @ power
    return total

"""Where a reference signal stands in a print that may be longer, and whether its clock is that of the print."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from app.signal.alignment.fine import LARGEST_DRIFT_PPM, exact_peak
from app.signal.alignment.segments import mono
from app.signal.audio.reading import Sound
from app.signal.reference.make import reference_signal
from app.signal.reference.plan import ReferencePlan

# Set by hand; not measured singly.
STEPS_PER_S = 100
"""Of the level: ten in a mark."""
RANGE_DB = 50.0
"""Below the loudest; what lies lower is silence."""
LEAST_LIKENESS = 0.6
"""As a correlation coefficient: compressors flatten the steps, so it cannot be high."""
STEADY_LIKENESS = 0.9
"""Of one mark to the other; a chain that moves more gives no clock."""
MARK_MARGIN_S = 0.05
"""Before a mark, for a place that is known to a step or two."""
MARK_RING_S = 0.1
"""After it, for what rings on."""

Signal = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Clocks:
    """`drift_ppm` above 0: the print runs longer. None where the two marks came back too unlike to tell."""

    drift_ppm: float | None
    likeness: float


def envelope_db(sound: Sound) -> Signal:
    """Level in steps of 10 ms without their mean (a DC offset is no sound), dB, of the whole file; bounded memory. Raises
    UnreadableAudio."""
    step = max(1, round(sound.sample_rate / STEPS_PER_S))
    parts = []
    for _, block in sound.blocks(200 * step):
        samples = mono(block)
        samples = samples[: len(samples) // step * step].reshape(-1, step)
        parts.append(samples.astype(np.float64).var(axis=1))
    return np.asarray(10 * np.log10(np.concatenate([*parts, np.zeros(1)]) + 1e-15))


def find_start_s(levels_db: Signal, step_s: float, plan: ReferencePlan) -> float | None:
    """Where in the print the signal's time zero lies, to some 10 ms; None where nothing of the kind is heard.

    Compared are the rise and fall of the level with those of what was sent, from the first mark to the second, both
    within 50 dB of their loudest; gear squeezes them, but silence stays quieter than sound.
    """
    pattern = _pattern(plan, step_s)
    first = round(plan.marks[0].start_s / step_s)
    pattern = pattern[first : round((plan.marks[1].start_s + plan.marks[1].length_s + 0.1) / step_s)]
    loud = levels_db.max()
    heard = np.maximum(levels_db, max(loud - RANGE_DB, float(np.quantile(levels_db, 0.02))))
    if loud < -90 or np.ptp(heard) < 3:
        return None
    before = len(pattern) // 4
    heard = np.concatenate((np.full(before, heard.min()), heard, np.full(before, heard.min())))
    if len(heard) < len(pattern):
        return None
    likeness = _likeness(heard, pattern)
    best = int(np.argmax(likeness))
    if likeness[best] < LEAST_LIKENESS:
        return None
    return (best - before - first) * step_s


def _pattern(plan: ReferencePlan, step_s: float) -> Signal:
    """The level of what is sent, without its excerpt, in the print's steps."""
    rate = 4000.0
    sent = reference_signal(plan, sample_rate=rate).astype(np.float64)
    sent[round(plan.sweep.start_s * rate) : round(plan.tail.start_s * rate)] = 10 ** (
        plan.level_dbfs / 20
    ) / math.sqrt(2)
    step = round(rate * step_s)
    power = (sent[: len(sent) // step * step].reshape(-1, step) ** 2).mean(axis=1)
    level = 10 * np.log10(power + 1e-15)
    return np.asarray(np.maximum(level, level.max() - RANGE_DB), dtype=np.float64)


def _likeness(heard: Signal, pattern: Signal) -> Signal:
    """Correlation coefficient of the pattern with the stretch of `heard` that begins at each step."""
    away = pattern - pattern.mean()
    size = scipy.fft.next_fast_len(len(heard) + len(pattern), real=True)
    product = scipy.fft.irfft(scipy.fft.rfft(heard, size) * np.conj(scipy.fft.rfft(away, size)), size)
    windows = sliding_window_view(heard, len(pattern))
    spread = windows.std(axis=1) if len(windows) < 20_000 else _running_deviation(heard, len(pattern))
    scale = np.sqrt(float(away @ away) * len(pattern)) * spread + 1e-9
    return np.asarray(product[: len(spread)] / scale, dtype=np.float64)


def _running_deviation(values: Signal, width: int) -> Signal:
    summed = np.concatenate(([0.0], np.cumsum(values)))
    squared = np.concatenate(([0.0], np.cumsum(values**2)))
    mean = (summed[width:] - summed[:-width]) / width
    square = (squared[width:] - squared[:-width]) / width
    return np.asarray(np.sqrt(np.maximum(square - mean**2, 0.0)), dtype=np.float64)


def compare_clocks(print_samples: Signal, start: float, plan: ReferencePlan, rate: float) -> Clocks:
    """How much more or less lies between the two marks in the print than was sent; signal time zero is at about
    sample `start` of `taken`. The chain's own delay and colour count for nothing, as both marks have them."""
    first, second = (_mark_of(print_samples, start + mark.start_s * rate, plan, rate) for mark in plan.marks)
    if first is None or second is None:
        return Clocks(None, 0.0)
    count = len(first)
    size = scipy.fft.next_fast_len(2 * count, real=True)
    spectrum = np.conj(scipy.fft.rfft(first, size)) * scipy.fft.rfft(second, size)
    correlation = scipy.fft.irfft(spectrum, size)
    reach = math.ceil(LARGEST_DRIFT_PPM * 1e-6 * _apart_s(plan) * rate) + 2
    near = np.concatenate((correlation[-reach:], correlation[: reach + 1]))
    lag, height = exact_peak(spectrum.astype(np.complex64), size, int(np.argmax(near)) - reach)
    likeness = height / (math.sqrt(float(first @ first) * float(second @ second)) + 1e-20)
    likeness = min(1.0, max(0.0, likeness))
    apart = round(plan.marks[1].start_s * rate + start) - round(plan.marks[0].start_s * rate + start)
    exact = _apart_s(plan) * rate
    drift = (apart + lag - exact) / exact * 1e6
    return Clocks(drift if likeness >= STEADY_LIKENESS else None, likeness)


def _apart_s(plan: ReferencePlan) -> float:
    return plan.marks[1].start_s - plan.marks[0].start_s


def _mark_of(print_samples: Signal, at: float, plan: ReferencePlan, rate: float) -> Signal | None:
    """A mark as it came back, with what rings on."""
    start = round(at) - round(MARK_MARGIN_S * rate)
    length = round((plan.marks[0].length_s + MARK_MARGIN_S + MARK_RING_S) * rate)
    if start < 0 or start + length > len(print_samples):
        return None
    piece = print_samples[start : start + length]
    return np.asarray(piece - piece.mean(), dtype=np.float64)

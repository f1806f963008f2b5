"""Makes the reference signal that a plan describes (`app.signal.reference.plan`), at any sample rate.

Every part is a formula of time, so a print at another rate, or by another clock, is compared with the signal as that
rate and clock would have it.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from app.signal.alignment.segments import mono
from app.signal.audio.reading import Samples, Sound
from app.signal.reference.plan import ExponentialSweep, ReferencePlan, sweep_between

# Set by hand; not measured singly.
FADE_S = 0.01
"""Of tones and the excerpt: so that nothing clicks."""
SWEEP_FADE_IN_S, SWEEP_FADE_OUT_S = 0.1, 0.01
"""Two turns of 20 Hz; two hundred of 20 kHz."""
MARK_FROM_HZ, MARK_TO_HZ = 150.0, 4000.0
"""What every instrument's loudspeaker passes."""
MARK_FADE_S = 0.01

Signal = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Some bars of a source, one channel, at the rate of the signal they go into."""

    samples: Samples
    peak_dbfs: float | None


def sweep_samples(sweep: ExponentialSweep, sample_rate: float) -> Signal:
    """The sweep alone, (frames,), with its fades: 0.1 s in, 10 ms out, both at the edges of its band."""
    time_s = np.arange(round(sweep.length_s * sample_rate)) / sample_rate
    phase = 2 * np.pi * sweep.from_hz * sweep.rate_s * (np.exp(time_s / sweep.rate_s) - 1)
    level = 10 ** (sweep.level_dbfs / 20)
    return level * np.sin(phase) * _fades(time_s, sweep.length_s, SWEEP_FADE_IN_S, SWEEP_FADE_OUT_S)


def mark_samples(plan: ReferencePlan, sample_rate: float) -> Signal:
    """One of the two marks."""
    mark = sweep_between(MARK_FROM_HZ, MARK_TO_HZ, plan.marks[0].length_s)
    length_s = plan.marks[0].length_s
    time_s = np.arange(round(length_s * sample_rate)) / sample_rate
    phase = 2 * np.pi * mark.from_hz * mark.rate_s * (np.exp(time_s / mark.rate_s) - 1)
    return 10 ** (plan.level_dbfs / 20) * np.sin(phase) * _fades(time_s, length_s, MARK_FADE_S, MARK_FADE_S)


def reference_signal(
    plan: ReferencePlan, excerpt: Excerpt | None = None, *, sample_rate: float | None = None
) -> Samples:
    """The whole signal, mono, (frames,), float32; its highest sample is at the plan's level or that of the excerpt."""
    rate = plan.sample_rate if sample_rate is None else sample_rate
    out = np.zeros(round(plan.length_s * rate))
    for mark in plan.marks:
        _put(out, mark.start_s, mark_samples(plan, rate), rate)
    for step in plan.steps:
        time_s = np.arange(round(step.length_s * rate)) / rate
        tone = 10 ** (step.level_dbfs / 20) * np.sin(2 * np.pi * plan.tone_hz * time_s)
        _put(out, step.start_s, tone * _fades(time_s, step.length_s, FADE_S, FADE_S), rate)
    _put(out, plan.sweep.start_s, sweep_samples(plan.sweep, rate), rate)
    if plan.excerpt is not None and excerpt is not None:
        time_s = np.arange(len(excerpt.samples)) / rate
        _put(out, plan.excerpt.start_s, excerpt.samples * _fades(time_s, time_s[-1], FADE_S, FADE_S), rate)
    return out.astype(np.float32)


def read_excerpt(source: Path, plan: ReferencePlan) -> Excerpt | None:
    """The plan's excerpt of a source, at the level it has there. Raises UnreadableAudio, and ValueError, a sentence,
    where it lies beyond the source's end or would clip."""
    if plan.excerpt is None:
        return None
    with Sound(source) as sound:
        start = round(plan.excerpt_from_s * sound.sample_rate)
        if start >= sound.frames:
            raise ValueError("The excerpt begins after the source's end. Choose an earlier start.")
        frames = min(sound.frames - start, round(plan.excerpt.length_s * sound.sample_rate))
        samples = mono(sound.read(start, frames))
        if sound.sample_rate != plan.sample_rate:
            samples = soxr.resample(samples, sound.sample_rate, plan.sample_rate, quality="VHQ")
    wanted = round(plan.excerpt.length_s * plan.sample_rate)
    samples = np.asarray(samples[:wanted], dtype=np.float32)
    peak = float(np.abs(samples).max())
    if peak > 1:
        raise ValueError(
            "The excerpt goes beyond full scale and would clip. Choose another, or lower the source."
        )
    return Excerpt(samples, 20 * float(np.log10(peak)) if peak > 0 else None)


def write_reference_signal(to: Path | BinaryIO, plan: ReferencePlan, source: Path | None = None) -> None:
    """A mono WAV of 24 bits. Raises what `read_excerpt` raises, and OSError."""
    excerpt = None if source is None else read_excerpt(source, plan)
    soundfile.write(to, reference_signal(plan, excerpt), plan.sample_rate, format="WAV", subtype="PCM_24")


def _fades(time_s: Signal, length_s: float, in_s: float, out_s: float) -> Signal:
    """Raised cosines at both ends, 1 between."""
    rising = np.clip(time_s / in_s, 0, 1)
    falling = np.clip((length_s - time_s) / out_s, 0, 1)
    return (0.5 - 0.5 * np.cos(np.pi * rising)) * (0.5 - 0.5 * np.cos(np.pi * falling))


def _put(out: Signal, start_s: float, samples: Signal, rate: float) -> None:
    start = round(start_s * rate)
    out[start : start + len(samples)] += samples[: len(out) - start]

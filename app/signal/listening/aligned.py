"""A print on its source's time line: read, moved by its delay, and brought to the source's clock, block by block.

Where the rates agree and the delay is a whole number of samples, samples are copied as they are. A fraction of a
sample is moved by a windowed sinc; another rate, or a clock that drifts, by a polyphase resampler (libsoxr, its very
high quality), which also keeps what lies above the new half rate out.
"""

import math
from collections.abc import Iterator

import numpy as np
import scipy.signal
import soxr
from numpy.typing import NDArray

from app.signal.audio.reading import Samples, Sound, UnreadableAudio

HALF_TAPS, KAISER_BETA = 80, 9.0
"""A windowed sinc of 160 taps whose error stays below -90 dB of the signal up to 0.46 of the sample rate
(22 kHz at 48 kHz, 20.3 kHz at 44.1 kHz) for every fraction of a sample; tests hold it to that."""

PRE_ROLL = 4096
"""Output samples that are made and dropped before time zero, so that the resampler has settled by then."""

MIXED_DOWN = "The print has {channels} channels; their mean is heard."


def heard_channels(sound: Sound) -> int:
    """Mono and stereo are kept; more channels than two are mixed to one."""
    return sound.channels if sound.channels <= 2 else 1


def is_exact(sound: Sound, *, delay_samples: float, drift_ppm: float, target_rate: int) -> bool:
    """Whether aligning means copying samples."""
    return sound.sample_rate == target_rate and drift_ppm == 0 and float(delay_samples).is_integer()


def aligned_blocks(
    sound: Sound,
    *,
    delay_samples: float,
    drift_ppm: float,
    target_rate: int,
    frames: int,
    block_frames: int,
    mix_down: bool = True,
) -> Iterator[Samples]:
    """`frames` samples at `target_rate` from the source's time zero on, (block_frames, channels) at a time.

    Sample n is the print at its own sample `delay_samples` + n · (1 + drift) · print rate / target rate: the two
    figures are those of `AlignmentFigures`. Silence where the print holds nothing. More than two channels are mixed
    to one unless `mix_down` is False. Raises UnreadableAudio at a sample that is not a number.
    """
    channels = heard_channels(sound) if mix_down else sound.channels
    step = sound.sample_rate * (1 + drift_ppm * 1e-6) / target_rate
    if step == 1:
        yield from _moved(sound, delay_samples, frames, block_frames, channels)
        return
    resampler = soxr.ResampleStream(
        sound.sample_rate * (1 + drift_ppm * 1e-6),
        target_rate,
        channels,
        dtype="float32",
        quality="VHQ",
    )
    start = delay_samples - PRE_ROLL * step
    endless = math.ceil((frames + 2 * PRE_ROLL) * step) + round(sound.sample_rate)
    kept = np.empty((0, channels), dtype=np.float32)
    to_drop, done = PRE_ROLL, 0
    for block in _moved(sound, start, endless, round(block_frames * step), channels):
        made = resampler.resample_chunk(block)
        dropped = min(to_drop, len(made))
        to_drop -= dropped
        kept = np.concatenate((kept, made[dropped:]))
        while done < frames and len(kept) >= min(block_frames, frames - done):
            count = min(block_frames, frames - done)
            yield kept[:count]
            kept = kept[count:]
            done += count
        if done == frames:
            return
    raise AssertionError("the resampler kept back more than a second")


def fractional_delay(fraction: float) -> NDArray[np.float64]:
    """Taps h so that the sum over k of h[k] · x[n + k - (HALF_TAPS - 1)] is x at n + `fraction`, 0 ≤ fraction < 1."""
    at = np.arange(-HALF_TAPS + 1, HALF_TAPS + 1) - fraction
    window = np.i0(KAISER_BETA * np.sqrt(np.maximum(0, 1 - (at / HALF_TAPS) ** 2))) / np.i0(KAISER_BETA)
    taps = np.sinc(at) * window
    return np.asarray(taps / taps.sum(), dtype=np.float64)


def _moved(sound: Sound, start: float, frames: int, block_frames: int, channels: int) -> Iterator[Samples]:
    """The print from its sample `start`, which need not be a whole number, at its own rate."""
    whole = math.floor(start)
    fraction = start - whole
    taps = fractional_delay(fraction)[::-1, None].astype(np.float32) if fraction else None
    for done in range(0, frames, block_frames):
        count = min(block_frames, frames - done)
        if taps is None:
            yield _heard(sound, whole + done, count, channels)
            continue
        around = _heard(sound, whole + done - HALF_TAPS + 1, count + 2 * HALF_TAPS - 1, channels)
        if around.any():
            moved = scipy.signal.oaconvolve(around, taps, mode="valid", axes=0)
            yield np.asarray(moved, dtype=np.float32)
        else:
            yield around[:count]


def _heard(sound: Sound, start: int, frames: int, channels: int) -> Samples:
    samples = sound.read(start, frames)
    if not np.isfinite(samples).all():
        raise UnreadableAudio(
            f"“{sound.path.name}” holds values that are no samples (not a number or infinite). Export it again from "
            "the DAW, or as 24-bit."
        )
    if channels < sound.channels:
        return np.asarray(samples.mean(axis=1, keepdims=True), dtype=np.float32)
    return samples

"""A print on its source's time line: read, moved by its delay, and brought to the source's clock, block by block.

Where the rates agree and the delay is a whole number of samples, samples are copied as they are. A fraction of a
sample is moved by a windowed sinc; another rate, or a clock that drifts, by a polyphase resampler (libsoxr, its very
high quality), which also keeps what lies above the new half rate out.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.signal
import soxr
from numpy.typing import NDArray

from app.signal.audio.reading import Samples, Sound, UnreadableAudio
from app.signal.listening.figures import Moved

HALF_TAPS, KAISER_BETA = 80, 9.0
"""A windowed sinc of 160 taps whose error stays below -90 dB of the signal up to 0.46 of the sample rate
(22 kHz at 48 kHz, 20.3 kHz at 44.1 kHz) for every fraction of a sample; tests hold it to that."""

PRE_ROLL = 4096
"""Output samples that are made and dropped before time zero, so that the resampler has settled by then."""

FADE_S = 0.004
"""From one piece to the next. Chosen: too short to be heard as a dip, long enough for no click."""

MIXED_DOWN = "The print has {channels} channels; their mean is heard."


def heard_channels(sound: Sound) -> int:
    """Mono and stereo are kept; more channels than two are mixed to one."""
    return sound.channels if sound.channels <= 2 else 1


def is_exact(
    sound: Sound, *, delay_samples: float, drift_ppm: float, target_rate: int, moved: Sequence[Moved] = ()
) -> bool:
    """Whether aligning means copying samples."""
    as_it_is = sound.sample_rate == target_rate and drift_ppm == 0 and not moved
    return as_it_is and float(delay_samples).is_integer()


def aligned_blocks(
    sound: Sound,
    *,
    delay_samples: float,
    drift_ppm: float,
    target_rate: int,
    frames: int,
    block_frames: int,
    mix_down: bool = True,
    moved: Sequence[Moved] = (),
) -> Iterator[Samples]:
    """`frames` samples at `target_rate` from the source's time zero on, (block_frames, channels) at a time.

    Sample n is the print at its own sample `delay_samples` + n · (1 + drift) · print rate / target rate: the two
    figures are those of `AlignmentFigures`, and `moved` those of its pieces after the first; from one to the next the
    samples are faded over. Silence where the print holds nothing. More than two channels are mixed to one unless
    `mix_down` is False. Raises UnreadableAudio at a sample that is not a number.
    """
    channels = heard_channels(sound) if mix_down else sound.channels
    line = _Line(sound, sound.sample_rate * (1 + drift_ppm * 1e-6), target_rate, channels, block_frames)
    overlap = 2 * round(FADE_S / 2 * target_rate)
    starts: list[tuple[int, float | None]] = [(0, delay_samples)]
    for one in moved:
        at = round(one.from_s * target_rate)
        delay = None if one.by_s is None else delay_samples + round(one.by_s * sound.sample_rate, 3)
        if at > frames - 2 * overlap:
            break
        if at < starts[-1][0] + 2 * overlap:  # too short to be heard
            at = starts.pop()[0]
        starts.append((at, delay))
    half = overlap // 2
    streams = [
        line.read(delay, first - (half if first else 0), last + (half if last < frames else 0))
        for (first, delay), (last, _) in pairwise([*starts, (frames, None)])
    ]
    yield from _in_blocks(_faded_over(streams, overlap), frames, block_frames)


@dataclass(frozen=True)
class _Line:
    """A print as it is read at `clock_rate` and brought to `target_rate`."""

    sound: Sound
    clock_rate: float
    target_rate: int
    channels: int
    block_frames: int

    def read(self, delay: float | None, first: int, last: int) -> Iterator[Samples]:
        """Frames from `first` to `last` of the time line, at a delay in the print's samples; silent where it is None."""
        if delay is None:
            for done in range(first, last, self.block_frames):
                yield np.zeros((min(self.block_frames, last - done), self.channels), dtype=np.float32)
            return
        step = self.clock_rate / self.target_rate
        if step == 1:
            yield from _moved(self.sound, delay + first, last - first, self.block_frames, self.channels)
            return
        resampler = soxr.ResampleStream(
            self.clock_rate, self.target_rate, self.channels, dtype="float32", quality="VHQ"
        )
        start, frames = delay + (first - PRE_ROLL) * step, last - first
        endless = math.ceil((frames + 2 * PRE_ROLL) * step) + round(self.sound.sample_rate)
        to_drop, done = PRE_ROLL, 0
        for block in _moved(self.sound, start, endless, round(self.block_frames * step), self.channels):
            made = resampler.resample_chunk(block)
            dropped = min(to_drop, len(made))
            to_drop -= dropped
            part = made[dropped : dropped + frames - done]
            done += len(part)
            yield part
            if done == frames:
                return
        raise AssertionError("the resampler kept back more than a second")


def _faded_over(streams: Sequence[Iterator[Samples]], overlap: int) -> Iterator[Samples]:
    """Streams one after the other, of which each begins `overlap` frames before the end of the one before."""
    if len(streams) == 1:
        yield from streams[0]
        return
    rise = (0.5 - 0.5 * np.cos(np.pi * (np.arange(overlap) + 0.5) / overlap)).astype(np.float32)[:, None]
    tail: Samples | None = None
    for stream in streams:
        kept: Samples | None = None
        for block in stream:
            kept = block if kept is None else np.concatenate((kept, block))
            if tail is not None and len(kept) >= overlap:
                both = tail * (1 - rise) + kept[:overlap] * rise
                kept, tail = np.concatenate((both, kept[overlap:])), None
            if tail is None and len(kept) > overlap:
                yield kept[:-overlap]
                kept = kept[-overlap:]
        tail = kept
    assert tail is not None
    yield tail


def _in_blocks(parts: Iterator[Samples], frames: int, block_frames: int) -> Iterator[Samples]:
    kept, done = next(parts), 0
    while done < frames:
        count = min(block_frames, frames - done)
        while len(kept) < count:
            kept = np.concatenate((kept, next(parts))) if len(kept) else next(parts)
        yield kept[:count]
        kept = kept[count:]
        done += count


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

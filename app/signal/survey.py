"""One pass over a file, block by block, that gathers everything figures are made of.

Blocks are four seconds; memory grows only by the few values kept per 10 ms and per 40 ms. Two threads share a block:
one reads and does levels and clipping, the other spectra and dropouts.
"""

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from app.signal.audio.frames import BandFrames, coded
from app.signal.audio.reading import Samples, Sound
from app.signal.audio.rows import Rows
from app.signal.audio.steps import true_step
from app.signal.faults.dropouts import MARGIN_S, RepeatSearch, held_runs, is_torn
from app.signal.faults.holes import HoleSearch
from app.signal.faults.hum import HumSearch
from app.signal.figures import ClippedRun, Dropout, FileFigures
from app.signal.levels.bands import skirt_matrix
from app.signal.levels.clipping import MARGIN, FlatTops, flat_tops, flatness, may_clip, really_clipped
from app.signal.levels.loudness import KWeightedEnergy, step_samples
from app.signal.levels.spectrum import HOPS_PER_BLOCK, LOW_BINS, LowSpectrum, ShortTimeSpectrum, hop_samples
from app.signal.levels.true_peak import TruePeak

MOST_RUNS = 1000
"""More places of clipping are counted but not listed."""
BLOCKS_WAITING = 2
"""For memory: one is worked on while the next is read."""
MOST_TOPS = 500_000
"""For memory: a file with so many flat tops is told from them."""
NOTHING = 10 ** (-90 / 20)
"""-90 dBFS, one step of 16 bits: a finer converter's rest lies below. Chosen; not measured."""


@dataclass(frozen=True, slots=True)
class Survey:
    """What one pass over a file gives. Steps are 10 ms, frames 40 ms; S steps, F frames, C channels, B bands."""

    file: FileFigures
    energies: NDArray[np.float32]
    """K-weighted mean squares, (S, C)."""
    powers: NDArray[np.float32]
    """Mean squares over all channels, (S,)."""
    lows: NDArray[np.float32]
    highs: NDArray[np.float32]
    """Lowest and highest sample of any channel, (S,)."""
    means: NDArray[np.float32]
    """Means, (S, C)."""
    mean_square: float
    mean: NDArray[np.float64]
    channels: Literal["identical", "one silent"] | None
    """What of a stereo file a mono one would hold as well."""
    sample_peak: float
    true_peak: float
    band_mids: list[float]
    band_squares: NDArray[np.float64]
    """Long-term mean squares, (B,)."""
    frames: BandFrames
    """Band mean squares over time, (F, B); frame k is centred 40·k ms after the start."""
    clipped: tuple[ClippedRun, ...]
    clipped_count: int
    dropouts: tuple[Dropout, ...]
    quiet: HumSearch
    """What hum is looked for in: the quietest stretches."""
    notes: tuple[str, ...]

    def without_steps(self) -> "Survey":
        """The same without what there is of every 10 ms, which is large for a long file."""
        none = np.empty(0, dtype=np.float32)
        flat = np.empty((0, 0), np.float32)
        return replace(self, energies=flat, means=flat, powers=none, lows=none, highs=none)


def survey_of(path: Path) -> Survey:
    """Reads the whole file once. Raises UnreadableAudio."""
    with Sound(path) as sound:
        return _survey(sound)


def _survey(sound: Sound) -> Survey:
    hop, step = hop_samples(sound.sample_rate), true_step(sound)
    levels, spectra, dropouts = _Levels(sound, step), _Spectra(sound), _Dropouts(sound, step)
    with ThreadPoolExecutor(1) as other:
        pending: deque[Future[None]] = deque()
        for start, block in sound.blocks(HOPS_PER_BLOCK * hop):
            channels = np.ascontiguousarray(block.T)
            if channels.base is not None:
                channels = channels.copy()
            levels.feed(start, channels)
            pending.append(other.submit(_rest, spectra, dropouts, start, channels))
            if len(pending) > BLOCKS_WAITING:
                pending.popleft().result()
        for waiting in pending:
            waiting.result()
    spectra.finish(sound.frames)
    levels.finish()
    starts, lengths = levels.clipped()
    at_s = (starts / sound.sample_rate).tolist()
    runs = tuple(ClippedRun(at, length) for at, length in zip(at_s, lengths.tolist(), strict=True))
    return Survey(
        file=sound.figures(),
        energies=levels.energies.all,
        powers=levels.powers.all,
        lows=levels.lows.all,
        highs=levels.highs.all,
        means=levels.means.all,
        mean_square=levels.square_sum / (sound.frames * sound.channels),
        mean=levels.sums / sound.frames,
        channels=levels.alike(),
        sample_peak=levels.sample_peak,
        true_peak=levels.true_peak,
        band_mids=spectra.mids,
        band_squares=spectra.band_squares,
        frames=spectra.frames,
        clipped=runs[:MOST_RUNS],
        clipped_count=len(runs),
        dropouts=dropouts.all(),
        quiet=spectra.quiet,
        notes=tuple(sound.notes),
    )


def _rest(spectra: "_Spectra", dropouts: "_Dropouts", start: int, channels: Samples) -> None:
    """What the second thread does while the first reads on."""
    spectra.feed(channels)
    dropouts.feed(start, channels)


class _Levels:
    """Loudness, peaks and clipping."""

    def __init__(self, sound: Sound, step: float) -> None:
        rate = sound.sample_rate
        self._rate = rate
        self._step = step_samples(rate)
        self._k_weighted = [KWeightedEnergy(rate) for _ in range(sound.channels)]
        self._true_peaks = [TruePeak(rate) for _ in range(sound.channels)]
        self._tolerance = flatness(step)
        steps = sound.frames // self._step + 1
        self.energies, self.means = (Rows(np.float32, steps, sound.channels) for _ in range(2))
        self.powers, self.lows, self.highs = (Rows(np.float32, steps) for _ in range(3))
        self.square_sum = 0.0
        self.sums = np.zeros(sound.channels)
        self.sample_peak = 0.0
        self.true_peak = 0.0
        self._peaks = np.zeros(sound.channels, dtype=np.float32)
        self._apart = 0.0
        self._tops: list[FlatTops] = []
        self._tops_kept = 0

    def feed(self, start: int, channels: Samples) -> None:
        energies = [meter.feed(samples) for meter, samples in zip(self._k_weighted, channels, strict=True)]
        self.energies.add(np.array(energies, dtype=np.float32).T)
        rows = self._rows(channels)
        lows, highs = rows.min(axis=2), rows.max(axis=2)
        squares = np.vecdot(rows, rows)
        self.lows.add(lows.min(axis=0))
        self.highs.add(highs.max(axis=0))
        self.powers.add(squares.mean(axis=0) / np.float32(self._step))
        self.square_sum += float(squares.sum(dtype=np.float64))
        sums = rows.sum(axis=2)
        self.means.add(sums.T / np.float32(self._step))
        self.sums += sums.sum(axis=1, dtype=np.float64)
        self._peaks = np.maximum(self._peaks, np.maximum(highs.max(axis=1), -lows.min(axis=1)))
        self.sample_peak = float(self._peaks.max())
        if len(channels) == 2:
            self._apart = max(self._apart, float(np.abs(channels[0] - channels[1]).max()))
        for meter, samples in zip(self._true_peaks, channels, strict=True):
            meter.feed(samples)
        self._find_clipping(start, channels, rows, lows, highs)

    def _rows(self, channels: Samples) -> Samples:
        """(channels, steps, samples); the last step of a file is filled up with silence."""
        count, length = channels.shape
        missing = -length % self._step
        if missing:
            channels = np.concatenate((channels, np.zeros((count, missing), dtype=np.float32)), axis=1)
        return channels.reshape(count, -1, self._step)

    def _find_clipping(
        self, start: int, channels: Samples, rows: Samples, lows: Samples, highs: Samples
    ) -> None:
        for samples, steps, low, high in zip(channels, rows, lows, highs, strict=True):
            candidates = may_clip(steps, low, high, self._tolerance)
            if not len(candidates):
                continue
            breaks = np.flatnonzero(np.diff(candidates) > 1) + 1
            for group in np.split(candidates, breaks):
                first = max(0, int(group[0]) * self._step - MARGIN - self._step // 8)
                last = (int(group[-1]) + 1) * self._step + MARGIN + self._step // 8
                tops = flat_tops(samples[first:last], self._tolerance)
                if len(tops.starts) and self._tops_kept < MOST_TOPS:
                    self._tops.append(FlatTops(tops.starts + start + first, tops.lengths, tops.levels))
                    self._tops_kept += len(tops.starts)

    def finish(self) -> None:
        self.true_peak = max(meter.finish() for meter in self._true_peaks)

    def alike(self) -> Literal["identical", "one silent"] | None:
        """Whether two channels hold the same, or one of them nothing."""
        if len(self._peaks) != 2 or self.sample_peak <= NOTHING:
            return None
        if float(self._peaks.min()) <= NOTHING:
            return "one silent"
        return "identical" if self._apart <= NOTHING else None

    def clipped(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Starts and lengths of the clipped runs, in samples."""
        if not self._tops:
            return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
        tops = FlatTops(
            np.concatenate([part.starts for part in self._tops]),
            np.concatenate([part.lengths for part in self._tops]),
            np.concatenate([part.levels for part in self._tops]),
        )
        kept = really_clipped(tops, self.sample_peak, self._tolerance)
        order = np.argsort(tops.starts[kept], kind="stable")
        return tops.starts[kept][order], tops.lengths[kept][order]


class _Dropouts:
    """Holes, held values and repeated buffers of every channel, each searched by itself from beginning to end."""

    def __init__(self, sound: Sound, step: float) -> None:
        self._channels = [_ChannelDropouts(sound.sample_rate, step) for _ in range(sound.channels)]
        self._rate = sound.sample_rate

    def feed(self, start: int, channels: Samples) -> None:
        for search, samples in zip(self._channels, channels, strict=True):
            search.feed(start, samples)

    def all(self) -> tuple[Dropout, ...]:
        """In the order they begin; what several channels lost together is one dropout, of the longest's length."""
        every = [dropout for search in self._channels for dropout in search.all()]
        kept: list[Dropout] = []
        for dropout in sorted(every, key=lambda dropout: (dropout.kind, dropout.at_s)):
            latest = kept[-1] if kept else None
            if latest is None or latest.kind != dropout.kind or not _overlap(latest, dropout, self._rate):
                kept.append(dropout)
            elif dropout.samples > latest.samples:
                kept[-1] = dropout
        return tuple(sorted(kept, key=lambda dropout: dropout.at_s))


class _ChannelDropouts:
    def __init__(self, sample_rate: int, step: float) -> None:
        self._rate, self._true_step = sample_rate, step
        self._margin = round(MARGIN_S * sample_rate)
        self._repeats = RepeatSearch(sample_rate)
        self._holes = HoleSearch(sample_rate, step)
        self._gaps: list[Dropout] = []

    def feed(self, start: int, samples: Samples) -> None:
        self._repeats.feed(start, samples)
        self._holes.feed(start, samples)
        for at, length in held_runs(samples):
            before, after = samples[max(0, at - self._margin) : at], samples[at + length :][: self._margin]
            if length <= 0.5 * self._rate and is_torn(before, float(samples[at]), after, self._true_step):
                self._gaps.append(Dropout((start + at) / self._rate, "gap", length))

    def all(self) -> list[Dropout]:
        holes = self._holes.holes
        held = [gap for gap in self._gaps if not any(_overlap(gap, hole, self._rate) for hole in holes)]
        return holes + held + self._repeats.repeats


def _overlap(one: Dropout, other: Dropout, rate: int) -> bool:
    return one.at_s < other.at_s + other.samples / rate and other.at_s < one.at_s + one.samples / rate


class _Spectra:
    """Bands, features and hum. Channels are averaged in energy; the low-rate signal is that of the loudest channel."""

    def __init__(self, sound: Sound) -> None:
        self._channels = [ShortTimeSpectrum(sound.sample_rate) for _ in range(sound.channels)]
        first = self._channels[0]
        self.mids = first.frames.mids
        self._hop = first.frames.hop
        self._low = LowSpectrum(first.low_rate, self.mids)
        self._low_rate = first.low_rate
        self.quiet = HumSearch(first.low_rate, sound.frames / sound.sample_rate)
        self._codes = Rows(np.uint16, sound.frames // self._hop + 2, len(self.mids))
        self._started = False
        self.band_squares = np.zeros(len(self.mids))

    def feed(self, channels: Samples) -> None:
        missing = -channels.shape[1] % self._hop
        if missing:
            channels = np.concatenate(
                (channels, np.zeros((len(channels), missing), dtype=np.float32)), axis=1
            )
        results = [meter.feed(samples) for meter, samples in zip(self._channels, channels, strict=True)]
        energies = np.asarray(np.mean([part for part, _ in results], axis=0), dtype=np.float32)
        self._codes.add(coded(energies))
        low = np.asarray(np.mean([part for _, part in results], axis=0), dtype=np.float32)
        if not self._started:
            low = low[LOW_BINS:]
            self._started = True
        self._low.feed(low)
        self.quiet.feed(low)

    @property
    def frames(self) -> BandFrames:
        return BandFrames(self._codes.all)

    def finish(self, frames: int) -> None:
        self.feed(np.zeros((len(self._channels), self._hop), dtype=np.float32))
        duration_hops = frames / self._hop
        power = np.mean([meter.power for meter in self._channels], axis=0)
        skirts = skirt_matrix(self.mids, len(power), self._channels[0].frames.bin_hz)
        self.band_squares[:] = power @ skirts / duration_hops
        low = self._low.finish()
        count = min(len(low), len(self.mids))
        self.band_squares[:count] = low[:count] / (duration_hops * LOW_BINS)

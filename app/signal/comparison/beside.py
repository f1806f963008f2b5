"""Two prints and their source beside one another: spectra of the same moments, laid on one time line.

Frames are 80 ms long and 40 ms apart (`app.signal.levels.spectrum.Frames`), ten to a stretch of 0.4 s. Each frame of the recall,
and of the source, is read at the sample that its delay and drift give, and turned by what is left of a sample; so a
difference of delay cuts no frame in another place, and nothing at either end is faded. A bin is the same frequency at every
sample rate, which is why prints of unlike rates need no resampling.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.signal.alignment.segments import mono
from app.signal.audio.reading import Sound
from app.signal.levels.spectrum import FRAMES_PER_S, Frames

FRAMES_A_STRETCH = 10
"""Chosen: 0.4 s hold a note or two, and a recall that stops is seen so soon; not measured against others."""
STRETCH_S = FRAMES_A_STRETCH / FRAMES_PER_S
MOST_STRETCHES = 300
"""For time and memory: two minutes; of more, as many are spread evenly over it."""

Power = NDArray[np.float64]
Cross = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Lag:
    """Where a track lies against the time line, in seconds: at `t` of the line its own time is t + start + drift·t. So it does
    between two times of the line."""

    start_s: float
    drift: float = 0.0
    from_s: float = -math.inf
    to_s: float = math.inf


@dataclass(frozen=True, slots=True)
class BesideSource:
    """The source's powers, and the cross-spectra of original and recall by it, (M, N)."""

    power: Power
    original: Cross
    recalled: Cross


@dataclass(frozen=True, slots=True)
class Beside:
    """Sums over the frames of each of M stretches and N bins: powers (M, N), cross-spectra of the recall by the original
    (M, N). `source` is None where it could not be placed."""

    times_s: NDArray[np.float64]
    bins_hz: NDArray[np.float64]
    original: Power
    recalled: Power
    cross: Cross
    source: BesideSource | None
    peaks: NDArray[np.float64]
    """Highest samples of original and recall, (M, 2)."""
    frames: tuple[Power, Power]
    """Powers of single frames of original and recall, (M · 10, bands)."""

    def __len__(self) -> int:
        return len(self.times_s)

    def only(self, kept: NDArray[np.bool_]) -> "Beside":
        """The same of some stretches."""
        frames = np.repeat(kept, FRAMES_A_STRETCH)
        source = self.source
        return Beside(
            times_s=self.times_s[kept],
            bins_hz=self.bins_hz,
            original=self.original[kept],
            recalled=self.recalled[kept],
            cross=self.cross[kept],
            source=None
            if source is None
            else BesideSource(source.power[kept], source.original[kept], source.recalled[kept]),
            peaks=self.peaks[kept],
            frames=(self.frames[0][frames], self.frames[1][frames]),
        )

    def shifted(self, lags_s: NDArray[np.float64]) -> "Beside":
        """The same with each stretch of the recall moved earlier by its lag, (M,)."""
        turns = np.exp(2j * np.pi * lags_s[:, None] * self.bins_hz)
        return replace(self, cross=self.cross * turns)


class _Track:
    def __init__(self, sound: Sound, lags: Sequence[Lag]) -> None:
        self._sound, self._lags = sound, lags
        self.meter = Frames(sound.sample_rate)

    def lag_at(self, at_s: float) -> Lag | None:
        """Of the stretch that begins at a time of the line; None where no one lag holds for all of it."""
        return next((lag for lag in self._lags if lag.from_s <= at_s and at_s + STRETCH_S <= lag.to_s), None)

    def stretch(self, at_s: float) -> tuple[NDArray[np.complex64], float]:
        """Spectra (frames, bins) of the stretch that begins at a time of the line, and its highest sample."""
        rate, hop, lag = self._sound.sample_rate, self.meter.hop, self.lag_at(at_s)
        assert lag is not None
        times = at_s + np.arange(FRAMES_A_STRETCH) / FRAMES_PER_S
        exact = (times * (1 + lag.drift) + lag.start_s) * rate
        places = np.round(exact).astype(np.int64)
        first, last = int(places[0]), int(places[-1]) + 2 * hop
        samples = mono(self._sound.read(first, last - first))
        rows = samples[(places - first)[:, None] + np.arange(2 * hop)]
        spectra = self.meter.spectra_of(rows)
        turns = (exact - places)[:, None] * np.arange(spectra.shape[1]) * (np.pi / hop)
        return spectra * np.exp(1j * turns).astype(np.complex64), float(np.abs(samples).max(initial=0.0))


def lay_beside(
    original: Sound,
    recalled: Sound,
    source: Sound | None,
    *,
    recall_lags: Sequence[Lag],
    source_lags: Sequence[Lag],
    first_s: float,
    last_s: float,
) -> Beside | None:
    """What both prints hold between two times of the original; None where that is less than a stretch. Left out are
    stretches within which one of them jumps."""
    room = last_s - first_s - STRETCH_S - 1 / FRAMES_PER_S
    if room < 0:
        return None
    count = min(MOST_STRETCHES, int(room / STRETCH_S) + 1)
    step = STRETCH_S if count < MOST_STRETCHES else room / (count - 1)
    starts = first_s + step * np.arange(count)
    tracks = [_Track(original, [Lag(0.0)]), _Track(recalled, recall_lags)]
    if source is not None:
        tracks.append(_Track(source, source_lags))
    starts = np.array([at for at in starts.tolist() if all(track.lag_at(at) is not None for track in tracks)])
    if not len(starts):
        return None
    bins = min(track.meter.hop for track in tracks) + 1
    meter = min((track.meter for track in tracks[:2]), key=lambda meter: meter.hop)
    powers: list[list[Power]] = [[] for _ in tracks]
    crosses: list[list[Cross]] = [[] for _ in range(1 if source is None else 3)]
    peaks: list[tuple[float, float]] = []
    frames: tuple[list[Power], list[Power]] = ([], [])
    for start in starts.tolist():
        read = [track.stretch(start) for track in tracks]
        for side in (0, 1):
            frames[side].append(
                meter.energies(meter.powers(read[side][0][:, : meter.hop + 1])).astype(np.float64)
            )
        spectra = [part[:, :bins] for part, _ in read]
        for summed, part in zip(powers, spectra, strict=True):
            summed.append((part.real**2 + part.imag**2).sum(axis=0, dtype=np.float64))
        for pair, into in zip(((0, 1), (2, 0), (2, 1)), crosses, strict=False):
            into.append((np.conj(spectra[pair[0]]) * spectra[pair[1]]).sum(axis=0, dtype=np.complex128))
        peaks.append((read[0][1], read[1][1]))
    return Beside(
        times_s=np.asarray(starts + STRETCH_S / 2, dtype=np.float64),
        bins_hz=np.asarray(np.arange(bins) * meter.bin_hz, dtype=np.float64),
        original=np.array(powers[0]),
        recalled=np.array(powers[1]),
        cross=np.array(crosses[0]),
        source=None
        if source is None
        else BesideSource(np.array(powers[2]), np.array(crosses[1]), np.array(crosses[2])),
        peaks=np.array(peaks),
        frames=(np.concatenate(frames[0]), np.concatenate(frames[1])),
    )

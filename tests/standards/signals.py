"""Test signals with known answers. Levels are peak levels in dBFS unless said otherwise."""

from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from app.signal.figures import PrintFigures
from app.signal.levels.loudness import KWeightedEnergy, Loudness, channel_weights, measure_loudness
from app.signal.measure import measure_print

Audio = NDArray[np.float64]


def tone(parts: list[tuple[float, float]], *, hz: float = 1000, rate: int = 48000) -> Audio:
    """A sine through (seconds, dBFS) steps, its phase running on; -inf dBFS is silence."""
    counts = [round(seconds * rate) for seconds, _ in parts]
    gains = np.repeat([10 ** (level / 20) for _, level in parts], counts)
    return gains * np.sin(2 * np.pi * hz * np.arange(sum(counts)) / rate)


def stereo(channel: Audio) -> Audio:
    return np.column_stack((channel, channel))


def k_weighted(samples: Audio, rate: int = 48000) -> Audio:
    """K-weighted mean squares of 10 ms steps, (steps, channels), of (frames,) or (frames, channels) samples."""
    block = rate * 2
    energies = []
    for channel in np.atleast_2d(samples.astype(np.float32).T):
        meter = KWeightedEnergy(rate)
        energies.append(
            np.concatenate([meter.feed(channel[n : n + block]) for n in range(0, len(channel), block)])
        )
    return np.array(energies).T


def loudness_of(samples: Audio, rate: int = 48000) -> Loudness:
    """Loudness of (frames,) or (frames, channels) samples, without a file in between."""
    energies = k_weighted(samples, rate)
    return measure_loudness(energies, channel_weights(energies.shape[1]))


def measured(samples: Audio, folder: Path, rate: int = 48000, source: Audio | None = None) -> PrintFigures:
    """The figures of samples written as a 32-bit float file."""
    soundfile.write(folder / "print.wav", samples, rate, subtype="FLOAT")
    if source is None:
        return measure_print(folder / "print.wav")
    soundfile.write(folder / "source.wav", source, rate, subtype="FLOAT")
    return measure_print(folder / "print.wav", folder / "source.wav")


def delayed(samples: Audio, by: float) -> Audio:
    """Later by a fraction of a sample, exactly, by phase (zero padded); earlier where negative."""
    size = 2 * len(samples)
    turns = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * by)
    return np.fft.irfft(np.fft.rfft(samples, size) * turns, size)[: len(samples)]

"""Sound files whose truth is known, because they are made here: a source, a whole print of it, and a spoilt one."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

RATE_HZ = 48_000
LENGTH_S = 6.0
DELAY_SAMPLES = 96
ENDS_EARLY_S = 1.5
CLIPS_AT_S = (1.0, 2.0, 3.0)


@dataclass(frozen=True)
class Sounds:
    """`close` is a whole print, DELAY_SAMPLES late. `far` is upside down, ends ENDS_EARLY_S before the source and
    clips at CLIPS_AT_S. `text` only claims to be audio."""

    source: Path
    close: Path
    far: Path
    text: Path


def make_sounds(folder: Path) -> Sounds:
    played = _plucked_line()
    close = _driven(np.concatenate((np.zeros(DELAY_SAMPLES), played[:-DELAY_SAMPLES])))
    far = -0.5 * close[: round((LENGTH_S - ENDS_EARLY_S) * RATE_HZ)]
    for at_s in CLIPS_AT_S:
        burst = np.sin(2 * np.pi * 110 * np.arange(round(0.1 * RATE_HZ)) / RATE_HZ)
        at = round(at_s * RATE_HZ)
        far[at : at + burst.size] += 1.6 * burst
    text = folder / "not audio.wav"
    text.write_text("These are words.\n")
    return Sounds(
        _written(folder / "bass DI invented.wav", played),
        _written(folder / "close microphone.wav", close),
        _written(folder / "far microphone.wav", np.clip(far, -1.0, 1.0)),
        text,
    )


def silence(path: Path, seconds: float) -> Path:
    """A large file that costs nothing to make."""
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24") as out:
        block = np.zeros((RATE_HZ * 10, 2), dtype="int32")
        for _ in range(round(seconds / 10)):
            out.write(block)
    return path


def _plucked_line() -> NDArray[np.float64]:
    """Decaying notes with a few partials, no two the same, to the last second."""
    random = np.random.default_rng(7)
    played = np.zeros(round(LENGTH_S * RATE_HZ))
    for start_s in np.arange(0.1, LENGTH_S - 0.2, 0.23):
        hz = 55 * 2 ** (random.integers(0, 20) / 12)
        time_s = np.arange(round(0.4 * RATE_HZ)) / RATE_HZ
        partial = np.arange(1, 9)[:, None]
        waves = np.sin(2 * np.pi * partial * hz * time_s) * np.exp(-(5 + 2 * partial) * time_s) / partial
        note = waves.sum(axis=0)
        at = round(start_s * RATE_HZ)
        note = note[: played.size - at]
        played[at : at + note.size] += random.uniform(0.4, 1.0) * note
    played *= 0.35 / np.abs(played).max()
    return played + 1e-5 * random.standard_normal(played.size)


def _driven(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Softly driven, without the DC that a coupling capacitor would keep back."""
    driven = 0.6 * np.tanh(4 * samples)
    return driven - driven.mean()


def _written(path: Path, samples: NDArray[np.float64]) -> Path:
    soundfile.write(path, samples, RATE_HZ, subtype="PCM_24")
    return path

"""What is kept of a source so that prints can be held against it quickly: its band energies over time."""

import hashlib
import os
import tempfile
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from app.signal.audio.frames import BandFrames, Codes, coded
from app.signal.audio.reading import Samples, Sound
from app.signal.audio.rows import Rows
from app.signal.figures import ALGORITHM_VERSION
from app.signal.levels.spectrum import FRAMES_PER_S, HOPS_PER_BLOCK, Frames, hop_samples

WORKERS = 2  # measuring is done beside a session: two cores at most


@dataclass(frozen=True, slots=True)
class Features:
    """Band energies of a file, 25 frames a second at every sample rate."""

    sample_rate: int
    samples: int
    mids_hz: NDArray[np.float64]
    frames: BandFrames

    @property
    def duration_s(self) -> float:
        return self.samples / self.sample_rate


def features_of(sample_rate: int, samples: int, mids_hz: list[float], frames: BandFrames) -> Features:
    """Brings frames to exactly 25 a second where the sample rate does not divide so."""
    frame_rate = sample_rate / hop_samples(sample_rate)
    if abs(frame_rate - FRAMES_PER_S) > 1e-9:
        wanted = np.arange(int((len(frames) - 1) * FRAMES_PER_S / frame_rate) + 1) * frame_rate / FRAMES_PER_S
        grid = np.arange(len(frames))
        energies = [np.interp(wanted, grid, band) for band in frames.part(slice(None)).T]
        frames = BandFrames(coded(np.array(energies, dtype=np.float32).T))
    return Features(sample_rate, samples, np.array(mids_hz), frames)


def read_features(path: Path, folder: Path | None) -> Features:
    """The features of the file at `path`, from `folder` when they are kept there. Raises UnreadableAudio."""
    kept = None if folder is None else folder / f"{_key(path)}.npz"
    if kept is not None and kept.exists():
        features = _load(kept)
        if features is not None:
            return features
    features = compute_features(path)
    if kept is not None:
        _store(features, kept)
    return features


def compute_features(path: Path) -> Features:
    with Sound(path) as sound, ThreadPoolExecutor(WORKERS) as workers:
        meter = Frames(sound.sample_rate)
        codes = Rows(np.uint16, sound.frames // meter.hop + 2, len(meter.mids))
        pending: deque[Future[Codes]] = deque()
        for piece in _overlapping(sound, meter.hop):
            pending.append(workers.submit(_coded, meter, piece))
            if len(pending) > WORKERS:
                codes.add(pending.popleft().result())
        for coming in pending:
            codes.add(coming.result())
        return features_of(sound.sample_rate, sound.frames, meter.mids, BandFrames(codes.all))


def _overlapping(sound: Sound, hop: int) -> Iterator[Samples]:
    """Whole hops of every channel, with one of silence before and after all; each piece begins with the last's last."""
    last = np.zeros((sound.channels, hop), dtype=np.float32)
    for _, block in sound.blocks(HOPS_PER_BLOCK * hop):
        piece = np.concatenate((last, np.pad(block.T, ((0, 0), (0, -len(block) % hop)))), axis=1)
        last = piece[:, -hop:]
        yield piece
    yield np.concatenate((last, np.zeros_like(last)), axis=1)


def _coded(meter: Frames, channels: Samples) -> Codes:
    results = [meter.energies(meter.powers(meter.spectra(samples))) for samples in channels]
    return coded(np.asarray(np.mean(results, axis=0), dtype=np.float32))


def _key(path: Path) -> str:
    status = path.stat()
    identity = f"{path.resolve()}|{status.st_size}|{status.st_mtime_ns}|{ALGORITHM_VERSION}"
    return hashlib.sha256(identity.encode()).hexdigest()


def _load(kept: Path) -> Features | None:
    """Kept features, or None when the file is damaged and must be made again."""
    try:
        with kept.open("rb") as file, np.load(file, allow_pickle=False) as document:
            return Features(
                int(document["sample_rate"]),
                int(document["samples"]),
                document["mids_hz"],
                BandFrames(document["codes"]),
            )
    except (OSError, ValueError, KeyError, EOFError, BadZipFile):
        return None


def _store(features: Features, kept: Path) -> None:
    kept.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=kept.parent, suffix=".tmp")
    with os.fdopen(handle, "wb") as file:
        np.savez(
            file,
            sample_rate=features.sample_rate,
            samples=features.samples,
            mids_hz=features.mids_hz,
            codes=features.frames.codes,
        )
    Path(name).replace(kept)

"""Audition files: a print on its source's time line, lossless, in segments that a browser can fetch as it needs."""

import json
import math
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from app.signal.audio.reading import Samples, Sound
from app.signal.listening.aligned import MIXED_DOWN, aligned_blocks, heard_channels, is_exact
from app.signal.listening.blend import measure_together
from app.signal.listening.figures import SEGMENT_S, AuditionFigures, HopPowers, Moved
from app.signal.listening.hop_powers import TogetherMeter

LOUDNESS_FILE = "loudness.json"
BLEND_FILE = "blend.json"

# 24 bits: the format.
_FULL_SCALE = 1 << 23
_LARGEST = _FULL_SCALE - 1


def segment_name(number: int) -> str:
    return f"{number:03d}.flac"


def build_audition(
    print_path: Path,
    folder: Path,
    *,
    delay_samples: float,
    drift_ppm: float = 0.0,
    target_rate: int,
    length_s: float,
    moved: Sequence[Moved] = (),
) -> AuditionFigures:
    """Write the print into `folder` as 000.flac, 001.flac, … (24-bit, 10 s each) and loudness.json.

    The files run from the source's time zero (`delay_samples` and `drift_ppm` as in `AlignmentFigures`, its further
    pieces as in `moved`) for `length_s` at `target_rate`; where the print holds nothing they are silent. Samples beyond full scale are never
    cut off: the whole print is lowered by `scale_db` instead. `folder` is there whole or not at all. Needs some
    tens of megabytes, however long the print. Raises UnreadableAudio, and OSError when the disk is full.
    """
    frames = round(length_s * target_rate)
    folder.parent.mkdir(parents=True, exist_ok=True)
    unfinished = Path(tempfile.mkdtemp(prefix="unfinished-", dir=folder.parent))
    try:
        with Sound(print_path) as sound:
            move = _Move(sound, delay_samples, drift_ppm, target_rate, frames, moved)
            meter = TogetherMeter(target_rate, (heard_channels(sound),))
            peak, fits = move.write(unfinished, 0.0, meter)
            scale_db = 0.0 if fits else -math.ceil(200 * math.log10(peak) + 0.001) / 10
            if not fits:
                move.write(unfinished, scale_db, None)
            figures = move.figures(unfinished, scale_db, peak)
        write_hop_powers(meter.figures(), unfinished)
        _put_in_place(unfinished, folder)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return figures


def build_together(auditions: list[tuple[Path, AuditionFigures]], folder: Path) -> HopPowers:
    """Measure auditions of one pass together, and write the powers of their balance and what their sum does
    (loudness.json, blend.json) into `folder`.

    All must have the same rate and length. Raises UnreadableAudio or OSError when a segment is not there.
    """
    first = auditions[0][1]

    def blocks() -> Iterator[list[Samples]]:
        for number in range(first.segments):
            yield [read_segment(path, figures, number) for path, figures in auditions]

    meter = TogetherMeter(first.sample_rate, tuple(figures.channels for _, figures in auditions))
    for block in blocks():
        meter.feed(block)
    powers = meter.figures()
    together = measure_together(blocks, first.sample_rate, first.frames)
    folder.parent.mkdir(parents=True, exist_ok=True)
    unfinished = Path(tempfile.mkdtemp(prefix="unfinished-", dir=folder.parent))
    try:
        write_hop_powers(powers, unfinished)
        with (unfinished / BLEND_FILE).open("w", encoding="utf-8") as file:
            json.dump(asdict(together), file, separators=(",", ":"), allow_nan=False)
        _put_in_place(unfinished, folder)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return powers


def read_segment(folder: Path, figures: AuditionFigures, number: int) -> Samples:
    """The samples of one segment as the print has them, the scale undone. Raises UnreadableAudio."""
    with Sound(folder / segment_name(number)) as sound:
        samples = sound.read(0, sound.frames)
    return np.asarray(samples * 10 ** (-figures.scale_db / 20), dtype=np.float32)


def write_hop_powers(powers: HopPowers, folder: Path) -> None:
    with (folder / LOUDNESS_FILE).open("w", encoding="utf-8") as file:
        json.dump(asdict(powers), file, separators=(",", ":"), allow_nan=False)


class _Move:
    """One print on its way onto the source's time line."""

    def __init__(
        self,
        sound: Sound,
        delay_samples: float,
        drift_ppm: float,
        target_rate: int,
        frames: int,
        moved: Sequence[Moved],
    ) -> None:
        self._sound = sound
        self._delay_samples = delay_samples
        self._drift_ppm = drift_ppm
        self._rate = target_rate
        self._frames = frames
        self._moved = moved

    def write(self, folder: Path, scale_db: float, meter: TogetherMeter | None) -> tuple[float, bool]:
        """Write the segments; returns the print's highest sample before scaling, and whether all fitted into 24
        bits. Once one does not, nothing more is written: it will be done again, scaled."""
        gain, peak, fits = 10 ** (scale_db / 20), 0.0, True
        for number, block in enumerate(self._blocks()):
            if meter is not None:
                meter.feed([block])
            peak = max(peak, float(np.abs(block).max(initial=0.0)))
            whole = _whole_numbers(block, gain)
            fits = fits and bool(whole.max(initial=0) <= _LARGEST and whole.min(initial=0) >= -_FULL_SCALE)
            if fits:
                _write_segment(folder / segment_name(number), whole, self._rate)
        return peak, fits

    def figures(self, folder: Path, scale_db: float, peak: float) -> AuditionFigures:
        sound = self._sound
        move = {"delay_samples": self._delay_samples, "drift_ppm": self._drift_ppm}
        notes = list(sound.notes)
        if sound.channels > 2:
            notes.append(MIXED_DOWN.format(channels=sound.channels))
        if scale_db < 0:
            notes.append(f"The print goes above full scale; it is heard {-scale_db:.1f} dB lower.")
        segments = math.ceil(self._frames / (SEGMENT_S * self._rate))
        return AuditionFigures(
            sample_rate=self._rate,
            channels=heard_channels(sound),
            frames=self._frames,
            duration_s=self._frames / self._rate,
            segment_s=SEGMENT_S,
            segment_bytes=tuple((folder / segment_name(n)).stat().st_size for n in range(segments)),
            is_exact=is_exact(sound, target_rate=self._rate, moved=self._moved, **move),
            scale_db=scale_db,
            peak_dbfs=20 * math.log10(peak) if peak > 0 else None,
            notes=tuple(notes),
            **move,
        )

    def _blocks(self) -> Iterator[Samples]:
        return aligned_blocks(
            self._sound,
            delay_samples=self._delay_samples,
            drift_ppm=self._drift_ppm,
            target_rate=self._rate,
            frames=self._frames,
            block_frames=SEGMENT_S * self._rate,
            moved=self._moved,
        )


def _whole_numbers(block: Samples, gain: float) -> NDArray[np.int64]:
    return np.rint(block.astype(np.float64) * (gain * _FULL_SCALE)).astype(np.int64)


def _write_segment(path: Path, whole: NDArray[np.int64], sample_rate: int) -> None:
    left_aligned = (whole << 8).astype(np.int32)
    with path.open("wb") as file:
        soundfile.write(file, left_aligned, sample_rate, subtype="PCM_24", format="FLAC")


def _put_in_place(unfinished: Path, folder: Path) -> None:
    for path in unfinished.iterdir():
        with path.open("rb+") as file:
            os.fsync(file.fileno())
    if folder.exists():
        shutil.rmtree(folder)
    unfinished.rename(folder)

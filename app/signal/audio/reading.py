"""The only reader of audio files: opens, checks, and hands out float32 blocks in bounded memory.

WAV (also RF64, BW64 and extensible headers), AIFF, FLAC and whatever else libsndfile reads. A file that holds
less than its header promises is read as far as it goes, and a note says so.
"""

import io
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
import soundfile
from numpy.typing import NDArray

from app.signal.audio.containers import HEAD_BYTES, LARGEST_32_BIT, chunks, container_of
from app.signal.audio.pcm24 import Pcm24
from app.signal.figures import FileFigures

Samples = NDArray[np.float32]

LARGEST_SAMPLE = 1e6
"""+120 dBFS: a "sample" beyond this is another kind of data read as floating point."""

# Bytes of a sample by libsndfile's names of the formats.
_SAMPLE_BYTES = {"PCM_S8": 1, "PCM_U8": 1, "PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}

_PIECE_FRAMES = (
    4096  # of a damaged stream, at most so much is lost before the damage (a FLAC block's usual length)
)
_KEPT_BYTES = 8_000_000  # more than any array of one block takes at 96 kHz mono (4 s in float64: 3 MB)


LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 768_000
"""The lowest is the telephone's: below, there is no band left to compare. Chosen; recordings lie in between."""


class UnreadableAudio(ValueError):
    """The file cannot be measured; the message is a sentence that says what is wrong and what to do."""


def probe(path: Path) -> FileFigures:
    """What kind of audio file this is. Raises UnreadableAudio."""
    with Sound(path) as sound:
        return sound.figures()


class Sound:
    """One open audio file. Use it as a context manager; `frames` is what the file really holds, as far as known."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.notes: list[str] = []
        self._raw, self._file = _open(path)
        self.sample_rate: int = self._file.samplerate
        self.channels: int = self._file.channels
        self.frames: int = self._file.frames
        self.format: str = "WAV" if self._file.format == "WAVEX" else self._file.format
        self.subtype: str = self._file.subtype
        if self.format == "RF64" and self._raw is not None:
            self.format = "BW64"
        self._pcm24: Pcm24 | None = None
        if not LOWEST_RATE_HZ <= self.sample_rate <= HIGHEST_RATE_HZ:
            self.close()
            raise UnreadableAudio(
                f"“{path.name}” says that it has {self.sample_rate:,} samples a second; Dialback measures from "
                f"{LOWEST_RATE_HZ:,} to {HIGHEST_RATE_HZ:,}. Export it again at the session's rate."
            )
        if self.frames <= 0:
            self.close()
            raise _empty(path)
        self._look_at_the_header()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        self._file.close()
        if self._raw is not None:
            self._raw.close()
        if self._pcm24 is not None:
            self._pcm24.close()

    def figures(self) -> FileFigures:
        return FileFigures(
            sample_rate=self.sample_rate,
            channels=self.channels,
            frames=self.frames,
            duration_s=self.frames / self.sample_rate,
            format=self.format,
            subtype=self.subtype,
        )

    def read(self, start: int, frames: int) -> Samples:
        """Samples [start, start + frames) as (frames, channels); silence where the file has none."""
        out = np.zeros((frames, self.channels), dtype=np.float32)
        first, last = max(start, 0), min(start + frames, self.frames)
        if last > first:
            self._read_into(first, out[first - start : last - start])
        return out

    def blocks(self, block_frames: int) -> Iterator[tuple[int, Samples]]:
        """(start, samples) from the beginning to the end; the array is reused, so keep no reference to it.

        Corrects `frames` when the audio ends before the header says. Raises UnreadableAudio at the first sample
        that is not a number.
        """
        _keep_freed_memory()
        buffer = np.empty((block_frames, self.channels), dtype=np.float32)
        start = 0
        while start < self.frames:
            wanted = min(block_frames, self.frames - start)
            got = self._read_into(start, buffer[:wanted])
            if got < wanted:
                self._ends_early(start + got)
            if got:
                self._refuse_what_is_no_sample(start, buffer[:got])
                yield start, buffer[:got]
            start += wanted

    def _read_into(self, start: int, out: Samples) -> int:
        """Fills `out`, returns how many frames were good; a damaged stream is read up to the damage."""
        if self._pcm24 is not None:
            got = self._pcm24.read_into(start, out)
            out[got:] = 0
            return got
        try:
            if self._file.tell() != start:
                self._file.seek(start)
            return len(self._file.read(out=out))
        except soundfile.LibsndfileError:
            done = 0
            try:
                self._open_anew()
                self._file.seek(start)
                while done < len(out):
                    got = len(self._file.read(out=out[done : done + _PIECE_FRAMES]))
                    if got == 0:
                        break
                    done += got
            except soundfile.LibsndfileError:
                self._open_anew()
            out[done:] = 0
            return done

    def _open_anew(self) -> None:
        """A decoder that has met the damage finds its way no more, not even to what is whole."""
        self._file.close()
        if self._raw is not None:
            self._raw.close()
        self._raw, self._file = _open(self.path)

    def _ends_early(self, frames: int) -> None:
        if frames == 0:
            raise UnreadableAudio(
                f"“{self.path.name}” is damaged: none of its audio can be decoded. Export or copy it again."
            )
        self.notes.append(_shorter_than_promised(self.frames, frames, self.sample_rate))
        self.frames = frames

    def _refuse_what_is_no_sample(self, start: int, block: Samples) -> None:
        if self.subtype not in ("FLOAT", "DOUBLE"):
            return
        largest = max(float(block.max()), -float(block.min()))
        if largest <= LARGEST_SAMPLE:
            return
        bad = ~(np.abs(block) <= LARGEST_SAMPLE)
        at_s = (start + int(np.argmax(bad.any(axis=1)))) / self.sample_rate
        raise UnreadableAudio(
            f"“{self.path.name}” holds values that are no samples (not a number, infinite or absurdly large), the "
            f"first at {at_s:.3f} s. Export it again from the DAW, or as 24-bit."
        )

    def _look_at_the_header(self) -> None:
        """Notes audio that was promised and is not there; finds where 24-bit samples begin."""
        frame_bytes = self.channels * _SAMPLE_BYTES.get(self.subtype, 0)
        if frame_bytes == 0:
            return
        with self.path.open("rb") as file:
            container = container_of(file.read(HEAD_BYTES))
            if container == "WAV":
                offset, size = _wav_data(file)
                promised = None if size is None else size // frame_bytes
                if offset is not None and self.subtype == "PCM_24":
                    self._pcm24 = Pcm24(self.path, offset, self.channels)
            elif container == "AIFF":
                promised = _promised_aiff_frames(file)
            else:
                promised = None
        if promised is not None and promised > self.frames:
            self.notes.append(_shorter_than_promised(promised, self.frames, self.sample_rate))


def _keep_freed_memory() -> None:
    """Work by blocks asks for arrays of the same sizes again and again, and gives them back each time.

    glibc hands arrays over 128 KB back to the system, which must then clear every page anew: a third of all time.
    Once a larger array was freed, it keeps them (mallopt(3), M_MMAP_THRESHOLD); this one is never touched, so it costs
    nothing. Elsewhere it does no harm.
    """
    np.empty(_KEPT_BYTES, dtype=np.uint8)


class _Bw64File(io.FileIO):
    """BW64 (ITU-R BS.2088) is RF64 (EBU Tech 3306) under another name; libsndfile knows only the latter."""

    def readinto(self, buffer: Any) -> int:
        position = self.tell()
        count = super().readinto(buffer) or 0
        view = memoryview(buffer).cast("B")
        for index in range(position, min(4, position + count)):
            view[index - position] = b"RF64"[index]
        return count


def _open(path: Path) -> tuple[io.FileIO | None, Any]:
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise UnreadableAudio(f"“{path.name}” is not a file. Choose an audio file.")
        with path.open("rb") as file:
            head = file.read(64)
    except OSError as error:
        raise UnreadableAudio(
            f"“{path.name}” cannot be opened ({error.strerror}). Check that it is still there and that you may read it."
        ) from error
    if size == 0:
        raise UnreadableAudio(f"“{path.name}” is empty (0 bytes). Copy or export it again.")
    raw = _Bw64File(path) if head.startswith(b"BW64") else None
    try:
        return raw, soundfile.SoundFile(str(path) if raw is None else raw)
    except soundfile.LibsndfileError as error:
        if raw is not None:
            raw.close()
        raise _unrecognised(path, head) from error


def _unrecognised(path: Path, head: bytes) -> UnreadableAudio:
    known = head[:4] in (b"RIFF", b"RF64", b"BW64", b"FORM", b"fLaC", b"OggS", b"caff")
    if known:
        return UnreadableAudio(
            f"“{path.name}” begins like an audio file, but its header is damaged or cut short. Copy or export it again."
        )
    if all(byte in b"\t\n\r\f" or byte >= 32 for byte in head):
        return UnreadableAudio(
            f"“{path.name}” holds text, not audio, whatever its name says. Choose the audio file itself."
        )
    return UnreadableAudio(
        f"“{path.name}” is not a kind of audio file that can be read. Export it as WAV, AIFF or FLAC."
    )


def _empty(path: Path) -> UnreadableAudio:
    body = path.stat().st_size
    if body > 1000:
        return UnreadableAudio(
            f"“{path.name}” says it holds no audio, though it is {body:,} bytes long: the recording was probably "
            "cut off before its header was finished. Open it in the DAW that made it and save it again."
        )
    return UnreadableAudio(f"“{path.name}” holds a header but not one sample. Export it again.")


def _shorter_than_promised(promised: int, held: int, sample_rate: int) -> str:
    return (
        f"The file's header promises {promised / sample_rate:.2f} s, but it holds {held / sample_rate:.2f} s "
        f"({held:,} of {promised:,} samples); what is there was measured."
    )


def _wav_data(file: io.BufferedReader) -> tuple[int | None, int | None]:
    """Where a WAV or RF64 file's samples begin, and how many bytes of them its header promises, as far as it says."""
    long_data_bytes: int | None = None
    for name, length in chunks(file, "little"):
        if name == b"ds64":
            long_data_bytes = int.from_bytes(file.read(16)[8:], "little")
        elif name == b"data":
            return file.tell(), long_data_bytes if length == LARGEST_32_BIT else length
    return None, None


def _promised_aiff_frames(file: io.BufferedReader) -> int | None:
    for name, _ in chunks(file, "big"):
        if name == b"COMM":
            return int.from_bytes(file.read(6)[2:], "big")
    return None

"""24-bit samples straight from a WAV file: four times as quick as libsndfile's way, which was a sixth of all measuring.

(Five minutes of mono: 17 ms instead of 72.)
"""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

# The format: three bytes a sample, taken as the upper 24 of 32 bits.
_BYTES = 3
_TOP_24_BITS = -256
_STEP = np.float32(2**-31)


class Pcm24:
    """The samples that begin `offset` bytes into a file, interleaved and little-endian."""

    def __init__(self, path: Path, offset: int, channels: int) -> None:
        self._file = path.open("rb", buffering=0)
        self._offset = offset
        self._channels = channels
        self._bytes = np.empty(0, dtype=np.uint8)
        self._whole = np.empty(0, dtype=np.int32)

    def close(self) -> None:
        self._file.close()

    def read_into(self, start: int, out: NDArray[np.float32]) -> int:
        """Fills (frames, channels) from frame `start` on; returns how many frames the file held."""
        wanted = out.size * _BYTES
        if len(self._bytes) < wanted + 1:
            self._bytes = np.zeros(wanted + 1, dtype=np.uint8)
            self._whole = np.empty(out.size, dtype=np.int32)
        self._file.seek(self._offset + start * self._channels * _BYTES)
        got = 0
        while got < wanted and (more := self._file.readinto(self._bytes.data[1 + got : 1 + wanted])):
            got += more
        frames = got // (self._channels * _BYTES)
        samples = frames * self._channels
        # whole numbers of 32 bits that overlap by one byte, which is then cleared
        overlapping = np.ndarray((samples,), "<i4", self._bytes.data, strides=(_BYTES,))
        whole = self._whole[:samples]
        np.bitwise_and(overlapping, _TOP_24_BITS, out=whole)
        np.multiply(
            whole.reshape(frames, self._channels),
            _STEP,
            out=out[:frames],
            dtype=np.float32,
            casting="unsafe",
        )
        return frames

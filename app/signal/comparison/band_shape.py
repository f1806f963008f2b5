"""The shape of a spectrum, whatever its level: what two prints of like sound have in common.

A shape is the one-third-octave levels from 50 Hz to 10 kHz, none counted as lower than 60 dB under the strongest, with
their mean taken away. The distance of two shapes is the root mean square of their differences in dB, so a gain between
two prints counts for nothing. Common practice; IEC 61260-1 for the bands alone.
"""

import math
import struct
from collections.abc import Iterable, Sequence

from app.signal.figures import BandLevel

# Common practice (see above): between the names of the bands from 50 Hz to 10 kHz, of which there are 24.
LOWEST_HZ, HIGHEST_HZ = 45.0, 11_000.0
BANDS = 24
FLOOR_DB = 60.0
_PACKED = struct.Struct(f"<{BANDS}f")

Shape = tuple[float, ...]


def shape_of(bands: Iterable[BandLevel]) -> Shape | None:
    """24 values in dB; None where no band has a level."""
    levels = [band.level_dbfs for band in bands if LOWEST_HZ < band.mid_hz < HIGHEST_HZ]
    heard = [level for level in levels if level is not None]
    if not heard or len(levels) != BANDS:
        return None
    floor = max(heard) - FLOOR_DB
    raised = [floor if level is None else max(level, floor) for level in levels]
    mean = sum(raised) / BANDS
    return tuple(level - mean for level in raised)


def distance_db(one: Sequence[float], other: Sequence[float]) -> float:
    return math.dist(one, other) / math.sqrt(BANDS)


def packed(shape: Shape) -> bytes:
    """The shape as 32-bit floats, little-endian."""
    return _PACKED.pack(*shape)


def unpacked(kept: bytes) -> Shape:
    return _PACKED.unpack(kept)

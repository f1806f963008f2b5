"""Which stretches both prints play: a recall that stops before its file ends is compared no further."""

import numpy as np
from numpy.typing import NDArray

from app.signal.comparison.beside import Beside

# Set by hand; not measured singly.
SOUNDING_DB = -35.0
"""Below the loudest stretch; of quieter ones nothing can be told."""
LOST_DB, PARTED_DB = 15.0, 4.0
"""So far from the level that is expected a stretch was not played; or so far, where its wave is another's as well."""
ALIKE, PARTED_SHARE, UNLIKE = 0.8, 0.3, 0.25
"""Shares of the power that is common. Where prints are alike throughout, a stretch that is not is none of the part."""


def followed(beside: Beside) -> NDArray[np.bool_]:
    """True for each stretch that both play, (M,).

    Each is held against what the filter between both prints, as it is over all that is played, makes of the original: its
    level, and how much of the wave is common. A stretch in which nobody plays goes with its neighbours, and one beside a
    stretch that was lost goes, too: where the playing stopped within it cannot be seen.
    """
    kept = np.ones(len(beside), dtype=bool)
    for _ in range(2):
        level_db, common, sounding = _against_filter(beside, kept)
        if not sounding.any():
            return kept
        usual_db = float(np.median(level_db[sounding & kept])) if (sounding & kept).any() else 0.0
        usual = float(np.median(common[sounding & kept])) if (sounding & kept).any() else 0.0
        away = np.abs(level_db - usual_db)
        lost = (away > LOST_DB) & (common < 0.5)
        lost |= (away > PARTED_DB) & (common < PARTED_SHARE * usual)
        if usual > ALIKE:
            lost |= common < UNLIKE
        kept = ~_spread_out(lost & sounding, sounding)
        if not kept.any():
            return np.ones(len(beside), dtype=bool)
    return kept


def _against_filter(
    beside: Beside, kept: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    power = beside.original[kept].sum(axis=0) + 1e-30
    cross = beside.cross[kept].sum(axis=0)
    gains = np.abs(cross) / power
    # where waves do not agree, the powers' own ratio still says what level to expect
    shape = np.maximum(gains, np.sqrt(beside.recalled[kept].sum(axis=0) / power))
    expected = beside.original @ shape**2
    there = beside.recalled.sum(axis=1)
    wave = np.abs((beside.cross * np.conj(cross) / power).sum(axis=1)) ** 2
    common = wave / (np.maximum(beside.original @ gains**2, 1e-30) * np.maximum(there, 1e-30))
    level_db = 10 * np.log10((there + 1e-30) / (expected + 1e-30))
    loudest = max(float(expected.max()), float(there.max()), 1e-30)
    sounding = np.maximum(expected, there) > loudest * 10 ** (SOUNDING_DB / 10)
    return level_db, np.minimum(common, 1.0), sounding


def _spread_out(lost: NDArray[np.bool_], sounding: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """With the silent ones between lost stretches, and one neighbour of each."""
    known = np.flatnonzero(sounding)
    places = np.arange(len(lost))
    after = np.clip(np.searchsorted(known, places), 0, len(known) - 1)
    before = np.clip(np.searchsorted(known, places, side="right") - 1, 0, len(known) - 1)
    spread = lost | (~sounding & lost[known[before]] & lost[known[after]])
    near = spread.copy()
    near[1:] |= spread[:-1]
    near[:-1] |= spread[1:]
    return near

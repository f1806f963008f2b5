"""Electrical and digital levels: volts, dBu, dBV, dBFS, loading, sums.

0 dBu is the voltage of 1 mW in 600 ohm, sqrt(0.6) V = 0.7746 V rms; 0 dBV is 1 V rms. Digital levels are on the AES17
scale: a sine whose peak just reaches full scale is 0 dBFS, so a sine's rms and peak readings agree, and a full-scale
square wave reads +3.01 dBFS.
"""

from collections.abc import Iterable
from math import inf, log10, sqrt

ZERO_DBU_VOLTS = sqrt(0.6)
SINE_CREST_DB = 20.0 * log10(sqrt(2.0))


def dbu_from_volts(volts_rms: float) -> float:
    """Level in dBu of a voltage; minus infinity for none. Raises ValueError for a negative voltage."""
    return _level(volts_rms / ZERO_DBU_VOLTS)


def volts_from_dbu(level_dbu: float) -> float:
    """Volts rms of a level in dBu."""
    return float(ZERO_DBU_VOLTS * 10.0 ** (level_dbu / 20.0))


def dbu_from_dbv(level_dbv: float) -> float:
    """The same voltage in dBu: 2.2185 dB more."""
    return level_dbv - 20.0 * log10(ZERO_DBU_VOLTS)


def loading_db(source_ohm: float, load_ohm: float) -> float:
    """Loss of a source into a load, 20 log10(Zin / (Zout + Zin)).

    Resistive; a passive pickup is mostly inductive, so for its treble this is the least that is lost.
    Raises ValueError for a negative source or a load of zero or less.
    """
    if source_ohm < 0.0 or load_ohm <= 0.0:
        raise ValueError("A load is above zero ohms, and a source not below.")
    return 20.0 * log10(load_ohm / (source_ohm + load_ohm))


def parallel_ohm(*ohms: float) -> float:
    """Impedances side by side. Raises ValueError unless all are above zero."""
    if not ohms or min(ohms) <= 0.0:
        raise ValueError("Impedances side by side are each above zero ohms.")
    return 1.0 / sum(1.0 / ohm for ohm in ohms)


def power_sum_db(levels_db: Iterable[float]) -> float:
    """Level of unrelated signals summed: the powers add. Minus infinity for none."""
    power = sum(10.0 ** (level / 10.0) for level in levels_db)
    return 10.0 * log10(power) if power > 0.0 else -inf


def _level(ratio: float) -> float:
    if ratio < 0.0:
        raise ValueError("A voltage's rms or peak value is not negative.")
    return 20.0 * log10(ratio) if ratio > 0.0 else -inf

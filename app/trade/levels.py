"""Electrical and digital levels: volts, dBu, dBV, dBFS, loading, transformers.

0 dBu is the voltage of 1 mW in 600 ohm, sqrt(0.6) V = 0.7746 V rms; 0 dBV is 1 V rms. Digital levels are on the AES17
scale: a sine whose peak just reaches full scale is 0 dBFS, so a sine's rms and peak readings agree, and a full-scale
square wave reads +3.01 dBFS.
"""

from math import inf, log10, pi, sqrt

ZERO_DBU_VOLTS = sqrt(0.6)
SINE_CREST_DB = 20.0 * log10(sqrt(2.0))


def dbu_from_volts(volts_rms: float) -> float:
    """Level in dBu of a voltage; minus infinity for none. Raises ValueError for a negative voltage."""
    return _level(volts_rms / ZERO_DBU_VOLTS)


def volts_from_dbu(level_dbu: float) -> float:
    """Volts rms of a level in dBu."""
    return float(ZERO_DBU_VOLTS * 10.0 ** (level_dbu / 20.0))


def dbv_from_volts(volts_rms: float) -> float:
    """Level in dBV of a voltage; minus infinity for none. Raises ValueError for a negative voltage."""
    return _level(volts_rms)


def volts_from_dbv(level_dbv: float) -> float:
    """Volts rms of a level in dBV."""
    return float(10.0 ** (level_dbv / 20.0))


def dbu_from_dbv(level_dbv: float) -> float:
    """The same voltage in dBu: 2.2185 dB more."""
    return level_dbv - 20.0 * log10(ZERO_DBU_VOLTS)


def dbv_from_dbu(level_dbu: float) -> float:
    """The same voltage in dBV."""
    return level_dbu + 20.0 * log10(ZERO_DBU_VOLTS)


def sine_peak_volts(level_dbu: float) -> float:
    """The peak voltage of a sine at a level."""
    return volts_from_dbu(level_dbu) * sqrt(2.0)


def dbu_of_sine_peak(peak_volts: float) -> float:
    """The level of the sine that has this peak voltage."""
    return dbu_from_volts(peak_volts / sqrt(2.0))


def dbfs_from_rms(rms: float) -> float:
    """AES17 level of an rms value, full scale being 1: 20 log10(rms sqrt(2))."""
    return _level(rms * sqrt(2.0))


def dbu_from_dbfs(level_dbfs: float, full_scale_dbu: float) -> float:
    """The electrical level of a digital one, `full_scale_dbu` being the level at 0 dBFS."""
    return level_dbfs + full_scale_dbu


def dbfs_from_dbu(level_dbu: float, full_scale_dbu: float) -> float:
    """The digital level of an electrical one."""
    return level_dbu - full_scale_dbu


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


def transformer_db(turns_ratio: float) -> float:
    """Level change of an n:1 step-down transformer: -20 log10(n); below 1 it steps up."""
    return -20.0 * log10(_positive(turns_ratio, "A turns ratio"))


def turns_from_impedances(primary_ohm: float, secondary_ohm: float) -> float:
    """Turns ratio of a transformer named by its impedances: sqrt(Z1 / Z2)."""
    return sqrt(_positive(primary_ohm, "An impedance") / _positive(secondary_ohm, "An impedance"))


def reflected_ohm(load_ohm: float, step_up_ratio: float) -> float:
    """A load as seen through a transformer that steps up 1:n: Z / n²."""
    return load_ohm / _positive(step_up_ratio, "A turns ratio") ** 2


def roll_off_hz(source_ohm: float, capacitance_nf: float) -> float:
    """Where a source into a cable's capacitance is 3 dB down: 1 / (2 pi R C)."""
    return 1.0 / (
        2.0 * pi * _positive(source_ohm, "An impedance") * _positive(capacitance_nf, "A capacitance") * 1e-9
    )


def _level(ratio: float) -> float:
    if ratio < 0.0:
        raise ValueError("A voltage's rms or peak value is not negative.")
    return 20.0 * log10(ratio) if ratio > 0.0 else -inf


def _positive(value: float, what: str) -> float:
    if not value > 0.0:
        raise ValueError(f"{what} is above zero.")
    return value

"""Sound pressure and its level re 20 µPa."""

from math import log10

REFERENCE_PRESSURE_PA = 20e-6


def spl_db(pressure_pa: float) -> float:
    """Sound pressure level re 20 µPa. Raises ValueError unless the pressure is above zero."""
    if not pressure_pa > 0.0:
        raise ValueError("A sound pressure is above zero.")
    return 20.0 * log10(pressure_pa / REFERENCE_PRESSURE_PA)


def pressure_pa(level_db_spl: float) -> float:
    """The sound pressure of a level re 20 µPa."""
    return float(REFERENCE_PRESSURE_PA * 10.0 ** (level_db_spl / 20.0))

"""What an interface puts out and takes in at 0 dBFS: from a manual's figure, a voltmeter, or a loop back to itself."""

from dataclasses import dataclass
from typing import Literal, get_args

from app.trade.levels import dbu_from_dbv, dbu_from_volts
from app.trade.readings import read_number

LevelUnit = Literal["dBu", "dBV", "V", "mV"]
LOWEST_FULL_SCALE_DBU, HIGHEST_FULL_SCALE_DBU = -40.0, 36.0
CALIBRATION_TONE_HZ = 1000.0


def level_dbu(value: float, unit: LevelUnit) -> float:
    """A level in dBu from the unit a manual or a meter gives; volts are rms.

    Raises ValueError with a sentence for a voltage that is not above zero.
    """
    match unit:
        case "dBu":
            return value
        case "dBV":
            return dbu_from_dbv(value)
        case "V" | "mV":
            if not value > 0.0:
                raise ValueError("A voltmeter that reads nothing gives no level; is the tone playing?")
            return dbu_from_volts(value if unit == "V" else value / 1000.0)


def read_level_dbu(text: str) -> float | None:
    """A level with its unit as a manual gives it: “+18 dBu”, “2.2 V”, “6 dBV”; a bare number is in dBu.

    Raises UnknownReading for what is no level, ValueError with a sentence for a voltage that is not above zero."""
    for unit in sorted(get_args(LevelUnit), key=len, reverse=True):
        if text.lower().endswith(unit.lower()):
            value = read_number(text[: -len(unit)])
            return None if value is None else level_dbu(value, unit)
    return read_number(text)


def output_full_scale_dbu(reading: float, unit: LevelUnit, tone_dbfs: float) -> float:
    """An output's level at 0 dBFS from a meter's reading of a tone played at `tone_dbfs`.

    Raises ValueError with a sentence for a tone above full scale, or a result no interface has.
    """
    if not -80.0 <= tone_dbfs <= 0.0:
        raise ValueError("The calibration tone plays between −80 and 0 dBFS.")
    return _plausible(level_dbu(reading, unit) - tone_dbfs)


def input_full_scale_dbu(known_dbu: float, reading_dbfs: float) -> float:
    """An input's level at 0 dBFS from a known level fed to it and what the DAW reads: dBu less reading.

    Raises ValueError with a sentence for a result no interface has.
    """
    if not -100.0 <= reading_dbfs <= 0.0:
        raise ValueError("The DAW's reading lies between −100 and 0 dBFS; at 0 it may already clip.")
    return _plausible(known_dbu - reading_dbfs)


@dataclass(frozen=True)
class MixUp:
    """A likely reason why a reading is off, and the level it would mean."""

    difference_db: float
    sentence: str


MIX_UPS: tuple[MixUp, ...] = (
    MixUp(2.2185, "That is 2.2 dB off: was the figure in dBV, not dBu (or the other way round)?"),
    MixUp(11.7815, "That is 11.8 dB off: is one end at +4 dBu and the other at −10 dBV?"),
    MixUp(3.0103, "That is 3 dB off: was a peak voltage typed where rms was asked (or the other way round)?"),
    MixUp(9.0309, "That is 9 dB off: was a peak-to-peak voltage typed where rms was asked?"),
    MixUp(6.0206, "That is 6 dB off: was only one leg of a balanced output measured?"),
    MixUp(60.0, "That is 60 dB off: was the reading in mV, not V (or the other way round)?"),
)
MIX_UP_TOLERANCE_DB = 0.3  # ours: closer than the nearest two mix-ups lie to each other


def likely_mix_up(expected_dbu: float, measured_dbu: float) -> MixUp | None:
    """The mix-up of units that would explain the difference, or None where none does."""
    difference = abs(measured_dbu - expected_dbu)
    nearest = min(MIX_UPS, key=lambda mix_up: abs(mix_up.difference_db - difference))
    return nearest if abs(nearest.difference_db - difference) <= MIX_UP_TOLERANCE_DB else None


def _plausible(full_scale_dbu: float) -> float:
    if not LOWEST_FULL_SCALE_DBU <= full_scale_dbu <= HIGHEST_FULL_SCALE_DBU:
        raise ValueError(
            f"That makes 0 dBFS {full_scale_dbu:+.1f} dBu, which no interface has; are the unit and the tone's level right?"
        )
    return full_scale_dbu

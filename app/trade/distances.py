"""Distances, angles, levels and frequencies as people write them beside a microphone."""

import re
from typing import Literal

from app.trade.written_numbers import NotANumber, quoted, read_quantity, split_number, tidy

LengthUnit = Literal["mm", "in"]

MM_PER_INCH = 25.4  # exact by definition (ISO 80000-3; international yard and pound agreement)
_MM_PER_UNIT: dict[str, float] = {
    "": 1.0,
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "in.": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "''": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "ft.": 12 * MM_PER_INCH,
    "foot": 12 * MM_PER_INCH,
    "feet": 12 * MM_PER_INCH,
    "'": 12 * MM_PER_INCH,
    "millimetres": 1.0,
    "centimetres": 10.0,
    "metres": 1000.0,
    "metre": 1000.0,
    "meter": 1000.0,
    "meters": 1000.0,
}
FARTHEST_MM = 30_000.0
STEEPEST_DEG = 180.0
LARGEST_DB = 120.0
HIGHEST_HZ = 40_000.0


class NotAMeasure(ValueError):
    """A distance, angle, level or frequency that cannot be. Its sentence says why."""


def read_distance_mm(text: str, unit: LengthUnit = "mm") -> float:
    """A distance in mm from "30", "30 mm", "3 cm", "1.5 in", "1 1/2\\"", "0.3 m", "2 ft", "1' 6\\"".

    A bare number is in `unit`. Raises NotAMeasure for a negative or absurd distance, or for what is no distance.
    """
    distance_mm = _length_mm(text, unit)
    if distance_mm < 0:
        raise NotAMeasure(f"{quoted(text)} is negative; a distance counts from the grille outwards.")
    return distance_mm


def read_offset_mm(text: str, unit: LengthUnit = "mm") -> float:
    """A signed distance in mm from the centre of the cone or the axis, to the right or upwards positive.

    Raises NotAMeasure.
    """
    return _length_mm(text, unit)


def show_distance(mm: float, unit: LengthUnit) -> str:
    """A distance in the unit a person works in: "30 mm", "1.25 m" from a metre up, "1.5 in"."""
    if unit == "in":
        return f"{_short(mm / MM_PER_INCH, 2)} in"
    if abs(mm) >= 1000:
        return f"{_short(mm / 1000, 3)} m"
    return f"{_short(mm, 1)} mm"


def read_angle_deg(text: str) -> float:
    """An angle off the speaker's axis in degrees: "30", "30°", "-15 deg", "on axis". Raises NotAMeasure."""
    if tidy(text).lower() in ("on axis", "on-axis", "straight on"):
        return 0.0
    angle = _quantity(text, "°", "an angle in degrees")
    if abs(angle) > STEEPEST_DEG:
        raise NotAMeasure(f"{quoted(text)} is more than {STEEPEST_DEG:.0f}° off axis.")
    return angle


def read_level_db(text: str) -> float:
    """A level or gain in dB: "-10 dB", "+48", "−20". Raises NotAMeasure."""
    level = _quantity(text, "dB", "a level in dB")
    if abs(level) > LARGEST_DB:
        raise NotAMeasure(f"{quoted(text)} is beyond ±{LARGEST_DB:.0f} dB.")
    return level


def read_frequency_hz(text: str) -> float:
    """A frequency in Hz: "80", "80 Hz", "1.2 kHz", "1k2". Raises NotAMeasure."""
    frequency = _quantity(text, "Hz", "a frequency in Hz")
    if not 0 < frequency <= HIGHEST_HZ:
        raise NotAMeasure(f"{quoted(text)} is not between 0 and {HIGHEST_HZ / 1000:.0f} kHz.")
    return frequency


def show_angle(deg: float) -> str:
    """ "30° off axis", or "on axis"."""
    return "on axis" if abs(deg) < 0.5 else f"{_short(deg, 1)}° off axis"


def show_db(level_db: float) -> str:
    """A signed level: "+48 dB", "−10 dB", "0 dB"."""
    number = _short(level_db, 1)
    return f"+{number} dB" if level_db > 0 and number != "0" else f"{number} dB"


def show_hz(frequency_hz: float) -> str:
    """ "80 Hz", "1.2 kHz"."""
    return (
        f"{_short(frequency_hz / 1000, 2)} kHz" if frequency_hz >= 1000 else f"{_short(frequency_hz, 1)} Hz"
    )


def _length_mm(text: str, unit: LengthUnit) -> float:
    written = tidy(text)
    feet_and_inches = re.fullmatch(
        r"(\d+) ?(?:'|ft\.?|foot|feet) ?(\d.*?)(?:\"|''|in\.?|inch|inches)?", written
    )
    try:
        if feet_and_inches and "m" not in feet_and_inches[2]:
            inches, rest = split_number(feet_and_inches[2])
            length = (int(feet_and_inches[1]) * 12 + inches) * MM_PER_INCH
        else:
            number, rest = split_number(written)
            rest = rest.lower() or unit
            length = number * _MM_PER_UNIT[rest]
            rest = ""
    except NotANumber as problem:
        raise NotAMeasure(f"{problem} Write a distance such as 30 mm, 3 cm or 1.5 in.") from None
    except KeyError:
        raise NotAMeasure(f"{quoted(text)} has no unit of length. Write mm, cm, m, in or ft.") from None
    if rest:
        raise NotAMeasure(f"{quoted(text)} is not a distance. Write one such as 30 mm, 3 cm or 1.5 in.")
    if abs(length) > FARTHEST_MM:
        raise NotAMeasure(f"{quoted(text)} is farther than {FARTHEST_MM / 1000:.0f} m; is the unit right?")
    return round(length, 4)


def _quantity(text: str, unit: str, what: str) -> float:
    try:
        return read_quantity(text, unit)
    except NotANumber as problem:
        raise NotAMeasure(f"{problem} Write {what}.") from None


def _short(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "0") else text.replace("-", "−")

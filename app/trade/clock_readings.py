"""Clock positions as people say them: "2:30", "half past 2", "ten to 3", "2 o'clock", "noon"."""

import re

from app.trade.travel import DEGREES_PER_HOUR
from app.trade.written_numbers import NotANumber, quoted, split_number

_HOUR = r"(?P<hour>\d{1,2}|noon|midday|12 noon)"
_O_CLOCK = r"(?:\s*o ?'? ?clock)?"
_EXACT = re.compile(rf"(?P<hour>\d{{1,2}})\s*(?::|h)\s*(?P<minutes>[0-5]\d){_O_CLOCK}", re.ASCII)
_PAST = re.compile(
    rf"(?P<minutes>half|(?:a )?quarter|\d{{1,2}})(?: ?min| minutes?)? (?P<side>past|after|to|till?|before) {_HOUR}{_O_CLOCK}",
    re.ASCII,
)
_WHOLE = re.compile(r"(?P<hour>\d{1,2}) ?o ?'? ?clock", re.ASCII)
_HALF_HOUR = re.compile(rf"half {_HOUR}{_O_CLOCK}", re.ASCII)
_TWO_DECIMALS = re.compile(r"(?P<hour>\d{1,2})(?:[.,]| )(?P<minutes>\d\d)", re.ASCII)
_NOON = ("noon", "midday", "12 noon", "straight up")


class AmbiguousClock(NotANumber):
    """A clock position that two people would set differently. Its sentence says both."""


def read_clock_deg(text: str, *, bare_hours: bool) -> float | None:
    """The angle a clock position names, in degrees from 12 o'clock (0 to 360), or None where the text names none.

    `text` is tidied, in lower case, with digits for number words. With `bare_hours`, a number alone is a clock hour,
    as on a control without printed numbers. Raises AmbiguousClock.
    """
    if text in _NOON:
        return 0.0
    if found := _EXACT.fullmatch(text) or _WHOLE.fullmatch(text):
        return _angle(found["hour"], int(found.groupdict().get("minutes") or 0))
    if found := _PAST.fullmatch(text):
        minutes = (
            30
            if found["minutes"] == "half"
            else 15
            if "quarter" in found["minutes"]
            else int(found["minutes"])
        )
        past = found["side"] in ("past", "after")
        if minutes >= 60 or (minutes == 30 and not past and found["minutes"] == "half"):
            return None
        return _angle(found["hour"], minutes if past else -minutes)
    if _HALF_HOUR.fullmatch(text):
        raise AmbiguousClock(
            f"{quoted(text)} means half past to some and half to for others; write it as 2:30."
        )
    return _bare_hours_deg(text) if bare_hours else None


def _bare_hours_deg(text: str) -> float | None:
    if found := _TWO_DECIMALS.fullmatch(text):
        minutes = int(found["minutes"])
        if minutes in (25, 50):
            hour = found["hour"]
            raise AmbiguousClock(
                f"Is {text} the clock position {hour}:{minutes}, or {hour} and a part? Use a colon."
            )
        if minutes < 60:
            return _angle(found["hour"], minutes)
    try:
        hours, rest = split_number(text)
    except NotANumber:
        return None
    if rest or "/" in text.split()[0] or not 1.0 <= hours < 13.0:
        return None
    return hours % 12.0 * DEGREES_PER_HOUR


def _angle(hour_text: str, minutes: int) -> float | None:
    hour = int(hour_text) if hour_text.isdigit() else 12
    if hour > 12:
        return None
    return (hour * 60 + minutes) % 720 / 60 * DEGREES_PER_HOUR

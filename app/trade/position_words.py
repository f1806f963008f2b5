"""Positions of a knob or a fader as people say and write them: "2:30", "6.5", "just past 2", "flat", "between 6 and 7"."""

import re
from collections.abc import Callable
from dataclasses import dataclass

from app.trade.clock_readings import read_clock_deg
from app.trade.scale_values import (
    ends_text,
    falls,
    plain_text,
    position_of_mark_value,
    position_of_zero,
    reads_db,
    reads_percent,
    with_unit,
    zero_is_lower_end,
)
from app.trade.scales import ClockScale, ControlSpec, MarkScale, PercentScale, RangeScale
from app.trade.travel import TRAVEL_SLACK, clock_text, position_at_deg, within_travel
from app.trade.written_numbers import NotANumber, quantity_as_written, quoted

_LOWER_END = frozenset({
    "min", "minimum", "bottom", "lowest", "anticlockwise", "anti clockwise", "counterclockwise", "ccw", "full ccw",
    "fully ccw", "fully anticlockwise", "fully anti clockwise", "fully counterclockwise", "fully counter clockwise",
    "fully down", "fully left", "all the way down", "all the way left", "hard left", "-inf", "-∞",
})  # fmt: skip
_UPPER_END = frozenset({
    "max", "maximum", "top", "highest", "full", "full up", "wide open", "dimed", "clockwise", "cw", "full cw",
    "fully cw", "fully clockwise", "fully up", "fully right", "all the way up", "all the way right", "hard right",
})  # fmt: skip
_FRACTIONS = {
    "half": 1 / 2,
    "halfway": 1 / 2,
    "half way": 1 / 2,
    "halfway up": 1 / 2,
    "half way up": 1 / 2,
    "middle": 1 / 2,
    "mid": 1 / 2,
    "midway": 1 / 2,
    "centre": 1 / 2,
    "center": 1 / 2,
    "centred": 1 / 2,
    "centered": 1 / 2,
    "quarter": 1 / 4,
    "a quarter": 1 / 4,
    "3 quarters": 3 / 4,
    "a third": 1 / 3,
    "1 third": 1 / 3,
    "2 thirds": 2 / 3,
}
_NUDGES = {
    "just": 0.01,
    "touch": 0.01,
    "hair": 0.01,
    "tad": 0.01,
    "slightly": 0.01,
    "bit": 0.02,
    "little": 0.02,
    "well": 0.04,
}
ABOUT = re.compile(
    r"(?:about|around|roughly|approximately|approx\.?|circa|ca\.?|c\.|~|≈|more or less)\s*(?P<lead>.+)"
    r"|(?P<trail>.+?)(?: ?ish| or so|,? roughly|,? approximately|,? approx\.?|,? more or less|,? give or take)"
)
_NUDGED = re.compile(
    r"(?:just (?=an? ))?(?:an? )?(?:(?P<size>just|bit|little|touch|hair|tad|slightly|well) )?"
    r"(?P<way>past|after|before|short of|shy of|over|above|more than|under|below|less than) (?P<base>.+)"
)
_NEARLY = re.compile(r"(?:almost|nearly|not quite) (?P<base>.+)")
_O_CLOCK = r" ?o ?'? ?clock"
_BETWEEN = re.compile(
    rf"(?:half ?way )?between (?P<low>.+) and (?P<high>.+?)(?P<clock>{_O_CLOCK})?"
    rf"|(?P<from>\d[\d.,:]*) ?- ?(?P<to>\d[\d.,:]*)(?P<clocks>{_O_CLOCK})?",
    re.ASCII,
)
_ONE_TO_ANOTHER = re.compile(
    rf"(?P<low>[+-]?\d+(?:[.,]\d+)?) to (?P<high>[+-]?\d+(?:[.,]\d+)?)(?P<clock>{_O_CLOCK})?", re.ASCII
)
_MINUTES_BEFORE = ("5", "10", "20", "25")  # what people call out before the hour
_OUT_OF = re.compile(r"(?P<number>\d+(?:[.,]\d+)?) ?(?:/|out of|of) ?(?P<whole>\d+(?:[.,]\d+)?)", re.ASCII)


class Unreadable(ValueError):
    """Words that name no position of the control. Its sentence says why."""


@dataclass(frozen=True)
class Place:
    """A position from 0 to 1, and whether it was said roughly or lies between printed marks."""

    position: float
    approximate: bool = False


def read_place(spec: ControlSpec, text: str, words: str) -> Place:
    """The position that the text names on any scale of a knob or a fader.

    `text` is as written, tidied; `words` the same in lower case with digits for number words. Raises Unreadable.
    """
    for way in (_between_place, _one_to_another_place, _out_of_place, _rough_place, _exact_place):
        if place := way(spec, text, words):
            return place
    raise Unreadable(f"{quoted(text)} is not a reading of this {spec.form}.")


def _exact_place(spec: ControlSpec, text: str, words: str) -> Place | None:
    if (position := _named_position(spec, words)) is not None:
        return Place(position)
    try:
        angle = read_clock_deg(words, bare_hours=isinstance(spec.scale, ClockScale))
        if angle is None:
            return _valued_place(spec, text, words)
        if spec.form == "fader":
            raise Unreadable(f"{quoted(text)} is a clock position, and a fader does not turn.")
        return Place(_inside(spec, position_at_deg(spec.travel, angle), lambda: clock_text(angle)))
    except NotANumber as problem:
        raise Unreadable(str(problem)) from None


def _valued_place(spec: ControlSpec, text: str, words: str) -> Place | None:
    if not reads_percent(spec) and re.search(r"(?:%|percent|per cent|pct)$", words):
        percent = quantity_as_written(text, words, "%")
        return Place(_inside(spec, percent / 100, lambda: f"{plain_text(percent)} %"))
    if not re.search(r"\d", words) or not re.match(r"[+-]?\s*[\d.,]", words):
        return None
    match spec.scale:
        case RangeScale(low, high, unit):
            value = quantity_as_written(text, words, unit)
            return Place(
                _inside(spec, (value - low) / (high - low), lambda: with_unit(plain_text(value), unit))
            )
        case PercentScale():
            value = quantity_as_written(text, words, "%")
            return Place(_inside(spec, value / 100, lambda: f"{plain_text(value)} %"))
        case MarkScale(unit=unit):
            value = quantity_as_written(text, words, unit)
            return _marked_place(spec, spec.scale, value)
        case _:
            return None


def _marked_place(spec: ControlSpec, scale: MarkScale, value: float) -> Place:
    position, between = position_of_mark_value(scale, value)
    first, last = scale.marks[0][1], scale.marks[-1][1]
    if not first - TRAVEL_SLACK <= position <= last + TRAVEL_SLACK:
        raise _outside(spec, with_unit(plain_text(value), scale.unit))
    return Place(min(last, max(first, position)), approximate=between and first < position < last)


def _between_place(spec: ControlSpec, text: str, words: str) -> Place | None:
    if (found := _BETWEEN.fullmatch(words)) is None:
        return None
    clock = " o'clock" if found["clock"] or found["clocks"] else ""
    low, high = found["low"] or found["from"], found["high"] or found["to"]
    low = low if ":" in low or "clock" in low or not low[-1:].isdigit() else low + clock
    places = [_exact_place(spec, end, end) for end in (low, high + clock)]
    if places[0] is None or places[1] is None:
        return None
    return Place((places[0].position + places[1].position) / 2, approximate=True)


def _one_to_another_place(spec: ControlSpec, text: str, words: str) -> Place | None:
    """ "6 to 7" lies between the two; "5 to 3" is five minutes before three; "10 to 11" could be either."""
    if (found := _ONE_TO_ANOTHER.fullmatch(words)) is None:
        return None
    low, high = found["low"], found["high"]
    reads_hours = isinstance(spec.scale, ClockScale) or found["clock"] is not None
    if low in _MINUTES_BEFORE and (reads_hours or float(low) > float(high.replace(",", "."))):
        if high == str(int(low) + 1):
            minutes = f"{low}:{60 - int(low)}"
            raise Unreadable(
                f"Is that between the two, or the clock position {minutes}? Write {low}:30 or {minutes}.",
            )
        return None
    return _between_place(spec, text, f"between {low} and {high}{found['clock'] or ''}")


def _out_of_place(spec: ControlSpec, text: str, words: str) -> Place | None:
    """ "7/10" and "7 out of 10" on a scale from 0 to 10; any other fraction could be of the turn or of the scale."""
    if (found := _OUT_OF.fullmatch(words)) is None:
        return None
    match spec.scale:
        case RangeScale(low=0, high=high) if float(found["whole"].replace(",", ".")) == high:
            return _exact_place(spec, found["number"], found["number"])
        case PercentScale() if found["whole"] == "100":
            return _exact_place(spec, found["number"], found["number"])
    raise Unreadable(f"{quoted(text)} could be a part of the turn or of the scale.")


def _rough_place(spec: ControlSpec, text: str, words: str) -> Place | None:
    nudge, base = 0.0, ""
    if found := ABOUT.fullmatch(words):
        base = found["lead"] or found["trail"]
    elif found := _NUDGED.fullmatch(words):
        nudge, base = _NUDGES[found["size"] or "just"], found["base"]
        if found["way"] in ("before", "short of", "shy of", "under", "below", "less than"):
            nudge = -nudge
        if found["way"] in ("over", "above", "more than", "under", "below", "less than") and falls(spec):
            nudge = -nudge
    elif found := _NEARLY.fullmatch(words):
        nudge, base = -_NUDGES["just"], found["base"]
    place = _exact_place(spec, base, base) if base else None
    if place is None:
        return None
    return Place(min(1.0, max(0.0, place.position + nudge)), approximate=True)


def _named_position(spec: ControlSpec, words: str) -> float | None:
    if words in _LOWER_END:
        return 0.0
    if words in _UPPER_END:
        return 1.0
    if words in ("off", "zero", "0") and zero_is_lower_end(spec):
        return 0.0
    if words in ("flat", "zero") or (words == "unity" and reads_db(spec)):
        return position_of_zero(spec)
    return _FRACTIONS.get(words)


def _inside(spec: ControlSpec, position: float, shown: Callable[[], str]) -> float:
    held = within_travel(position)
    if held is None:
        raise _outside(spec, shown())
    return held


def _outside(spec: ControlSpec, shown: str) -> Unreadable:
    if spec.form == "knob" and ":" in shown:
        ends = f"{clock_text(spec.travel.start_deg)} to {clock_text(spec.travel.end_deg)}"
        return Unreadable(f"This knob runs from {ends}; {shown} lies outside.")
    ends = "0 to 100 %" if shown.endswith("%") and not reads_percent(spec) else ends_text(spec)
    return Unreadable(f"This {spec.form}'s scale runs from {ends}; {shown} lies outside.")

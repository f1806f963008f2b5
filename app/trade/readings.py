"""What a person reads off a control, as a position, and a position as every reading the control has.

A setting is kept twice: the words that were read and the position as a fraction of travel. `read` takes the words,
`readings` gives the words back on every scale.
"""

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import floor, log10

from app.trade.clock_readings import read_clock_deg
from app.trade.scales import STEPPED_FORMS, ClockScale, ControlSpec, MarkScale, PercentScale, RangeScale
from app.trade.travel import TRAVEL_SLACK, angle_deg, clock_text, position_at_deg, within_travel
from app.trade.written_numbers import (
    TEXT_LIMIT,
    NotANumber,
    quoted,
    read_quantity,
    same_unit,
    tidy,
    words_to_digits,
)

NOTE_LIMIT = 500  # characters of a free-text control
CLOCK_STEP_DEG = 2.5  # five minutes of the hour hand
POSITION_DECIMALS = 12  # far below what a hand can set; keeps 0.21 from reading 0.21000000000000002

_LOWER_END = frozenset(
    {"min", "minimum", "bottom", "lowest", "anticlockwise", "anti clockwise", "counterclockwise", "ccw"}
    | {"fully anticlockwise", "fully anti clockwise", "fully counterclockwise", "fully counter clockwise"}
    | {
        "fully ccw",
        "full ccw",
        "fully down",
        "fully left",
        "all the way down",
        "all the way left",
        "hard left",
    }
    | {"-inf", "-∞"}
)
_UPPER_END = frozenset(
    {"max", "maximum", "full", "full up", "top", "highest", "wide open", "dimed", "clockwise", "cw"}
    | {
        "fully clockwise",
        "fully cw",
        "full cw",
        "fully up",
        "fully right",
        "all the way up",
        "all the way right",
    }
    | {"hard right"}
)
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
_ABOUT = re.compile(
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
    rf"(?P<low>\d+(?:[.,]\d+)?) to (?P<high>\d+(?:[.,]\d+)?)(?P<clock>{_O_CLOCK})?", re.ASCII
)
_MINUTES_BEFORE = ("5", "10", "20", "25")  # what people call out before the hour
_OUT_OF = re.compile(r"(?P<number>\d+(?:[.,]\d+)?) ?(?:/|out of|of) ?(?P<whole>\d+(?:[.,]\d+)?)", re.ASCII)


class UnknownReading(ValueError):
    """A reading the control cannot have. Its sentence says what is wrong and what the control accepts."""


@dataclass(frozen=True)
class Reading:
    """What was read. `position` is the fraction of travel (None: not set, or a number or text), `value` the scale's own
    number where the scale has one, `approximate` true for "just past 2" and for values between printed marks."""

    text: str
    position: float | None
    value: float | None
    approximate: bool = False


@dataclass(frozen=True)
class ScaleReading:
    """One position on one of the control's scales; `scale` names it ("clock", "0 to 10", "percent", "ms")."""

    scale: str
    text: str


@dataclass(frozen=True)
class _Place:
    position: float
    approximate: bool = False


def read(spec: ControlSpec, text: str) -> Reading:
    """The position that `text` names on any of the control's scales. Empty text means not set.

    Raises UnknownReading where no scale of the control knows the text, or where it lies outside the travel.
    """
    kept = text.strip()
    if not kept:
        return Reading("", None, None)
    if spec.form == "text":
        return _read_note(kept)
    if len(kept) > TEXT_LIMIT:
        raise _refusal(spec, f"A reading has at most {TEXT_LIMIT} characters.")
    words = words_to_digits(re.sub(r"(?<=[a-z])-(?=[a-z])", " ", tidy(kept).lower()))
    if spec.form == "number":
        return _read_number(spec, kept, words)
    if spec.form in STEPPED_FORMS:
        return _read_step(spec, kept, words)
    place = _read_place(spec, tidy(kept), words)
    if place is None:
        raise _refusal(spec, f"{quoted(kept)} is not a reading of this {spec.form}.")
    position = round(place.position, POSITION_DECIMALS)
    return Reading(kept, position, value_at(spec, position), place.approximate)


def readings(spec: ControlSpec, position: float) -> tuple[ScaleReading, ...]:
    """The position on every scale the control has, its own first. Each text can be read back."""
    match spec.form:
        case "selector" | "switch":
            step = _nearest_step(spec, position)
            named = ScaleReading("position", spec.positions[step])
            count = len(spec.positions)
            return (named,) if count == 2 else (named, ScaleReading("step", f"{step + 1} of {count}"))
        case "knob" | "fader":
            own = _own_reading(spec, position)
            clock = ScaleReading("clock", clock_text(angle_deg(spec.travel, position)))
            percent = ScaleReading("percent", f"{_decimal(position * 100, 1.0)} %")
            others = ([clock] if spec.form == "knob" else []) + (
                [] if _percent_is_its_own(spec) else [percent]
            )
            return tuple(dict.fromkeys(([own] if own else []) + others))
        case _:
            return ()


def show(spec: ControlSpec, position: float) -> str:
    """The position on the control's own scale. Raises ValueError for a number or a text, which have no position."""
    if not (shown := readings(spec, position)):
        raise ValueError(f"A {spec.form} has no position to show.")
    return shown[0].text


def value_at(spec: ControlSpec, position: float) -> float | None:
    """The scale's own number at a position; None where the control has none there (a clock, beyond the last mark)."""
    match spec.scale:
        case RangeScale(low, high):
            return _clean(low + position * (high - low))
        case PercentScale():
            return _clean(position * 100.0)
        case MarkScale(marks=marks) if marks[0][1] - 1e-8 <= position <= marks[-1][1] + 1e-8:
            after = min(bisect_right([at for _, at in marks], position), len(marks) - 1)
            (value_0, at_0), (value_1, at_1) = marks[after - 1], marks[after]
            return _clean(value_0 + (value_1 - value_0) * (position - at_0) / (at_1 - at_0))
        case _:
            return None


def detents(spec: ControlSpec) -> tuple[float, ...]:
    """The positions that wheel, arrow keys and dragging step through, from 0 to 1; none for a number or a text."""
    if spec.form in STEPPED_FORMS:
        return tuple(step / (len(spec.positions) - 1) for step in range(len(spec.positions)))
    match spec.scale:
        case ClockScale():
            first = -floor(-spec.travel.start_deg / CLOCK_STEP_DEG)
            last = floor(spec.travel.end_deg / CLOCK_STEP_DEG)
            angles = (step * CLOCK_STEP_DEG for step in range(first, last + 1))
            return _with_ends((angle - spec.travel.start_deg) / spec.travel.sweep_deg for angle in angles)
        case RangeScale(low, high):
            step = range_step(low, high)
            first, last = -floor(-min(low, high) / step + 1e-9), floor(max(low, high) / step + 1e-9)
            return _with_ends((number * step - low) / (high - low) for number in range(first, last + 1))
        case PercentScale():
            return tuple(percent / 100 for percent in range(101))
        case MarkScale(marks=marks):
            return _with_ends([percent / 100 for percent in range(101)] + [at for _, at in marks])
        case _:
            return ()


def range_step(low: float, high: float) -> float:
    """The step of a printed range: the largest of 1 and 5 times a power of ten that gives at least forty steps."""
    finest = abs(high - low) / 40 * (1 + 1e-9)
    power = 10.0 ** floor(log10(finest))
    return 5 * power if 5 * power <= finest else power


def accepts(spec: ControlSpec) -> str:
    """What the control accepts, as a sentence: "Write a clock position, 0 to 10, or a percentage."."""
    match spec.form:
        case "text":
            return f"Write up to {NOTE_LIMIT} characters."
        case "number":
            return f"Write a number in {spec.unit}." if spec.unit else "Write a number."
        case "selector" | "switch":
            return f"Choose one of: {', '.join(spec.positions)}."
        case "knob" | "fader":
            ways = ["a clock position"] if spec.form == "knob" else []
            if not isinstance(spec.scale, ClockScale | PercentScale):
                ways.append(_ends_text(spec))
            if not _percent_is_its_own(spec):
                ways.append("a percentage")
            return (
                f"Write {' or '.join(ways) if len(ways) < 3 else ', '.join(ways[:-1]) + ', or ' + ways[-1]}."
            )


def _read_note(text: str) -> Reading:
    if len(text) > NOTE_LIMIT:
        raise UnknownReading(f"That is {len(text)} characters; this control takes up to {NOTE_LIMIT}.")
    if any(not (character.isprintable() or character in "\n\r\t") for character in text):
        raise UnknownReading("That text holds a character that cannot be printed.")
    return Reading(text, None, None)


def _read_number(spec: ControlSpec, text: str, words: str) -> Reading:
    about = _ABOUT.fullmatch(words)
    written = (about["lead"] or about["trail"]) if about else tidy(text)
    try:
        return Reading(text, None, _quantity(written, words, spec.unit), about is not None)
    except NotANumber as problem:
        raise _refusal(spec, str(problem)) from None


def _read_step(spec: ControlSpec, text: str, words: str) -> Reading:
    names = [" ".join(tidy(name).casefold().split()) for name in spec.positions]
    wanted = tidy(text).casefold()
    step: int | None = None
    if wanted in names:
        step = names.index(wanted)
    elif found := re.fullmatch(
        r"(?:position |pos\.? ?|no\.? ?|#)?(\d{1,3})(?: of (\d{1,3}))?", words, re.ASCII
    ):
        if set(names) == {"on", "off"}:
            raise _refusal(spec, f"{quoted(text)} could mean the first position or on.")
        if found[2] is None or int(found[2]) == len(names):
            step = int(found[1]) - 1
    else:
        starting = [number for number, name in enumerate(names) if name.startswith(wanted)]
        if len(starting) > 1:
            alike = ", ".join(spec.positions[number] for number in starting)
            raise _refusal(spec, f"{quoted(text)} could be any of {alike}.")
        step = starting[0] if starting else None
    if step is None or not 0 <= step < len(names):
        raise _refusal(spec, f"{quoted(text)} is not a position of this {spec.form}.")
    return Reading(text, step / (len(names) - 1), None)


def _read_place(spec: ControlSpec, text: str, words: str) -> _Place | None:
    for way in (_between_place, _one_to_another_place, _out_of_place, _rough_place, _exact_place):
        if place := way(spec, text, words):
            return place
    return None


def _exact_place(spec: ControlSpec, text: str, words: str) -> _Place | None:
    if (position := _named_position(spec, words)) is not None:
        return _Place(position)
    try:
        angle = (
            read_clock_deg(words, bare_hours=isinstance(spec.scale, ClockScale))
            if spec.form == "knob"
            else None
        )
        if spec.form == "fader" and read_clock_deg(words, bare_hours=False) is not None:
            raise _refusal(spec, f"{quoted(text)} is a clock position, and a fader does not turn.")
        if angle is not None:
            return _Place(_inside(spec, position_at_deg(spec.travel, angle), lambda: clock_text(angle)))
        return _valued_place(spec, text, words)
    except NotANumber as problem:
        raise _refusal(spec, str(problem)) from None


def _valued_place(spec: ControlSpec, text: str, words: str) -> _Place | None:
    if not _percent_is_its_own(spec) and re.search(r"(?:%|percent|per cent|pct)$", words):
        percent = _quantity(text, words, "%")
        return _Place(_inside(spec, percent / 100, lambda: f"{_plain(percent)} %"))
    if not re.search(r"\d", words) or not re.match(r"[+-]?\s*[\d.,]", words):
        return None
    match spec.scale:
        case RangeScale(low, high, unit):
            value = _quantity(text, words, unit)
            return _Place(
                _inside(spec, (value - low) / (high - low), lambda: _with_unit(_plain(value), unit))
            )
        case PercentScale():
            value = _quantity(text, words, "%")
            return _Place(_inside(spec, value / 100, lambda: f"{_plain(value)} %"))
        case MarkScale(unit=unit):
            value = _quantity(text, words, unit)
            return _marked_place(spec, spec.scale, value)
        case _:
            return None


def _marked_place(spec: ControlSpec, scale: MarkScale, value: float) -> _Place:
    falling = scale.marks[0][0] > scale.marks[-1][0]
    marks = scale.marks[::-1] if falling else scale.marks
    after = min(max(1, bisect_right([printed for printed, _ in marks], value)), len(marks) - 1)
    (value_0, at_0), (value_1, at_1) = marks[after - 1], marks[after]
    position = at_0 + (at_1 - at_0) * (value - value_0) / (value_1 - value_0)
    first, last = scale.marks[0][1], scale.marks[-1][1]
    if not first - TRAVEL_SLACK <= position <= last + TRAVEL_SLACK:
        raise _outside(spec, _with_unit(_plain(value), scale.unit))
    printed = any(value == mark for mark, _ in marks)
    return _Place(min(last, max(first, position)), approximate=not printed and first < position < last)


def _between_place(spec: ControlSpec, text: str, words: str) -> _Place | None:
    if (found := _BETWEEN.fullmatch(words)) is None:
        return None
    clock = " o'clock" if found["clock"] or found["clocks"] else ""
    low, high = found["low"] or found["from"], found["high"] or found["to"]
    low = low if ":" in low or "clock" in low or not low[-1:].isdigit() else low + clock
    places = [_exact_place(spec, end, end) for end in (low, high + clock)]
    if places[0] is None or places[1] is None:
        return None
    return _Place((places[0].position + places[1].position) / 2, approximate=True)


def _one_to_another_place(spec: ControlSpec, text: str, words: str) -> _Place | None:
    """ "6 to 7" lies between the two; "5 to 3" is five minutes before three; "10 to 11" could be either."""
    if (found := _ONE_TO_ANOTHER.fullmatch(words)) is None:
        return None
    low, high = found["low"], found["high"]
    reads_hours = isinstance(spec.scale, ClockScale) or found["clock"] is not None
    if low in _MINUTES_BEFORE and (reads_hours or float(low) > float(high.replace(",", "."))):
        if high == str(int(low) + 1):
            minutes = f"{low}:{60 - int(low)}"
            raise _refusal(
                spec,
                f"Is that between the two, or the clock position {minutes}? Write {low}:30 or {minutes}.",
            )
        return None
    return _between_place(spec, text, f"between {low} and {high}{found['clock'] or ''}")


def _out_of_place(spec: ControlSpec, text: str, words: str) -> _Place | None:
    """ "7/10" and "7 out of 10" on a scale from 0 to 10; any other fraction could be of the turn or of the scale."""
    if (found := _OUT_OF.fullmatch(words)) is None:
        return None
    match spec.scale:
        case RangeScale(low=0, high=high) if float(found["whole"].replace(",", ".")) == high:
            return _exact_place(spec, found["number"], found["number"])
        case PercentScale() if found["whole"] == "100":
            return _exact_place(spec, found["number"], found["number"])
    raise _refusal(spec, f"{quoted(text)} could be a part of the turn or of the scale.")


def _rough_place(spec: ControlSpec, text: str, words: str) -> _Place | None:
    nudge, base = 0.0, ""
    if found := _ABOUT.fullmatch(words):
        base = found["lead"] or found["trail"]
    elif found := _NUDGED.fullmatch(words):
        nudge, base = _NUDGES[found["size"] or "just"], found["base"]
        if found["way"] in ("before", "short of", "shy of", "under", "below", "less than"):
            nudge = -nudge
        if found["way"] in ("over", "above", "more than", "under", "below", "less than") and _falls(spec):
            nudge = -nudge
    elif found := _NEARLY.fullmatch(words):
        nudge, base = -_NUDGES["just"], found["base"]
    place = _exact_place(spec, base, base) if base else None
    if place is None:
        return None
    return _Place(min(1.0, max(0.0, place.position + nudge)), approximate=True)


def _named_position(spec: ControlSpec, words: str) -> float | None:
    if words in _LOWER_END:
        return 0.0
    if words in _UPPER_END:
        return 1.0
    if words in ("off", "zero", "0") and _zero_is_lower_end(spec):
        return 0.0
    if words in ("flat", "zero") or (words == "unity" and _reads_db(spec)):
        return _position_of_zero(spec)
    return _FRACTIONS.get(words)


def _zero_is_lower_end(spec: ControlSpec) -> bool:
    match spec.scale:
        case RangeScale(low=low):
            return low == 0
        case MarkScale(marks=marks):
            return marks[0] == (0.0, 0.0)
        case _:
            return True


def _position_of_zero(spec: ControlSpec) -> float | None:
    """Where a scale that runs to both sides of zero, or a fader past unity gain, has its zero."""
    match spec.scale:
        case RangeScale(low, high) if min(low, high) <= 0 <= max(low, high):
            return -low / (high - low)
        case MarkScale(marks=marks):
            return next((at for value, at in marks if value == 0), None)
        case _:
            return None


def _reads_db(spec: ControlSpec) -> bool:
    return isinstance(spec.scale, RangeScale | MarkScale) and same_unit(spec.scale.unit, "dB")


def _falls(spec: ControlSpec) -> bool:
    match spec.scale:
        case RangeScale(low, high):
            return high < low
        case MarkScale(marks=marks):
            return marks[-1][0] < marks[0][0]
        case _:
            return False


def _percent_is_its_own(spec: ControlSpec) -> bool:
    return isinstance(spec.scale, RangeScale | MarkScale) and same_unit(spec.scale.unit, "%")


def _quantity(text: str, words: str, unit: str) -> float:
    """The text as written, since units tell upper from lower case; failing that, with number words as digits."""
    try:
        return read_quantity(text, unit)
    except NotANumber as problem:
        try:
            return read_quantity(words, unit)
        except NotANumber:
            raise problem from None


def _inside(spec: ControlSpec, position: float, shown: Callable[[], str]) -> float:
    held = within_travel(position)
    if held is None:
        raise _outside(spec, shown())
    return held


def _outside(spec: ControlSpec, shown: str) -> UnknownReading:
    if spec.form == "knob" and ":" in shown:
        ends = f"{clock_text(spec.travel.start_deg)} to {clock_text(spec.travel.end_deg)}"
        return _refusal(spec, f"This knob runs from {ends}; {shown} lies outside.")
    ends = "0 to 100 %" if shown.endswith("%") and not _percent_is_its_own(spec) else _ends_text(spec)
    return _refusal(spec, f"This {spec.form}'s scale runs from {ends}; {shown} lies outside.")


def _refusal(spec: ControlSpec, what: str) -> UnknownReading:
    return UnknownReading(f"{what} {accepts(spec)}")


def _ends_text(spec: ControlSpec) -> str:
    match spec.scale:
        case RangeScale(low, high, unit):
            return _with_unit(f"{_plain(low)} to {_plain(high)}", unit)
        case MarkScale(unit, marks):
            return _with_unit(f"{_plain(marks[0][0])} to {_plain(marks[-1][0])}", unit)
        case PercentScale():
            return "0 to 100 %"
        case _:
            return f"{clock_text(spec.travel.start_deg)} to {clock_text(spec.travel.end_deg)}"


def _own_reading(spec: ControlSpec, position: float) -> ScaleReading | None:
    value = value_at(spec, position)
    match spec.scale:
        case ClockScale():
            return ScaleReading("clock", clock_text(angle_deg(spec.travel, position)))
        case PercentScale():
            return ScaleReading("percent", f"{_decimal(position * 100, 1.0)} %")
        case RangeScale(low, high, unit) if value is not None:
            number = _decimal(value, range_step(low, high), signed=min(low, high) < 0)
            return ScaleReading(_ends_text(spec), _with_unit(number, unit))
        case MarkScale(unit, marks) if value is not None:
            for printed, at in marks:
                if abs(at - position) < 1e-8:
                    return ScaleReading(unit or "marks", _with_unit(_plain(printed), unit))
            resolution = _mark_resolution(marks, position)
            number = _decimal(round(value / resolution) * resolution, resolution)
            return ScaleReading(unit or "marks", f"≈ {_with_unit(number, unit)}")
        case _:
            return None


def _mark_resolution(marks: tuple[tuple[float, float], ...], position: float) -> float:
    """A power of ten no coarser than half a percent of travel between the marks around a position."""
    after = min(bisect_right([at for _, at in marks], position), len(marks) - 1)
    (value_0, at_0), (value_1, at_1) = marks[after - 1], marks[after]
    return float(10.0 ** floor(log10(abs(value_1 - value_0) / (at_1 - at_0) * 0.005)))


def _decimal(value: float, step: float, *, signed: bool = False) -> str:
    """A number with the decimals its step needs, and one more where the value lies between two steps."""
    decimals = max(0, -floor(log10(step) + 1e-9))
    if abs(value - round(value, decimals)) > 0.05 * step:
        decimals += 1
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        return text.lstrip("-")
    return text.replace("-", "−") if value < 0 else f"+{text}" if signed else text


def _clean(value: float) -> float:
    return float(f"{value:.10g}")


def _plain(value: float) -> str:
    return f"{value:.10g}".replace("-", "−")


def _with_unit(number: str, unit: str) -> str:
    return f"{number} {unit}" if unit else number


def _nearest_step(spec: ControlSpec, position: float) -> int:
    return min(len(spec.positions) - 1, max(0, round(position * (len(spec.positions) - 1))))


def _with_ends(positions: Iterable[float]) -> tuple[float, ...]:
    kept = [0.0]
    for position in sorted(positions):
        if kept[-1] + 1e-9 < position < 1.0 - 1e-9:
            kept.append(round(position, POSITION_DECIMALS))
    return (*kept, 1.0)

"""What a person reads off a control, as a position, and a position as every reading the control has.

A setting is kept twice: the words that were read and the position as a fraction of travel. `read` takes the words,
`readings` gives the words back on every scale.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import floor

from app.trade.position_words import ABOUT, Unreadable, read_place
from app.trade.scale_values import (
    decimal_text,
    ends_text,
    mark_resolution,
    plain_text,
    range_step,
    reads_percent,
    value_at,
    with_unit,
)
from app.trade.scales import STEPPED_FORMS, ClockScale, ControlSpec, MarkScale, PercentScale, RangeScale
from app.trade.travel import angle_deg, clock_text
from app.trade.written_numbers import (
    TEXT_LIMIT,
    NotANumber,
    quantity_as_written,
    quoted,
    tidy,
    words_to_digits,
)

NOTE_LIMIT = 500  # characters of a free-text control
CLOCK_STEP_DEG = 2.5  # five minutes of the hour hand
POSITION_DECIMALS = 12  # far below what a hand can set; keeps 0.21 from reading 0.21000000000000002


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


@lru_cache(maxsize=8192)  # an open column reads every one of its cells anew at each look
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
        raise UnknownReading(f"A reading has at most {TEXT_LIMIT} characters. {accepts(spec)}")
    words = words_to_digits(re.sub(r"(?<=[a-z])-(?=[a-z])", " ", tidy(kept).lower()))
    try:
        if spec.form == "number":
            return _read_number(spec, kept, words)
        if spec.form in STEPPED_FORMS:
            return _read_step(spec, kept, words)
        place = read_place(spec, tidy(kept), words)
    except (Unreadable, NotANumber) as problem:
        raise UnknownReading(f"{problem} {accepts(spec)}") from None
    position = round(place.position, POSITION_DECIMALS)
    return Reading(kept, position, value_at(spec, position), place.approximate)


def read_number(text: str, unit: str = "") -> float | None:
    """A number as typed, with or without its unit; None for nothing. Raises UnknownReading."""
    return read(ControlSpec("number", "number", unit=unit), text).value


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
            percent = ScaleReading("percent", f"{decimal_text(position * 100, 1.0)} %")
            others = ([clock] if spec.form == "knob" else []) + ([] if reads_percent(spec) else [percent])
            return tuple(dict.fromkeys(([own] if own else []) + others))
        case _:
            return ()


def show(spec: ControlSpec, position: float) -> str:
    """The position on the control's own scale. Raises ValueError for a number or a text, which have no position."""
    if not (shown := readings(spec, position)):
        raise ValueError(f"A {spec.form} has no position to show.")
    return shown[0].text


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
                ways.append(ends_text(spec))
            if not reads_percent(spec):
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
    about = ABOUT.fullmatch(words)
    written = (about["lead"] or about["trail"]) if about else tidy(text)
    return Reading(text, None, quantity_as_written(written, words, spec.unit), about is not None)


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
            raise Unreadable(f"{quoted(text)} could mean the first position or on.")
        if found[2] is None or int(found[2]) == len(names):
            step = int(found[1]) - 1
    else:
        starting = [number for number, name in enumerate(names) if name.startswith(wanted)]
        if len(starting) > 1:
            alike = ", ".join(spec.positions[number] for number in starting)
            raise Unreadable(f"{quoted(text)} could be any of {alike}.")
        step = starting[0] if starting else None
    if step is None or not 0 <= step < len(names):
        raise Unreadable(f"{quoted(text)} is not a position of this {spec.form}.")
    return Reading(text, step / (len(names) - 1), None)


def _own_reading(spec: ControlSpec, position: float) -> ScaleReading | None:
    value = value_at(spec, position)
    match spec.scale:
        case ClockScale():
            return ScaleReading("clock", clock_text(angle_deg(spec.travel, position)))
        case PercentScale():
            return ScaleReading("percent", f"{decimal_text(position * 100, 1.0)} %")
        case RangeScale(low, high, unit) if value is not None:
            number = decimal_text(value, range_step(low, high), signed=min(low, high) < 0)
            return ScaleReading(ends_text(spec), with_unit(number, unit))
        case MarkScale(unit, marks) if value is not None:
            for printed, at in marks:
                if abs(at - position) < 1e-8:
                    return ScaleReading(unit or "marks", with_unit(plain_text(printed), unit))
            resolution = mark_resolution(marks, position)
            number = decimal_text(round(value / resolution) * resolution, resolution)
            return ScaleReading(unit or "marks", f"≈ {with_unit(number, unit)}")
        case _:
            return None


def _nearest_step(spec: ControlSpec, position: float) -> int:
    return min(len(spec.positions) - 1, max(0, round(position * (len(spec.positions) - 1))))


def _with_ends(positions: Iterable[float]) -> tuple[float, ...]:
    kept = [0.0]
    for position in sorted(positions):
        if kept[-1] + 1e-9 < position < 1.0 - 1e-9:
            kept.append(round(position, POSITION_DECIMALS))
    return (*kept, 1.0)
